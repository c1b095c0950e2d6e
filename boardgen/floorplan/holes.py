"""Mounting holes: their footprint, and places for them clear of everything."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from boardgen.board.model import Keepout, Part, PartKind, Placement
from boardgen.design.model import HoleWish
from boardgen.errors import InputError
from boardgen.floorplan.region import Region
from boardgen.footprint.model import Circle, Footprint, Pad, PadKind, PadShape, PartLayer
from boardgen.units import ORIGIN, Box, Nm, Point, Size, format_mm, mm

HEAD_RATIO = (19, 10)  # pan heads: M3 5.6 (ISO 7045: 5.6 for M3, 8.0 for M4) through a 3.2 hole, plus play
EDGE_LAND = mm("0.5")  # board left between the head and the edge
IN_LINE = mm(2)  # how far a hole steps inward to stand in line with its neighbour
STEP = mm("0.5")


def head_of(wish: HoleWish) -> Nm:
    """Return the diameter of the screw's head or washer that stays free."""
    if wish.head is not None:
        return wish.head
    return wish.diameter * HEAD_RATIO[0] // HEAD_RATIO[1]


def hole_footprint(wish: HoleWish, catalog_footprint: Callable[[str], Footprint]) -> Footprint:
    """Return the catalogue's footprint for the hole, or one drawn here where it has none."""
    name = f"mounting-hole-{format_mm(wish.diameter)}"
    try:
        found = catalog_footprint(name)
    except (InputError, LookupError, OSError):
        found = None
    if found is not None and wish.head is None:
        return found
    hole = Size(wish.diameter, wish.diameter)
    pad = Pad("", PadKind.UNPLATED, PadShape.CIRCLE, ORIGIN, hole, hole)
    ring = Circle(PartLayer.COURTYARD, ORIGIN, head_of(wish) // 2, mm("0.05"))
    text = f"{format_mm(wish.diameter)} mm hole, unplated"
    return Footprint(name, (pad,), (ring,), description=text)


def corner_places(region: Region, wish: HoleWish, taken: list[Box]) -> tuple[Point, ...] | None:
    """Return a place near each of the first *wish.count* corners, or None where one has none.

    A hole stands in its corner where it can, else it slides along the edges,
    by the least way that clears all *taken* boxes and the holes before it.
    Corners come in the order top left, bottom right, top right, bottom left,
    so that two holes stand diagonally.
    """
    inset = head_of(wish) // 2 + EDGE_LAND
    box = region.box
    left, right = int(box.left + inset), int(box.right - inset)
    top, bottom = int(box.top + inset), int(box.bottom - inset)
    if left > right or top > bottom:
        return None
    along_x = np.arange(0, int(box.width * 2 // 5) + 1, int(STEP))
    along_y = np.arange(int(STEP), int(box.height * 2 // 5) + 1, int(STEP))
    moves = np.concatenate(
        [
            np.stack([along_x, np.zeros_like(along_x)], axis=1),
            np.stack([np.zeros_like(along_y), along_y], axis=1),
        ]
    )
    moves = moves[np.argsort(moves.sum(axis=1), kind="stable")].astype(np.int64)
    places: list[Point] = []
    for x0, y0, dx, dy in (
        (left, top, 1, 1),
        (right, bottom, -1, -1),
        (right, top, -1, 1),
        (left, bottom, 1, -1),
    )[: wish.count]:
        spots = moves * np.array([dx, dy], dtype=np.int64) + np.array([x0, y0], dtype=np.int64)
        for x, y in spots[_clear(spots, taken, head_of(wish) // 2)].tolist():
            at = Point(Nm(x), Nm(y))
            if hole_fits(region, wish, at, [], places):
                places.append(at)
                break
        else:
            return None
    return _aligned(region, wish, places, taken)


def _aligned(region: Region, wish: HoleWish, places: list[Point], taken: list[Box]) -> tuple[Point, ...]:
    """Return *places* (in corner order) with neighbours in line where a small step inward does it.

    A case is easier to drill to a pattern that shares its coordinates.
    """
    found = list(places)
    for a, b, axis, inward in ((0, 3, 0, max), (2, 1, 0, min), (0, 2, 1, max), (3, 1, 1, min)):
        if max(a, b) >= len(found) or not 0 < abs(found[a][axis] - found[b][axis]) <= IN_LINE:
            continue
        shared = inward(found[a][axis], found[b][axis])
        moved = list(found)
        for k in (a, b):
            moved[k] = Point(shared, found[k].y) if axis == 0 else Point(found[k].x, shared)
        if all(hole_fits(region, wish, at, taken, moved[:k] + moved[k + 1 :]) for k, at in enumerate(moved)):
            found = moved
    return tuple(found)


def _clear(spots: NDArray[np.int64], taken: list[Box], radius: int) -> NDArray[np.bool_]:
    """Return which *spots* (n, 2) stand at least *radius* from every taken box."""
    clear = np.ones(len(spots), dtype=bool)
    for box in taken:
        left, top, right, bottom = (int(side) for side in box)
        dx = np.maximum(np.maximum(left - spots[:, 0], spots[:, 0] - right), 0)
        dy = np.maximum(np.maximum(top - spots[:, 1], spots[:, 1] - bottom), 0)
        clear &= np.hypot(dx, dy) >= int(radius)
    return clear


def hole_fits(region: Region, wish: HoleWish, at: Point, taken: list[Box], others: list[Point]) -> bool:
    """Whether a hole at *at* has its head on the board and clear of parts and other holes."""
    radius = head_of(wish) // 2
    if not region.holds(Box(at.x, at.y, at.x, at.y).grown(radius + EDGE_LAND // 2)):
        return False
    if any(at.distance(other) < 2 * radius + EDGE_LAND for other in others):
        return False
    return all(_reach(at, box) >= radius for box in taken)


def _reach(at: Point, box: Box) -> float:
    dx = max(int(box.left - at.x), int(at.x - box.right), 0)
    dy = max(int(box.top - at.y), int(at.y - box.bottom), 0)
    return math.hypot(dx, dy)


def clash(region: Region, wish: HoleWish, at: tuple[Point, ...], named: list[tuple[str, Box]]) -> str:
    """Return in words what stands in the way of holes at the fixed places *at*, or "".

    The words give the places as *wish* does; *at* has the same order in the region's frame.
    """
    radius = head_of(wish) // 2
    for number, (here, told) in enumerate(zip(at, wish.at or at, strict=True), 1):
        where = f"mounting hole {number} at ({format_mm(told.x)}, {format_mm(told.y)}) mm"
        if not region.holds(Box(here.x, here.y, here.x, here.y).grown(radius)):
            return f"{where}: its {format_mm(head_of(wish))} mm head does not lie on the board"
        for name, box in named:
            gap = _reach(here, box) - radius
            if gap < 0:
                short = format_mm(math.ceil(-gap), 2)
                return f"{where}: its {format_mm(head_of(wish))} mm head is {short} mm into the {name}"
    return ""


def hole_parts(wish: HoleWish, places: tuple[Point, ...], footprint: Footprint) -> tuple[Part, ...]:
    """Return the holes as parts H1, H2, ... at board *places*, top left to bottom right."""
    ordered = sorted(places, key=lambda p: (p.y, p.x))
    return tuple(
        Part(
            ref=f"H{number}",
            value=f"{format_mm(wish.diameter)} mm",
            footprint=footprint,
            placement=Placement(at),
            kind=PartKind.HOLE,
            entry=f"hole-{format_mm(wish.diameter)}",
        )
        for number, at in enumerate(ordered, 1)
    )


def head_keepouts(wish: HoleWish, holes: tuple[Part, ...]) -> tuple[Keepout, ...]:
    """Return a copper-free area under each screw head (a 24-sided ring round the circle)."""
    sides = 24
    radius = int(head_of(wish)) / 2 / math.cos(math.pi / sides)
    rings = []
    for hole in holes:
        at = hole.placement.at
        ring = tuple(
            Point(
                Nm(round(at.x + radius * math.cos(2 * math.pi * k / sides))),
                Nm(round(at.y + radius * math.sin(2 * math.pi * k / sides))),
            )
            for k in range(sides)
        )
        rings.append(Keepout(ring, f"screw head of {hole.ref}"))
    return tuple(rings)
