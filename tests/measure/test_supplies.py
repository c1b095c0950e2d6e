"""Volts lost per load on the demos, the verdicts, and how they stand in record and report."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from boardgen.catalog.load import load_catalog
from boardgen.design.load import load_design
from boardgen.errors import Severity
from boardgen.export.measured_report import measured_html
from boardgen.measure.board import measure_board
from boardgen.measure.model import LineCapacitance, Measures, SupplyDrop
from boardgen.measure.record import drop_evidence, measured_data, rounded
from boardgen.measure.supplies import drop_findings, measure_supplies
from boardgen.measure.ways import supply_ways
from boardgen.pipeline import build, choose_module

FEEDS = """
name = "fed"
module = "pico-2"
connector = "screw-terminal-3"
[[contacts]]
number = 1
kind = "supply"
rail = "VSYS"
source = "feeds"
current_a = 1.0
[[contacts]]
number = 2
kind = "ground"
[[contacts]]
number = 3
kind = "switch"
signal = "KEY"
"""


def row(share: float, **more: object) -> SupplyDrop:
    made = SupplyDrop("5V", 5.0, "contact 1", 0.25, share * 4.0, share * 1.0, 0.1, share)
    return replace(made, **more)  # type: ignore[arg-type]


def copper(bundle):
    return measure_supplies(bundle.board, bundle.bound, bundle.plan)


def test_a_board_without_supply_current_measures_no_net(built):
    rows, drops, unjoined = copper(built("lecture-keypad").bundle)
    assert (rows, drops, unjoined) == ((), (), ())
    measures = built("lecture-keypad").bundle.measures
    assert drop_evidence(measures)["worst"] == "no supply current"
    assert len(measures.lines) == 13


def test_the_remote_s_lamps_pay_for_fuse_driver_and_copper(built):
    bundle = built("slide-remote").bundle
    rows, drops, unjoined = copper(bundle)
    assert unjoined == ()
    assert {r.load.split(" ")[0] for r in rows} == {
        "LAMP_READY", "LAMP_RUN", "LAMP_DARK", "LAMP_FAULT", "contact",
    }  # fmt: skip
    assert [r.share for r in rows] == sorted((r.share for r in rows), reverse=True)
    by_name = {r.load: r for r in rows}
    whole = by_name["contact 1"]
    assert whole.amps == pytest.approx(0.24)
    assert whole.return_volts == 0.0  # every ampere of it comes back through the drivers
    fuse = next(p.component for p in bundle.plan.parts if p.ref == "F1")
    assert whole.part_volts == pytest.approx(fuse.figure("max_ohms") * 0.24)
    for name, item in by_name.items():
        assert item.share == pytest.approx((item.copper_volts + item.return_volts) / 5.0)
        if name.startswith("LAMP"):
            assert item.amps == pytest.approx(0.06)
            assert item.copper_volts > whole.copper_volts  # the same way, and the lamp's own line
            assert item.part_volts > whole.part_volts
            assert 0 < item.return_volts < 1e-3
    # Each net is solved once, and never takes longer a way than all its tracks.
    assert len({d.net for d in drops}) == len(drops) == 7
    for drop in drops:
        tracks = [t for t in bundle.board.tracks if t.net == drop.net]
        longest = sum(t.start.distance(t.end) / t.width for t in tracks) * 1.72e-8 / 35e-6
        if drop.net != "GND":
            assert 0 < drop.worst.ohms < longest + 1e-3


def test_currents_of_a_rail_and_of_ground_balance(built):
    for name in ("pointer-handset", "slide-remote"):
        bundle = built(name).bundle
        ways = supply_ways(bundle.board, bundle.bound, bundle.plan)
        total = sum(use.load_a for use in bundle.plan.rails)
        ground = next(hop for hop in ways.hops if hop.net == ways.ground)
        assert sum(load.amps for load in ground.loads) == pytest.approx(total)
        rail = next(hop for hop in ways.hops if hop.net == bundle.plan.rails[0].net)
        assert sum(load.amps for load in rail.loads) == pytest.approx(total)


def test_thin_copper_is_found_and_cut_copper_is_told(built):
    bundle = built("slide-remote").bundle
    thin = replace(bundle.bound, fab=replace(bundle.bound.fab, copper_um=1))
    rows, _, _ = measure_supplies(bundle.board, thin, bundle.plan)
    found = drop_findings(rows)
    assert {f.severity for f in found} == {Severity.ERROR}
    assert len(found) == len(rows) == 5
    cut = replace(bundle.board, tracks=tuple(t for t in bundle.board.tracks if t.net != "5V_OUT"))
    rows, _, unjoined = measure_supplies(cut, bundle.bound, bundle.plan)
    assert rows == ()
    assert unjoined == ("J1 pad 1 on 5V_OUT",)


def test_a_supply_that_feeds_the_module_is_followed_through_its_diode(tmp_path):
    (tmp_path / "design.toml").write_text(FEEDS)
    catalog = load_catalog()
    bundle = build(choose_module(load_design(tmp_path), catalog), catalog).bundle
    ways = supply_ways(bundle.board, bundle.bound, bundle.plan)
    (way,) = ways.ways
    assert way.load == "the module, fed through D1"
    assert [net for net, _ in way.legs] == ["DEV_VSYS", "VSYS"]
    (only,) = bundle.measures.supplies
    node = next(n for n in bundle.plan.power.nodes if n.name == "DEV_VSYS")
    assert only.amps == pytest.approx(node.amps)
    assert only.copper_volts > 0
    assert only.return_volts > 0
    assert only.part_volts > 0.2


def test_verdicts_at_their_limits():
    assert drop_findings((row(0.02),)) == ()
    (warning,) = drop_findings((row(0.0201),))
    (edge,) = drop_findings((row(0.05),))
    (error,) = drop_findings((row(0.0501),))
    assert [f.severity for f in (warning, edge, error)] == [
        Severity.WARNING,
        Severity.WARNING,
        Severity.ERROR,
    ]
    assert {f.rule for f in (warning, edge, error)} == {"voltage-drop"}
    assert error.message == (
        "contact 1 loses 250 mV of 5V in copper at 0.25 A (200 mV there, 50 mV back): 5.0%, "
        "more than 5%; a wider track or a nearer pin would help"
    )
    assert error.items == ("5V", "contact 1")


def test_record_rounds_and_names_what_it_assumed(built):
    assert rounded(0.0123456) == 0.01235
    assert rounded(0.0) == 0.0
    data = measured_data(built("pointer-handset").bundle.measures)
    assert json.loads(json.dumps(data, allow_nan=False)) == data
    assert data["assumed"] == {"copper_celsius": 20.0, "plating_um": 20.0, "laminate_permittivity": 4.5}
    assert {r["load"] for r in data["supplies"]} == {"contact 1", "LAMP_ON at contact 8"}
    assert {line["net"] for line in data["lines"]} >= {"STICK_X", "STICK_Y"}


def test_report_escapes_names_and_leaves_out_what_there_is_not():
    assert measured_html(Measures()) == ""
    html = measured_html(Measures((row(0.001, load="<b>"),), (LineCapacitance("A&B", 3.14, 12.0, 11.0),)))
    assert "&lt;b&gt;" in html
    assert "A&amp;B" in html
    assert "<b>" not in html
    assert "4.00 mV" in html
    assert "0.10%" in html
    assert "Lost in copper" not in measured_html(Measures(lines=(LineCapacitance("A", 1.0, 1.0, 1.0),)))


def test_the_whole_measurement_stands_in_the_bundle(built):
    bundle = built("slide-remote").bundle
    assert measure_board(bundle.board, bundle.bound, bundle.plan) == bundle.measures
    check = next(c for c in built("slide-remote").checks if c.name == "voltage drop")
    assert check.passed
    assert check.evidence["nets"] == 7
    assert check.evidence["nodes"] > 1000
