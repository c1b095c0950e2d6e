"""Tooling holes and fiducials on a panel's outer rails."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import shapely
from shapely import LineString
from shapely import Polygon as Area
from shapely.geometry.base import BaseGeometry

from boardgen.board.model import Part, PartKind, Placement, ScoreLine, Side
from boardgen.catalog.making import PanelLimits
from boardgen.footprint.model import Footprint, Graphic, Pad, PadKind, PadShape, PartLayer, Polygon
from boardgen.units import ORIGIN, Box, Nm, Point, Size, mm

AWAY = mm(1)  # of material round a hole or opening, at the least
_FIRST, _STEP, _REACH = mm(5), mm("0.5"), mm(60)  # from a rail's end: where to begin, how to go on, how far

Rail = tuple[int, int, int, int]
_PEN = mm("0.05")
FIDUCIAL = "fiducial"


def outer_rails(rails: Sequence[Rail]) -> tuple[Rail, Rail] | None:
    """Return the two outermost rails of one direction, the longer pair; None where there is no pair."""
    upright = sorted(rail for rail in rails if rail[3] - rail[1] >= rail[2] - rail[0])
    level = sorted((rail for rail in rails if rail not in upright), key=lambda rail: rail[1])
    pairs = [(row[0], row[-1]) for row in (upright, level) if len(row) > 1]
    return max(pairs, key=lambda pair: _length(pair[0]), default=None)


def _length(rail: Rail) -> int:
    return max(rail[2] - rail[0], rail[3] - rail[1])


def _spots(rail: Rail, end: int) -> Iterator[Point]:
    """Yield places along the middle of *rail*, from its near end (0) or its far one (1) inward."""
    left, top, right, bottom = rail
    for step in range(int(_REACH // _STEP)):
        off = _FIRST + step * _STEP
        if bottom - top >= right - left:
            yield Point(Nm((left + right) // 2), Nm(top + off if end == 0 else bottom - off))
        else:
            yield Point(Nm(left + off if end == 0 else right - off), Nm((top + bottom) // 2))


def marks(
    rails: Sequence[Rail],
    solid: Area,
    bodies: BaseGeometry,
    scores: Sequence[ScoreLine],
    limits: PanelLimits,
    copper: tuple[Side, ...],
) -> tuple[Part, ...]:
    """Return four tooling holes and, on each copper side, three fiducials: one corner goes without, so that
    the panel cannot be taken the wrong way round. What finds no room on its rail is left out.
    """
    pair = outer_rails(rails)
    if pair is None:
        return ()
    cuts = shapely.union_all([LineString([line.start, line.end]) for line in scores])
    taken: list[BaseGeometry] = []
    edge = solid.boundary
    shapely.prepare(solid)

    def room_for(rail: Rail, end: int, radius: int) -> Point | None:
        for at in _spots(rail, end):
            spot = shapely.Point(at)
            clear = radius + AWAY
            if (
                solid.contains(spot)
                and edge.distance(spot) >= clear
                and (bodies.is_empty or bodies.distance(spot) >= clear)
                and (cuts.is_empty or cuts.distance(spot) >= clear)
                and all(other.distance(spot) >= clear for other in taken)
            ):
                taken.append(spot.buffer(radius))
                return at
        return None

    found: list[Part] = []
    for number, (rail, end) in enumerate(((pair[0], 0), (pair[0], 1), (pair[1], 0), (pair[1], 1)), 1):
        at = room_for(rail, end, limits.tooling_hole // 2)
        if at is not None:
            size = Size(limits.tooling_hole, limits.tooling_hole)
            pad = Pad("", PadKind.UNPLATED, PadShape.CIRCLE, ORIGIN, size, size)
            footprint = Footprint("tooling-hole", (pad,), room_round([ORIGIN], limits.tooling_hole))
            found.append(Part(f"TH{number}", "tooling hole", footprint, Placement(at), PartKind.HOLE))
    count = 0
    for rail, end in ((pair[0], 0), (pair[0], 1), (pair[1], 1)):
        at = room_for(rail, end, limits.fiducial_opening // 2)
        for side in copper if at is not None else ():
            count += 1
            found.append(_fiducial(f"FID{count}", at or ORIGIN, side, limits))
    return tuple(found)


def room_round(places: Sequence[Point], diameter: Nm) -> tuple[Graphic, ...]:
    """Return the courtyard of holes or openings at *places*: the box round them."""
    box = Box.around(tuple(places)).grown(diameter // 2)
    return (Polygon(PartLayer.COURTYARD, box.corners(), _PEN),)


def _fiducial(ref: str, at: Point, side: Side, limits: PanelLimits) -> Part:
    pad = Pad(
        "1",
        PadKind.SURFACE,
        PadShape.CIRCLE,
        ORIGIN,
        Size(limits.fiducial, limits.fiducial),
        mask_margin=Nm((limits.fiducial_opening - limits.fiducial) // 2),
        paste=False,
    )
    room = room_round([ORIGIN], limits.fiducial_opening)
    footprint = Footprint("fiducial", (pad,), room, through_hole=False)
    return Part(ref, FIDUCIAL, footprint, Placement(at, 0.0, side), PartKind.HOLE)
