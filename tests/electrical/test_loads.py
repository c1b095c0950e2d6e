"""Relays and buzzers as loads: the diode across a coil, cold filaments, and heat."""

import pytest
from electrical_bench import bind, connector, contact, plan
from hypothesis import given, settings
from hypothesis import strategies as st
from plan_judge import CATALOG

from boardgen.electrical.plan import plan_signals
from boardgen.errors import Severity

SUPPLY = contact(2, "V", "supply", rail="5V", current_a=0.3)


def errors(result):
    return [(f.rule, f.message) for f in result.findings if f.severity is Severity.ERROR]


def test_a_relay_gets_a_diode_from_the_switched_end_to_its_rail():
    result = plan([contact(1, "COIL", "relay", rail="5V", current_a=0.07), SUPPLY])
    assert errors(result) == []
    relay = result.signals[0]
    assert (relay.way, relay.parts[-1]) == ("relay driver", "D1")
    diode = next(p for p in result.parts if p.ref == "D1")
    assert (diode.component.id, dict(diode.nets), diode.near) == (
        "diode-1n4148",
        {"1": "5V", "2": "COIL"},
        "1",
    )
    assert relay.why.endswith("D1 takes the coil's current when it is switched off")


def test_behind_a_fuse_the_diode_ends_where_the_coil_does():
    result = plan([contact(1, "COIL", "relay", rail="5V", current_a=0.07), SUPPLY], fuse=True)
    assert dict(next(p for p in result.parts if p.ref == "D1").nets)["1"] == "5V_OUT"


def test_a_coil_of_more_current_gets_the_larger_diode():
    result = plan([contact(1, "COIL", "relay", rail="5V", current_a=0.25), SUPPLY])
    assert next(p for p in result.parts if p.ref == "D1").component.id == "diode-1n5819"


@pytest.mark.parametrize(
    ("kind", "more", "wanted"),
    [
        ("lamp", {}, 0),
        ("relay", {}, 1),
        ("buzzer", {}, 1),
        ("buzzer", {"inductive": False}, 0),
        ("lamp", {"inductive": True}, 1),
        ("relay", {"flyback": "fitted"}, 0),
    ],
)
def test_only_coils_without_a_diode_of_their_own_get_one(kind, more, wanted):
    result = plan([contact(1, "L", kind, rail="5V", current_a=0.05, **more), SUPPLY])
    assert sum(p.ref.startswith("D") for p in result.parts) == wanted
    assert errors(result) == []


def test_a_coil_on_a_rail_the_board_does_not_carry_is_an_error():
    result = plan([contact(1, "COIL", "relay", rail="12V", current_a=0.05), contact(3, "G", "ground")])
    assert errors(result) == [
        (
            "flyback",
            "the coil on COIL hangs on a rail that no contact brings to the board: fit a diode across the "
            'coil, cathode to its rail, and say flyback = "fitted"',
        )
    ]


@pytest.mark.parametrize("module", sorted(CATALOG.modules))
@given(amps=st.floats(0.005, 0.3))
@settings(max_examples=15)
def test_a_driver_is_surely_on_and_surely_off(module, amps):
    """Its proof against the base current worked out from the other end: what its high really drives."""
    lamp = contact(1, "L", "lamp", rail="5V", current_a=amps)
    contacts = [lamp, contact(2, "V", "supply", rail="5V", current_a=0.3), contact(3, "G", "ground")]
    result = plan_signals(bind(contacts, CATALOG.module(module), connector(20)), CATALOG)
    (proof,) = result.signals[0].proofs
    assert (proof.direction, proof.passes) == ("out", True)
    switch = next(p for p in result.parts if p.ref.startswith("Q"))
    assert proof.reader == switch.value
    figures = dict(switch.component.figures)
    resistors = [p for p in result.parts if p.component.kind == "resistor"]
    if switch.component.kind == "mosfet":
        assert proof.vih_v == figures["rds_on_at_vgs_v"]
        assert proof.vil_v == figures["vgs_th_min_v"]
        return
    text = resistors[0].value
    ohms = float(text.rstrip("kR")) * (1e3 if text.endswith("k") else 1)
    into = (proof.voh_v - figures.get("vbe_v", 0.75)) / (ohms * 1.05) - 0.8e-4
    assert into * 300 >= amps * 0.99  # the largest least gain of the catalogue's transistors is under 300
    assert proof.vol_v * 10 / (10 + ohms / 1e3) < 0.4  # the divider leaves less than a junction needs


def test_a_coil_no_diode_takes_is_an_error():
    supply = contact(2, "V", "supply", rail="5V", current_a=0.1)
    result = plan([contact(1, "COIL", "relay", rail="5V", current_a=1.2), supply])
    assert ("flyback", "no diode of the catalogue takes the 1.20 A of COIL's coil at 5 V") in errors(result)


def test_a_coil_may_state_its_resistance_in_place_of_its_current():
    result = plan([contact(1, "COIL", "relay", rail="5V", ohms=100.0), contact(2, "V", "supply", rail="5V")])
    assert errors(result) == []
    assert {n.name: n.current_a for n in result.nets}["COIL"] == pytest.approx(0.05)
    assert result.rails[0].load_a == pytest.approx(0.05)


def test_a_cold_filament_that_overloads_the_switch_is_an_error():
    cold = contact(1, "LAMP", "lamp", rail="5V", current_a=0.06, ohms=5.0)
    assert [rule for rule, _ in errors(plan([cold, SUPPLY]))] == ["load-driver"]
    mild = contact(1, "LAMP", "lamp", rail="5V", current_a=0.06, ohms=10.0)
    assert errors(plan([mild, SUPPLY])) == []
