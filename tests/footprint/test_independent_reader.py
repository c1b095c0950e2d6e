"""Our files read by a reader that shares no code with ours, and its own writing read by us."""

from pathlib import Path

import pytest
from gerbonara.cad.kicad.footprints import Footprint as Foreign

from boardgen.footprint.kicad_mod import read_footprint
from boardgen.footprint.library import own_folder
from boardgen.footprint.model import Circle, Line, PadKind, Polygon

FILES = sorted(own_folder().glob("*.kicad_mod"))
KINDS = {"thru_hole": PadKind.PLATED, "np_thru_hole": PadKind.UNPLATED, "smd": PadKind.SURFACE}


def ours(pad):
    hole = (pad.hole.w.mm, pad.hole.h.mm) if pad.hole else None
    return (pad.number, pad.kind, pad.shape.value, pad.at.x.mm, pad.at.y.mm, *(s.mm for s in pad.size), hole)


def theirs(pad):
    hole = None
    if pad.drill:
        hole = (pad.drill.diameter, pad.drill.width if pad.drill.oval else pad.drill.diameter)
    place = (pad.at.x, pad.at.y, pad.size.x, pad.size.y)
    return (pad.number or "", KINDS[str(pad.type)], str(pad.shape), *place, hole)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_another_reader_finds_the_same_pads_and_as_many_graphics(path: Path):
    text = path.read_text(encoding="utf-8")
    mine, other = read_footprint(text, path.name), Foreign.open_mod(path)
    assert [theirs(pad) for pad in other.pads] == [ours(pad) for pad in mine.pads]
    assert other.name == mine.name == path.stem
    counts = (len(other.lines), len(other.circles), len(other.polygons))
    assert counts == tuple(
        sum(isinstance(g, kind) for g in mine.graphics) for kind in (Line, Circle, Polygon)
    )
    for line, drawn in zip(other.lines, (g for g in mine.graphics if isinstance(g, Line)), strict=True):
        assert (line.start.x, line.start.y) == (drawn.start.x.mm, drawn.start.y.mm)
        assert (line.end.x, line.end.y) == (drawn.end.x.mm, drawn.end.y.mm)


@pytest.mark.parametrize("path", FILES[::7], ids=lambda path: path.stem)
def test_we_read_what_another_writer_writes(path: Path):
    mine = read_footprint(path.read_text(encoding="utf-8"), path.name)
    again = read_footprint(Foreign.open_mod(path).serialize(), "foreign")
    assert again.pads == mine.pads
    assert set(again.graphics) == set(mine.graphics)
