"""Which chip a capacitor stands by is the design's word or the record's: no CAD board says it."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from cad_kit import board_file, intent, read
from runkit import bundle_of

from boardgen.board.model import Serving
from boardgen.catalog.load import load_catalog
from boardgen.footprint.sexpr import child, children, dump, parse, words
from boardgen.pipeline.cad_intent import _serving, intent_of_run
from boardgen.pipeline.check_cad import check_cad
from boardgen.readback.cad_board import read_cad_board

NAME = "dome-fader"
SERVED = {"C2": Serving("U2", ("1",), ("14",))}


def test_the_capacitor_of_a_board_read_serves_the_design_s_chip():
    assert {p.ref: p.serves for p in bundle_of(NAME).board.parts if p.serves} == SERVED
    assert intent(NAME).serving() == SERVED
    assert {p.ref: p.serves for p in read(NAME).board.parts if p.serves} == SERVED


def test_without_a_design_no_part_serves_another():
    board = read_cad_board(board_file(NAME), "x", load_catalog().fab("economy-2l")).board
    assert {p.serves for p in board.parts} == {None}


def test_a_run_says_what_serves_what(run_of):
    wanted = intent_of_run(run_of(NAME).folder / "cad" / f"{NAME}.kicad_pcb", None, ())
    assert wanted.serving() == SERVED


ROW = {"ref": "C2", "serves": {"ref": "U2", "own": ["1"], "fed": ["14"]}}


ODD = [
    [ROW | {"serves": ROW["serves"] | {key: value}}]
    for key in ("ref", "own", "fed")
    for value in (None, 1, [], [1])
]


@pytest.mark.parametrize(
    "places", [None, 3, [3], [{}], [{"ref": "C2"}], [ROW | {"ref": 2}], [ROW | {"serves": "U2"}], *ODD]
)
def test_a_record_that_does_not_tell_is_left_aside(places):
    assert _serving({"places": places}) == {}


def test_a_record_that_tells_is_believed():
    assert _serving({"places": [{"ref": "R1"}, ROW]}) == SERVED


def test_a_capacitor_moved_away_by_hand_is_told(run_of, tmp_path: Path):
    folder = tmp_path / "run"
    shutil.copytree(run_of(NAME).folder, folder)
    file = folder / "cad" / f"{NAME}.kicad_pcb"
    before = check_cad(file).findings
    assert [f for f in before if f.rule == "decoupling"] == []
    tree = parse(file.read_text())
    for part in children(tree, "footprint"):
        if any(words(text)[:2] == ["reference", "C2"] for text in children(part, "fp_text")):
            at = child(part, "at")
            at[1] = type(at[1])(f"{float(at[1]) + 25:.6f}")
    file.write_text(dump(tree))
    (found,) = [f for f in check_cad(file).findings if f.rule == "decoupling"]
    assert found.severity == "warning"
    assert found.items == ("C2", "U2")
    assert found.measured > 20_000_000
