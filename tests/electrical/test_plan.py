import dataclasses

import pytest
from electrical_bench import (
    Direction,
    FixedPin,
    Matrix,
    connector,
    contact,
    gpio,
    module,
    plan,
    rail,
)

from boardgen.board.model import NetKind
from boardgen.errors import InputError, Severity


def errors(result):
    return [(f.rule, f.message) for f in result.findings if f.severity is Severity.ERROR]


def test_a_matrix_needs_no_part_and_drives_its_columns():
    result = plan([contact(1, "ROW0", "row"), contact(2, "COL0", "column"), contact(3, "ROW1", "row")])
    assert result.parts == ()
    assert [(r.signal, r.reads, r.drives, r.pull) for r in result.requests] == [
        ("ROW0", True, False, "up"),
        ("COL0", False, True, ""),
        ("ROW1", True, False, "up"),
    ]
    assert dict(result.contact_nets)["9"] is None
    assert result.findings == ()


def test_a_matrix_that_drives_rows_turns_it_round():
    matrix = Matrix("keys", ("ROW0",), ("COL0",), drive="rows")
    result = plan([contact(1, "ROW0", "row"), contact(2, "COL0", "column")], matrices=[matrix])
    assert [(r.signal, r.drives) for r in result.requests] == [("ROW0", True), ("COL0", False)]


def test_grounds_shield_and_shell_are_one_net_and_input_rails_stay_open():
    contacts = [contact(1, "0V", "ground"), contact(2, "SCREEN", "shield"), contact(3, "S-1", "switch")]
    result = plan(contacts, None, connector(shell=("S1", "S2")))
    nets = dict(result.contact_nets)
    assert {nets["1"], nets["2"], nets["S1"], nets["S2"]} == {"GND"}
    assert nets["3"] == "S_1"
    assert result.module_nets == (("3", "GND"), ("4", "GND"))


def test_all_pins_of_a_used_rail_are_joined():
    mod = module(extra=(rail(6, "3V3", 3.3),))
    result = plan([contact(1, "VCC", "supply", rail="3V3", current_a=0.01), contact(2, "G", "ground")], mod)
    assert ("1", "3V3") in result.module_nets
    assert ("6", "3V3") in result.module_nets
    assert not any(number in {"2", "5"} for number, _ in result.module_nets)
    assert result.rails[0].budget_a == 0.3


def test_pull_ups_are_fitted_where_pins_have_none():
    mod = module(gpio(10), gpio(11, pulls=()), gpio(12, pulls=()))
    contacts = [contact(n, f"SW{n}", "switch") for n in (1, 2, 3)] + [contact(4, "G", "ground")]
    result = plan(contacts, mod)
    assert [r.pull for r in result.requests] == ["up", "", ""]
    assert [(p.ref, p.value, dict(p.nets)) for p in result.parts] == [
        ("R1", "10k", {"1": "3V3", "2": "SW2"}),
        ("R2", "10k", {"1": "3V3", "2": "SW3"}),
    ]
    assert ("1", "3V3") in result.module_nets


def test_a_fixed_pin_without_a_pull_up_gets_a_resistor():
    mod = module(gpio(10, pulls=()), gpio(11))
    contacts = [contact(1, "SW", "switch"), contact(2, "G", "ground")]
    assert [p.ref for p in plan(contacts, mod, fixed=[FixedPin("SW", "10")]).parts] == ["R1"]
    assert plan(contacts, mod, fixed=[FixedPin("SW", "11")]).parts == ()


def test_a_pot_gets_a_capacitor_at_the_adc_pin():
    mod = module(gpio(10, functions=["adc0.0"]), gpio(11))
    contacts = [
        contact(1, "POT", "analog", ohms=10_000),
        contact(2, "3V3", "supply", rail="3V3", current_a=0.001),
        contact(3, "G", "ground"),
    ]
    result = plan(contacts, mod)
    assert errors(result) == []
    cap = next(p for p in result.parts if dict(p.nets).get("1") == "POT")
    assert (cap.value, cap.near, dict(cap.nets)["2"]) == ("100n", "", "GND")
    assert result.requests[0].analog


@pytest.mark.parametrize("kind", ["analog", "digital"])
def test_five_volts_into_a_3v3_pin_is_never_silent(kind):
    mod = module(gpio(10, functions=["adc0.0"]), gpio(11))
    item = contact(1, "SIG", kind, rail="5V", direction=Direction.IN, way="direct")
    fed = contact(3, "V", "supply", rail="5V", current_a=0.01)
    result = plan([item, contact(2, "G", "ground"), fed], mod)
    assert [rule for rule, _ in errors(result)] == ["over-voltage"]
    text = errors(result)[0][1]
    assert "3.60 V" in text
    assert "1.65 V too much" in text
    assert result.requests[0].min_max_volts == 0.0


