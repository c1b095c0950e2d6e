"""Thermal reliefs: the gap round a ground pad and the spokes across it.

A pad is joined by two to four spokes a quarter turn apart where its
surroundings allow it; a lone spoke is no join (a CAD program's rule check calls
it starved, and hand soldering shows why).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from boardgen.board.geometry import Copper, Shape
from boardgen.layout.pour_field import Field, Geometries, geometries, outside

STEP = 15  # degrees between the directions tried
BASES = (0, 45, 30, 60, 15, 75)  # turn of the first spoke, in order of preference
OVERLAP = 60_000.0  # nm a spoke must reach into the fill at its full width
CLEAR_OF_RIM = 2_000.0  # nm; the fill's rim beside the relief is exact to less than this
_LEAST_TURN = 45  # degrees between two spokes of an uneven pair


@dataclass(frozen=True, slots=True)
class Spokes:
    """The spokes chosen for one pad on one side; fewer than two are no join."""

    polygons: tuple[BaseGeometry, ...]

    @property
    def joins(self) -> bool:
        """Whether they join the pad."""
        return len(self.polygons) >= 2


def relief_areas(pads: list[Copper], gap: float) -> Geometries:
    """Return the area each pad's relief takes out of the fill."""
    distances = np.array([pad.shape.radius + gap for pad in pads], dtype=float)
    return outside(geometries([pad.shape.skeleton for pad in pads]), distances)


def _bars(
    centres: npt.NDArray[np.float64],
    along: npt.NDArray[np.float64],
    start: npt.NDArray[np.float64],
    end: npt.NDArray[np.float64],
    width: float,
) -> Geometries:
    """Return rectangles of *width* from *start* to *end* along unit vectors from *centres*."""
    across = np.stack([-along[:, 1], along[:, 0]], axis=1) * (width / 2)
    a = centres + along * start[:, None]
    b = centres + along * end[:, None]
    corners = np.stack([a - across, b - across, b + across, a + across], axis=1)
    return np.asarray(shapely.polygons(corners), dtype=object)


def _choose(valid: npt.NDArray[np.bool_]) -> list[int]:
    """Return the directions (in steps) to use of those that are *valid*."""
    quarter = 90 // STEP
    for base in BASES:
        first = base // STEP
        found = [first + quarter * k for k in range(4) if valid[first + quarter * k]]
        if len(found) >= 2:
            return found
    free = [int(i) for i in np.flatnonzero(valid)]
    count = 360 // STEP
    for i in free:
        for j in free:
            apart = min((j - i) % count, (i - j) % count) * STEP
            if j > i and apart >= _LEAST_TURN:
                return [i, j]
    return free[:1]


def _middle(shape: Shape) -> tuple[float, float]:
    """Return the middle of a pad's copper; where that is bare (the copper bends round it), a place on it."""
    middle = shape.skeleton.centroid
    if shape.skeleton.distance(middle) > shape.radius:
        middle = shape.skeleton.representative_point()
    return middle.x, middle.y


def choose_spokes(
    field: Field,
    fill: BaseGeometry,
    pads: list[Copper],
    reliefs: Geometries,
    turns: list[float],
    width: float,
) -> list[Spokes]:
    """Return the spokes of each pad, given the *fill* with all reliefs cut out.

    *turns* is each pad's turn on the board in degrees; the first directions tried
    are along its sides. A spoke runs from the pad's middle to :data:`OVERLAP`
    inside the fill, at full width, clear of every obstacle.
    """
    if not pads:
        return []
    count = 360 // STEP
    middles = np.array([_middle(pad.shape) for pad in pads], dtype=float)
    owner = np.repeat(np.arange(len(pads)), count)
    steps = np.tile(np.arange(count), len(pads))
    angles = np.radians(np.array(turns, dtype=float)[owner] + steps * STEP)
    along = np.stack([np.cos(angles), -np.sin(angles)], axis=1)
    centres = middles[owner]
    reach = np.array([math.hypot(r.bounds[2] - r.bounds[0], r.bounds[3] - r.bounds[1]) for r in reliefs])
    rays = shapely.linestrings(np.stack([centres, centres + along * reach[owner][:, None]], axis=1))
    edge = shapely.length(shapely.intersection(rays, reliefs[owner]))
    slant = np.where(steps % (90 // STEP) == 0, 0.0, width / 2)
    tip = edge + slant + CLEAR_OF_RIM
    bars = _bars(centres, along, np.zeros(len(tip)), tip + OVERLAP, width)
    tips = _bars(centres, along, tip, tip + OVERLAP, width)
    shapely.prepare(fill)
    valid = np.asarray(shapely.covers(fill, tips))
    candidates = np.flatnonzero(valid)
    if len(field.obstacles) and len(candidates):
        tree = shapely.STRtree(field.obstacles)
        hit = tree.query(bars[candidates], predicate="intersects")[0]
        valid[candidates[np.unique(hit)]] = False
    shapely.prepare(field.area)
    valid &= np.asarray(shapely.covers(field.area, bars))
    result = []
    for i in range(len(pads)):
        first = i * count
        chosen = _choose(valid[first : first + count])
        result.append(Spokes(tuple(bars[first + k] for k in chosen)))
    return result


def crossings(fill: BaseGeometry, pad: Copper) -> int:
    """Return how many arms of *fill* cross the outline of *pad*."""
    outline = pad.shape.polygon().boundary
    met = shapely.intersection(outline, fill.boundary)
    return 0 if met.is_empty else int(shapely.get_num_geometries(met)) // 2
