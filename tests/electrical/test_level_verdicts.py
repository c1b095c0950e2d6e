"""Verdicts that practice knows, from families and modules of the catalogue; figures typed by hand."""

import math
from dataclasses import replace

import pytest
from electrical_bench import Direction, bind, connector, contact, gpio, module, plan
from plan_judge import CATALOG

from boardgen.design.model import DeviceLogic
from boardgen.electrical.ends import End, PinClass, Supply, logic_supply, pin_end, range_fault
from boardgen.electrical.plan import plan_signals
from boardgen.electrical.prove import Net, faults, over_voltage, prove
from boardgen.errors import Severity

FIVE = Supply("5V", 5.0)  # 4.75 V to 5.25 V
THREE = Supply("3V3", 3.3, tolerance=0.0)


def chip(family, supply=FIVE):
    return End(family, supply, CATALOG.logic_family(family).levels)


def pin(module, name):
    entry = CATALOG.module(module)
    return pin_end(entry, entry.pin(name))


def mcu(voh=2.62):
    """A 3.3 V module's pin as practice has it: 2.62 V high at 4 mA, 0.5 V low."""
    end = pin("pico-2", "GP0")
    point = replace(end.logic.points[0], high=((0.004, voh),), low=((0.004, 0.5),))
    return replace(end, logic=replace(end.logic, points=(point,)))


@pytest.mark.parametrize(("family", "vih"), [("74hct", 2.0), ("74ls", 2.0), ("74ahct", 2.0)])
def test_a_3v3_output_reaches_ttl_thresholds_with_0_62_to_spare(family, vih):
    proof = prove("out", mcu(), chip(family))
    assert proof.passes
    assert (proof.vih_v, round(proof.margin_high_v, 2)) == (vih, 0.62)
    assert round(proof.margin_low_v, 2) == 0.30  # 0.8 - 0.5


@pytest.mark.parametrize("family", ["74hc", "cd4000b"])
def test_a_3v3_output_does_not_reach_5v_cmos(family):
    proof = prove("out", mcu(), chip(family))
    assert not proof.passes
    assert not proof.high_ok
    # 70 % of the supply: 3.5 V at 5 V, 3.675 V at 5.25 V
    assert proof.vih_v == pytest.approx(0.7 * 5.25, abs=0.03)
    assert proof.margin_high_v == pytest.approx(2.62 - 0.7 * 5.25, abs=0.03)


def test_ls_into_an_esp32_is_high_enough_but_too_high_where_it_is_pulled_up():
    esp = pin("esp32-devkitc", "16")
    alone = prove("in", chip("74ls"), esp)
    assert alone.margin_high_v == pytest.approx(2.7 - 0.75 * 3.3, abs=0.01)  # +0.22
    assert alone.margin_high_v > 0.2
    pulled = replace(chip("74ls"), pull_up_ohms=4_700.0)
    assert over_voltage((prove("in", pulled, esp),))
    # its own output may stand anywhere up to its supply: only a measurement says less
    assert over_voltage((alone,))
    measured = replace(chip("74ls"), high_most_v=3.4)
    proof = prove("in", measured, esp)
    assert proof.passes
    assert proof.most_v == 3.4


def test_an_hct_buffer_at_3v3_is_refused():
    text = range_fault("74HCT245", CATALOG.logic_family("74hct").levels, THREE)
    assert text == "74HCT245 needs a supply of 4.5 V to 5.5 V, 3V3 gives 3.3 V"


def test_lvc_at_3v3_takes_5v_powered_and_unpowered():
    own = Supply("5V", 5.0, own=True)
    proof = prove("in", chip("74hc", own), chip("74lvc", THREE))
    assert proof.passes
    assert (proof.allowed_v, proof.idle_allowed_v, proof.most_v) == (5.5, 5.5, 5.25)


def test_five_volts_into_tolerant_pins_holds_only_while_the_module_is_on():
    tolerant = pin("pico-2", "GP0")
    assert prove("in", chip("74hct"), tolerant).passes  # fed through the module: off together
    proof = prove("in", chip("74hct", Supply("5V", 5.0, own=True)), tolerant)
    assert not proof.idle_ok
    assert proof.idle_allowed_v == 3.63
    assert faults(proof) == (
        "up to 5.25 V reaches Pico 2 (tolerant) while it is unpowered, "
        "which takes 3.63 V then: 1.62 V too much",
    )


def test_a_resistor_alone_is_a_clamp_and_its_current_is_told():
    """(V - VDD - 0.3) / R: 5.25 V into 3.6 V through 1 kohm less 5 % is 1.74 mA; none is permitted."""
    proof = prove("in", chip("74hct"), pin("esp32-devkitc", "16"), Net(1_000.0))
    assert not proof.powered_ok
    assert proof.over_a == pytest.approx((5.25 - 3.6) / 950)
    assert proof.over_allowed_a == 0.0


