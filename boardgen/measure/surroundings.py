"""What lies beside and below the copper of a line, measured on the finished board."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from boardgen.board.geometry import Shape, copper_items, piece_polygon
from boardgen.board.model import Board, Side

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

REACH = 3.0  # board thicknesses; copper further beside a line than this counts as none


@dataclass(frozen=True, slots=True)
class _SideCopper:
    """One side: rims of all copper as segments with the number of their net, and the poured area."""

    tree: shapely.STRtree
    starts: Floats
    ends: Floats
    nets: Ints
    poured: BaseGeometry


@dataclass(frozen=True, slots=True)
class Surroundings:
    """A board's copper, ready to be asked. *reach* in nm."""

    sides: dict[Side, _SideCopper]
    numbers: dict[str, int]
    reach: float

    def free_way(self, side: Side, own: Ints, starts: Floats, towards: Floats) -> Floats:
        """Return how far (nm, *reach* at most) rays get before they meet copper of a net not their *own*.

        *own* (n,) as in *numbers*; *starts* (n, 2) in nm; *towards* (n, 2) unit vectors.
        """
        result = np.full(len(starts), self.reach)
        here = self.sides[side]
        if not len(here.starts) or not len(starts):
            return result
        rays = shapely.linestrings(np.stack([starts, starts + towards * self.reach], axis=1))
        ray, segment = here.tree.query(rays)
        foreign = here.nets[segment] != own[ray]
        ray, segment = ray[foreign], segment[foreign]
        a, d, u = here.starts[segment] - starts[ray], here.ends[segment] - here.starts[segment], towards[ray]
        turn = u[:, 0] * d[:, 1] - u[:, 1] * d[:, 0]
        crossing = turn != 0
        ray, a, d, u, turn = ray[crossing], a[crossing], d[crossing], u[crossing], turn[crossing]
        way = (a[:, 0] * d[:, 1] - a[:, 1] * d[:, 0]) / turn
        place = (a[:, 0] * u[:, 1] - a[:, 1] * u[:, 0]) / turn
        met = (place >= 0) & (place <= 1) & (way > 0)
        np.minimum.at(result, ray[met], way[met])
        return result

    def covered(self, side: Side, points: Floats) -> Bools:
        """Return which *points* (n, 2) lie under or over poured copper of *side*."""
        here = self.sides.get(side)
        if here is None or here.poured.is_empty:
            return np.zeros(len(points), dtype=bool)
        return np.asarray(shapely.contains_xy(here.poured, points))

    def clear(self, side: Side, shapes: list[Shape]) -> Floats:
        """Return the gap (nm, *reach* at most) between each of *shapes* and the poured copper of *side*."""
        here = self.sides[side]
        if here.poured.is_empty or not shapes:
            return np.full(len(shapes), self.reach)
        skeletons = np.empty(len(shapes), dtype=object)
        skeletons[:] = [shape.skeleton for shape in shapes]
        radii = np.array([shape.radius for shape in shapes])
        return np.asarray(np.clip(shapely.distance(skeletons, here.poured) - radii, 0.0, self.reach))


def look_round(board: Board) -> Surroundings:
    """Return the surroundings of everything on *board*."""
    numbers: dict[str, int] = {}
    shapes: dict[Side, list[tuple[BaseGeometry, int]]] = {side: [] for side in board.copper}
    for item in copper_items(board):
        number = -2 if item.net is None else numbers.setdefault(item.net, len(numbers))
        shapes[item.side].append((item.shape.polygon(), number))
    pours: dict[Side, list[BaseGeometry]] = {side: [] for side in board.copper}
    for pour in board.pours:
        for piece in pour.pieces if pour.side in pours else ():
            polygon = piece_polygon(piece)
            pours[pour.side].append(polygon)
            shapes[pour.side].append((polygon, numbers.setdefault(pour.net, len(numbers))))
    sides = {side: _side(shapes[side], pours[side]) for side in board.copper}
    return Surroundings(sides, numbers, REACH * float(board.thickness))


def _side(shapes: list[tuple[BaseGeometry, int]], pours: list[BaseGeometry]) -> _SideCopper:
    outlines = np.empty(len(shapes), dtype=object)
    outlines[:] = [shape for shape, _ in shapes]
    rings, owner = shapely.get_rings(outlines, return_index=True)
    points, ring = shapely.get_coordinates(rings, return_index=True)
    same = np.flatnonzero(ring[1:] == ring[:-1])
    starts, ends = points[same], points[same + 1]
    nets = np.array([number for _, number in shapes], dtype=np.int64)
    segments = np.asarray(shapely.linestrings(np.stack([starts, ends], axis=1)), dtype=object)
    poured = shapely.union_all(pours)
    shapely.prepare(poured)
    return _SideCopper(shapely.STRtree(segments), starts, ends, nets[owner[ring[same]]], poured)