def test_a_pot_fed_from_5v_only_is_taken_to_reach_5v():
    mod = module(gpio(10, functions=["adc0.0"]))
    pot = contact(1, "POT", "analog", ohms=1000, way="direct")
    contacts = [pot, contact(2, "V", "supply", rail="5V", current_a=0.005), contact(3, "G", "ground")]
    assert [rule for rule, _ in errors(plan(contacts, mod))] == ["over-voltage"]


def test_a_pot_on_a_higher_rail_gets_a_divider():
    mod = module(gpio(10, functions=["adc0.0"]))
    contacts = [
        contact(1, "POT", "analog", ohms=10_000, rail="5V"),
        contact(2, "V", "supply", rail="5V", current_a=0.005),
        contact(3, "G", "ground"),
    ]
    result = plan(contacts, mod)
    assert errors(result) == []
    row = result.signals[0]
    assert (row.way, row.parts) == ("divider", ("R1", "R2", "C2"))
    values = {p.ref: p.value for p in result.parts}
    assert (values["R1"], values["R2"]) == ("10k", "15k")  # 15.75 / (15.75 + 9.5) of 5.25 V are 3.27 V
    nets = {p.ref: dict(p.nets) for p in result.parts}
    assert nets["R1"] == {"1": "POT", "2": "POT_M"}
    assert nets["R2"] == {"1": "POT_M", "2": "GND"}
    assert nets["C2"] == {"1": "POT_M", "2": "GND"}
    assert result.requests[0].net == "POT_M"


def test_a_tolerant_pin_is_asked_for():
    mod = module(gpio(10, max_volts=5.5, idle_max_volts=3.63), gpio(11))
    fed = contact(3, "V", "supply", rail="5V", current_a=0.01)
    item = contact(1, "D", "digital", rail="5V", direction=Direction.IN)
    result = plan([item, contact(2, "G", "ground"), fed], mod)
    assert errors(result) == []
    request = result.requests[0]
    assert (request.min_max_volts, request.pins) == (5.0, ("10",))
    assert "takes 3.60 V: 1.65 V too much" in request.pins_why
    # a device with a supply of its own may be on while the module is off: not straight into the pin then
    alone = plan([item, contact(2, "G", "ground")], mod)
    assert errors(alone) == []
    assert (alone.signals[0].way, alone.requests[0].via_part) == ("divider", True)


def test_an_output_at_3v3_does_not_reach_5v_cmos():
    fed = contact(3, "V", "supply", rail="5V", current_a=0.01)
    item = contact(1, "D", "digital", rail="5V", direction=Direction.OUT, way="direct")
    assert errors(plan([item, contact(2, "G", "ground"), fed])) == [
        (
            "level",
            "contact 1 (D) is to be carried straight, which does not prove safe: Test module gives 2.62 V "
            "for a high, the device at 5 V needs 3.68 V: 1.05 V short",
        )
    ]


def test_a_lamp_gets_driver_base_resistor_and_pull_down():
    contacts = [
        contact(1, "LAMP1", "lamp", rail="5V", current_a=0.06),
        contact(2, "+5V", "supply", rail="5V"),
    ]
    result = plan(contacts)
    assert errors(result) == []
    lamp = result.signals[0]
    assert (lamp.way, lamp.net, lamp.module_net, lamp.parts) == (
        "lamp driver",
        "LAMP1",
        "LAMP1_G",
        ("Q1", "R1", "R2"),
    )
    nets = {p.ref: dict(p.nets) for p in result.parts}
    # the 2N3904's gain of 30 wants 6 mA: 330 ohm, 8.03 mA at an unloaded pin, over the 8 mA: so the BC337
    assert nets["Q1"] == {"1": "LAMP1", "2": "LAMP1_B", "3": "GND"}
    assert nets["R1"] == {"1": "LAMP1_G", "2": "LAMP1_B"}
    assert nets["R2"] == {"1": "LAMP1_B", "2": "GND"}
    assert {p.ref: p.near for p in result.parts if p.ref in lamp.parts} == {"Q1": "1", "R1": "1", "R2": ""}
    assert all(p.why for p in result.parts)
    assert result.requests[0].via_part
    assert {n.name: n.current_a for n in result.nets}["LAMP1"] == 0.06
    assert result.rails[0].load_a == pytest.approx(0.06)


def test_a_lamp_without_a_figure_is_an_error():
    contacts = [contact(1, "L", "lamp", rail="5V"), contact(2, "V", "supply", rail="5V")]
    assert [r for r, _ in errors(plan(contacts))] == ["load-driver"]


def test_the_fuse_holds_the_load_and_stands_before_the_contact():
    contacts = [contact(1, "V", "supply", rail="5V", current_a=0.3), contact(2, "G", "ground")]
    result = plan(contacts, fuse=True)
    fuse = next(p for p in result.parts if p.ref == "F1")
    assert fuse.component.id == "fuse-ptc-500ma"
    assert dict(fuse.nets) == {"1": "5V", "2": "5V_OUT"}
    assert dict(result.contact_nets)["1"] == "5V_OUT"
    assert {p.value for p in result.parts if p.ref.startswith("C")} == {"100n", "10u"}
    currents = {n.name: (n.kind, n.current_a) for n in result.nets}
    assert currents["5V"] == currents["5V_OUT"] == (NetKind.SUPPLY, 0.3)
    assert currents["GND"] == (NetKind.GROUND, 0.3)


