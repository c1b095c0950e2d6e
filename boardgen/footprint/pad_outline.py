"""The copper of pads of free shape: one skeleton (point, segment or ring) and one radius about it.

What has that form already is taken exactly. Where shapes with unlike radii run together, the whole becomes
a ring whose chords stand within :data:`CHORD` of the true curve, outside it but for drawn arcs.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from boardgen.errors import InputError
from boardgen.units import ORIGIN, ZERO, Nm, Point, Size

CHORD = 100.0  # nm
MOST_CORNERS = 4_000
CORNERS = {"top_left": (-1, -1), "top_right": (1, -1), "bottom_right": (1, 1), "bottom_left": (-1, 1)}


@dataclass(frozen=True, slots=True)
class Blob:
    """All points within *radius* of a run of points: a point, a path, or (*solid*) the area of a ring.

    *closed* joins a path's ends.
    """

    points: tuple[Point, ...]
    radius: float
    solid: bool = False
    closed: bool = False

    def skeleton(self) -> Any:
        """Return the run as geometry in nm."""
        import shapely  # noqa: PLC0415 - heavy, and few footprints need it

        if len(set(self.points)) == 1:
            return shapely.Point(self.points[0])
        if self.solid:
            ring = shapely.Polygon(self.points)
            if not ring.is_valid:
                raise InputError("a polygon that crosses itself")
            return ring
        return shapely.LineString([*self.points, self.points[0]] if self.closed else self.points)

    def area(self) -> Any:
        """Return the whole as a polygon, chords outside the curve."""
        skeleton = self.skeleton()
        if self.radius <= 0:
            return skeleton
        quarter = _steps(self.radius)
        return skeleton.buffer(self.radius / math.cos(math.pi / (4 * quarter)), quad_segs=quarter)


def _steps(radius: float) -> int:
    """Return the chords a quarter circle needs to stay within :data:`CHORD` of it from outside."""
    half = math.acos(radius / (radius + CHORD))
    return max(4, min(256, math.ceil(math.pi / 4 / half)))


def joined(blobs: Sequence[Blob]) -> tuple[tuple[Point, ...], Nm]:
    """Return the skeleton's points (1, 2, or a ring of 3 or more) and the radius of all *blobs* together.

    Raises InputError where they fall apart, leave a hole, or make too many corners.
    """
    import shapely  # noqa: PLC0415

    for blob in blobs:
        alone = _exact(blob)
        if alone is not None and all(_within(other, blob) for other in blobs if other is not blob):
            return alone
    area = shapely.union_all([blob.area() for blob in blobs])
    return ring_of(area), ZERO


def _exact(blob: Blob) -> tuple[tuple[Point, ...], Nm] | None:
    """Return the blob as skeleton and radius where it is one of the three forms, its radius whole."""
    points = tuple(dict.fromkeys(blob.points))
    if blob.radius != int(blob.radius) or (len(points) > 2 and not blob.solid):
        return None
    if len(points) > 2:
        blob.skeleton()  # refuses a ring that crosses itself
    return points, Nm(int(blob.radius))


def _within(inner: Blob, outer: Blob) -> bool:
    """Return whether *inner* lies in *outer*, beyond doubt."""
    import shapely  # noqa: PLC0415

    room = outer.radius - inner.radius
    skeleton = outer.skeleton()
    if room >= 0 and len(set(inner.points)) == 1:
        return bool(skeleton.distance(inner.skeleton()) <= room)
    if skeleton.geom_type != "Polygon" and outer.radius <= 0:
        return False
    return bool(shapely.covers(outer.area().buffer(-2 * CHORD) if outer.radius else skeleton, inner.area()))


def ring_of(area: Any) -> tuple[Point, ...]:
    """Return the one ring of an area of copper, on whole nm. Raises InputError for more than one ring."""
    import shapely  # noqa: PLC0415

    if area.geom_type != "Polygon":
        raise InputError(
            "copper in more than one piece", allowed="one piece; split it into pads of one number"
        )
    if area.interiors:
        raise InputError("copper with a hole in it", allowed="one ring without holes")
    area = shapely.normalize(area)
    points = [Point(Nm(round(x)), Nm(round(y))) for x, y in area.exterior.coords[:-1]]
    points = [p for p, before in zip(points, [points[-1], *points[:-1]], strict=True) if p != before]
    if len(points) < 3:
        raise InputError("copper too small to be made")
    if len(points) > MOST_CORNERS:
        raise InputError("copper with too many corners", found=str(len(points)), allowed=str(MOST_CORNERS))
    return tuple(points)


def reach_of(points: Sequence[Point], radius: int) -> Size:
    """Return twice how far the copper reaches from the pad's place, along x and along y."""
    far_x = max(abs(int(p.x)) for p in points) + int(radius)
    far_y = max(abs(int(p.y)) for p in points) + int(radius)
    return Size(Nm(2 * far_x), Nm(2 * far_y))


