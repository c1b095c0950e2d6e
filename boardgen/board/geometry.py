"""Exact geometry of the things on a board.

Every copper item with straight edges and round ends is a *skeleton* (a point, a
segment or a polygon) and a *radius* around it: the distance between two items
is the distance of their skeletons less both radii, exact to floating point,
with no circle ever approximated. Coordinates here are floats in nm.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Polygon
from shapely import Point as ShapelyPoint
from shapely.geometry.base import BaseGeometry

from boardgen.board.model import (
    Board,
    Outline,
    OutlineArc,
    OutlinePiece,
    Part,
    Placement,
    PourPiece,
    Side,
    Track,
    Via,
)
from boardgen.footprint.model import Arc as PartArc
from boardgen.footprint.model import Circle as PartCircle
from boardgen.footprint.model import Face, Footprint, Pad, PadKind, PadShape, PartLayer
from boardgen.footprint.model import Line as PartLine
from boardgen.footprint.model import Polygon as PartPolygon
from boardgen.units import Nm, Point

ARC_ERROR = 1_000.0  # nm; how far a drawn arc may stand from its chord where a polygon is unavoidable


@dataclass(frozen=True, slots=True)
class Shape:
    """All points within *radius* nm of *skeleton*."""

    skeleton: BaseGeometry
    radius: float

    def distance(self, other: Shape) -> float:
        """Return the gap to *other* in nm; negative where the rounded bodies overlap."""
        return float(self.skeleton.distance(other.skeleton)) - self.radius - other.radius

    def polygon(self, grow: float = 0.0, outside: bool = True) -> BaseGeometry:
        """Return the shape grown by *grow* nm as a polygon.

        Round parts are drawn with chords: *outside* keeps the polygon's chords
        outside the true curve (for clearances), else inside (for bounds).
        """
        radius = self.radius + grow
        if radius <= 0:
            return self.skeleton
        quarter = arc_steps(radius)
        if outside:
            radius /= math.cos(math.pi / (4 * quarter))
        return self.skeleton.buffer(radius, quad_segs=quarter)

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """The upright box round the shape: left, top, right, bottom in nm."""
        left, top, right, bottom = self.skeleton.bounds
        r = self.radius
        return (left - r, top - r, right + r, bottom + r)


def arc_steps(radius: float, error: float = ARC_ERROR) -> int:
    """Return the chords per quarter circle that keep within *error* nm of it (8 to 64)."""
    if radius <= error:
        return 8
    half = math.acos(1 - error / radius)
    return max(8, min(64, math.ceil(math.pi / 4 / half)))


def sides_of(part: Part, pad: Pad, copper: tuple[Side, ...]) -> tuple[Side, ...]:
    """Return the sides on which *pad* has copper, of the sides the board has."""
    if pad.kind is PadKind.UNPLATED:
        return ()
    if pad.kind is PadKind.PLATED:
        return copper
    side = part.placement.side if pad.face is Face.NEAR else part.placement.side.other
    return (side,) if side in copper else ()


def pad_centre(part: Part, pad: Pad) -> Point:
    """Return where the pad's centre stands on the board."""
    return part.placement.place(pad.at)


def _local_pad(pad: Pad) -> tuple[BaseGeometry, float]:
    """Skeleton (about the pad's own centre, unturned) and radius."""
    w, h = float(pad.size.w), float(pad.size.h)
    if pad.shape is PadShape.CUSTOM:
        return _free(pad.outline), float(pad.corner_radius)
    if pad.shape is PadShape.CIRCLE or (pad.shape is PadShape.OVAL and w == h):
        return ShapelyPoint(0, 0), w / 2
    if pad.shape is PadShape.OVAL:
        return _slot(w, h)
    r = float(pad.corner_radius) if pad.shape is PadShape.ROUNDRECT else 0.0
    r = min(r, w / 2, h / 2)
    return shapely.box(-w / 2 + r, -h / 2 + r, w / 2 - r, h / 2 - r), r


def _free(points: tuple[Point, ...]) -> BaseGeometry:
    if len(points) == 1:
        return ShapelyPoint(points[0])
    return LineString(points) if len(points) == 2 else Polygon(points)


def _slot(w: float, h: float) -> tuple[BaseGeometry, float]:
    if w == h:
        return ShapelyPoint(0, 0), w / 2
    if w > h:
        return LineString([(-(w - h) / 2, 0), ((w - h) / 2, 0)]), h / 2
    return LineString([(0, -(h - w) / 2), (0, (h - w) / 2)]), w / 2