def test_too_much_load_says_by_how_much():
    contacts = [contact(1, "V", "supply", rail="5V", current_a=0.55), contact(2, "G", "ground")]
    assert errors(plan(contacts, fuse=True)) == [
        ("fuse", "no fuse holds the 0.55 A on 5V: the largest holds 0.40 A at 40 C"),
        ("supply-budget", "5V carries 0.55 A, Test module can spare 0.40 A: 0.15 A too much"),
    ]


def test_a_contact_must_bear_its_current():
    contacts = [contact(1, "V", "supply", rail="5V", current_a=0.3), contact(2, "G", "ground")]
    assert [r for r, _ in errors(plan(contacts, None, connector(current=0.2)))] == ["contact-current"] * 2


def test_an_unknown_rail_is_refused_with_the_rails_there_are():
    with pytest.raises(
        InputError, match=r"wants a rail Test module does not give; found '12V'; allowed: 3V3, 5V"
    ):
        plan([contact(1, "V", "supply", rail="12V")])


def test_a_switch_needs_a_ground_contact():
    assert [r for r, _ in errors(plan([contact(1, "SW", "switch")]))] == ["ground"]


def test_a_lamp_on_the_devices_own_supply_needs_a_ground_contact():
    lamp = contact(1, "L", "lamp", rail="12V", current_a=0.02)
    assert [r for r, _ in errors(plan([lamp]))] == ["ground"]
    assert errors(plan([lamp, contact(2, "G", "ground")])) == []


def test_net_names_are_safe_and_stay_apart():
    contacts = [contact(1, "key-1", "row"), contact(2, "KEY 1", "row"), contact(3, "gnd", "column")]
    assert [r.net for r in plan(contacts).requests] == ["KEY_1", "KEY_1_2", "GND_2"]


def test_two_contacts_of_one_signal_share_net_and_pin():
    result = plan([contact(1, "ROW0", "row"), contact(2, "ROW0", "row")])
    assert len(result.requests) == 1
    assert dict(result.contact_nets)["1"] == dict(result.contact_nets)["2"] == "ROW0"


def test_i2c_lines_get_pull_ups_and_one_bus():
    contacts = [
        contact(1, "SDA", "digital", direction=Direction.BOTH, function="i2c.sda"),
        contact(2, "SCL", "digital", direction=Direction.BOTH, function="i2c.scl"),
        contact(3, "G", "ground"),
        contact(4, "V", "supply", rail="3V3", current_a=0.01),
    ]
    result = plan(contacts)
    assert [(r.bus, r.reads, r.drives) for r in result.requests] == [("i2c", True, True)] * 2
    assert [p.value for p in result.parts if p.ref.startswith("R")] == ["4.7k", "4.7k"]
    assert [s.way for s in result.signals[:2]] == ["pull-up resistor"] * 2


def test_uart_ends_are_the_modules_own():
    wrong = contact(1, "TX", "digital", direction=Direction.IN, function="uart.tx")
    fed = contact(3, "V", "supply", rail="3V3", current_a=0.01)
    assert [r for r, _ in errors(plan([wrong, contact(2, "G", "ground"), fed]))] == ["direction"]


def test_adding_a_contact_at_the_end_renames_no_part():
    first = [contact(n, f"L{n}", "lamp", rail="5V", current_a=0.02) for n in (1, 2)]
    before, after = plan(first), plan([*first, contact(3, "L3", "lamp", rail="5V", current_a=0.02)])
    assert [dataclasses.astuple(p) for p in before.parts] == [
        dataclasses.astuple(p) for p in after.parts[: len(before.parts)]
    ]


def test_a_lamp_without_a_rail_hangs_on_the_one_there_is():
    lamps = [contact(n, f"L{n}", "lamp", current_a=0.1) for n in (1, 2)]
    result = plan([*lamps, contact(3, "V", "supply", rail="5V")])
    assert result.rails[0].load_a == pytest.approx(0.2)
    assert result.findings == ()


def test_a_lamp_that_no_rail_can_be_told_for_is_warned_about():
    result = plan([contact(1, "L", "lamp", current_a=0.02), contact(2, "G", "ground")])
    assert [(f.rule, f.severity) for f in result.findings] == [("load-driver", Severity.WARNING)]


def test_a_rail_that_spells_no_voltage_is_refused():
    with pytest.raises(InputError, match=r"names a rail of no known voltage; found 'mains'"):
        plan([contact(1, "L", "lamp", rail="mains", current_a=0.02)])