def test_ls_inputs_give_their_driver_0_4_ma_to_sink():
    proof = prove("out", chip("cd4000b"), chip("74ls"))
    assert proof.low_a == pytest.approx(0.0004)
    assert proof.vol_v is None  # 0.36 mA is all a 4000B output sinks for certain
    assert "no source states a low level of cd4000b at 0.4 mA" in faults(proof)


def test_one_supply_is_the_same_at_both_ends():
    """HC to HC on one rail: 4.75 V drives 4.65 V into 0.7 of 4.75 V, not into 0.7 of 5.25 V."""
    proof = prove("in", chip("74hc"), chip("74hc"))
    assert proof.margin_high_v == pytest.approx(4.65 - 0.7 * 4.75, abs=0.02)
    apart = prove("in", chip("74hc"), chip("74hc", Supply("5V", 5.0, own=True)))
    assert apart.margin_high_v == pytest.approx(4.65 - 0.7 * 5.25, abs=0.03)


def test_an_open_drain_rises_by_its_pull_up_and_settles_in_0_93_rc():
    """VIH 2.0 V of 3.3 V: t = -RC ln(1 - 2.0/3.3) = 0.93 RC, a little more where outputs leak."""
    device = replace(chip("74ls"), logic=replace(chip("74ls").logic, output="open-drain"))
    lvc = chip("74lvc", THREE)
    assert lvc.logic.input_pf == 10.0
    proof = prove("in", device, lvc, Net(up=(1_000.0, THREE), line_pf=160.0))
    assert proof.settle_s == pytest.approx(0.93 * 1_000 * 170e-12, rel=0.01)
    weak = prove("in", device, lvc, Net(up=(10_000.0, THREE), line_pf=160.0))
    leak = 10_000 * (10e-6 + 5e-6)
    assert weak.settle_s == pytest.approx(-1.7e-6 * math.log(1 - 2.0 / (3.3 - leak)), rel=0.001)
    assert weak.low_a == pytest.approx(3.3 / 9_500 + lvc.logic.low_a)
    assert weak.most_v == 3.3


def planned(module, tables, *lines, supply="5V"):
    contacts = [
        *(contact(n, name, "digital", direction=d, **more) for n, (name, d, more) in enumerate(lines, 1)),
        contact(18, supply, "supply", rail=supply, current_a=0.01),
        contact(19, "GND", "ground"),
    ]
    bound = bind(contacts, CATALOG.module(module), connector(20))
    return plan_signals(replace(bound, design=replace(bound.design, logic=tuple(tables))), CATALOG)


def errors(result):
    return [(f.rule, f.message) for f in result.findings if f.severity is Severity.ERROR]


IN, OUT, BOTH = Direction.IN, Direction.OUT, Direction.BOTH


def ways(result):
    return [s.way for s in result.signals if s.contact.kind == "digital"]


def test_many_lines_share_a_chip_and_few_take_resistors():
    tables = [DeviceLogic("d", "cd4000b", "5V")]
    few = planned("esp32-devkitc", tables, *((f"D{n}", IN, {}) for n in range(3)))
    assert (ways(few), errors(few)) == (["divider"] * 3, [])
    many = planned("esp32-devkitc", tables, *((f"D{n}", IN, {}) for n in range(8)))
    assert (ways(many), errors(many)) == (["buffer"] * 8, [])
    chips = [p for p in many.parts if p.component.gates]
    assert [(p.ref, p.value) for p in chips] == [("U2", "74LVC245A")]
    caps = [p for p in many.parts if p.beside == "U2"]
    assert [(c.value, sorted(n for _, n in c.nets)) for c in caps] == [("100n", ["3V3", "GND"])]
    nets = dict(chips[0].nets)
    assert len(nets) == 20  # every pin accounted for
    assert (nets["1"], nets["19"], nets["10"], nets["20"]) == ("3V3", "GND", "GND", "3V3")


def test_spare_gates_are_tied_and_their_enables_off():
    tables = [DeviceLogic("d", "cd4000b", "5V")]
    result = planned("pico-2", tables, *((f"D{n}", OUT, {}) for n in range(3)))
    chip_ = next(p for p in result.parts if p.component.gates)
    nets, pads = dict(chip_.nets), dict(chip_.component.pins)
    assert chip_.value == "74AHCT125"
    assert [nets[pads[f"oe{n}"]] for n in range(1, 5)] == ["GND", "GND", "GND", "5V"]
    assert nets[pads["a4"]] == "GND"
    assert pads["y4"] not in nets
    assert {(r.net, r.via_part) for r in result.requests} == {(f"D{n}_M", True) for n in range(3)}
    assert "1 spare gate tied" in chip_.why


