"""Boot straps in every state of the device: figures worked out by hand, and all key states by brute force."""

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pins_bench import CATALOG, DeviceLogic, Direction, Matrix, bound, chosen, contact, gpio, module, report

from boardgen.circuit.boot import strap_findings, strap_states
from boardgen.circuit.network import REFERENCE, Branch, span
from boardgen.circuit.states import State, states_at
from boardgen.circuit.surroundings import Surroundings, surroundings
from boardgen.electrical.plan import plan_signals

ESP32 = CATALOG.modules["esp32-devkitc"]


def straps(found):
    return [f for f in found.findings if f.rule == "strap"]


def only(found):
    (finding,) = straps(found)
    return finding


def test_gpio12_with_its_own_pull_down_and_a_key_to_ground_starts_either_way():
    found = report(ESP32, {"KEY": "12"}, [contact(1, "KEY", "switch")])
    assert straps(found) == []
    assert dict(found.evidence)["straps"] == 1
    assert dict(found.evidence)["states"] == 2


def test_gpio12_with_a_fitted_pull_up_does_not_start():
    # 10 kohm to 3.3 V against 30 to 60 kohm to ground: 9.5 to 10.5 kohm fitted: 2.44 to 2.85 V
    mod = module(gpio(12, strap="flash voltage", strap_needs="low", strap_pull="down", pulls=("down",)))
    finding = only(report(mod, {"KEY": "GP12"}, [contact(1, "KEY", "switch")]))
    assert finding.severity == "error"
    assert "with everything at rest at power-up, GP12 (KEY) stands at" in finding.message
    assert "2.44 to 2.85 V" in finding.message
    assert "R1 of 10k to 3V3" in finding.message


def test_gpio0_held_down_by_a_key_loads_instead_of_starting():
    finding = only(report(ESP32, {"KEY": "0"}, [contact(1, "KEY", "switch")]))
    assert finding.severity == "error"
    assert finding.items == ("KEY", "0")
    # 1 kohm, a worn contact, against 30 kohm: 0.11 V
    assert finding.message.startswith(
        "with KEY held at power-up, 0 (KEY) stands at 0.00 to 0.11 V (by the pull-up inside pin 0"
    )
    assert "at reset it has to be high, 2.48 V or more" in finding.message


def test_gpio2_low_is_as_it_should_be_and_high_is_said_to_bar_loading():
    assert straps(report(ESP32, {"KEY": "2"}, [contact(1, "KEY", "switch")])) == []
    logic = [DeviceLogic("chip", "74lvc", "3V3")]
    contacts = [contact(1, "3V3", "supply", rail="3V3"), contact(2, "D", "digital", direction=Direction.IN)]
    finding = only(report(ESP32, {"D": "2"}, contacts, logic=logic))
    assert finding.severity == "warning"  # a state of the device, not its rest: loading works in others
    assert finding.message.startswith("with D high at power-up, 2 (D) stands at")


def test_gpio15_low_is_told_and_no_more():
    finding = only(report(ESP32, {"KEY": "15"}, [contact(1, "KEY", "switch")]))
    assert finding.severity == "note"
    assert "boot messages: silent when low" in finding.message


def test_a_lamp_driver_s_pull_down_keeps_gpio0_from_starting():
    contacts = [
        contact(1, "5V", "supply", rail="5V"),
        contact(2, "LAMP", "lamp", rail="5V", current_a=0.06),
    ]
    finding = only(report(ESP32, {"LAMP": "0"}, contacts))
    assert finding.severity == "error"
    assert "with everything at rest" in finding.message
    assert straps(report(ESP32, {"LAMP": "12"}, contacts)) == []


def test_a_device_of_its_own_that_is_off_pulls_a_strap_low_through_its_clamps():
    logic = [DeviceLogic("chip", "cd4000b", "3V3", own_supply=True)]
    contacts = [contact(2, "D", "digital", direction=Direction.IN, way="direct")]
    mod = module(gpio(0, strap="boot mode", strap_needs="high", strap_pull="up"))
    there = bound(mod, {"D": "GP0"}, contacts, logic=logic)
    plan = plan_signals(there, CATALOG)
    pins = chosen(mod, plan, {"D": "GP0"})
    around = surroundings(there, plan, pins, CATALOG, running=False)
    levels = {state.words: state.level for state in strap_states(pins.choices[0], around)}
    off = levels[("the device at D off",)]
    assert off is not None
    assert off[1] < 0.9
    assert levels[("D unplugged",)] == pytest.approx((3.3, 3.3))