def trapezoid(size: Size, delta: Point) -> tuple[Point, ...]:
    """Return the corners of a rectangle whose sides lean: *delta* is what its far ends differ by (x, y)."""
    w, h, dx, dy = size.w / 2, size.h / 2, delta.x / 2, delta.y / 2
    corners = ((-w - dy, h + dx), (w + dy, h - dx), (w - dy, -h + dx), (-w + dy, -h - dx))
    return tuple(Point(Nm(round(x)), Nm(round(y))) for x, y in corners)


def chamfered(size: Size, radius: Nm, cut: Nm, corners: Sequence[str]) -> Blob:
    """Return a rectangle with the named *corners* cut off by *cut*, the others rounded by *radius*.

    Names are "top_left" and so on, y down.
    """
    import shapely  # noqa: PLC0415

    w, h = size.w / 2, size.h / 2
    area: Any = shapely.box(-w, -h, w, h)
    if radius > 0:
        r = float(radius)
        rounded = shapely.MultiPoint(
            [(x, y) for x in (r - w, w - r) for y in (r - h, h - r)]
        ).convex_hull.buffer(r / math.cos(math.pi / (4 * _steps(r))), quad_segs=_steps(r))
        quarters = [
            shapely.box(*_ordered(0, 0, sx * w, sy * h)) for n, (sx, sy) in CORNERS.items() if n in corners
        ]
        area = shapely.intersection(area, shapely.union_all([rounded, *quarters]))
    for name in corners:
        sx, sy = CORNERS[name]
        tip = [(sx * w, sy * h), (sx * (w - cut), sy * h), (sx * w, sy * (h - cut))]
        if cut > 0:
            area = area.difference(shapely.Polygon(tip))
    return Blob(ring_of(area), 0.0, solid=True)


def _ordered(x1: float, y1: float, x2: float, y2: float) -> tuple[float, float, float, float]:
    return min(x1, x2), min(y1, y2), max(x1, x2), max(y1, y2)


def moved(blob: Blob, by: Point) -> Blob:
    """Return *blob* moved by *by*."""
    return Blob(tuple(p.plus(by) for p in blob.points), blob.radius, blob.solid, blob.closed)


def anchor(points: Sequence[Point], radius: int) -> Nm:
    """Return the diameter of a disc about the pad's place that lies well within its copper.

    Raises ValueError where that place is outside the copper.
    """
    import shapely  # noqa: PLC0415

    blob = Blob(tuple(points), float(radius), solid=True)
    skeleton = blob.skeleton() if len(points) > 2 else Blob(tuple(points), float(radius)).skeleton()
    here = shapely.Point(ORIGIN)
    depth = float(radius) - float(skeleton.distance(here))
    if skeleton.geom_type == "Polygon" and skeleton.covers(here):
        depth = float(radius) + float(skeleton.exterior.distance(here))
    if depth < 10:
        raise ValueError("a pad whose place is outside its copper")
    return Nm(2 * int(depth * 0.9))