def test_nine_lines_take_two_chips():
    tables = [DeviceLogic("d", "74ls", "5V")]
    result = planned("esp32-devkitc", tables, *((f"D{n}", IN, {"way": "buffer"}) for n in range(9)))
    chips = [p for p in result.parts if p.component.gates]
    assert [p.ref for p in chips] == ["U2", "U3"]
    assert [s.parts for s in result.signals[:9]] == [("U2",)] * 8 + [("U3",)]
    assert errors(result) == []


def test_a_way_the_design_demands_is_honoured_or_refused_with_numbers():
    tables = [DeviceLogic("d", "74hct", "5V")]
    got = planned("esp32-devkitc", tables, ("D", IN, {"way": "buffer"}))
    assert (ways(got), errors(got)) == (["buffer"], [])
    refused = planned("esp32-devkitc", tables, ("D", IN, {"way": "direct"}))
    assert [rule for rule, _ in errors(refused)] == ["over-voltage"]
    assert "which takes 3.60 V: 1.65 V too much" in errors(refused)[0][1]
    series = planned("esp32-devkitc", tables, ("D", IN, {"way": "series"}))
    assert [rule for rule, _ in errors(series)] == ["over-voltage"]
    assert "mA into an input made for 0 mA" in errors(series)[0][1]
    both = planned("esp32-devkitc", tables, ("D", BOTH, {"way": "buffer"}))
    assert errors(both) == [
        (
            "level",
            "contact 1 (D) is to be carried by a buffer, which does not prove safe: "
            "a buffer runs one way, the line both",
        )
    ]
    assert both.requests  # and the board can still be drawn


def test_two_way_open_drain_lines_take_a_fet():
    tables = [DeviceLogic("d", "", "5V")]
    lines = [(n.upper(), BOTH, {"function": f"i2c.{n}"}) for n in ("sda", "scl")]
    result = planned("xiao-samd21", tables, *lines)
    assert (ways(result), errors(result)) == (["open-drain FET"] * 2, [])
    nets = {p.ref: dict(p.nets) for p in result.parts}
    assert nets["Q1"] == {"1": "3V3", "2": "SDA_M", "3": "SDA"}  # gate, source at the module, drain
    ups = sorted(tuple(sorted(n.values())) for r, n in nets.items() if r.startswith("R"))
    assert ups == [("3V3", "SCL_M"), ("3V3", "SDA_M"), ("5V", "SCL"), ("5V", "SDA")]
    low = planned("xiao-samd21", [DeviceLogic("d", "", "3V3")], *lines, supply="3V3")
    assert ways(low) == ["pull-up resistor"] * 2


def test_a_device_that_may_run_at_3v3_is_run_there():
    lines = [("DATA", IN, {}), ("CLOCK", OUT, {})]
    result = planned("xiao-samd21", [DeviceLogic("d", "cd4000b")], *lines, supply="auto")
    assert (ways(result), errors(result)) == (["direct", "direct"], [])
    assert [r.rail for r in result.rails] == ["3V3"]
    high = planned("xiao-samd21", [DeviceLogic("d", "cd4000b", supply_min_v=4.5)], *lines, supply="auto")
    assert [r.rail for r in high.rails] == ["5V"]
    assert errors(high) == []
    assert "direct" not in ways(high)


def test_a_family_outside_its_supply_range_is_an_error():
    result = planned("pico-2", [DeviceLogic("d", "74ls", "3V3")], ("D", IN, {}), supply="3V3")
    assert ("level", "contact 1 (D): 74LS needs a supply of 4.75 V to 5.25 V, 3V3 gives 3.3 V") in errors(
        result
    )


def test_what_nobody_measured_is_named_and_never_silent():
    known = planned("pico-2", [DeviceLogic("d", "", "3V3")], ("D", IN, {}), supply="3V3")
    found = [(f.rule, f.severity) for f in known.findings]
    assert found == [("level-unknown", Severity.WARNING)]  # it cannot rise above its 3.3 V
    assert "measure the high and the low level of contact 1 (D)" in known.findings[0].message
    assert any("plain CMOS" in text for text in known.signals[0].assumed)
    bound = bind(
        [contact(1, "D", "digital", direction=IN), contact(2, "G", "ground")], CATALOG.module("pico-2")
    )
    lost = plan_signals(bound, CATALOG)
    assert [rule for rule, _ in errors(lost)] == ["level-unknown"]
    assert "say what the chip at contact 1 (D) runs from (rail)" in errors(lost)[0][1]


