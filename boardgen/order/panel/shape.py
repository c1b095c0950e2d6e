"""The panel's outline: boards, rails and tabs as one piece, with the boards' arcs kept as arcs."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import shapely
from shapely import Polygon

from boardgen.board.geometry import arc_points, loop_points
from boardgen.board.model import Outline, OutlineArc, OutlineLine, OutlinePiece
from boardgen.units import Nm, Point

Step = tuple[tuple[int, int], tuple[int, int]]


def board_area(outline: Outline) -> Polygon:
    """Return the board's area with its arcs as chords between the points of :func:`arc_points`."""
    return Polygon(loop_points(outline.outer), [loop_points(loop) for loop in outline.cutouts])


def whole_piece(areas: Sequence[shapely.Geometry], holes: Sequence[shapely.Geometry]) -> Polygon | None:
    """Return *areas* less *holes* as one polygon; None where they fall apart."""
    joined = shapely.union_all(list(areas)).difference(shapely.union_all(list(holes)))
    return joined if isinstance(joined, Polygon) and not joined.is_empty else None


def outline_of(solid: Polygon, outlines: Sequence[Outline]) -> Outline:
    """Return the loops of *solid*; chords that come from an arc of *outlines* become that arc again.

    Outer loop and cut-outs begin at their least corner, cut-outs are sorted by it.
    """
    steps = _arc_steps(outlines)
    loops = [_loop(ring, steps) for ring in solid.interiors]
    return Outline(_loop(solid.exterior, steps), tuple(sorted(loops, key=lambda loop: _low(loop[0].start))))


def _low(at: Point) -> tuple[int, int]:
    return int(at.y), int(at.x)


def _arc_steps(outlines: Sequence[Outline]) -> dict[Step, tuple[OutlineArc, int]]:
    steps: dict[Step, tuple[OutlineArc, int]] = {}
    for outline in outlines:
        for loop in (outline.outer, *outline.cutouts):
            for piece in loop:
                if not isinstance(piece, OutlineArc):
                    continue
                points = arc_points(piece.start, piece.mid, piece.end)
                back = OutlineArc(piece.end, piece.mid, piece.start)
                count = len(points) - 1
                for n, (a, b) in enumerate(itertools.pairwise(points)):
                    here, there = (int(a.x), int(a.y)), (int(b.x), int(b.y))
                    steps[here, there] = (piece, n)
                    steps[there, here] = (back, count - 1 - n)
    return steps


def _loop(ring: shapely.LinearRing, steps: dict[Step, tuple[OutlineArc, int]]) -> tuple[OutlinePiece, ...]:
    points = [(round(x), round(y)) for x, y in ring.coords[:-1]]
    points = [p for n, p in enumerate(points) if p != points[n - 1]]
    arcs = [steps.get((a, b)) for a, b in zip(points, points[1:] + points[:1], strict=True)]
    # begin where a piece begins: not inside an arc, not in the middle of a straight run
    starts = [n for n in range(len(points)) if _is_corner(points, arcs, n)]
    first = min(starts, key=lambda n: (points[n][1], points[n][0]))
    points, arcs = points[first:] + points[:first], arcs[first:] + arcs[:first]
    pieces: list[OutlinePiece] = []
    n = 0
    while n < len(points):
        arc = arcs[n]
        end = n + 1
        if arc is not None:
            while end < len(points) and arcs[end] is not None and arcs[end] == (arc[0], arc[1] + end - n):
                end += 1
            pieces.append(_arc(arc[0], [points[k % len(points)] for k in range(n, end + 1)]))
        else:
            while end < len(points) and arcs[end] is None and not _is_corner(points, arcs, end):
                end += 1
            pieces.append(OutlineLine(_point(points[n]), _point(points[end % len(points)])))
        n = end
    return tuple(pieces)


def _is_corner(
    points: Sequence[tuple[int, int]], arcs: Sequence[tuple[OutlineArc, int] | None], n: int
) -> bool:
    """Whether the ring turns at point *n*, or a piece begins there."""
    before, after = arcs[n - 1], arcs[n]
    if before is not None and after is not None:
        return after != (before[0], before[1] + 1)
    if (before is None) != (after is None):
        return True
    (ax, ay), (bx, by), (cx, cy) = points[n - 1], points[n], points[(n + 1) % len(points)]
    return (bx - ax) * (cy - by) != (by - ay) * (cx - bx)


def _point(at: tuple[int, int]) -> Point:
    return Point(Nm(at[0]), Nm(at[1]))


def _arc(arc: OutlineArc, points: Sequence[tuple[int, int]]) -> OutlinePiece:
    start, end = _point(points[0]), _point(points[-1])
    if (start, end) == (arc.start, arc.end):
        return arc
    if len(points) < 3:
        return OutlineLine(start, end)
    return OutlineArc(start, _point(points[len(points) // 2]), end)
