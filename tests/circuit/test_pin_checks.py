"""Parts on the module, pin currents and chip faults, each at a pin chosen by hand."""

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pins_bench import CATALOG, DeviceLogic, Direction, Matrix, contact, gpio, module, report, with_pull

from boardgen.catalog.errata import ChipErratum
from boardgen.catalog.power import Onboard
from boardgen.circuit.network import REFERENCE, Branch, drawn, ohms_at, source, span

PICO = CATALOG.modules["pico-2"]
E9 = next(e for e in PICO.errata if e.id == "RP2350 E9")
LED = Onboard("led", 1e3, 2.0, "ground")


def of(found, rule):
    return [f for f in found.findings if f.rule == rule]


def test_an_led_to_ground_spoils_a_key_with_an_internal_pull_up():
    # 3.3 V through 30 to 60 kohm into 2.0 V and 1 kohm: 1.8 to 2.05 V, 2.475 V are needed
    mod = module(gpio(13, shared="LED", onboard=(LED,)))
    (finding,) = of(report(mod, {"KEY": "GP13"}, [contact(1, "KEY", "switch")]), "onboard")
    assert finding.severity == "error"
    assert "KEY on GP13 has to read high with everything at rest" in finding.message
    assert "brings it to 1.82 V, 2.47 V are needed: 0.65 V short" in finding.message


def test_an_led_to_the_supply_does_not_spoil_a_key():
    mod = module(gpio(13, shared="LED", onboard=(replace(LED, to="supply", ohms=2.2e3),)))
    assert of(report(mod, {"KEY": "GP13"}, [contact(1, "KEY", "switch")]), "onboard") == []


def test_a_pull_up_of_the_module_is_beaten_by_a_contact_and_not_by_a_row_of_carbon():
    strong = Onboard("pull-up", 4.7e3, 3.3)
    mod = module(gpio(13, shared="bus", onboard=(strong,)), gpio(14))
    assert of(report(mod, {"KEY": "GP13"}, [contact(1, "KEY", "switch")]), "onboard") == []
    matrix = Matrix("keys", ("R",), ("C",), key_kind="elastomer", contact_ohms=3e3)
    contacts = [contact(1, "R", "row"), contact(2, "C", "column")]
    (finding,) = of(report(mod, {"R": "GP13", "C": "GP14"}, contacts, matrices=[matrix]), "onboard")
    assert "R on GP13 has to read low with R/C held" in finding.message


def test_a_board_driven_serial_line_is_read_through_the_module_s_other_chip():
    nano = CATALOG.modules["nano-328p"]
    logic = [DeviceLogic("chip", "74hc", "5V")]
    contacts = [contact(1, "5V", "supply", rail="5V"), contact(2, "D", "digital", direction=Direction.IN)]
    # the serial chip's 1 kohm to 5 V against a 74HC that sinks 4 mA at 0.33 V: low enough for 1.5 V
    assert of(report(nano, {"D": "RX0"}, contacts, logic=logic), "onboard") == []


def test_a_pot_at_a_pin_with_a_divider_is_told():
    feather = CATALOG.modules["feather-m0"]
    (pin,) = [p for p in feather.pins if len(p.onboard) == 2]
    assert pin.analog
    (finding,) = of(report(feather, {"POT": pin.name}, [contact(1, "POT", "analog", ohms=10e3)]), "onboard")
    assert finding.severity == "warning"
    # 2.5 kohm against 100 kohm is 2.4 %, of half the range
    assert "draws a pot of 10 kohm up to 1% of the range" in finding.message


def test_a_weak_pin_that_drives_a_lamp_is_an_error():
    pill = CATALOG.modules["black-pill-f411"]
    contacts = [contact(1, "5V", "supply", rail="5V"), contact(2, "LAMP", "lamp", rail="5V", current_a=0.18)]
    (finding,) = of(report(pill, {"LAMP": "C14"}, contacts), "pin-drive")
    assert finding.severity == "error"
    assert "driven high, the pin gives" in finding.message
    assert "it is good for 3.0 mA" in finding.message
    assert of(report(pill, {"LAMP": "B0"}, contacts), "pin-drive") == []


