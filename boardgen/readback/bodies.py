"""Connectivity from copper alone: what touches is one body, plated holes join the sides."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely

from boardgen.board.geometry import Shape
from boardgen.board.model import Side
from boardgen.matching import connected
from boardgen.readback.model import TOUCH, FabHole, FabLayer, Thing
from boardgen.rules.survey import array_of, cross_pairs, near_pairs, reaches

Ints = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Sheet:
    """One copper side taken apart for questions about place.

    *owner* tells for each of the flat *shapes* which thing of the board it belongs to; things count through
    all sheets. *area* marks shapes that are polygons of filled areas.
    """

    layer: FabLayer
    side: Side
    shapes: tuple[Shape, ...]
    skeletons: npt.NDArray[np.object_]
    radii: npt.NDArray[np.float64]
    owner: Ints
    first: int

    def thing(self, owner: int) -> Thing:
        """Return the thing that counts as *owner*."""
        return self.layer.things[owner - self.first]

    def under(self, shapes: Sequence[Shape]) -> list[list[int]]:
        """Return for each of *shapes* the owners whose copper meets it, in order."""
        met: list[set[int]] = [set() for _ in shapes]
        if shapes and len(self.shapes):
            mine = array_of([shape.skeleton for shape in shapes]), np.array([s.radius for s in shapes])
            a, b, gaps = cross_pairs(mine, (self.skeletons, self.radii), 2 * TOUCH)
            for i, j in zip(a[gaps <= TOUCH].tolist(), b[gaps <= TOUCH].tolist(), strict=True):
                met[i].add(int(self.owner[j]))
        return [sorted(owners) for owners in met]


@dataclass(frozen=True, slots=True)
class Contact:
    """Two owners that are one conductor, with the shapes that touch."""

    a: int
    b: int
    side: Side
    shapes: tuple[Shape, Shape]


@dataclass(frozen=True, slots=True)
class Copper:
    """All copper of a board: sheets, contacts on each, and the body number of each owner."""

    sheets: tuple[Sheet, ...]
    contacts: tuple[Contact, ...]
    through: tuple[tuple[int, int], ...]  # owners that a plated hole joins
    body: Ints

    def sheet(self, side: Side) -> Sheet | None:
        """Return the sheet of *side*, or None."""
        return next((sheet for sheet in self.sheets if sheet.side is side), None)


def _sheet(layer: FabLayer, side: Side, first: int) -> Sheet:
    shapes: list[Shape] = []
    owner: list[int] = []
    for number, thing in enumerate(layer.things, first):
        shapes += thing.parts
        owner += [number] * len(thing.parts)
    skeletons = array_of([shape.skeleton for shape in shapes])
    shapely.prepare(skeletons)
    radii = np.array([shape.radius for shape in shapes], dtype=float)
    return Sheet(layer, side, tuple(shapes), skeletons, radii, np.array(owner, dtype=np.int64), first)


def _contacts(sheet: Sheet) -> list[Contact]:
    """Return the pairs of different things that touch on *sheet*."""
    # Large areas are asked one by one: in a tree their reach would pair them with everything.
    large = np.array(
        [len(thing.parts) > 0 and thing.kind == "area" for thing in sheet.layer.things], dtype=bool
    )
    is_area = large[sheet.owner - sheet.first] if len(sheet.owner) else np.zeros(0, dtype=bool)
    small = np.flatnonzero(~is_area)
    found: list[tuple[int, int]] = []
    a, b, gaps = near_pairs(sheet.skeletons[small], sheet.radii[small], 2 * TOUCH)
    met = gaps <= TOUCH
    found.extend(zip(small[a[met]].tolist(), small[b[met]].tolist(), strict=True))
    for area in np.flatnonzero(is_area).tolist():
        near = reaches(sheet.skeletons[area], sheet.skeletons, sheet.radii + TOUCH)
        found.extend((area, other) for other in np.flatnonzero(near).tolist() if other != area)
    seen: dict[tuple[int, int], tuple[int, int]] = {}
    for i, j in found:
        x, y = int(sheet.owner[i]), int(sheet.owner[j])
        if x != y:
            seen.setdefault((min(x, y), max(x, y)), (i, j))
    return [
        Contact(x, y, sheet.side, (sheet.shapes[i], sheet.shapes[j]))
        for (x, y), (i, j) in sorted(seen.items())
    ]


def copper_of(layers: tuple[FabLayer, ...], holes: tuple[FabHole, ...]) -> Copper:
    """Return the copper of *layers* (those of role copper) joined through the plated *holes*."""
    sheets: list[Sheet] = []
    first = 0
    for layer in layers:
        if layer.side is not None:
            sheets.append(_sheet(layer, layer.side, first))
            first += len(layer.things)
    contacts = [contact for sheet in sheets for contact in _contacts(sheet)]
    through: list[tuple[int, int]] = []
    plated = [hole.shape for hole in holes if hole.plated]
    for one_hole in zip(*(sheet.under(plated) for sheet in sheets), strict=True):
        met = [owner for owners in one_hole for owner in owners]
        through.extend((met[0], other) for other in met[1:])
    pairs = [(c.a, c.b) for c in contacts] + through
    ends = np.array(pairs, dtype=np.int64).reshape(-1, 2)
    return Copper(tuple(sheets), tuple(contacts), tuple(through), connected(first, ends[:, 0], ends[:, 1]))
