"""Whole plans with a hand-made supply: budgets, heat, dropout, back ways, what the firmware declares."""

import itertools
from dataclasses import replace

import pytest
from electrical_bench import AB, PARTS, SHELF, bind, contact, module, part, rail
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgen.catalog.power import Power, RailPath, Regulator
from boardgen.design.model import DeviceLogic
from boardgen.electrical.eseries import farads_of, farads_text
from boardgen.electrical.plan import plan_signals
from boardgen.electrical.supplies import HOLD_AT_40C

WIRE = RailPath("USB", "5V", "wire")
DIODE = RailPath("USB", "5V", "diode", drop_v=0.4)
LINEAR = Regulator("LDO", "linear", "5V", "3V3", 3.3, 4.0, 12.0, 0.5, 1.0, 0.5, theta_ja_k_per_w=100.0)
GROUND = contact(9, "GND", "ground")


def powered(*paths, draw=0.05, regulators=(LINEAR,), extra=(), **more):
    return replace(
        module(extra=extra), power=Power(draw, paths=tuple(paths), regulators=tuple(regulators), **more)
    )


def gives(amps, name="5V"):
    return contact(1, name, "supply", rail=name, current_a=amps)


def plan(mod, *contacts, shelf=SHELF, **more):
    return plan_signals(bind((*contacts, GROUND), mod, **more), shelf)


def of(found, rule):
    return [f for f in found.findings if f.rule == rule]


def node(found, name):
    return next(n for n in found.power.nodes if n.name == name)


def test_loads_add_up_at_the_host():
    found = plan(powered(WIRE, draw=0.06), gives(0.2), contact(2, "3V3", "supply", rail="3V3", current_a=0.1))
    assert found.power.usb_a == pytest.approx(0.36)
    assert found.power.usb_ma == 360
    assert node(found, "3V3").amps == pytest.approx(0.16)
    assert node(found, "5V").outside_a == pytest.approx(0.2)
    assert of(found, "usb-budget") == []


@pytest.mark.parametrize(("amps", "count"), [(0.44, 0), (0.46, 1)])
def test_a_host_gives_half_an_ampere(amps, count):
    mod = powered(WIRE)
    mod = replace(mod, pins=(rail(1, "3V3", 3.3, budget=0.3), rail(2, "5V", 5.0, budget=2.0), *mod.pins[2:]))
    found = of(plan(mod, gives(amps)), "usb-budget")
    assert len(found) == count
    if count:
        assert found[0].severity == "error"
        assert "510 mA would be taken from USB, a host gives 500 mA: 10 mA too much" in found[0].message
        assert "the device on 5V 460 mA" in found[0].message


def test_a_radio_s_bursts_are_a_note():
    found = plan(powered(WIRE, radio_draw_a=0.4), gives(0.2))
    (finding,) = of(found, "usb-budget")
    assert finding.severity == "note"
    # 50 mA and 200 mA, and 350 mA more in bursts
    assert "would take 600 mA from USB in bursts" in finding.message
    assert found.power.usb_ma == 250


@pytest.mark.parametrize(
    ("amps", "severity"),
    # 1.95 V across it: 40 C + 100 K/W x 1.95 V x I; 85 C allowed, warned of from 60 C
    [(0.04, None), (0.11, "warning"), (0.25, "error")],
)
def test_a_linear_regulator_s_heat(amps, severity):
    cool = replace(LINEAR, junction_max_c=85.0)
    found = plan(powered(WIRE, draw=amps, regulators=(cool,)), contact(2, "S", "switch"))
    (heat,) = found.power.heats
    assert heat.watts == pytest.approx((5.25 - 3.3) * amps)
    assert heat.junction_c == pytest.approx(40 + 100 * 1.95 * amps)
    assert [f.severity for f in of(found, "regulator-heat")] == ([severity] if severity else [])


def test_a_regulator_that_gives_more_than_it_can():
    weak = replace(LINEAR, max_a=0.1)
    found = plan(
        powered(WIRE, draw=0.06, regulators=(weak,)),
        contact(2, "3V3", "supply", rail="3V3", current_a=0.05),
    )
    (finding,) = of(found, "regulator-load")
    assert "LDO gives 0.10 A, 3V3 takes 0.11 A" in finding.message


