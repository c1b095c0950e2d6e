"""What printing must keep clear of, and the strokes parts print themselves.

Lengths are floats in nm; shapes are polygons with chords outside the true curve.
"""

from __future__ import annotations

import math

import numpy as np
import shapely
from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from boardgen.board.geometry import arc_points, copper_items, hole_shape, outline_polygon
from boardgen.board.model import Board, LegendLine, Part, Placement, Side
from boardgen.board.strokes import text_strokes
from boardgen.catalog.model import FabClass
from boardgen.footprint.model import (
    Arc,
    Circle,
    Face,
    Graphic,
    Line,
    PadKind,
    PartLayer,
    Text,
)
from boardgen.footprint.model import Polygon as PartPolygon
from boardgen.layout.pour_field import Geometries, geometries, outside
from boardgen.units import Nm, Point, nm

SLACK = 5_000.0  # nm more than the fab's gap, for chords and rounding
SHORTEST = 200_000.0  # nm; what clipping leaves shorter than this is not printed


def openings_and_holes(board: Board, fab: FabClass, side: Side) -> Geometries:
    """Return the mask openings and holes of *side*, grown by the fab's printing gap."""
    more = float(fab.legend_pad_gap_min) + float(fab.mask_margin) + SLACK
    shapes = [c.shape for c in copper_items(board) if c.side is side and c.ref]
    for part in board.parts:
        for pad in part.footprint.pads:
            if pad.hole is not None and (pad.kind is PadKind.UNPLATED or side not in board.copper):
                shapes.append(hole_shape(part, pad))
    return outside(
        geometries([s.skeleton for s in shapes]), np.array([s.radius + more for s in shapes], dtype=float)
    )


def printable(board: Board, fab: FabClass) -> BaseGeometry:
    """Return the room for ink inside the profile."""
    return outline_polygon(board.outline).buffer(-(float(fab.legend_pad_gap_min) + SLACK), quad_segs=16)


def _circle(centre: Point, radius: float) -> tuple[Point, ...]:
    count = max(16, min(96, math.ceil(2 * math.pi * radius / 150_000)))
    return tuple(
        Point(
            nm(centre.x + radius * math.cos(2 * math.pi * i / count)),
            nm(centre.y + radius * math.sin(2 * math.pi * i / count)),
        )
        for i in (*range(count), 0)
    )


def filling(area: BaseGeometry, stroke: float) -> list[tuple[Point, ...]]:
    """Return rings, one inside the other, that cover *area* with a pen of width *stroke*."""
    found: list[tuple[Point, ...]] = []
    inner = area.buffer(-stroke / 2, join_style="mitre")
    while not inner.is_empty:
        for polygon in getattr(inner, "geoms", [inner]):
            found.append(tuple(Point(nm(x), nm(y)) for x, y in polygon.exterior.coords))
        # Half a stroke inward: no void at sharp corners, none left in the middle.
        inner = inner.buffer(-stroke / 2, join_style="mitre")
    return found


def _upright(text: Text, placement: Placement) -> float:
    """Return the text's turn in the part's frame, half a turn more where it would stand on its head."""
    own = -text.rotation if placement.side is Side.BOTTOM else text.rotation
    over = 90.0 < (placement.rotation + own) % 360.0 <= 270.0
    return text.rotation + 180.0 if over else text.rotation


def graphic_paths(item: Graphic, stroke: Nm, placement: Placement) -> list[tuple[Point, ...]]:
    """Return the pen's paths of a footprint's graphic in the part's own frame."""
    if isinstance(item, Line):
        return [(item.start, item.end)]
    if isinstance(item, Arc):
        return [tuple(arc_points(item.start, item.mid, item.end, 5_000.0))]
    if isinstance(item, Circle):
        if not item.filled:
            return [_circle(item.centre, float(item.radius))]
        disc = shapely.Point(item.centre).buffer(item.radius + item.width / 2)
        return filling(disc, float(stroke)) or [(item.centre, item.centre)]
    if isinstance(item, PartPolygon):
        outline = (*item.points, item.points[0])
        if not item.filled:
            return [outline]
        return [outline, *filling(Polygon(item.points), float(stroke))]
    turn = _upright(item, placement)
    return list(text_strokes(item.text, item.at, item.height, stroke, turn, item.face is Face.FAR))


def _stroke(item: Graphic, fab: FabClass) -> Nm:
    wanted = item.stroke if not isinstance(item, Line | Arc | Circle | PartPolygon) else item.width
    return max(wanted, fab.legend_stroke_min)


def part_printing(part: Part, fab: FabClass, side: Side) -> list[tuple[tuple[Point, ...], Nm]]:
    """Return the paths *part* prints on *side*, in place, each with its pen's width.

    No stroke is thinner than the fab can print.
    """
    face = Face.NEAR if part.placement.side is side else Face.FAR
    placement: Placement = part.placement
    found = []
    for item in part.footprint.graphics:
        if item.layer is PartLayer.LEGEND and item.face is face:
            stroke = _stroke(item, fab)
            for path in graphic_paths(item, stroke, placement):
                found.append((tuple(placement.place(p) for p in path), stroke))
    return found


def clipped(
    paths: list[tuple[tuple[Point, ...], Nm]],
    side: Side,
    room: BaseGeometry,
    taken: Geometries,
    origin: str = "footprint",
) -> list[LegendLine]:
    """Return what of *paths* lies inside *room* and off *taken*, ink width included; *origin* draws it."""
    if not paths:
        return []
    lines = geometries([LineString(path) for path, _ in paths])
    halves = np.array([stroke / 2 for _, stroke in paths])
    blocked: dict[int, list[int]] = {}
    if len(taken):
        tree = shapely.STRtree(taken)
        a, b = tree.query(lines, predicate="dwithin", distance=halves)
        for i, j in sorted(zip(a.tolist(), b.tolist(), strict=True)):
            blocked.setdefault(i, []).append(j)
    shapely.prepare(room)
    rooms = {half: room.buffer(-half) for half in sorted(set(halves.tolist()))}
    for area in rooms.values():
        shapely.prepare(area)
    found = []
    for i, (path, stroke) in enumerate(paths):
        line: BaseGeometry = lines[i]
        half = float(halves[i])
        inside = rooms[half].covers(line)
        if i not in blocked and inside:
            found.append(LegendLine(side, path, stroke, origin))
            continue
        if not inside:
            line = line.intersection(rooms[half])
        if i in blocked:
            quarter = math.cos(math.pi / 32)
            line = line.difference(
                shapely.union_all(shapely.buffer(taken[blocked[i]], half / quarter, quad_segs=8))
            )
        pieces = line if line.is_empty or line.geom_type == "LineString" else shapely.line_merge(line)
        for piece in getattr(pieces, "geoms", [pieces]):
            if piece.geom_type == "LineString" and piece.length >= SHORTEST:
                points = tuple(Point(nm(x), nm(y)) for x, y in piece.coords)
                found.append(LegendLine(side, points, stroke, origin))
    return found
