"""Rules ``short`` and ``spacing``: copper of different nets, and copper by bare holes and keepouts.

Pads without a net count as nets of their own. ``spacing`` also holds copper off
unplated holes (``npth_copper_min``), and tracks, vias and pours out of keepouts.
"""

from __future__ import annotations

import numpy as np
from shapely import Polygon

from boardgen.board.geometry import Copper, Shape
from boardgen.errors import Finding
from boardgen.rules.survey import (
    ROUNDING,
    Layer,
    Outcome,
    Survey,
    array_of,
    below,
    between,
    cross_pairs,
    finding,
    near_pairs,
    near_pieces,
    pairs_of_pieces,
)
from boardgen.units import format_mm


def _clash(layer: Layer, a: Copper, b: Copper, gap: float, limit: int) -> Finding:
    at = between(a.shape, b.shape)
    names = (a.name, b.name)
    if gap <= ROUNDING:
        message = f"{a.name} ({a.net or 'no net'}) touches {b.name} ({b.net or 'no net'})"
        return finding("short", message, at, layer.word, names, min(gap, 0.0), limit)
    message = f"{a.name} is {below(gap, limit)} mm from {b.name}, less than {format_mm(limit)} mm"
    return finding("spacing", message, at, layer.word, names, gap, limit)


def _on_layer(layer: Layer, limit: int) -> tuple[list[Finding], int]:
    reach = limit - ROUNDING
    found = []
    first, second, gaps = near_pairs(layer.skeletons, layer.radii, max(reach, 3 * ROUNDING))
    pairs = len(first)
    for i, j, gap in zip(first, second, gaps, strict=True):
        other = layer.keys[i] != layer.keys[j] and layer.owners[i] != layer.owners[j]
        if other and (gap < reach or gap <= ROUNDING):
            found.append(_clash(layer, layer.items[i], layer.items[j], float(gap), limit))
    for number, near in enumerate(near_pieces(layer, layer.skeletons, layer.radii, reach)):
        piece = layer.pieces[number]
        pairs += len(near)
        for i in near[layer.keys[near] != layer.piece_keys[number]]:
            gap = piece.shape.distance(layer.items[i].shape)
            if gap < reach:
                found.append(_clash(layer, layer.items[i], piece, gap, limit))
    for number, follower in pairs_of_pieces(layer, reach):
        pairs += 1
        if layer.piece_keys[follower] != layer.piece_keys[number]:
            gap = layer.pieces[number].shape.distance(layer.pieces[follower].shape)
            if gap < reach:
                found.append(_clash(layer, layer.pieces[number], layer.pieces[follower], gap, limit))
    return found, pairs


def _bare_holes(survey: Survey, layer: Layer) -> tuple[list[Finding], int]:
    """Copper beside unplated holes."""
    bare = [hole for hole in survey.holes if not hole.plated]
    if not bare:
        return [], 0
    limit = survey.fab.npth_copper_min
    reach = limit - ROUNDING
    holes = array_of([h.shape.skeleton for h in bare]), np.array([h.shape.radius for h in bare])
    found = []
    a, b, gaps = cross_pairs(holes, (layer.skeletons, layer.radii), reach)
    clashes = [(bare[i], layer.items[j], float(g)) for i, j, g in zip(a, b, gaps, strict=True)]
    for piece, near in zip(layer.pieces, near_pieces(layer, *holes, reach), strict=True):
        clashes.extend((bare[i], piece, piece.shape.distance(bare[i].shape)) for i in near)
    for hole, copper, gap in clashes:
        if gap < reach:
            message = f"{copper.name} is {below(gap, limit)} mm from unplated {hole.name}"
            at = between(hole.shape, copper.shape)
            found.append(finding("spacing", message, at, layer.word, (copper.name, hole.name), gap, limit))
    return found, len(bare) * (len(layer.items) + len(layer.pieces))


def _keepouts(survey: Survey, layer: Layer) -> tuple[list[Finding], int]:
    keepouts = survey.board.keepouts
    looked = len(keepouts) * (len(layer.items) + len(layer.pieces))
    if not looked:
        return [], 0
    areas = array_of([Polygon(keepout.ring) for keepout in keepouts])
    none = np.zeros(len(areas))
    first, second, _ = cross_pairs((areas, none), (layer.skeletons, layer.radii), 2 * ROUNDING)
    pairs = [(int(i), layer.items[j]) for i, j in zip(first, second, strict=True)]
    for piece, near in zip(layer.pieces, near_pieces(layer, areas, none, ROUNDING), strict=True):
        pairs += [(int(i), piece) for i in near]
    found = []
    for number, copper in pairs:
        keepout, area = keepouts[number], Shape(areas[number], 0.0)
        if copper.ref or (area.distance(copper.shape) >= -ROUNDING and not _enters(area, copper)):
            continue
        message = f"{copper.name} is in an area kept free of copper ({keepout.reason})"
        at = between(area, copper.shape)
        found.append(finding("spacing", message, at, layer.word, (copper.name, keepout.reason), 0.0, 0))
    return found, looked


def _enters(area: Shape, copper: Copper) -> bool:
    """Whether copper without a radius of its own (a pour) overlaps *area* by more than its rim."""
    shared = area.skeleton.intersection(copper.shape.skeleton)
    return bool(shared.area > ROUNDING * shared.length)


def check_clearances(survey: Survey) -> tuple[Outcome, ...]:
    """Check rules ``short`` and ``spacing``."""
    found: list[Finding] = []
    items = pairs = 0
    for layer in survey.layers:
        items += len(layer.items) + len(layer.pieces)
        for part, looked in (
            _on_layer(layer, survey.fab.gap_min),
            _bare_holes(survey, layer),
            _keepouts(survey, layer),
        ):
            found += part
            pairs += looked
    return tuple(
        Outcome(rule, tuple(f for f in found if f.rule == rule), items, pairs)
        for rule in ("short", "spacing")
    )