def test_a_switching_regulator_takes_less_than_it_gives():
    buck = Regulator("BUCK", "switching", "5V", "3V3", 3.3, 1.8, 5.5, efficiency=0.75)
    found = plan(powered(WIRE, draw=0.2, regulators=(buck,)), contact(2, "S", "switch"))
    # 0.66 W at the output are 0.88 W at the input, 4.40 V there
    assert found.power.usb_a == pytest.approx(0.2 * 3.3 / 0.75 / 4.40)
    assert found.power.heats[0].watts == pytest.approx(0.22)


def test_dropout_at_the_end_of_a_long_cable():
    found = plan(powered(WIRE), contact(2, "S", "switch"))
    assert node(found, "3V3").least_v == pytest.approx(3.3)  # 4.40 V less 1.0 V is more than 3.3 V
    assert of(found, "dropout") == []
    found = plan(powered(DIODE), contact(2, "S", "switch"))
    assert node(found, "3V3").least_v == pytest.approx(4.40 - 0.4 - 1.0)
    (finding,) = of(found, "dropout")
    assert "3V3 may fall to 3.00 V" in finding.message


@given(st.floats(0.0, 0.4), st.floats(0.0, 1.0))
def test_dropout_falls_with_the_load_where_the_entry_says_how_far(draw, least):
    ldo = replace(LINEAR, dropout_least_v=least)
    found = plan(powered(DIODE, draw=draw, regulators=(ldo,)), contact(2, "S", "switch"))
    amps = node(found, "3V3").amps
    want = 4.40 - 0.4 - (least + (1.0 - least) * amps / 0.5)
    assert node(found, "3V3").least_v == pytest.approx(min(3.3, want))
    assert not any("no source says less" in text for text in found.power.assumed)


def test_a_dropout_stated_once_counts_at_every_load_and_that_is_said():
    found = plan(powered(DIODE, draw=0.05), contact(2, "S", "switch"))
    assert node(found, "3V3").least_v == pytest.approx(3.0)
    said = "the regulator LDO is taken to need 1 V at 50 mA too, as stated for 0.5 A: no source says less"
    assert said in found.power.assumed
    full = plan(powered(DIODE, draw=0.5), contact(2, "S", "switch"))
    assert not any("no source says less" in text for text in full.power.assumed)


FEED = contact(1, "BATT", "supply", rail="5V", source="feeds", current_a=1.0)
TAKES = (rail(6, "5V", 5.0, role="both", budget=0.4),)


def taking(path):
    """A module whose 5 V rail may be fed from outside."""
    mod = powered(path)
    return replace(
        mod,
        pins=tuple(rail(2, "5V", 5.0, role="both", budget=0.4) if p.number == "2" else p for p in mod.pins),
    )


def test_a_supply_fed_into_a_rail_joined_to_usb_by_a_wire_drives_the_host():
    found = plan(taking(WIRE), FEED)
    (finding,) = of(found, "back-power")
    assert finding.severity == "error"
    assert finding.items[1] == "USB"
    assert "drives current into USB through D1, the module's wire: nothing there blocks it" in finding.message


def test_through_the_module_s_diode_it_does_not():
    found = plan(taking(DIODE), FEED)
    assert of(found, "back-power") == []
    ways = {(p.source, p.target): p.blocked_by for p in found.power.back_paths}
    assert ways == {
        ("USB", "the device's supply at contact 1"): "D1",
        ("the device's supply at contact 1", "USB"): "the module's diode",
    }
    assert [s.limit_a for s in found.power.sources] == [0.5, 1.0]
    assert any("within 10%" in text for text in found.power.assumed)


def test_a_supply_left_apart_is_no_source_of_ours():
    apart = replace(FEED, source="device")
    found = plan(powered(WIRE), apart)
    assert of(found, "back-power") == []
    assert [s.name for s in found.power.sources] == ["USB"]


