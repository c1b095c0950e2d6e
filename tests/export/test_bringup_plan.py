"""The plan of bring-up and its sheets; the meter on circuits made by hand."""

from __future__ import annotations

import json
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boardgen.catalog.load import load_catalog
from boardgen.export.bringup import bringup_files
from boardgen.export.bringup_circuit import face_turns, ohms_of
from boardgen.export.bringup_data import plan_data, plan_from
from boardgen.export.bringup_model import Circuit, Element, Leak, Spot
from boardgen.export.bringup_net import Change, Meter, span_words
from boardgen.export.bringup_plan import plan_of
from boardgen.export.bringup_sheets import FOOT, bringup_sheets, wrapped
from boardgen.export.sheet import TextMark


def circuit(*elements, leaks=()):
    nets = {"J1.1": "A", "U1.1": "A", "J1.2": "B", "U1.2": "C", "Q1.1": "C", "Q1.2": "D", "U1.9": "U1.9"}
    for ref, a, b, _ohms in elements:
        nets |= {f"{ref}.1": a, f"{ref}.2": b}
    return Circuit(
        tuple(Spot(name, net, name) for name, net in sorted(nets.items())),
        tuple(Element(ref, "resistor", f"{ref}.1", f"{ref}.2", ohms, ohms) for ref, _a, _b, ohms in elements),
        tuple(leaks),
    )


def test_a_meter_reads_what_ohm_would():
    meter = Meter(circuit(("R1", "A", "B", 1000.0), ("R2", "A", "B", 1000.0), ("R3", "B", "C", 300.0)))
    assert meter.reads("J1.1", "U1.1") == (0.0, 1.0)
    assert meter.reads("J1.1", "U1.9") == (1e6, math.inf)
    least, most = meter.reads("J1.1", "U1.2")
    assert least == pytest.approx(800 * 0.98 - 1)
    assert most == pytest.approx(800 * 1.02 + 1)


@given(st.lists(st.floats(10, 1e6), min_size=1, max_size=6))
def test_resistors_beside_each_other(ohms):
    meter = Meter(circuit(*((f"R{i}", "A", "B", value) for i, value in enumerate(ohms, 1))))
    least, most = meter.reads("J1.1", "J1.2")
    wanted = 1 / sum(1 / value for value in ohms)
    assert least <= wanted <= most
    assert most - least == pytest.approx(0.04 * wanted + min(2.0, 0.98 * wanted + 1), rel=1e-6)


def test_junctions_let_a_meter_through_one_way():
    meter = Meter(circuit(leaks=[Leak("Q1", "Q1.1", "Q1.2")]))
    assert meter.reads("U1.2", "Q1.2")[0] == 1e3
    assert meter.reads("Q1.2", "U1.2")[0] == 1e6


def test_changes_show_where_they_should():
    whole = circuit(("R1", "A", "B", 1000.0))
    assert Meter(whole, Change(opened=frozenset({"J1.1"}))).reads("J1.1", "U1.1")[0] == 1e6
    assert Meter(whole, Change(opened=frozenset({"J1.1"}))).reads("J1.1/pad", "U1.1") == (0.0, 1.0)
    assert Meter(whole, Change(cut=frozenset({"J1.1"}))).reads("J1.1/pad", "U1.1")[0] == 1e6
    assert Meter(whole, Change(joined=(("A", "B"),))).reads("J1.1", "J1.2") == (0.0, 1.0)
    assert Meter(whole, Change(missing=frozenset({"R1"}))).reads("J1.1", "J1.2")[0] == 1e6
    assert Meter(whole, Change(moved=(("J1.1", "J1.2"),))).reads("J1.1", "J1.2") == (0.0, 1.0)
    assert Meter(whole, Change(ohms=(("R1", 50.0),))).reads("J1.1", "J1.2")[1] == pytest.approx(52.0)


@pytest.mark.parametrize(
    ("text", "ohms"), [("820", 820), ("4k7", 4700), ("10k", 1e4), ("1.5k", 1500), ("1M", 1e6), ("", None)]
)
def test_values_of_resistors(text, ohms):
    assert ohms_of(text) == ohms


def test_ranges_in_words():
    assert span_words((0.0, 1.0)) == "below 1 ohm"
    assert span_words((1e6, math.inf)) == "open: above 1 Mohm"
    assert span_words((9500.0, 10500.0)) == "9.5 kohm to 10.5 kohm"


def test_the_stages_come_in_the_order_of_the_bench(built):
    plan = plan_of(built("slide-remote").bundle)
    order = [stage.id for stage in plan.stages]
    assert order == ["look", "rails", "power", "signals", "inside", "open", "module", "device"]
    assert all(stage.stop and stage.steps for stage in plan.stages)
    assert [t.stage for t in plan.tests] == sorted((t.stage for t in plan.tests), key=order.index)
    assert len({t.id for t in plan.tests}) == len(plan.tests)


