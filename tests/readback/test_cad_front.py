"""Where a connector needs the board's edge is its entry's word: no CAD board says it."""

from __future__ import annotations

import pytest
from cad_kit import board_file, findings, intent, read, told
from runkit import bundle_of

from boardgen.board.model import PartKind
from boardgen.catalog.load import load_catalog
from boardgen.footprint.sexpr import Node, children, words
from boardgen.layout.fronts import front_of
from boardgen.pipeline.cad_intent import _front, intent_of_run
from boardgen.readback.cad_board import read_cad_board

NAME = "chart-ball"


def test_the_connector_of_a_board_read_has_the_design_s_front():
    bundle = bundle_of(NAME)
    connector = next(p for p in bundle.board.parts if p.kind is PartKind.CONNECTOR)
    assert connector.front is not None
    assert connector.front == front_of(bundle.bound.connector)
    assert intent(NAME).fronts() == {connector.ref: connector.front}
    assert {p.ref: p.front for p in read(NAME).board.parts if p.front} == {connector.ref: connector.front}


def test_without_a_design_no_part_needs_an_edge():
    board = read_cad_board(board_file(NAME), "x", load_catalog().fab("economy-2l")).board
    assert {p.front for p in board.parts} == {None}


def test_a_run_says_which_connector_it_is(run_of):
    wanted = intent_of_run(run_of(NAME).folder / "cad" / f"{NAME}.kicad_pcb", None, ())
    assert wanted.fronts() == intent(NAME).fronts()


@pytest.mark.parametrize("data", [{}, {"connector": 3}, {"connector": None}, {"connector": "no-such"}])
def test_a_record_that_does_not_tell_asks_for_no_edge(data):
    assert _front(load_catalog(), data) is None


def longer(by: float):
    """Draw the profile's far side *by* mm farther out, as a hand does that makes room for a case."""

    def edit(tree: Node) -> None:
        lines = [n for key in ("gr_line", "gr_arc") for n in children(tree, key) if "Edge.Cuts" in str(n)]
        points = [point for line in lines for key in ("start", "mid", "end") for point in children(line, key)]
        heights = [float(words(point)[1]) for point in points]
        middle = (min(heights) + max(heights)) / 2
        for point, height in zip(points, heights, strict=True):
            if height > middle:
                point[2] = type(point[2])(f"{height + by:.6f}")

    return edit


def test_a_board_made_longer_by_hand_stands_in_the_plug_s_way():
    assert "overhang" not in told(findings(NAME, longer(0.199)))
    found = [f for f in findings(NAME, longer(0.3)) if f.rule == "overhang"]
    assert [(f.items, f.measured) for f in found] == [(("J1", "board edge"), 300_000)]
