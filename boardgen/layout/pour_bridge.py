"""A ground track between two bodies the fill does not join, found on a coarse grid.

Only called where the fill alone leaves ground in parts, after vias have
been tried.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from boardgen.board.geometry import Copper
from boardgen.board.model import Board, Track, Via
from boardgen.catalog.model import FabClass
from boardgen.layout.pour_field import SLACK, Field, all_holes, board_area, geometries, outside
from boardgen.units import Nm, Point, nm

PITCH = 100_000  # nm; grid points are whole multiples of it
_STEPS = ((1, 0), (-1, 0), (0, 1), (0, -1), (1, 1), (1, -1), (-1, 1), (-1, -1))

Cells = npt.NDArray[np.bool_]
Cell = tuple[int, int, int]  # side, row, column


@dataclass(frozen=True, slots=True)
class Bridge:
    """What joins the bodies *start* and *end*."""

    start: int
    end: int
    tracks: tuple[Track, ...]
    vias: tuple[Via, ...]


@dataclass(frozen=True, slots=True)
class _Grid:
    xs: npt.NDArray[np.float64]
    ys: npt.NDArray[np.float64]

    @property
    def shape(self) -> tuple[int, int]:
        return (len(self.ys), len(self.xs))

    def inside(self, area: BaseGeometry) -> Cells:
        """Return which grid points lie inside *area*."""
        shapely.prepare(area)
        x, y = np.meshgrid(self.xs, self.ys)
        return np.asarray(shapely.contains_xy(area, x, y))

    def point(self, cell: Cell) -> Point:
        return Point(nm(self.xs[cell[2]]), nm(self.ys[cell[1]]))


def _track_width(fab: FabClass) -> Nm:
    return max(fab.track, fab.track_min)


def _room(
    board: Board, fab: FabClass, net: str, items: list[Copper], field: Field, half: float, gap: float
) -> BaseGeometry:
    """Return where the middle of new copper of half-width *half* may be on a side."""
    foreign = [c for c in items if c.side is field.side and c.net != net]
    distances = np.array([c.shape.radius + half + gap + SLACK for c in foreign], dtype=float)
    taken = [outside(geometries([c.shape.skeleton for c in foreign]), distances)]
    holes, radii = all_holes(board)
    bare = np.array([r + half + float(fab.npth_copper_min) + SLACK for r in radii], dtype=float)
    own = geometries([c.shape.skeleton for c in items if c.net == net and c.ref])
    tree = shapely.STRtree(own)
    if len(holes) and len(own):
        # The ground pads' own holes are no obstacle for a ground track.
        plated = np.unique(tree.query(holes, predicate="dwithin", distance=1.0)[0])
        bare = np.delete(bare, plated)
        holes = np.delete(holes, plated)
    taken.append(outside(holes, bare))
    taken.append(geometries([Polygon(k.ring).buffer(half) for k in board.keepouts]))
    area = board_area(board, fab).buffer(-half)
    return area.difference(shapely.union_all(np.concatenate(taken)))


def _search(free: list[Cells], via: Cells, starts: list[Cells], goals: list[Cells]) -> list[Cell]:
    """Return cells from a start to the nearest goal by steps, or nothing.

    A breadth-first search that takes a whole wave at a time. Sides and rows are
    laid out in one line, with a closed border so that no step runs over a rim.
    """
    wide = via.shape[1] + 2
    layer = (via.shape[0] + 2) * wide

    def flat(masks: list[Cells]) -> Cells:
        return np.concatenate([np.pad(mask, 1).ravel() for mask in masks])

    open_, wanted = flat(free), flat(goals)
    change = flat([via] * len(free)) if len(free) > 1 else np.zeros(layer, dtype=bool)
    steps = np.array([dy * wide + dx for dx, dy in _STEPS])
    came = np.full(len(open_), -2, dtype=np.int64)
    wave = np.flatnonzero(flat(starts) & open_)
    came[wave] = -1
    while len(wave):
        met = wave[wanted[wave]]
        if len(met):
            return _walk_back(came, int(met[0]), layer, wide)
        changing = wave[change[wave]]
        following = np.concatenate(
            [(wave[:, None] + steps).ravel(), np.where(changing < layer, changing + layer, changing - layer)]
        )
        before = np.concatenate([np.repeat(wave, len(steps)), changing])
        fresh = open_[following] & (came[following] == -2)
        wave, first = np.unique(following[fresh], return_index=True)
        came[wave] = before[fresh][first]
    return []


def _walk_back(came: npt.NDArray[np.int64], end: int, layer: int, wide: int) -> list[Cell]:
    path: list[Cell] = []
    while end >= 0:
        side, rest = divmod(end, layer)
        row, column = divmod(rest, wide)
        path.append((side, row - 1, column - 1))
        end = int(came[end])
    return path[::-1]


def _copper(
    path: list[Cell], grid: _Grid, board: Board, fab: FabClass, net: str
) -> tuple[list[Track], list[Via]]:
    tracks: list[Track] = []
    vias: list[Via] = []
    start = path[0]
    for before, cell, after in zip(path[:-1], path[1:], [*path[2:], None], strict=True):
        if cell[0] != before[0]:
            vias.append(Via(net, grid.point(cell), fab.via_diameter, fab.via_hole))
            start = cell
            continue
        step = (cell[0] - before[0], cell[1] - before[1], cell[2] - before[2])
        goes_on = after is not None and step == tuple(b - a for a, b in zip(cell, after, strict=True))
        if not goes_on:
            ends = grid.point(start), grid.point(cell)
            tracks.append(Track(net, board.copper[cell[0]], ends[0], ends[1], _track_width(fab)))
            start = cell
    return tracks, vias


def bridge(
    board: Board,
    fab: FabClass,
    net: str,
    items: list[Copper],
    fields: list[Field],
    vias: tuple[Via, ...],
    bodies: dict[int, list[list[BaseGeometry]]],
) -> Bridge | None:
    """Return copper that joins the first body to another, trying each in turn; None if none can be."""
    left, top, right, bottom = board_area(board, fab).bounds
    first = np.ceil(left / PITCH) * PITCH, np.ceil(top / PITCH) * PITCH
    grid = _Grid(np.arange(first[0], right, PITCH), np.arange(first[1], bottom, PITCH))
    half = float(_track_width(fab)) / 2
    free = [grid.inside(_room(board, fab, net, items, f, half, float(fab.gap_min))) for f in fields]
    via = np.zeros(grid.shape, dtype=bool)
    if len(fields) > 1 and board.plated:
        via = np.ones(grid.shape, dtype=bool)
        for f in fields:
            via &= grid.inside(
                _room(board, fab, net, items, f, float(fab.via_diameter) / 2, float(fab.gap_min))
            )
        holes, radii = all_holes(board)
        spare = float(fab.via_hole) / 2 + float(fab.hole_gap_min) + SLACK
        near = outside(holes, np.array([r + spare for r in radii], dtype=float))
        made = [shapely.Point(v.at).buffer(float(v.hole) / 2 + spare) for v in vias]
        via &= ~grid.inside(shapely.union_all(np.concatenate([near, geometries(made)])))
    filled = {
        body: [grid.inside(shapely.union_all(geometries(found))) for found in sides]
        for body, sides in bodies.items()
    }
    names = sorted(filled)
    for start in names:
        goals = [
            np.logical_or.reduce([filled[b][s] for b in names if b != start]) for s in range(len(fields))
        ]
        path = _search(free, via, filled[start], goals)
        if path:
            tracks, new = _copper(path, grid, board, fab, net)
            side, row, column = path[-1]
            end = next(b for b in names if b != start and filled[b][side][row, column])
            return Bridge(start, end, tuple(tracks), tuple(new))
    return None