def test_a_level_between_the_thresholds_is_a_warning():
    # 30 to 60 kohm up against 47 kohm down on the module: 1.41 to 2.05 V with VIL 0.8, VIH 2.475
    from boardgen.catalog.power import Onboard

    pin = gpio(
        0, strap="boot mode", strap_needs="high", strap_pull="up", onboard=(Onboard("pull-down", 47e3),)
    )
    found = straps(report(module(pin), {"KEY": "GP0"}, [contact(1, "KEY", "switch")]))
    assert [f.severity for f in found] == ["error"]  # with the key held it is low for certain
    matrixless = straps(report(module(pin), {"L": "GP0"}, [contact(1, "L", "row")]))
    assert [f.severity for f in matrixless] == ["warning"]
    assert "1.41 to 2.05 V" in matrixless[0].message


def test_two_straps_of_one_matrix_fight_through_a_held_key():
    mod = module(
        gpio(12, strap="flash voltage", strap_needs="low", strap_pull="down"),
        gpio(15, strap="boot mode", strap_needs="high", strap_pull="up"),
        gpio(16),
        gpio(17),
    )
    matrix = Matrix("keys", ("R0", "R1"), ("C0", "C1"))
    contacts = [contact(n, s, k) for n, (s, k) in enumerate(
        [("R0", "row"), ("R1", "row"), ("C0", "column"), ("C1", "column")], 1)]  # fmt: skip
    pins = {"R0": "GP12", "R1": "GP16", "C0": "GP15", "C1": "GP17"}
    found = straps(report(mod, pins, contacts, matrices=[matrix]))
    assert len(found) == 2
    assert all("with R0/C0 held" in f.message for f in found)
    # 30 to 60 kohm each way: 1.1 to 2.2 V, between the thresholds
    assert {f.severity for f in found} == {"warning"}


def test_a_diode_lets_the_strap_be_pulled_one_way_only():
    mod = module(
        gpio(12, strap="flash voltage", strap_needs="low", strap_pull="down"),
        gpio(15, strap="boot mode", strap_needs="high", strap_pull="up"),
    )
    contacts = [contact(1, "R0", "row"), contact(2, "C0", "column")]
    pins = {"R0": "GP12", "C0": "GP15"}
    # current from the column (up) to the row (down) flows with the cathode at the row, not otherwise
    for diodes, drive, count in (("cathode-to-row", "rows", 2), ("cathode-to-column", "columns", 0)):
        matrix = Matrix("keys", ("R0",), ("C0",), drive=drive, diodes=diodes)
        assert len(straps(report(mod, pins, contacts, matrices=[matrix]))) == count


PULLS = st.sampled_from([None, 0.0, 3.3])


@given(st.data())
@settings(max_examples=40, deadline=None)
def test_the_chosen_states_reach_what_every_combination_of_keys_reaches(data):
    rows, columns = data.draw(st.integers(1, 2)), data.draw(st.integers(1, 3))
    nets = [f"R{n}" for n in range(rows)] + [f"C{n}" for n in range(columns)]
    steady = []
    for net in nets:
        volts = data.draw(PULLS)
        if volts is not None:
            ohms = data.draw(st.sampled_from([10e3, 30e3, 47e3]))
            steady.append(Branch(net, REFERENCE, (ohms, 1.5 * ohms), (volts, volts), name=net))
    from boardgen.circuit.device_side import Element, Option

    keys = []
    for r in range(rows):
        for c in range(columns):
            if data.draw(st.booleans()):
                way = data.draw(st.sampled_from(["both", "forward"]))
                a, b = data.draw(st.permutations([f"R{r}", f"C{c}"]))
                drop = (0.3, 0.7) if way == "forward" else (0.0, 0.0)
                name = f"K{r}{c}"
                held = Branch(a, b, (0.05, 100.0), drop, way, name)
                keys.append(Element(name, (Option(""), Option(f"{name} held", (held,)))))
    there = Surroundings(tuple(steady), tuple(keys))
    levels = [s.level for s in states_at(there, "R0", most=data.draw(st.sampled_from([1, 512])))]
    every = []
    for picks in itertools.product((0, 1), repeat=len(keys)):
        branches = [*steady, *(b for k, e in zip(picks, keys, strict=True) for b in e.options[k].branches)]
        every.append(span(branches, "R0"))
    assert (None in levels) == (None in every)
    known = [s for s in levels if s is not None]
    brute = [s for s in every if s is not None]
    assert bool(known) == bool(brute)
    if brute:
        # keys between nets that nothing holds are left out: they carry next to nothing
        assert min(s[0] for s in known) == pytest.approx(min(s[0] for s in brute), abs=0.06)
        assert max(s[1] for s in known) == pytest.approx(max(s[1] for s in brute), abs=0.06)


@given(st.lists(st.tuples(st.floats(100, 1e5), st.floats(0, 5), st.floats(1, 2)), min_size=1, max_size=5))
@settings(max_examples=80, deadline=None)
def test_one_node_s_span_is_that_of_every_corner(pulls):
    branches = [Branch("N", REFERENCE, (r, r * k), (v, v)) for r, v, k in pulls]
    found = span(branches, "N")
    values = []
    for corner in itertools.product((0, 1), repeat=len(pulls)):
        g = [1 / b.ohms[c] for b, c in zip(branches, corner, strict=True)]
        values.append(sum(gi * b.drop[0] for gi, b in zip(g, branches, strict=True)) / sum(g))
    assert found == pytest.approx((min(values), max(values)), abs=1e-6)


