"""A board that is not finished: what the rule check knows of it, read-back repeats as a note and no more."""

from __future__ import annotations

from dataclasses import replace

import pytest
from runkit import bundle_of

from boardgen.board.model import Side, Track
from boardgen.errors import Severity
from boardgen.export.cad_files import cad_files
from boardgen.export.run_record import fabrication_files
from boardgen.readback import examine_board
from boardgen.rules.check import check_board
from boardgen.units import mm


def examined_with(tracks):
    bundle = bundle_of("lecture-keypad")
    board = bundle.board.with_copper(tracks=tracks)
    findings = check_board(board, bundle.netlist, bundle.bound.fab).findings
    made = replace(bundle, board=board, findings=findings)
    files = (*fabrication_files(made), *cad_files(made))
    return findings, examine_board(files, board, bundle.netlist, bundle.bound.fab, findings)


def test_an_open_net_of_the_model_is_a_note():
    tracks = bundle_of("lecture-keypad").board.tracks
    model, report = examined_with(tuple(track for track in tracks if track.net != "COL1"))
    assert {f.rule for f in model} == {"unconnected"}
    assert {(f.rule, f.severity) for f in report.findings} == {("readback-open", Severity.NOTE)}
    assert report.findings[0].message.startswith("net COL1: no copper in fab/lecture-keypad-A.GBL")
    assert all(check.passed for check in report.checks)


def test_a_short_of_the_model_is_a_note():
    board = bundle_of("lecture-keypad").board
    one, two = (next(t for t in board.tracks if t.net == net) for net in ("COL1", "COL2"))
    across = Track("COL1", Side.TOP, one.start, two.start, mm("0.25"))
    model, report = examined_with((*board.tracks, across))
    assert "short" in {f.rule for f in model}
    shorts = [f for f in report.findings if f.rule == "readback-short"]
    assert shorts
    assert {f.severity for f in shorts} == {Severity.NOTE}


@pytest.mark.parametrize("width", ["0.05", "0.149"])
def test_a_thin_track_is_found_again_with_the_same_figure(width):
    board = bundle_of("lecture-keypad").board
    fab = bundle_of("lecture-keypad").bound.fab
    assert mm(width) < fab.track_min
    model, report = examined_with((replace(board.tracks[0], width=mm(width)), *board.tracks[1:]))
    assert [f.measured for f in model if f.rule == "track-width"] == [mm(width)]
    assert report.findings == ()
    assert report.checks[2].evidence["findings agreed"] == len(model)
