"""Rules ``track-width``, ``annular-ring`` and ``drill-size``: each item against a limit of its own."""

from __future__ import annotations

import shapely
from shapely import Point as ShapelyPoint
from shapely import Polygon

from boardgen.board.geometry import Shape, hole_shape, pad_shape
from boardgen.board.model import Part
from boardgen.errors import Finding
from boardgen.footprint.model import Pad, PadKind
from boardgen.rules.survey import ROUNDING, Outcome, Survey, below, copper_word, finding
from boardgen.units import Nm, Point, Size, format_mm


def _track_width(survey: Survey) -> Outcome:
    limit = survey.fab.track_min
    found = []
    for track in survey.board.tracks:
        if track.width < limit:
            name = f"track of {track.net}"
            at = Point((track.start.x + track.end.x) // 2, (track.start.y + track.end.y) // 2)
            message = f"{name} is {format_mm(track.width)} mm wide, less than {format_mm(limit)} mm"
            found.append(
                finding("track-width", message, at, copper_word(track.side), (name,), track.width, limit)
            )
    return Outcome("track-width", tuple(found), len(survey.board.tracks), 0)


def _depth(copper: Shape, x: float, y: float) -> float:
    """Return how deep a point lies inside *copper*, in nm; negative outside."""
    spot = ShapelyPoint(x, y)
    skeleton = copper.skeleton
    if isinstance(skeleton, Polygon) and skeleton.covers(spot):
        return copper.radius + float(skeleton.exterior.distance(spot))
    return copper.radius - float(skeleton.distance(spot))


def ring_width(copper: Shape, hole: Shape) -> float:
    """Return the least copper between the edge of *hole* and the edge of *copper*, in nm.

    Exact: the depth inside a convex shape is a concave function, so along a slot
    it is least at an end; inside a ring of any form it is the distance to the ring.
    Negative where the hole breaks out of the copper.
    """
    skeleton = copper.skeleton
    if isinstance(skeleton, Polygon) and skeleton.covers(hole.skeleton):
        return copper.radius + float(skeleton.exterior.distance(hole.skeleton)) - hole.radius
    ends = shapely.get_coordinates(hole.skeleton).tolist()
    return min(_depth(copper, x, y) for x, y in ends) - hole.radius


def _annular_ring(survey: Survey) -> Outcome:
    limit = survey.fab.ring_min
    found = []
    count = 0
    for part in survey.board.parts:
        for pad in part.footprint.pads:
            if pad.kind is not PadKind.PLATED or pad.hole is None:
                continue
            count += 1
            hole = hole_shape(part, pad)
            ring = ring_width(pad_shape(part, pad), hole)
            if ring < limit - ROUNDING:
                name = f"{part.ref} pad {pad.number}"
                message = f"{name} has {below(ring, limit)} mm of copper round its hole, "
                message += f"less than {format_mm(limit)} mm"
                at = part.placement.place(pad.at)
                found.append(finding("annular-ring", message, at, "drill", (name,), ring, limit))
    for via in survey.board.vias:
        count += 1
        name = f"via of {via.net}"
        ring = (via.diameter - via.hole) / 2
        if ring < limit:
            message = f"{name} has {below(ring, limit)} mm of copper round its hole, "
            message += f"less than {format_mm(limit)} mm"
            found.append(finding("annular-ring", message, via.at, "drill", (name,), ring, limit))
        if via.diameter < survey.fab.via_diameter_min:
            least = survey.fab.via_diameter_min
            message = f"{name} is {format_mm(via.diameter)} mm across, less than {format_mm(least)} mm"
            found.append(finding("annular-ring", message, via.at, "drill", (name,), via.diameter, least))
    return Outcome("annular-ring", tuple(found), count, 0)


def _drill(survey: Survey, name: str, size: Size, at: Point) -> Finding | None:
    fab = survey.fab
    width = min(size.w, size.h)
    limit: Nm | None = None
    if width < fab.hole_min:
        limit, words = fab.hole_min, f"smaller than {format_mm(fab.hole_min)} mm"
    elif width > fab.hole_max:
        limit, words = fab.hole_max, f"larger than {format_mm(fab.hole_max)} mm"
    elif fab.drills and width not in fab.drills:
        limit = min(fab.drills, key=lambda d: (abs(d - width), d))
        sizes = ", ".join(format_mm(d) for d in fab.drills)
        words = f"not one of the drills there are ({sizes} mm)"
    if limit is None:
        return None
    message = f"{name} is {format_mm(width)} mm, {words}"
    return finding("drill-size", message, at, "drill", (name,), width, limit)


def _no_hole(part: Part, pad: Pad) -> Finding:
    name = f"{part.ref} pad {pad.number}" if pad.number else f"hole of {part.ref}"
    return finding("drill-size", f"{name} has no hole", part.placement.place(pad.at), "drill", (name,))


def _drill_size(survey: Survey) -> Outcome:
    found: list[Finding | None] = []
    count = 0
    for part in survey.board.parts:
        for pad in part.footprint.pads:
            if pad.hole is None:
                if pad.kind is not PadKind.SURFACE:
                    count += 1
                    found.append(_no_hole(part, pad))
                continue
            count += 1
            name = f"hole of {part.ref} pad {pad.number}" if pad.number else f"hole of {part.ref}"
            found.append(_drill(survey, name, pad.hole, part.placement.place(pad.at)))
    for via in survey.board.vias:
        count += 1
        found.append(_drill(survey, f"hole of via of {via.net}", Size(via.hole, via.hole), via.at))
    return Outcome("drill-size", tuple(f for f in found if f is not None), count, 0)


def check_sizes(survey: Survey) -> tuple[Outcome, ...]:
    """Check rules ``track-width``, ``annular-ring`` and ``drill-size``.

    ``annular-ring`` also holds vias to the least via diameter. Where the fab has a
    list of drills, a hole's finished diameter (a slot's width) must be on it.
    """
    return (_track_width(survey), _annular_ring(survey), _drill_size(survey))