def levels_at_boot(way, direction, family):
    """The span at GP0, with a pull-up of 30 to 60 kohm at reset, by the words of the state."""
    mod = module(gpio(0, strap="boot mode", strap_needs="high", strap_pull="up"))
    contacts = [
        contact(1, "5V", "supply", rail="5V"),
        contact(2, "D", "digital", direction=Direction(direction), way=way),
    ]
    there = bound(mod, {"D": "GP0"}, contacts, logic=[DeviceLogic("chip", family, "5V")])
    plan = plan_signals(there, CATALOG)
    pins = chosen(mod, plan, {"D": "GP0"})
    around = surroundings(there, plan, pins, CATALOG, running=False)
    return {s.words: s.level for s in states_at(around, plan.requests[0].net)}, plan


def test_a_buffer_s_output_stands_at_its_own_levels():
    levels, _ = levels_at_boot("buffer", "in", "74ls")
    assert levels[("D low",)] == pytest.approx((0.0, 0.2), abs=0.01)  # 74LVC: 0.2 V
    assert levels[("D high",)] == pytest.approx((3.1, 3.3), abs=0.01)


def test_a_divider_loads_the_strap_even_with_the_plug_out():
    levels, plan = levels_at_boot("divider", "in", "74ls")
    (_, down) = [float(p.value.rstrip("k")) * 1e3 for p in plan.parts if p.component.kind == "resistor"]
    least, most = levels[("D unplugged",)]
    assert least == pytest.approx(3.3 * down * 0.95 / (down * 0.95 + 60e3), rel=1e-3)
    assert most == pytest.approx(3.3 * down * 1.05 / (down * 1.05 + 30e3), rel=1e-3)


def test_a_fet_passes_the_device_s_low_and_keeps_its_high_out():
    levels, _ = levels_at_boot("open-drain", "in", "74ls")
    assert levels[("D low",)][1] < 0.5
    assert levels[("D high",)][1] == pytest.approx(3.3, abs=0.01)


def test_a_buffer_s_input_holds_nothing():
    levels, _ = levels_at_boot("buffer", "out", "74hct")
    assert levels == {(): pytest.approx((3.3, 3.3), abs=1e-4)}


def test_an_open_ttl_input_lifts_a_pull_down_but_not_to_a_high():
    mod = module(gpio(12, strap="flash voltage", strap_needs="low", strap_pull="down"))
    contacts = [contact(1, "5V", "supply", rail="5V"), contact(2, "D", "digital", direction=Direction.OUT)]
    logic = [DeviceLogic("chip", "74ls", "5V")]
    finding = only(report(mod, {"D": "GP12"}, contacts, logic=logic))
    assert finding.severity == "warning"
    assert "the input at D, which lets 0.4 mA out" in finding.message


@given(st.sampled_from(["switch", "row", "digital", "lamp"]), st.sampled_from(["0", "2", "5", "12", "15"]))
@settings(max_examples=20, deadline=None)
def test_a_strap_of_any_kind_is_judged_and_named(kind, pin):
    more = {"direction": Direction.IN} if kind == "digital" else {}
    if kind == "lamp":
        more = {"rail": "5V", "current_a": 0.05}
    contacts = [contact(1, "5V", "supply", rail="5V"), contact(2, "S", kind, **more)]
    found = report(ESP32, {"S": pin}, contacts, logic=[DeviceLogic("chip", "74ls", "5V")])
    assert dict(found.evidence)["straps"] == 1
    assert dict(found.evidence)["states"] >= 1
    for finding in straps(found):
        assert finding.items == ("S", pin)
        assert " at power-up, " in finding.message


@pytest.mark.parametrize(
    ("words", "text"),
    [
        ((), "with everything at rest"),
        (("A held",), "with A held"),
        (("A held", "D low", "B held", "C held"), "with A, B and C held and D low"),
        (("the device at D off",), "with the device at D off"),
    ],
)
def test_a_state_in_words(words, text):
    assert State(words, None, ()).said() == text


def test_findings_name_the_state_with_the_fewest_changes():
    there = bound(ESP32, {"KEY": "0"}, [contact(1, "KEY", "switch")])
    plan = plan_signals(there, CATALOG)
    pins = chosen(ESP32, plan, {"KEY": "0"})
    states = strap_states(pins.choices[0], surroundings(there, plan, pins, CATALOG, running=False))
    assert [s.words for s in states] == [(), ("KEY held",)]
    assert len(list(strap_findings(ESP32, pins.choices[0], states[:1]))) == 0
