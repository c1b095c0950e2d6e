"""Rules ``hole-spacing``, ``mask-web`` and the openings that printing keeps clear of.

A mask opening is a pad grown by its own margin or the fab's, or a bare hole grown by the
fab's; vias are covered.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from boardgen.board.geometry import Shape
from boardgen.board.model import Side
from boardgen.footprint.model import Pad
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
    near_pairs,
)
from boardgen.units import format_mm


@dataclass(frozen=True, slots=True)
class Openings:
    """The mask openings of one side. *same* tells pads that may run together (one net or contact)."""

    names: tuple[str, ...]
    same: tuple[str, ...]
    skeletons: Geometries
    radii: Floats

    def shape(self, i: int) -> Shape:
        """Return opening *i*."""
        return Shape(self.skeletons[i], float(self.radii[i]))


def openings(survey: Survey, side: Side) -> Openings:
    """Return the mask openings on *side*, which need not have copper."""
    margin = float(survey.fab.mask_margin)
    names: list[str] = []
    same: list[str] = []
    shapes: list[Shape] = []
    margins: list[float] = []
    for layer in survey.layers:
        if layer.side is side:
            for copper in layer.items:
                if copper.ref:
                    names.append(copper.name)
                    same.append(copper.net or f"{copper.ref} {copper.pad}")
                    shapes.append(copper.shape)
                    own = copper.source.mask_margin if isinstance(copper.source, Pad) else None
                    margins.append(margin if own is None else float(own))
    has_copper = any(layer.side is side for layer in survey.layers)
    for hole in survey.holes:
        if not hole.is_via and (not hole.plated or not has_copper):
            names.append(hole.name)
            same.append(hole.name)
            shapes.append(hole.shape)
            margins.append(margin)
    return Openings(
        tuple(names),
        tuple(same),
        array_of([s.skeleton for s in shapes]),
        np.array([s.radius + m for s, m in zip(shapes, margins, strict=True)], dtype=float),
    )


def _mask_web(survey: Survey) -> Outcome:
    limit = survey.fab.mask_web_min
    found = []
    items = pairs = 0
    if limit > 0:
        for layer in survey.layers:
            opened = openings(survey, layer.side)
            items += len(opened.names)
            a, b, gaps = near_pairs(opened.skeletons, opened.radii, limit - ROUNDING)
            pairs += len(a)
            for i, j, gap in zip(a, b, gaps, strict=True):
                # Pads of one net that touch in copper share an opening by intent.
                if opened.same[i] == opened.same[j] and gap <= -2 * survey.fab.mask_margin + ROUNDING:
                    continue
                names = (opened.names[i], opened.names[j])
                message = f"the mask between {names[0]} and {names[1]} is {below(gap, limit)} mm wide, "
                message += f"less than {format_mm(limit)} mm"
                at = between(opened.shape(i), opened.shape(j))
                found.append(
                    finding("mask-web", message, at, f"{layer.side.value} mask", names, float(gap), limit)
                )
    return Outcome("mask-web", tuple(found), items, pairs)


def _hole_spacing(survey: Survey) -> Outcome:
    limit = survey.fab.hole_gap_min
    skeletons = array_of([hole.shape.skeleton for hole in survey.holes])
    radii = np.array([hole.shape.radius for hole in survey.holes], dtype=float)
    found = []
    a, b, gaps = near_pairs(skeletons, radii, limit - ROUNDING)
    for i, j, gap in zip(a, b, gaps, strict=True):
        first, second = survey.holes[i], survey.holes[j]
        message = f"{first.name} is {below(gap, limit)} mm from {second.name}, edge to edge, "
        message += f"less than {format_mm(limit)} mm"
        at = between(first.shape, second.shape)
        names = (first.name, second.name)
        found.append(finding("hole-spacing", message, at, "drill", names, float(gap), limit))
    return Outcome("hole-spacing", tuple(found), len(survey.holes), len(a))


def check_openings(survey: Survey) -> tuple[Outcome, ...]:
    """Check rules ``hole-spacing`` and ``mask-web`` (the latter not where its limit is 0)."""
    return (_hole_spacing(survey), _mask_web(survey))