def test_a_strobe_takes_what_its_rows_send_and_the_led_at_its_pin():
    rows = tuple(f"R{n}" for n in range(4))
    contacts = [contact(n, s, "row") for n, s in enumerate(rows, 1)] + [contact(9, "C", "column")]
    pins = {s: f"GP{n}" for n, s in enumerate((*rows, "C"), 20)}
    matrix = Matrix("keys", rows, ("C",))
    gpios = [gpio(n) for n in range(20, 24)]
    # four times 3.3 V / 30 kohm is 0.44 mA
    for limit, count in ((0.000441, 0), (0.00043, 1)):
        mod = module(*gpios, gpio(24, drive_a=limit))
        assert len(of(report(mod, pins, contacts, matrices=[matrix]), "pin-drive")) == count
    supply_led = replace(LED, to="supply", ohms=510)
    mod = module(*gpios, gpio(24, drive_a=0.003, onboard=(supply_led,)))
    (finding,) = of(report(mod, pins, contacts, matrices=[matrix]), "pin-drive")
    # 1.5 V at most across 485 ohm, and the rows
    assert "driven low, the pin takes 3.5 mA" in finding.message


def test_all_pins_together():
    contacts = [contact(1, "5V", "supply", rail="5V")]
    contacts += [contact(n, f"L{n}", "lamp", rail="5V", current_a=0.1) for n in (2, 3, 4)]
    gpios = tuple(gpio(n) for n in (2, 3, 4))
    pins = {f"L{n}": f"GP{n}" for n in (2, 3, 4)}
    alone = of(report(module(*gpios, io_total_a=0.1), pins, contacts), "pin-drive")
    assert alone == []
    (finding,) = of(report(module(*gpios, io_total_a=0.002), pins, contacts), "pin-drive")
    assert finding.message.startswith("all pins together give or take ")
    assert "Module is good for 2 mA" in finding.message


def e9(found):
    return of(found, "chip-erratum")


def test_e9_a_key_with_pull_up_and_a_lamp_driver_s_pull_down_are_no_case():
    contacts = [
        contact(1, "5V", "supply", rail="5V"),
        contact(2, "LAMP", "lamp", rail="5V", current_a=0.06),
        contact(3, "KEY", "switch"),
    ]
    assert e9(report(PICO, {"LAMP": "GP2", "KEY": "GP3"}, contacts)) == []


def test_e9_a_pull_down_inside_the_chip_is_an_error():
    found = report(
        PICO, {"KEY": "GP3"}, [contact(3, "KEY", "switch")], change=lambda p: with_pull(p, "KEY", "down")
    )
    (finding,) = e9(found)
    assert finding.severity == "error"
    assert "KEY on GP3 relies on the pull-down inside the chip of up to 113 kohm" in finding.message
    assert "8.2 kohm or less" in finding.message
    assert E9.source in finding.message


def weak_low(ohms):
    """A line whose low reaches the pin through a resistor of that size."""

    def change(plan):
        parts = tuple(replace(p, value=ohms) if p.component.kind == "resistor" else p for p in plan.parts)
        return replace(plan, parts=parts)

    logic = [DeviceLogic("chip", "74lvc", "3V3")]
    contacts = [
        contact(1, "3V3", "supply", rail="3V3"),
        contact(2, "D", "digital", direction=Direction.IN, way="series"),
    ]
    return report(PICO, {"D": "GP3"}, contacts, logic=logic, change=change)


def test_e9_holds_from_8200_ohm_on():
    assert e9(weak_low("1k")) == []
    assert e9(weak_low("8.1k")) == []
    (finding,) = e9(weak_low("10k"))
    assert "gets its low level through 10.1 kohm" in finding.message or "10 kohm" in finding.message


def test_an_input_named_by_an_erratum_is_told_once():
    esp = CATALOG.modules["esp32-devkitc"]
    (finding,) = e9(report(esp, {"KEY": "VP"}, [contact(1, "KEY", "switch")]))
    assert finding.severity == "warning"
    assert finding.items == ("KEY", "VP")
    assert e9(report(esp, {"KEY": "34"}, [contact(1, "KEY", "switch")])) == []
    assert e9(report(esp, {"POT": "VP"}, [contact(1, "POT", "analog", ohms=1e3)])) == []


