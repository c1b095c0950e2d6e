"""Holes of a board edited in CAD, held against the land pattern of the design."""

from __future__ import annotations

from dataclasses import replace

import pytest

from boardgen.board.model import Part, Placement
from boardgen.footprint.model import Footprint, Pad, PadKind, PadShape
from boardgen.readback.cad_board.drilling import check_holes
from boardgen.units import Size, mm, point_mm


def pad(number: str, x: float, kind: PadKind = PadKind.PLATED, hole: str = "1.0") -> Pad:
    across = Size(mm("1.7"), mm("1.7"))
    return Pad(number, kind, PadShape.CIRCLE, point_mm(x, 0), across, Size(mm(hole), mm(hole)))


PEG = pad("", 6, PadKind.UNPLATED, "2.0")
WANTED = Footprint("P", (pad("1", 0), pad("2", 3), PEG))


def told(*pads: Pad) -> list[tuple[str, str, object]]:
    part = Part("J1", "", Footprint("Q", pads), Placement(point_mm(10, 20), 90.0))
    return [(f.rule, f.message, f.at) for f in check_holes(part, WANTED, "cad-contact")]


def test_the_same_holes_are_fine_however_the_part_is_turned():
    assert told(pad("1", 0), pad("2", 3), PEG) == []
    slot = replace(pad("1", 0), hole=Size(mm("1.0"), mm("2.0")))
    turned = replace(slot, hole=Size(mm("2.0"), mm("1.0")), rotation=90.0)
    part = Part("J1", "", Footprint("Q", (turned,)), Placement(point_mm(0, 0)))
    assert check_holes(part, Footprint("P", (slot,)), "cad-pin") == []


@pytest.mark.parametrize(
    ("pads", "message", "x"),
    [
        (
            (pad("1", 0), pad("2", 3, hole="0.9"), PEG),
            "J1 pad 2 has a hole of 0.9 mm, plated; the design a hole of 1 mm, plated",
            3,
        ),
        (
            (pad("1", 0), pad("2", 3), pad("", 6, PadKind.PLATED, "2.0")),
            "hole of J1 has a hole of 2 mm, plated; the design a hole of 2 mm, unplated",
            6,
        ),
        (
            (replace(pad("1", 0), kind=PadKind.SURFACE, hole=None), pad("2", 3), PEG),
            "J1 pad 1 has no hole; the design a hole of 1 mm, plated",
            0,
        ),
    ],
)
def test_another_hole_is_told_at_its_pad(pads, message, x):
    assert told(*pads) == [("cad-contact", message, point_mm(10, 20 - x))]


def test_a_pad_that_is_missing_is_not_told_here():
    assert told(pad("1", 0), PEG) == []