def _put(geometry: BaseGeometry, pad: Pad, placement: Placement) -> BaseGeometry:
    """Turn *geometry* with the pad, then with its part, and move it into place."""
    turn = math.radians(pad.rotation)
    mirrored = placement.side is Side.BOTTOM
    whole = math.radians(placement.rotation)
    centre = placement.place(pad.at)

    def exact(angle: float) -> tuple[float, float]:
        quarter = angle / (math.pi / 2)
        if abs(quarter - round(quarter)) < 1e-12:
            return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[round(quarter) % 4]
        return math.cos(angle), math.sin(angle)

    def move(x: float, y: float) -> tuple[float, float]:
        c, s = exact(turn)
        x, y = x * c + y * s, -x * s + y * c
        if mirrored:
            y = -y
        c, s = exact(whole)
        return x * c + y * s + centre.x, -x * s + y * c + centre.y

    return shapely.transform(geometry, lambda rows: np.array([move(float(x), float(y)) for x, y in rows]))


def pad_shape(part: Part, pad: Pad) -> Shape:
    """Return the copper of *pad* in place (also for UNPLATED: the hole itself)."""
    if pad.kind is PadKind.UNPLATED:
        return hole_shape(part, pad)
    skeleton, radius = _local_pad(pad)
    return Shape(_put(skeleton, pad, part.placement), radius)


def hole_shape(part: Part, pad: Pad) -> Shape:
    """Return the finished hole of *pad* in place; raises ValueError where it has none."""
    if pad.hole is None:
        raise ValueError(f"pad {pad.number} of {part.ref} has no hole")
    skeleton, radius = _slot(float(pad.hole.w), float(pad.hole.h))
    return Shape(_put(skeleton, pad, part.placement), radius)


def track_shape(track: Track) -> Shape:
    """Return the copper of *track*."""
    if track.start == track.end:
        return Shape(ShapelyPoint(track.start), track.width / 2)
    return Shape(LineString([track.start, track.end]), track.width / 2)


def via_shape(via: Via) -> Shape:
    """Return the copper of *via* on either side."""
    return Shape(ShapelyPoint(via.at), via.diameter / 2)


def via_hole_shape(via: Via) -> Shape:
    """Return the finished hole of *via*."""
    return Shape(ShapelyPoint(via.at), via.hole / 2)


def piece_polygon(piece: PourPiece) -> Polygon:
    """Return one filled area as a polygon."""
    # From arrays this is many times faster than from points one by one.
    return Polygon(np.array(piece.outer, dtype=float), [np.array(hole, dtype=float) for hole in piece.holes])


def arc_points(start: Point, mid: Point, end: Point, error: float = ARC_ERROR) -> list[Point]:
    """Return points along the arc through three points, ends included.

    Chord points lie on the arc; a chord leaves it by at most *error* nm.
    Three points on a line give a straight piece.
    """
    ax, ay, bx, by, cx, cy = (float(v) for p in (start, mid, end) for v in p)
    d = 2 * (ax * (by - cy) + bx * (cy - ay) + cx * (ay - by))
    if abs(d) < 1e-3:
        return [start, end]
    ux = ((ax**2 + ay**2) * (by - cy) + (bx**2 + by**2) * (cy - ay) + (cx**2 + cy**2) * (ay - by)) / d
    uy = ((ax**2 + ay**2) * (cx - bx) + (bx**2 + by**2) * (ax - cx) + (cx**2 + cy**2) * (bx - ax)) / d
    radius = math.hypot(ax - ux, ay - uy)
    a0 = math.atan2(ay - uy, ax - ux)
    a1 = math.atan2(by - uy, bx - ux)
    a2 = math.atan2(cy - uy, cx - ux)
    full = 2 * math.pi
    sweep = (a2 - a0) % full
    if (a1 - a0) % full > sweep:
        sweep -= full
    count = max(2, math.ceil(abs(sweep) / (math.pi / 2) * arc_steps(radius, error)))
    inner = (
        Point(
            Nm(round(ux + radius * math.cos(a0 + sweep * i / count))),
            Nm(round(uy + radius * math.sin(a0 + sweep * i / count))),
        )
        for i in range(1, count)
    )
    return [start, *inner, end]


def loop_points(pieces: tuple[OutlinePiece, ...], error: float = ARC_ERROR) -> list[Point]:
    """Return the loop as points (first not repeated), arcs as chords on the curve."""
    points: list[Point] = []
    for piece in pieces:
        if isinstance(piece, OutlineArc):
            points.extend(arc_points(piece.start, piece.mid, piece.end, error)[:-1])
        else:
            points.append(piece.start)
    return points


def outline_polygon(outline: Outline, error: float = ARC_ERROR) -> Polygon:
    """Return the board's area, cut-outs removed."""
    return Polygon(loop_points(outline.outer, error), [loop_points(loop, error) for loop in outline.cutouts])


