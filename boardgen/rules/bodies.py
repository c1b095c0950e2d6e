"""Rules ``courtyard`` and ``overhang``: parts against each other and against the outline."""

from __future__ import annotations

import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from boardgen.board.geometry import Shape, hole_shape, pad_shape, part_courtyard
from boardgen.board.model import Part, PartKind, Side
from boardgen.errors import Finding
from boardgen.footprint.model import PadKind
from boardgen.rules.fronts import check_fronts
from boardgen.rules.survey import ROUNDING, Outcome, Survey, array_of, between, finding
from boardgen.rules.wirelinks import under_pairs
from boardgen.units import Point, format_mm, nm

# A courtyard stands off the body by 0.25 mm at the least (IPC-7351, nominal density).
COURTYARD_MARGIN = 250_000


def _overlap(a: BaseGeometry, b: BaseGeometry) -> float:
    """Return how far two areas reach into each other, as the lesser extent of what they share."""
    shared = a.intersection(b)
    if shared.area == 0:
        return 0.0  # they touch, in several places perhaps
    left, top, right, bottom = shared.bounds
    return float(min(right - left, bottom - top))


def _middle(a: BaseGeometry, b: BaseGeometry) -> Point:
    shared = a.intersection(b)
    if shared.is_empty or shared.area == 0:
        return between(Shape(a, 0.0), Shape(b, 0.0))
    spot = shared.representative_point()
    return Point(nm(spot.x), nm(spot.y))


def _pair(a: tuple[str, BaseGeometry], b: tuple[str, BaseGeometry], limit: int, layer: str) -> Finding | None:
    gap = float(a[1].distance(b[1]))
    if gap == 0.0:
        gap = -_overlap(a[1], b[1])
    if gap >= limit - 2 * ROUNDING:
        return None
    if gap <= 0:
        message = f"{a[0]} and {b[0]} overlap by {format_mm(nm(-gap), 3)} mm"
    else:
        message = f"{a[0]} is {format_mm(nm(gap), 3)} mm from {b[0]}, less than {format_mm(limit)} mm"
    return finding("courtyard", message, _middle(a[1], b[1]), layer, (a[0], b[0]), gap, limit)


def _pins(part: Part) -> list[tuple[str, BaseGeometry]]:
    """Return what of *part* comes out on its far side."""
    found = []
    for pad in part.footprint.pads:
        if pad.kind is PadKind.PLATED or (pad.kind is PadKind.UNPLATED and pad.hole is not None):
            shape = pad_shape(part, pad) if pad.kind is PadKind.PLATED else hole_shape(part, pad)
            found.append((f"{part.ref} pad {pad.number}".rstrip(), shape.polygon()))
    return found


def _courtyards(survey: Survey) -> Outcome:
    limit = survey.fab.courtyard_gap_min
    found: list[Finding] = []
    items = pairs = 0
    for side in (Side.TOP, Side.BOTTOM):
        rooms = [
            (part, room) for part in survey.board.parts if not (room := part_courtyard(part, side)).is_empty
        ]
        if not rooms:
            continue
        items += len(rooms)
        layer = f"{side.value} courtyard"
        areas = array_of([room for _, room in rooms])
        tree = shapely.STRtree(areas)
        a, b = tree.query(areas, predicate="dwithin", distance=float(limit))
        close = sorted((int(i), int(j)) for i, j in zip(a, b, strict=True) if i < j)
        pairs += len(close)
        for i, j in close:
            clash = _pair((rooms[i][0].ref, areas[i]), (rooms[j][0].ref, areas[j]), limit, layer)
            if clash is not None:
                found.append(clash)
        for part in survey.board.parts:
            if part.placement.side is side:
                continue
            for name, pin in _pins(part):
                for j in sorted(int(n) for n in tree.query(pin, predicate="intersects")):
                    pairs += 1
                    if rooms[j][0] is part:
                        continue
                    clash = _pair((name, pin), (rooms[j][0].ref, areas[j]), 0, layer)
                    if clash is not None:
                        found.append(clash)
        for keepout in survey.board.keepouts:
            if not keepout.parts_too:
                continue
            ring = Polygon(keepout.ring)
            pairs += len(rooms)
            for j in sorted(int(n) for n in tree.query(ring, predicate="intersects")):
                part, room = rooms[j]
                # A module brings its own keepouts along and stands in them.
                if part.kind is PartKind.MODULE:
                    continue
                clash = _pair((part.ref, room), (keepout.reason, ring), 0, layer)
                if clash is not None:
                    found.append(clash)
    for wire, other in under_pairs(survey):
        pairs += 1
        clash = _pair(wire, other, limit, "top courtyard")
        if clash is not None:
            found.append(clash)
    return Outcome("courtyard", tuple(found), items, pairs)


def _overhang(survey: Survey) -> Outcome:
    found: list[Finding] = []
    if survey.area.is_empty:  # no outline to reach over; that is a finding of its own
        return Outcome("overhang", (), 0, 0)
    shapely.prepare(survey.area)
    count = 0
    for part in survey.board.parts:
        for pad in part.footprint.pads:
            if pad.kind is PadKind.UNPLATED and pad.hole is None:
                continue  # rule drill-size tells it
            count += 1
            shape = pad_shape(part, pad)
            if not survey.area.covers(shape.skeleton):
                what = "hole" if pad.kind is PadKind.UNPLATED else f"pad {pad.number}"
                name = f"{part.ref} {what}"
                corners = shapely.points(shapely.get_coordinates(shape.skeleton))
                beyond = float(shapely.distance(corners, survey.area).max())
                message = f"{name} is outside the outline"
                at = part.placement.place(pad.at)
                found.append(finding("overhang", message, at, "profile", (name, "board edge"), -beyond, 0))
        if part.kind in (PartKind.COMPONENT, PartKind.LINK):
            count += 1
            room = part_courtyard(part, part.placement.side).buffer(-COURTYARD_MARGIN, join_style="mitre")
            outside = room.difference(survey.area) if not survey.area.covers(room) else Polygon()
            if outside.area > 0 and not outside.buffer(-ROUNDING).is_empty:
                left, top, right, bottom = outside.bounds
                beyond = min(right - left, bottom - top)
                spot = outside.representative_point()
                at = Point(nm(spot.x), nm(spot.y))
                message = f"{part.ref} hangs {format_mm(nm(beyond), 3)} mm over the board's edge"
                found.append(
                    finding("overhang", message, at, "profile", (part.ref, "board edge"), -beyond, 0)
                )
    fronts, looked = check_fronts(survey)
    return Outcome("overhang", (*found, *fronts), count + looked, 0)


def check_bodies(survey: Survey) -> tuple[Outcome, ...]:
    """Check rules ``courtyard`` and ``overhang``.

    Courtyards are compared on each side, pins of through-hole parts with the
    parts on the other side, parts with keepouts that are meant for parts too, and
    wire links under a raised body with all that stands there (see wirelinks).
    Modules and connectors may hang over the edge (their mating ends do); their
    pads may not, and no board may stand in the way of a connector's mate (see fronts).
    """
    return (_courtyards(survey), _overhang(survey))
