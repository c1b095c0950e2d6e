"""What a person drew on the legend, as the pen will print it: clipped off openings, holes and the edge."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from boardgen.board.model import Board, LegendLine, Side
from boardgen.catalog.model import FabClass
from boardgen.design.model import StrokeWish
from boardgen.layout.legend_room import clipped, filling, openings_and_holes, printable
from boardgen.layout.pour_field import Geometries
from boardgen.units import Nm, Point

Paths = list[tuple[tuple[Point, ...], Nm]]


def stroke_paths(wish: StrokeWish, fab: FabClass) -> Paths:
    """Return the pen's ways for *wish*, each with its width: no thinner than the fab prints."""
    pen = max(wish.width, fab.legend_stroke_min)
    points = tuple(at for i, at in enumerate(wish.points) if i == 0 or at != wish.points[i - 1])
    if not wish.filled:
        return [(points if len(points) > 1 else points * 2, pen)]
    ring = points if points[0] == points[-1] else (*points, points[0])
    return [(ring, pen), *((path, pen) for path in filling(Polygon(ring), float(pen)))]


def stroke_area(wish: StrokeWish, fab: FabClass) -> BaseGeometry:
    """Return the area *wish* would cover with ink (nm), chords inside the pen's round ends."""
    half = max(wish.width, fab.legend_stroke_min) / 2
    drawn = Polygon(wish.points) if wish.filled else LineString(stroke_paths(wish, fab)[0][0])
    return drawn.buffer(half)


def strokes_in(
    wish: StrokeWish, fab: FabClass, room: BaseGeometry, taken: Geometries
) -> tuple[LegendLine, ...]:
    """Return what of *wish* can be printed inside *room* and off *taken*."""
    return tuple(clipped(stroke_paths(wish, fab), wish.side, room, taken, "board"))


def strokes_on(
    board: Board, fab: FabClass, wishes: Sequence[StrokeWish]
) -> tuple[tuple[LegendLine, ...], ...]:
    """Return what of each of *wishes* can be printed on *board*; nothing where the fab does not print."""
    if not fab.legend or not wishes:
        return ((),) * len(wishes)
    room = printable(board, fab)
    taken = {side: openings_and_holes(board, fab, side) for side in Side}
    return tuple(strokes_in(wish, fab, room, taken[wish.side]) for wish in wishes)


def length_of(lines: Sequence[LegendLine] | Sequence[tuple[Point, ...]]) -> float:
    """Return the length of pen ways in nm."""
    ways = [line.points if isinstance(line, LegendLine) else line for line in lines]
    return sum(a.distance(b) for way in ways for a, b in itertools.pairwise(way))
