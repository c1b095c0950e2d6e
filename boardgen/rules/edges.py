"""Rules ``profile`` and ``edge-distance``: the outline itself, and copper and holes beside it."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import LinearRing, LineString, Polygon

from boardgen.board.geometry import Copper, Shape, loop_points
from boardgen.board.model import OutlinePiece
from boardgen.errors import Finding
from boardgen.rules.survey import (
    ROUNDING,
    Floats,
    Geometries,
    Outcome,
    Survey,
    array_of,
    below,
    between,
    finding,
    reaches,
)
from boardgen.units import Nm, Point, Size, format_mm, nm


def _loop(pieces: tuple[OutlinePiece, ...], name: str) -> list[Finding]:
    if not pieces:
        return [finding("profile", f"the {name} has no pieces", None, "profile", (name,))]
    found = []
    for piece, following in zip(pieces, pieces[1:] + pieces[:1], strict=True):
        if piece.end != following.start:
            gap = piece.end.distance(following.start)
            message = f"the {name} is open by {format_mm(nm(gap), 3)} mm"
            found.append(finding("profile", message, piece.end, "profile", (name,), gap, 0))
    if not found:
        points = loop_points(pieces)
        if len(points) < 3 or not LinearRing(points).is_valid:
            found.append(finding("profile", f"the {name} crosses itself", points[0], "profile", (name,)))
    return found


def _meeting(loops: tuple[tuple[OutlinePiece, ...], ...]) -> list[Finding]:
    """Return cut-outs that touch or overlap: together they are not what either loop says."""
    areas = array_of([Polygon(loop_points(loop)) for loop in loops])
    if len(areas) < 2:
        return []
    found = []
    a, b = shapely.STRtree(areas).query(areas, predicate="intersects")
    for i, j in sorted((int(i), int(j)) for i, j in zip(a, b, strict=True) if i < j):
        names = (f"cut-out {i + 1}", f"cut-out {j + 1}")
        at = between(Shape(areas[i], 0.0), Shape(areas[j], 0.0))
        found.append(finding("profile", f"{names[0]} meets {names[1]}", at, "profile", names))
    return found


def _outside_sizes(width: float, height: float, least: Size, most: Size) -> tuple[float, Nm] | None:
    """Return the measure that is off and the limit it breaks; a board may be turned."""
    long, short = max(width, height), min(width, height)
    for value, limit in ((long, max(most)), (short, min(most))):
        if value > limit + ROUNDING:
            return value, limit
    for value, limit in ((long, max(least)), (short, min(least))):
        if value < limit - ROUNDING:
            return value, limit
    return None


def _profile(survey: Survey) -> Outcome:
    outline = survey.board.outline
    found = _loop(outline.outer, "outline")
    for number, loop in enumerate(outline.cutouts, start=1):
        found += _loop(loop, f"cut-out {number}")
    if not found:
        outer = Polygon(loop_points(outline.outer))
        for number, loop in enumerate(outline.cutouts, start=1):
            if not outer.contains_properly(Polygon(loop_points(loop))):
                name = f"cut-out {number}"
                message = f"{name} is not inside the outline"
                found.append(finding("profile", message, loop[0].start, "profile", (name, "outline")))
        found += _meeting(outline.cutouts)
        left, top, right, bottom = outer.bounds
        panel = survey.fab.panel if survey.board.copies else None
        largest = survey.fab.board_max if panel is None else panel.largest
        off = _outside_sizes(right - left, bottom - top, survey.fab.board_min, largest)
        if off is not None:
            value, limit = off
            words = "more" if value > limit else "less"
            what = "panel" if survey.board.copies else "board"
            message = f"the {what} measures {format_mm(nm(value), 3)} mm, {words} than {format_mm(limit)} mm"
            at = Point(nm(left), nm(top))
            found.append(finding("profile", message, at, "profile", ("outline",), value, limit))
    pieces = len(outline.outer) + sum(len(loop) for loop in outline.cutouts)
    return Outcome("profile", tuple(found), pieces, 0)


def _too_near(survey: Survey, skeletons: Geometries, radii: Floats, limit: int) -> list[tuple[int, float]]:
    """Return the items nearer than *limit* to the profile or beyond it, with their distance."""
    if not len(skeletons):
        return []
    shapely.prepare(survey.profile)
    shapely.prepare(survey.area)
    near = reaches(survey.profile, skeletons, radii + (limit - ROUNDING))
    near |= ~shapely.covers(survey.area, skeletons)
    found = []
    for i in np.flatnonzero(near):
        gap = float(shapely.distance(survey.profile, skeletons[i]))
        if not survey.area.intersects(skeletons[i]):
            gap = -gap
        gap -= float(radii[i])
        if gap < limit - ROUNDING:
            found.append((int(i), gap))
    return found


def _edge_distance(survey: Survey) -> Outcome:
    found = []
    count = 0
    limit = survey.fab.edge_copper_min
    edge = Shape(survey.profile, 0.0)
    for layer in survey.layers:
        copper: tuple[Copper, ...] = (*layer.items, *layer.pieces)
        count += len(copper)
        skeletons = array_of([c.shape.skeleton for c in copper])
        radii = np.array([c.shape.radius for c in copper], dtype=float)
        for i, gap in _too_near(survey, skeletons, radii, limit):
            item = copper[i]
            message = f"{item.name} is {below(gap, limit)} mm from the board's edge, "
            message += f"less than {format_mm(limit)} mm"
            at = between(item.shape, edge)
            found.append(
                finding("edge-distance", message, at, layer.word, (item.name, "board edge"), gap, limit)
            )
    bare = [hole for hole in survey.holes if not hole.plated]
    count += len(bare)
    skeletons = array_of([h.shape.skeleton for h in bare])
    radii = np.array([h.shape.radius for h in bare], dtype=float)
    for i, gap in _too_near(survey, skeletons, radii, survey.fab.hole_gap_min):
        hole = bare[i]
        message = f"unplated {hole.name} is {below(gap, survey.fab.hole_gap_min)} mm from the board's edge, "
        message += f"less than {format_mm(survey.fab.hole_gap_min)} mm"
        names = (hole.name, "board edge")
        at = between(hole.shape, edge)
        found.append(finding("edge-distance", message, at, "drill", names, gap, survey.fab.hole_gap_min))
    scored, pairs = _scores(survey)
    return Outcome("edge-distance", (*found, *scored), count, count + pairs)


def _scores(survey: Survey) -> tuple[list[Finding], int]:
    """Return copper and bare holes too near to a panel's score lines, and how many pairs were compared."""
    panel = survey.fab.panel
    if panel is None or not survey.board.scores:
        return [], 0
    limit = panel.score_copper_min
    found = []
    things = [(c.name, layer.word, c.shape) for layer in survey.layers for c in (*layer.items, *layer.pieces)]
    things += [(hole.name, "drill", hole.shape) for hole in survey.holes]
    skeletons = array_of([shape.skeleton for _, _, shape in things])
    radii = np.array([shape.radius for _, _, shape in things], dtype=float)
    for line in survey.board.scores:
        cut = Shape(LineString([line.start, line.end]), 0.0)
        for i in np.flatnonzero(reaches(cut.skeleton, skeletons, radii + (limit - ROUNDING))):
            name, layer_word, shape = things[int(i)]
            gap = shape.distance(cut)
            message = (
                f"{name} is {format_mm(nm(gap), 3)} mm from a score line, less than {format_mm(limit)} mm"
            )
            names = (name, "score line")
            at = between(shape, cut)
            found.append(finding("edge-distance", message, at, layer_word, names, gap, limit))
    return found, len(things) * len(survey.board.scores)


def check_edges(survey: Survey) -> tuple[Outcome, ...]:
    """Check rules ``profile`` and ``edge-distance``.

    Unplated holes keep the hole spacing from the profile, so that a web is left; copper and holes keep off
    score lines.
    """
    return (_profile(survey), _edge_distance(survey))