def whole_loops(outline: Outline) -> Outline | None:
    """Return *outline* without cut-outs of fewer than 3 points; None where it has no inside itself.

    A board drawn by hand may hold such: polygons cannot be made of them.
    """
    if len(loop_points(outline.outer)) < 3:
        return None
    return replace(outline, cutouts=tuple(c for c in outline.cutouts if len(loop_points(c)) >= 3))


def courtyard_polygon(footprint: Footprint, face: Face = Face.NEAR) -> BaseGeometry:
    """Return the part's courtyard in its own frame; empty where it draws none.

    Closed outlines, circles, and lines and arcs that join to loops all count.
    """
    areas: list[BaseGeometry] = []
    strokes: list[LineString] = []
    for item in footprint.graphics:
        if item.layer is not PartLayer.COURTYARD or item.face is not face:
            continue
        if isinstance(item, PartPolygon):
            area = Polygon(item.points)
            areas.append(area if area.is_valid else shapely.make_valid(area))
        elif isinstance(item, PartCircle):
            areas.append(Shape(ShapelyPoint(item.centre), float(item.radius)).polygon())
        elif isinstance(item, PartLine):
            strokes.append(LineString([item.start, item.end]))
        elif isinstance(item, PartArc):
            strokes.append(LineString(arc_points(item.start, item.mid, item.end)))
    if strokes:
        areas.extend(shapely.polygonize(strokes).geoms)
    return shapely.union_all(areas) if areas else Polygon()


def placed(geometry: BaseGeometry, placement: Placement) -> BaseGeometry:
    """Return *geometry*, given in a part's own frame, in its place on the board."""

    def move(x: float, y: float) -> Point:
        return placement.place(Point(Nm(round(x)), Nm(round(y))))

    return shapely.transform(geometry, lambda rows: np.array([move(x, y) for x, y in rows], dtype=float))


def part_courtyard(part: Part, side: Side) -> BaseGeometry:
    """Return the room *part* takes on *side* of the board."""
    face = Face.NEAR if part.placement.side is side else Face.FAR
    return placed(courtyard_polygon(part.footprint, face), part.placement)


@dataclass(frozen=True, slots=True)
class Copper:
    """One copper item as checks and exporters meet it.

    *name* is how a person would call it; *hole* is the shape of its finished
    hole, if any; *source* is the model object behind it.
    """

    name: str
    net: str | None
    side: Side
    shape: Shape
    source: object
    ref: str = ""
    pad: str = ""


def copper_items(board: Board) -> Iterator[Copper]:
    """Yield pads, tracks and vias (not pours), each once per copper side it lies on."""
    for part in board.parts:
        for pad in part.footprint.pads:
            shape: Shape | None = None
            for side in sides_of(part, pad, board.copper):
                shape = shape or pad_shape(part, pad)
                name = f"{part.ref} pad {pad.number}"
                net = part.net_of(pad.number)
                yield Copper(name, net, side, shape, pad, part.ref, pad.number)
    for track in board.tracks:
        yield Copper(f"track of {track.net}", track.net, track.side, track_shape(track), track)
    for via in board.vias:
        shape = via_shape(via)
        for side in board.copper:
            yield Copper(f"via of {via.net}", via.net, side, shape, via)


def ring_of(polygon: Polygon) -> tuple[Point, ...]:
    """Return the polygon's outer ring as whole-nm points, the first not repeated."""
    return tuple(Point(Nm(round(x)), Nm(round(y))) for x, y in polygon.exterior.coords[:-1])


def polygons_of(geometry: BaseGeometry) -> list[Polygon]:
    """Return the polygons in *geometry*, in a stable order (by bounds, then area)."""
    if isinstance(geometry, Polygon):
        found = [geometry] if not geometry.is_empty else []
    elif isinstance(geometry, MultiPolygon):
        found = list(geometry.geoms)
    else:
        found = [g for g in getattr(geometry, "geoms", ()) if isinstance(g, Polygon) and not g.is_empty]
    return sorted(found, key=lambda p: (*p.bounds, p.area))


__all__ = [
    "ARC_ERROR",
    "Copper",
    "Shape",
    "arc_points",
    "arc_steps",
    "copper_items",
    "courtyard_polygon",
    "hole_shape",
    "loop_points",
    "outline_polygon",
    "pad_centre",
    "pad_shape",
    "part_courtyard",
    "piece_polygon",
    "placed",
    "polygons_of",
    "ring_of",
    "sides_of",
    "track_shape",
    "via_hole_shape",
    "via_shape",
]
