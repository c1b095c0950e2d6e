"""How high a module stands over the board is the design's word: no CAD board says it."""

from __future__ import annotations

import pytest
from cad_kit import board_file, intent, read
from runkit import bundle_of

from boardgen.board.model import PartKind
from boardgen.catalog.load import load_catalog
from boardgen.pipeline.cad_intent import _standoff, intent_of_run
from boardgen.readback.cad_board import read_cad_board
from boardgen.units import ZERO, mm

NAME = "lecture-keypad"


def test_the_module_of_a_board_read_stands_as_high_as_the_designs():
    module = next(p for p in bundle_of(NAME).board.parts if p.kind is PartKind.MODULE)
    assert module.standoff > 0
    assert intent(NAME).standoffs() == {module.ref: module.standoff}
    board = read(NAME).board
    assert {p.ref: p.standoff for p in board.parts if p.standoff} == {module.ref: module.standoff}


def test_without_a_design_everything_lies_flat():
    board = read_cad_board(board_file(NAME), "x", load_catalog().fab("economy-2l")).board
    assert {p.standoff for p in board.parts} == {ZERO}


def test_a_run_says_how_high_its_module_stands(run_of):
    wanted = intent_of_run(run_of(NAME).folder / "cad" / f"{NAME}.kicad_pcb", None, ())
    assert wanted.standoffs() == intent(NAME).standoffs()


@pytest.mark.parametrize(
    "data",
    [{}, {"board": []}, *({"board": {"module_standoff_mm": x}} for x in ("8", -1, 1e9, float("nan"), None))],
)
def test_a_record_that_does_not_tell_lays_it_flat(data):
    assert _standoff(data) == ZERO


def test_a_record_that_tells_is_believed():
    assert _standoff({"board": {"module_standoff_mm": 8.5}}) == mm("8.5")