def test_a_device_with_a_supply_of_its_own_on_a_rail_the_board_feeds():
    logic = [DeviceLogic("chips", "", "5V", own_supply=True)]
    found = plan(powered(WIRE), gives(0.1), logic=logic)
    (finding,) = of(found, "back-power")
    assert finding.items == ("5V", "chips")
    assert "two sources would be tied together" in finding.message
    assert (
        of(plan(powered(WIRE), gives(0.1), logic=[replace(logic[0], own_supply=False)]), "back-power") == []
    )


def test_a_supply_that_goes_out_and_comes_in():
    found = plan(taking(DIODE), replace(FEED, number="2"), gives(0.1))
    assert any("the current would run in a circle" in f.message for f in of(found, "back-power"))


def test_without_a_stated_draw_nothing_is_declared_and_that_is_said():
    found = plan(module(), gives(0.1))
    assert found.power.usb_ma is None
    assert found.power.usb_a is None
    assert found.power.inrush_uf is None
    assert any("does not say how Test module is fed" in text for text in found.power.assumed)


@given(st.floats(0.0, 0.3), st.floats(0.001, 0.2))
@settings(max_examples=40, deadline=None)
def test_the_declared_current_covers_the_draw_and_no_more_than_a_step(load, draw):
    found = plan(powered(WIRE, draw=draw), gives(load))
    assert found.power.usb_ma % 10 == 0
    assert -1e-6 <= found.power.usb_ma / 1000 - found.power.usb_a < 0.01 + 1e-6


def bulk(found):
    return [p for p in found.parts if p.component.id.startswith("capacitor-electrolytic")]


def test_inrush_counts_what_stands_before_a_regulator():
    # 100 nF at the contact, and 4.7 uF or 10 uF
    # no more than 10 uF, without allowance: USB 2.0, section 7.2.4.1
    found = plan(powered(WIRE, usb_uf=9.9), gives(0.05))
    assert found.power.inrush_uf == pytest.approx(10.0)
    assert of(found, "inrush") == []
    found = plan(powered(WIRE, usb_uf=6.0), gives(0.2))
    assert found.power.inrush_uf == pytest.approx(10.8)
    assert len(of(found, "inrush")) == 1
    found = plan(powered(WIRE, usb_uf=9.3), gives(0.2))
    (finding,) = of(found, "inrush")
    assert finding.severity == "note"
    assert "14.1 uF are charged at once" in finding.message
    behind = plan(powered(WIRE, usb_uf=1.0), contact(2, "3V3", "supply", rail="3V3", current_a=0.2))
    assert behind.power.inrush_uf == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("module_uf", "value", "charged", "notes"),
    # 4.7 and 0.1 uF are the board's own: up to 5.2 uF of the module's they stay within 10
    [(0.0, "4.7u", 4.8, 0), (5.2, "4.7u", 10.0, 0), (5.3, "4.7u", 10.1, 1), (None, "4.7u", 4.8, 0)],
)
def test_the_bulk_capacitor_is_the_largest_that_usb_allows(module_uf, value, charged, notes):
    found = plan(powered(WIRE, usb_uf=module_uf), gives(0.2))
    (chosen,) = bulk(found)
    assert (chosen.value, chosen.component.id) == (value, "capacitor-electrolytic-5-4u7")
    assert found.power.inrush_uf == pytest.approx(charged)
    assert len(of(found, "inrush")) == notes
    before = (module_uf or 0.0) + 10.1
    reason = (
        f"4.7 uF, since with 10 uF USB would charge {before:.1f} uF when plugged in, and 10 uF are allowed"
    )
    assert found.power.bulk == (f"{chosen.ref} has {reason}",)
    assert chosen.why == f"holds 5V up while a load of 0.20 A is switched: {reason}"


def test_a_rail_that_usb_does_not_charge_keeps_the_larger_one():
    found = plan(powered(WIRE, usb_uf=1.0), contact(2, "3V3", "supply", rail="3V3", current_a=0.2))
    assert [p.value for p in bulk(found)] == ["10u"]
    assert found.power.bulk == ()
    unknown = plan(module(), gives(0.2))
    assert [p.value for p in bulk(unknown)] == ["10u"]


