"""Rule ``readback-drill``: holes by place, size, kind and plating; and holes beyond the profile."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry.base import BaseGeometry

from boardgen.board.geometry import Shape
from boardgen.errors import Finding, Severity
from boardgen.readback.match import XY, pairs_by_place
from boardgen.readback.model import SAME, FabHole, Wanted
from boardgen.readback.things import limited, spot
from boardgen.rules.survey import array_of
from boardgen.units import format_mm, nm


@dataclass(frozen=True, slots=True)
class WantedHole:
    """A hole of the source: finished diameter, the two ends of its middle line, and whether it is plated."""

    name: str
    shape: Shape
    plated: bool

    @property
    def at(self) -> XY:
        """Its middle."""
        return middle(self.shape)


def middle(shape: Shape) -> XY:
    """Return the middle of a hole's box."""
    left, top, right, bottom = shape.bounds
    return ((left + right) / 2, (top + bottom) / 2)


def _reach(shape: Shape) -> float:
    """The length of the middle line."""
    return float(shape.skeleton.length)


def wanted_holes(wanted: Wanted) -> list[WantedHole]:
    """Return every hole of the source."""
    from_pads = [WantedHole(f"{p.name}", p.hole, p.plated) for p in wanted.pads if p.hole is not None]
    from_vias = [
        WantedHole(f"via of {v.net}", Shape(shapely.Point(v.at), v.hole / 2), wanted.plated)
        for v in wanted.vias
    ]
    return [*from_pads, *from_vias, *(WantedHole(name, hole, False) for name, hole in wanted.bare or ())]


def _find(
    message: str, at: XY, item: str, path: str, measured: float | None = None, limit: float | None = None
) -> Finding:
    return Finding(
        "readback-drill",
        Severity.ERROR,
        message,
        spot(at),
        "drill",
        (item, path),
        None if measured is None else nm(measured),
        None if limit is None else nm(limit),
    )


def _compare(want: WantedHole, hole: FabHole) -> list[Finding]:
    found = []
    at = want.at
    there = middle(hole.shape)
    if want.plated is not hole.plated:
        words = "plated" if want.plated else "unplated"
        message = f"{hole.path}: the {words} hole of {want.name} is in the file for the other kind"
        found.append(_find(message, at, want.name, hole.path))
    across = 2 * want.shape.radius
    if abs(across - hole.diameter) > SAME:
        sizes = f"{format_mm(nm(hole.diameter))} mm, not {format_mm(nm(across))} mm"
        message = f"{hole.path}: the hole of {want.name} is {sizes}"
        found.append(_find(message, at, want.name, hole.path, hole.diameter, across))
    off = math.dist(at, there)
    if off > SAME:
        message = f"{hole.path}: the hole of {want.name} stands {format_mm(nm(off), 4)} mm off"
        found.append(_find(message, at, want.name, hole.path, off))
    elif not found and shapely.hausdorff_distance(want.shape.skeleton, hole.shape.skeleton) > SAME:
        message = f"{hole.path}: the slot of {want.name} is not as long or as turned as wanted"
        found.append(_find(message, at, want.name, hole.path, _reach(hole.shape), _reach(want.shape)))
    return found


def check_holes(
    holes: Sequence[FabHole], drills: Sequence[tuple[str, bool]], wanted: Wanted
) -> tuple[list[Finding], int]:
    """Compare the drilled *holes* with those of *wanted*; returns the findings and how many agree."""
    expected = wanted_holes(wanted)
    pairs, missing, extra = pairs_by_place(
        [hole.at for hole in expected], [middle(hole.shape) for hole in holes]
    )
    found: list[Finding] = []
    agreed = 0
    for i, j in pairs:
        differs = _compare(expected[i], holes[j])
        agreed += not differs
        found += differs
    kinds = {plated for _, plated in drills}
    for i in missing:
        want = expected[i]
        if want.plated not in kinds:
            continue  # the whole file is missing or cannot be read, which is told once
        path = next((path for path, plated in drills if plated is want.plated), "")
        words = "plated" if want.plated else "unplated"
        place = path or f"the files for {words} holes"
        message = f"{place}: the {words} hole of {want.name} of the {wanted.body} is missing"
        found.append(_find(message, want.at, want.name, path or "drill"))
    for j in extra:
        hole = holes[j]
        message = f"{hole.path}: a hole of {format_mm(nm(hole.diameter))} mm that the {wanted.body} has not"
        found.append(_find(message, middle(hole.shape), "hole", hole.path))
    return limited(found), agreed


def check_inside(holes: Sequence[FabHole], area: BaseGeometry) -> list[Finding]:
    """Return the holes that are not wholly inside the profile (``readback-profile``)."""
    if not holes or area.is_empty:
        return []
    shapely.prepare(area)
    within = shapely.covers(area, array_of([hole.shape.skeleton for hole in holes]))
    edge = area.boundary
    found = []
    for hole, inside in zip(holes, within.tolist(), strict=True):
        gap = float(edge.distance(hole.shape.skeleton)) * (1 if inside else -1) - hole.shape.radius
        if gap < -SAME:
            at = spot(middle(hole.shape))
            message = f"{hole.path}: a hole of {format_mm(nm(hole.diameter))} mm is not inside the profile"
            items = ("hole", hole.path)
            found.append(Finding("readback-profile", Severity.ERROR, message, at, "drill", items, nm(gap)))
    return limited(found)
