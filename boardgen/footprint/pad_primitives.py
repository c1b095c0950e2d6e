"""The shapes a free-form pad is put together from in its file: polygons, lines, circles, arcs."""

from __future__ import annotations

from boardgen.footprint.arcs import chord_points
from boardgen.footprint.pad_outline import CHORD, Blob
from boardgen.footprint.reading import Reader
from boardgen.footprint.sexpr import Node, child, head, words
from boardgen.units import Point, nm

MOST_PRIMITIVES = 500
_NO_COPPER = ("gr_bbox", "gr_vector")  # boxes for the program's own use


def primitives(reader: Reader, node: Node, key: str) -> list[Blob]:
    """Return the primitives of a pad, about its middle. Raises InputError for one of another kind."""
    found: list[Blob] = []
    rows = [item for item in child(node, "primitives") or [] if isinstance(item, list)]
    if len(rows) > MOST_PRIMITIVES:
        raise reader.fail("a pad of too many pieces", key, str(len(rows)), f"at most {MOST_PRIMITIVES}")
    for item in rows:
        kind = head(item)
        half = reader.stroke(item, key) / 2
        if kind in _NO_COPPER:
            continue
        if kind == "gr_poly":
            found.append(_poly(reader, item, half, key))
        elif kind == "gr_rect":
            a, b = reader.point(item, "start", key), reader.point(item, "end", key)
            ring = (a, Point(b.x, a.y), b, Point(a.x, b.y))
            found.append(Blob(ring, half, solid=_filled(item, False), closed=True))
        elif kind == "gr_line":
            found.append(Blob((reader.point(item, "start", key), reader.point(item, "end", key)), half))
        elif kind == "gr_arc":
            found.append(Blob(tuple(_arc(reader, item, key)), half))
        elif kind == "gr_circle":
            found.append(_circle(reader, item, half, key))
        else:
            raise reader.fail(
                "a piece of a pad that cannot be taken over",
                key,
                kind[:40],
                "polygon, rectangle, line, arc, circle",
            )
        if not found[-1].solid and len(set(found[-1].points)) > 0 and found[-1].radius <= 0:
            found.pop()  # a line of no width is no copper
    return found


def _filled(item: Node, otherwise: bool) -> bool:
    given = words(child(item, "fill"))
    return otherwise if not given else given[0] in ("yes", "solid")


def _poly(reader: Reader, item: Node, half: float, key: str) -> Blob:
    points: list[Point] = []
    for corner in (child(item, "pts") or [])[1:]:
        if isinstance(corner, list) and head(corner) == "xy" and len(corner) > 2:
            points.append(Point(reader.length(corner[1], key), reader.length(corner[2], key)))
        elif isinstance(corner, list) and head(corner) == "arc":
            points += _arc(reader, corner, key)
        else:
            raise reader.fail("a corner needs an x and a y", key)
    if len(points) > 1 and points[0] == points[-1]:
        points.pop()
    if len(set(points)) < 3:
        raise reader.fail("a polygon needs three points", key, str(len(points)))
    return Blob(tuple(points), half, solid=_filled(item, True), closed=True)


def _circle(reader: Reader, item: Node, half: float, key: str) -> Blob:
    centre = reader.point(item, "center", key)
    radius = centre.distance(reader.point(item, "end", key))
    if _filled(item, half == 0):
        return Blob((centre,), float(nm(radius + half)))
    west, east = Point(centre.x - nm(radius), centre.y), Point(centre.x + nm(radius), centre.y)
    north, south = Point(centre.x, centre.y - nm(radius)), Point(centre.x, centre.y + nm(radius))
    ring = [*chord_points(west, north, east, CHORD)[:-1], *chord_points(east, south, west, CHORD)[:-1]]
    return Blob(tuple(ring), half, closed=True)


def _arc(reader: Reader, item: Node, key: str) -> list[Point]:
    """Return points on the arc through three points, chords within :data:`CHORD` of it."""
    start, mid, end = (reader.point(item, name, key) for name in ("start", "mid", "end"))
    return chord_points(start, mid, end, CHORD)
