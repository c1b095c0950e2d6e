"""Rules ``legend-clear`` and ``legend-size``: printing off pads, holes and edges, and legible."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from boardgen.board.geometry import Shape
from boardgen.board.model import LegendItem, LegendText, Side
from boardgen.board.strokes import text_strokes
from boardgen.errors import Finding, Severity
from boardgen.rules.openings import openings
from boardgen.rules.survey import (
    ROUNDING,
    Floats,
    Geometries,
    Outcome,
    Survey,
    array_of,
    below,
    between,
    cross_pairs,
    finding,
    reaches,
)
from boardgen.units import Nm, Point, format_mm


@dataclass(frozen=True, slots=True)
class Ink:
    """All printing of one side as strokes. *owners* numbers the item each belongs to."""

    names: tuple[str, ...]
    owners: tuple[int, ...]
    skeletons: Geometries
    radii: Floats


def printed(survey: Survey) -> list[tuple[str, LegendItem]]:
    """Return every printed item with the name findings use."""
    found: list[tuple[str, LegendItem]] = []
    for item in survey.board.legend:
        name = f'text "{item.text}"' if isinstance(item, LegendText) else f"{item.origin} line"
        found.append((name, item))
    found.extend((f"reference {ref}", text) for ref, text in survey.board.references)
    return found


def strokes_of(item: LegendItem) -> tuple[tuple[Point, ...], ...]:
    """Return the pen's paths of a printed item."""
    if isinstance(item, LegendText):
        mirrored = item.side is Side.BOTTOM
        return text_strokes(item.text, item.at, item.height, item.stroke, item.rotation, mirrored)
    return (item.points,)


def ink(survey: Survey, side: Side) -> Ink:
    """Return the printing of *side*."""
    names: list[str] = []
    owners: list[int] = []
    skeletons = []
    radii = []
    for name, item in printed(survey):
        if item.side is not side:
            continue
        names.append(name)
        for points in strokes_of(item):
            owners.append(len(names) - 1)
            single = len(set(points)) < 2
            skeletons.append(shapely.Point(points[0]) if single else shapely.LineString(points))
            radii.append(item.stroke / 2)
    return Ink(tuple(names), tuple(owners), array_of(skeletons), np.array(radii, dtype=float))


def _nearest_only(hits: list[tuple[int, str, float, Point]]) -> list[tuple[int, str, float, Point]]:
    """Keep the worst place of each pair of items, in order."""
    best: dict[tuple[int, str], tuple[int, str, float, Point]] = {}
    for hit in hits:
        key = (hit[0], hit[1])
        if key not in best or hit[2] < best[key][2]:
            best[key] = hit
    return [best[key] for key in sorted(best)]


def _on_side(survey: Survey, side: Side) -> tuple[list[Finding], int, int]:
    limit = survey.fab.legend_pad_gap_min
    reach = limit - ROUNDING
    layer = ink(survey, side)
    if not layer.names:
        return [], 0, 0
    hits: list[tuple[int, str, float, Point]] = []
    opened = openings(survey, side)
    a, b, gaps = cross_pairs((layer.skeletons, layer.radii), (opened.skeletons, opened.radii), reach)
    pairs = len(a)
    for i, j, gap in zip(a, b, gaps, strict=True):
        at = between(Shape(layer.skeletons[i], float(layer.radii[i])), opened.shape(j))
        hits.append((layer.owners[i], f"opening of {opened.names[j]}", float(gap), at))
    shapely.prepare(survey.profile)
    shapely.prepare(survey.area)
    near = reaches(survey.profile, layer.skeletons, layer.radii + reach)
    near |= ~shapely.covers(survey.area, layer.skeletons)
    pairs += len(layer.skeletons)
    for i in np.flatnonzero(near):
        shape = Shape(layer.skeletons[i], float(layer.radii[i]))
        edge = Shape(survey.profile, 0.0)
        gap = shape.distance(edge)
        if not survey.area.intersects(shape.skeleton):
            gap = -gap - 2 * shape.radius
        if gap < reach:
            hits.append((layer.owners[i], "board edge", gap, between(shape, edge)))
    found = []
    for owner, other, gap, at in _nearest_only(hits):
        name = layer.names[owner]
        message = f"{name} is {below(gap, limit)} mm from the {other}, less than {format_mm(limit)} mm"
        names = (name, other)
        found.append(finding("legend-clear", message, at, f"legend {side.value}", names, gap, limit))
    return found, len(layer.names), pairs


def _sizes(survey: Survey) -> Outcome:
    fab = survey.fab
    found = []
    items = printed(survey)

    def report(name: str, item: LegendItem, what: str, value: Nm, limit: Nm) -> Finding:
        at = item.at if isinstance(item, LegendText) else item.points[0]
        message = f"{name} has {what} of {format_mm(value)} mm, less than {format_mm(limit)} mm"
        layer = f"legend {item.side.value}"
        return finding("legend-size", message, at, layer, (name,), value, limit, Severity.WARNING)

    for name, item in items:
        if isinstance(item, LegendText) and item.origin == "board" and item.height < fab.legend_height_min:
            found.append(report(name, item, "a height", item.height, fab.legend_height_min))
        if item.stroke < fab.legend_stroke_min:
            found.append(report(name, item, "a stroke", item.stroke, fab.legend_stroke_min))
    return Outcome("legend-size", tuple(found), len(items), 0)


def check_printing(survey: Survey) -> tuple[Outcome, ...]:
    """Check rules ``legend-clear`` and ``legend-size``; nothing where the fab does not print."""
    if not survey.fab.legend:
        return (Outcome("legend-clear", (), 0, 0), Outcome("legend-size", (), 0, 0))
    found: list[Finding] = []
    items = pairs = 0
    for side in (Side.TOP, Side.BOTTOM):
        some, looked, compared = _on_side(survey, side)
        found += some
        items += looked
        pairs += compared
    return (Outcome("legend-clear", tuple(found), items, pairs), _sizes(survey))