def test_measured_levels_stand_in_for_a_family():
    """A TTL output measured at 3.4 V and 0.2 V needs nothing at the tolerant pins, nor at an ESP32's."""
    table = DeviceLogic("d", "", "5V", high_v=3.4, low_v=0.2)
    result = planned("esp32-devkitc", [table], ("D", IN, {}))
    assert (ways(result), errors(result)) == (["direct"], [])
    (proof,) = result.signals[0].proofs
    assert proof.most_v == pytest.approx(3.4 * 1.05)
    assert proof.margin_high_v == pytest.approx(3.4 - 2.475, abs=0.01)
    pulled = planned("esp32-devkitc", [replace(table, pull_up_ohms=4_700.0)], ("D", IN, {}))
    assert ways(pulled) != ["direct"]


def test_pins_of_one_module_differ():
    result = planned("pico-2", [DeviceLogic("d", "74hct", "5V")], ("D", IN, {}))
    request = next(r for r in result.requests if r.signal == "D")
    numbers = {p.number for p in CATALOG.module("pico-2").pins if p.analog}
    assert request.pins is not None
    assert not numbers & set(request.pins)
    assert "takes 3.60 V" in request.pins_why


def test_a_switch_is_proved_against_a_worn_contact():
    bound = bind([contact(1, "SW", "switch"), contact(2, "G", "ground")], CATALOG.module("esp32-devkitc"))
    row = plan_signals(bound, CATALOG).signals[0]
    (proof,) = row.proofs
    least = min(o[0] for p in bound.module.pins if (o := bound.module.pull_ohms(p, "up")))
    assert proof.vol_v == pytest.approx(3.3 * 1000 / (1000 + least))
    assert proof.passes
    assert any("1000 ohm" in text for text in row.assumed)


def test_the_module_has_one_class_where_its_entry_says_so():
    entry = CATALOG.module("esp32-devkitc")
    end = pin_end(entry, entry.pin("16"))
    assert PinClass(end, ("1",)).end.supply == logic_supply(entry)


def test_lines_give_way_where_tolerant_pins_run_out():
    """Two pins take 5 V: two of three lines go straight, the last takes resistors."""
    pins = (gpio(10, max_volts=5.5), gpio(11, max_volts=5.5), gpio(12), gpio(13))
    contacts = [contact(n, f"D{n}", "digital", direction=IN) for n in (1, 2, 3)]
    contacts += [contact(4, "5V", "supply", rail="5V", current_a=0.01), contact(5, "GND", "ground")]
    result = plan(contacts, module(*pins), logic=[DeviceLogic("d", "74hct", "5V")])
    assert (ways(result), errors(result)) == (["direct", "direct", "divider"], [])
    assert [r.pins for r in result.requests] == [("10", "11"), ("10", "11"), None]
    forced = [replace(c, way="direct") if c.kind == "digital" else c for c in contacts]
    kept = plan(forced, module(*pins), logic=[DeviceLogic("d", "74hct", "5V")])
    assert ways(kept) == ["direct"] * 3  # the design's own word; the pin assignment says what is short


def test_a_function_is_looked_for_on_tolerant_pins_too():
    """The only serial input takes 3.6 V: a 5 V line to it does not go straight, whatever other pins take."""
    pins = (gpio(10, max_volts=5.5), gpio(11, max_volts=5.5), gpio(12, functions=["uart0.rx"]))
    contacts = [contact(1, "RX", "digital", direction=IN, function="uart.rx")]
    contacts += [contact(4, "5V", "supply", rail="5V", current_a=0.01), contact(5, "GND", "ground")]
    result = plan(contacts, module(*pins), logic=[DeviceLogic("d", "74hct", "5V")])
    assert ways(result) == ["divider"]
    assert errors(result) == []


def test_a_pull_up_inside_the_device_counts_while_the_pin_does_not_drive():
    """A TTL input with 4.7 kohm to its 5 V: an ESP32's pin meets 5.25 V until the firmware drives it."""
    table = DeviceLogic("d", "74ls", "5V", pull_up_ohms=4_700.0)
    bare = planned("esp32-devkitc", [replace(table, pull_up_ohms=None)], ("D", OUT, {}))
    assert ways(bare) == ["direct"]
    result = planned("esp32-devkitc", [table], ("D", OUT, {}))
    assert errors(result) == []
    assert ways(result) != ["direct"]
    forced = planned("esp32-devkitc", [table], ("D", OUT, {"way": "direct"}))
    assert [rule for rule, _ in errors(forced)] == ["over-voltage"]
    assert "the device's own pull-up brings 5.25 V" in errors(forced)[0][1]
    tolerant = planned("pico-2", [table], ("D", OUT, {}))
    assert ways(tolerant) == ["direct"]