def test_without_a_smaller_one_in_the_catalogue_the_note_stays():
    class Few:
        def component(self, name):
            if name.endswith("4u7"):
                raise KeyError(name)
            return SHELF.component(name)

        def logic(self, name):
            return SHELF.logic(name)

    found = plan(powered(WIRE, usb_uf=0.0), gives(0.2), shelf=Few())
    assert [p.value for p in bulk(found)] == ["10u"]
    assert len(of(found, "inrush")) == 1
    assert found.power.bulk == ()


@given(st.lists(st.sampled_from(["5V", "3V3"]), min_size=1, max_size=2, unique=True), st.floats(0.0, 12.0))
@settings(max_examples=30, deadline=None)
def test_no_other_choice_of_bulk_capacitors_charges_more_within_the_limit(rails, module_uf):
    contacts = [contact(n, name, "supply", rail=name, current_a=0.15) for n, name in enumerate(rails, 1)]
    joined = RailPath("5V", "3V3", "wire")
    found = plan(powered(WIRE, joined, regulators=(), usb_uf=module_uf), *contacts)
    places = bulk(found)
    assert len(places) == len(rails)
    fixed = module_uf + 0.1 * len(rails)
    sums = {fixed + sum(pair) for pair in itertools.product((4.7, 10.0), repeat=len(rails))}
    best = max((total for total in sums if total <= 10 + 1e-6), default=min(sums))
    assert found.power.inrush_uf == pytest.approx(best)


def test_inrush_of_a_module_that_states_none_is_the_board_s_own():
    found = plan(powered(WIRE), gives(0.05))
    assert found.power.inrush_uf == pytest.approx(0.1)
    assert any("Test module itself puts across USB is not known" in text for text in found.power.assumed)


def test_inrush_counts_behind_a_fuse_and_beside_a_regulator_for_another_source():
    jack = Regulator("LDO5", "linear", "VSYS", "5V", 5.0, 6.0, 12.0)
    found = plan(powered(WIRE, regulators=(LINEAR, jack), usb_uf=0.0), gives(0.2), fuse=True)
    assert found.power.inrush_uf == pytest.approx(4.8)
    assert node(found, "5V_OUT").volts == 5.0


class Fused:
    """The bench's parts, with a choice of fuses."""

    def __init__(self, *fuses):
        self.fuses = {f.id: f for f in fuses}

    def component(self, name):
        if name.startswith("fuse-"):
            return self.fuses[name]
        return SHELF.component(name)

    def logic_family(self, name):
        return SHELF.logic_family(name)


@pytest.mark.parametrize(("load", "value"), [(0.19, "250mA"), (0.21, "500mA"), (0.39, "500mA")])
def test_a_fuse_is_derated_for_a_closed_case(load, value):
    assert HOLD_AT_40C == 0.8
    shelf = Fused(PARTS["fuse-ptc-250ma"], PARTS["fuse-ptc-500ma"])
    found = plan(powered(WIRE, draw=0.01), gives(load), fuse=True, shelf=shelf)
    (fuse,) = [p for p in found.parts if p.component.kind == "fuse"]
    assert fuse.value == value
    assert not [f for f in of(found, "fuse") if f.severity == "error"]


def test_no_fuse_holds_it_and_one_that_trips_above_the_source():
    shelf = Fused(part("fuse", "fuse-ptc-250ma", AB, hold_a=0.25, trip_a=0.5, max_ohms=1.0))
    found = plan(powered(WIRE, draw=0.01), gives(0.3), fuse=True, shelf=shelf)
    error, note = of(found, "fuse")
    assert error.severity == "error"
    assert "no fuse holds the 0.30 A on 5V: the largest holds 0.20 A at 40 C" in error.message
    assert note.severity == "note"
    assert "trips at 0.50 A, 5V is good for 0.40 A" in note.message
    # 0.3 A through 1 ohm, at the least host
    assert node(found, "5V_OUT").least_v == pytest.approx(4.40 - 0.3)


@given(st.floats(0.1, 999.0), st.sampled_from("unp"))
def test_a_capacitance_is_read_as_it_is_written(value, unit):
    farads = value * {"u": 1e-6, "n": 1e-9, "p": 1e-12}[unit]
    assert farads_of(farads_text(farads)) == pytest.approx(farads, rel=1e-3)
    assert farads_of(f"{unit}{value}") == 0.0
    assert farads_of("") == 0.0
