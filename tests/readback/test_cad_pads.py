"""Pads of every form against the outlines a CAD program itself draws of them, on both sides and turned.

``data/odd-pads.kicad_pcb`` was saved by the CAD program (version 9) after it turned two of its four parts
over; ``data/odd-pads.json`` holds the polygons it makes of each pad, with chords of up to 5 um.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import shapely

from boardgen.board.geometry import hole_shape, pad_shape, sides_of
from boardgen.board.model import Side
from boardgen.catalog.load import load_catalog
from boardgen.footprint.kicad_mod import read_footprint, write_footprint
from boardgen.readback.cad_board import read_cad_board

DATA = Path(__file__).parent / "data"
CHORDS = 13_000.0  # nm: free pads join their pieces with chords, and the whole is drawn with more
WANTED = json.loads((DATA / "odd-pads.json").read_text())


@pytest.fixture(scope="module")
def board():
    read = read_cad_board((DATA / "odd-pads.kicad_pcb").read_bytes(), "odd", load_catalog().fab("economy-2l"))
    assert [f for f in read.findings if f.rule == "cad-unread"] == []
    return read.board


def pads(board):
    return {f"{part.ref}/{pad.number}": (part, pad) for part in board.parts for pad in part.footprint.pads}


@pytest.mark.parametrize("name", sorted(WANTED))
def test_the_copper_is_where_the_program_draws_it(board, name):
    part, pad = pads(board)[name]
    want = WANTED[name]
    theirs = shapely.union_all([shapely.Polygon(ring) for ring in want["rings"]])
    ours = pad_shape(part, pad).polygon()
    apart = shapely.hausdorff_distance(theirs.boundary.segmentize(20_000), ours.boundary.segmentize(20_000))
    assert apart < CHORDS
    assert Side(want["side"]) in sides_of(part, pad, (Side.TOP, Side.BOTTOM))
    if want["hole"]:
        x1, y1, x2, y2, width = want["hole"]
        hole = hole_shape(part, pad)
        assert hole.radius == width / 2
        assert hole.skeleton.hausdorff_distance(shapely.LineString([(x1, y1), (x2, y2)])) < 2
    else:
        assert pad.hole is None


def test_every_pad_was_compared(board):
    assert set(pads(board)) == set(WANTED)
    assert len(WANTED) == 52


def test_the_same_pads_come_out_of_a_library_file(board):
    for part in board.parts:
        again = read_footprint(write_footprint(part.footprint))
        assert again.pads == part.footprint.pads