@pytest.mark.parametrize(
    "name", ["lecture-keypad", "pointer-handset", "slide-remote", "dome-fader", "chart-ball"]
)
def test_every_contact_pin_and_near_pair_is_measured(built, name):
    bundle = built(name).bundle
    plan = plan_of(bundle)
    ohms = [t for t in plan.tests if t.kind == "ohms"]
    probed = {spot for t in ohms for spot in (t.a, t.b)}
    nets = {spot.name: spot.net for spot in plan.circuit.spots}
    for number, net in bundle.plan.contact_nets:
        assert net is None or f"J1.{number}" in probed
    pairs = {frozenset((nets[t.a], nets[t.b])) for t in ohms}
    assert all(frozenset((close.a, close.b)) in pairs for close in plan.circuit.near)
    # each joint on a net: with it open, some reading leaves its range
    for spot in plan.circuit.spots:
        if spot.net == spot.name:
            continue
        meter = Meter(plan.circuit, Change(opened=frozenset({spot.name})))
        assert any(t.most is not None and meter.reads(t.a, t.b)[0] > t.most for t in ohms), spot


def test_first_power_is_limited_by_the_boards_own_parts(built):
    plan = plan_of(built("chart-ball").bundle)
    power = [t for t in plan.tests if t.stage == "power"]
    amps = [t for t in power if t.kind == "amps"]
    # 10 uA at rest and 0.5 mA for each of eight inputs between their levels
    assert amps[0].most == pytest.approx(1.2 * (10e-6 + 8 * 0.5e-3))
    assert "limit 10 mA" in amps[0].expected
    volts = [t for t in power if t.kind == "volts"]
    assert (volts[0].least, volts[0].most) == (3.135, 3.465)


def test_a_board_without_rails_has_no_first_power(built):
    plan = plan_of(built("lecture-keypad").bundle)
    assert "power" not in [stage.id for stage in plan.stages]


def test_a_driver_is_open_and_its_resistors_have_their_ohms(built):
    plan = plan_of(built("pointer-handset").bundle)
    tests = {frozenset((t.a, t.b)): t for t in plan.tests if t.kind == "ohms"}
    assert tests[frozenset(("J1.8", "U1.5"))].least == 1e6
    base = tests[frozenset(("U1.5", "Q1.2"))]
    assert base.least == pytest.approx(820 * 0.95 * 0.98 - 1, abs=0.01)
    assert base.most == pytest.approx(820 * 1.05 * 1.02 + 1, abs=0.01)


def _mirror_of(connector) -> dict[str, str]:
    turn = next(t for t in face_turns(connector) if "left and right" in t.words)
    return {a[3:]: b[3:] for a, b in turn.moves}


def test_a_mirrored_face_exchanges_the_numbers_the_trade_knows():
    catalog = load_catalog()
    # of two halves of a D, the one's face is the other's mirrored: 5..1 over 9..6
    nine = {"1": "5", "2": "4", "4": "2", "5": "1", "6": "9", "7": "8", "8": "7", "9": "6"}
    assert _mirror_of(catalog.connector("dsub-9-plug-right-angle")) == nine
    dense = _mirror_of(catalog.connector("dsub-hd15-plug-right-angle"))  # its rows are staggered
    assert (dense["1"], dense["10"], dense["11"], "3" in dense) == ("5", "6", "15", False)
    # 5 contacts on a circle, from the left 3 5 2 4 1
    din = {"3": "1", "5": "4", "4": "5", "1": "3"}
    assert _mirror_of(catalog.connector("din-5-180-socket-right-angle")) == din
    rows = next(t for t in face_turns(catalog.connector("box-header-2x5")) if "two rows" in t.words)
    assert dict(rows.moves)["J1.1"] == "J1.2"
    assert dict(rows.moves)["J1.10"] == "J1.9"


def test_the_plan_survives_its_file(built):
    plan = plan_of(built("dome-fader").bundle)
    data = json.loads(json.dumps(plan_data(plan, "tool")))
    assert plan_from(data) == plan
    with pytest.raises(ValueError, match="plan of form 99"):
        plan_from({**data, "form": 99})
    with pytest.raises(ValueError, match="no spot of the board"):
        plan_from({**data, "tests": [{**data["tests"][-1], "a": "J9.9"}]})


def test_sheets_stay_on_their_pages_and_say_stop(built):
    plan = plan_of(built("slide-remote").bundle)
    sheets = bringup_sheets(plan, "tool")
    words = [mark for sheet in sheets for mark in sheet.marks if isinstance(mark, TextMark)]
    assert all(0 < mark.at[1] <= FOOT + 6 for mark in words)
    assert sum(mark.text == "STOP if" for mark in words) == len(plan.stages)
    said = [mark.text for mark in words]
    assert all(test.id in said for test in plan.tests)
    assert wrapped("a b c", 1.0, 3.0) == ["a", "b", "c"]


def test_files_are_the_same_every_time_and_escape_what_they_are_given(built):
    bundle = built("pointer-handset").bundle
    files = {file.path: file.data for file in bringup_files(bundle)}
    assert files == {file.path: file.data for file in bringup_files(bundle)}
    assert set(files) == {
        f"bringup/{name}"
        for name in ("continuity.txt", "sheets.pdf", "sheets.html", "readings.csv", "plan.json")
    }
    html = files["bringup/sheets.html"].decode()
    assert html.count('type="checkbox"') == len(plan_of(bundle).tests)
    assert "local codes" in html
    assert files["bringup/sheets.pdf"].startswith(b"%PDF-")