def test_an_erratum_without_pins_is_about_every_input():
    fault = ChipErratum("X1", "input", "glitches", "wait", "a sheet")
    mod = module(gpio(10), gpio(11), errata=(fault,))
    contacts = [contact(1, "A", "switch"), contact(2, "B", "switch")]
    assert [f.items for f in e9(report(mod, {"A": "GP10", "B": "GP11"}, contacts))] == [
        ("A", "GP10"),
        ("B", "GP11"),
    ]


@given(st.floats(0.0, 5.0), st.floats(100, 1e5), st.floats(0.0, 5.0), st.floats(100, 1e5))
@settings(max_examples=60, deadline=None)
def test_a_divider_s_level_resistance_and_current(v1, r1, v2, r2):
    branches = [source("N", (v1, v1), (r1, r1)), source("N", (v2, v2), (r2, r2))]
    level = (v1 / r1 + v2 / r2) / (1 / r1 + 1 / r2)
    assert span(branches, "N") == pytest.approx((level, level), abs=1e-6)
    assert ohms_at(branches, "N") == pytest.approx(r1 * r2 / (r1 + r2), rel=1e-3)
    assert drawn(branches, "N", 0.0) == pytest.approx(-(v1 / r1 + v2 / r2), rel=1e-4, abs=1e-9)


def test_one_way_branches_carry_one_way():
    up = source("A", (3.3, 3.3), (10e3, 10e3))
    diode = Branch("A", "B", (1.0, 1.0), (0.6, 0.6), "forward")
    down = source("B", (0.0, 0.0), (1e3, 1e3))
    # 2.7 V across 11 kohm
    (least, most) = span([up, diode, down], "A")
    assert least == most == pytest.approx(0.6 + 2.7 * 1001 / 11001, abs=1e-3)
    (least, most) = span([replace(up, start="B"), diode, replace(down, start="A")], "A")
    assert (least, most) == pytest.approx((0.0, 0.0), abs=1e-6)
    assert span([diode], "A") is None
    assert ohms_at([diode], "A") == math.inf
    assert diode.end != REFERENCE


def test_a_node_fed_through_nothing_but_a_diode_is_held_by_nothing():
    feed = [Branch("D", REFERENCE, (1e3, 1e3), (0.6, 0.6)), Branch("D", REFERENCE, (50.0, 50.0))]
    fed = [*feed, Branch("D", "A", (50.0, 50.0), way="forward")]
    assert span(fed, "A") is None
    assert drawn(fed, "A", 0.6 * 50 / 1050) == pytest.approx(0.0, abs=1e-7)
    # anything that takes a current away brings it back into the network
    taken = [*fed, source("A", (0.0, 0.0), (1e6, 1e6))]
    level = 0.6 * 50 / 1050 * 1e6 / (1e6 + 50 + 50 * 1e3 / 1050)
    assert span(taken, "A") == pytest.approx((level, level), abs=1e-6)


NODES = ("A", "B", "C", "D")


@given(st.data())
@settings(max_examples=150, deadline=None)
def test_a_node_held_at_its_own_voltage_takes_no_current(data):
    branches = []
    for _ in range(data.draw(st.integers(1, 7))):
        a, b = data.draw(st.sampled_from([(a, b) for a in NODES for b in (*NODES, REFERENCE) if a != b]))
        ohms = data.draw(st.sampled_from([50.0, 1e3, 10e3, 47e3]))
        drop = data.draw(st.sampled_from([0.0, 0.6, 2.0, 3.3]))
        way = data.draw(st.sampled_from(["both", "forward", "back"]))
        branches.append(Branch(a, b, (ohms, ohms), (drop, drop), way))
    level = span(branches, "A")
    if level is None:
        return
    assert level[0] == pytest.approx(level[1], abs=1e-6)
    assert drawn(branches, "A", level[0]) == pytest.approx(0.0, abs=1e-7)
    # a little higher gives current, a little lower takes some: the network holds the node there
    assert drawn(branches, "A", level[0] + 0.1) >= -1e-9
    assert drawn(branches, "A", level[0] - 0.1) <= 1e-9
