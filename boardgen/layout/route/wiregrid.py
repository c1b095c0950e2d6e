"""The maps of one copper side with wire links: where their pads and wires may be, and what keeps off what."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from boardgen.board.geometry import part_courtyard, polygons_of
from boardgen.board.model import Board, Side
from boardgen.layout.route.grid import Grid, _disc, safe_reach
from boardgen.layout.route.kernels import STEP, fill_ring, stamp_bars
from boardgen.layout.route.links import END_ROOM, STRIP, WIRE, WIRE_ROOM, around, is_raised
from boardgen.layout.route.problem import Problem
from boardgen.layout.route.rules import RoutingRules
from boardgen.layout.route.wirefield import Field
from boardgen.units import mm

Array = Any

END_COST = 30 * STEP  # a wire link costs as much as this many steps of track, twice
LEAST, MOST = mm("5.08"), mm("50.8")  # span of a link: long enough to hold, short enough to lie straight
EVERY = 2  # links end on every second line of the grid each way: half the time, and no fewer boards complete
SAME_NET = mm("0.15")  # between a link's pad and another of its own net: two joints, not one blob


def wire_field(board: Board, problem: Problem, rules: RoutingRules, grid: Grid) -> Field:
    """Return the field of *grid* for the wire kernels."""
    width, height = int(grid.shape[0]), int(grid.shape[1])
    step, at = grid.step, (width, height, grid.x0, grid.y0, grid.step)
    classes = max(1, len(problem.classes))
    free, ends = link_rooms(board, problem, rules, at)
    end_stat = grid.via_stat.copy()
    bars = problem.bars
    near = bars.radius + float(rules.link_pad) / 2 + float(SAME_NET)
    shut = np.full(len(bars.line), -1, np.int32)
    for k in range(classes):
        stamp_bars(end_stat[k], *at, bars.line, np.where(bars.copper, near, 0.0), shut)
        end_stat[k][ends == 0] = -1
    cells = np.arange(width * height)
    end_stat[:, (cells % width % EVERY != 0) | (cells // width % EVERY != 0)] = -1
    discs, disc_at = _wire_discs(problem, rules, step)
    least, most = math.ceil(int(LEAST) / step), int(int(MOST) // step)
    rest = math.ceil((float(rules.link_hole) + float(rules.hole_gap)) / step)
    return Field(
        width=width,
        height=height,
        stat=grid.stat.reshape(classes, width * height),
        end_stat=end_stat,
        wire_free=free,
        discs=discs,
        disc_at=disc_at,
        kinds=problem.kinds,
        pin_at=grid.pin_at,
        cell_at=grid.cell_at,
        cells=grid.cells,
        wire=np.array([END_COST, STEP, least, most, rest], np.int64),
    )


def _wire_discs(problem: Problem, rules: RoutingRules, step: float) -> tuple[Array, Array]:
    classes = problem.classes or ((0.0, 0.0),)
    count = len(classes)
    pad, hole, wire = float(rules.link_pad) / 2, float(rules.link_hole) / 2, float(WIRE) / 2
    holes = 2 * hole + float(rules.hole_gap)
    widest = max(space for _, space in classes)
    offsets: list[tuple[int, int]] = []
    at = np.zeros((7, count, count, 2), np.int32)

    def put(what: int, a: int, b: int, reach: float) -> None:
        disc = _disc(safe_reach(reach, step), step)
        at[what, a, b] = len(offsets), len(offsets) + len(disc)
        offsets.extend(disc)

    for a, (half_a, space_a) in enumerate(classes):
        for b, (half_b, space_b) in enumerate(classes):
            gap = max(space_a, space_b)
            put(0, a, b, half_a + half_b + gap)
            put(1, a, b, half_a + pad + gap)
            put(2, a, b, pad + half_b + gap)
            put(3, a, b, max(2 * pad + gap, holes))
    strip, end = float(WIRE_ROOM), around(float(END_ROOM))
    # a wire is bare, and so are the ends of others
    put(4, 0, 0, max(2 * strip, 2 * wire + widest))
    put(5, 0, 0, max(strip + end, wire + pad + widest))
    put(6, 0, 0, max(2 * end, 2 * pad + float(SAME_NET), holes))
    return np.array(offsets, np.int32).reshape(len(offsets), 2), at


def link_rooms(
    board: Board, problem: Problem, rules: RoutingRules, at: tuple[int, int, float, float, float]
) -> tuple[Array, Array]:
    """Return the cells a link's wire may lie over, and those its ends may stand on.

    Both are clear of every courtyard on the top, of keepouts (a wire over an
    antenna or under a screw's head is copper there too) and of the board's
    edge; under a module on sockets only the socket strips are in the way. The
    ends, soldered from below, are clear of the parts that stand there as well.
    """
    cells = at[0] * at[1]
    gap = float(rules.courtyard_gap)
    rooms = []
    for reach, below in ((float(WIRE_ROOM) + gap, 0.0), (around(float(END_ROOM)) + gap, rules.link_pad / 2)):
        marks = np.zeros(cells, np.int32)
        for part in board.parts:
            if below:
                for polygon in polygons_of(part_courtyard(part, Side.BOTTOM)):
                    _close(marks, at, [(x, y) for x, y in polygon.exterior.coords[:-1]], around(below))
            if is_raised(part):
                for pad in part.footprint.pads:
                    spot = part.placement.place(pad.at)
                    x, y, r = float(spot.x), float(spot.y), float(STRIP)
                    _close(marks, at, [(x - r, y - r), (x + r, y - r), (x + r, y + r), (x - r, y + r)], reach)
                continue
            for polygon in polygons_of(part_courtyard(part, Side.TOP)):
                _close(marks, at, [(x, y) for x, y in polygon.exterior.coords[:-1]], reach)
        for keepout in board.keepouts:
            _close(marks, at, [(float(p.x), float(p.y)) for p in keepout.ring], float(rules.link_pad) / 2)
        for ring, shut in problem.rings:
            fill_ring(marks, *at, ring, shut)
        profile = problem.rings[: len(problem.rings) - len(board.keepouts)]
        edge = np.vstack([np.hstack([ring, np.roll(ring, -1, axis=0)]) for ring, _ in profile])
        stamp_bars(
            marks,
            *at,
            edge,
            np.full(len(edge), float(rules.edge + WIRE / 2)),
            np.full(len(edge), -1, np.int32),
        )
        rooms.append((marks == 0).astype(np.int32))
    return rooms[0], rooms[1]


def _close(
    marks: Array, at: tuple[int, int, float, float, float], ring: list[tuple[float, float]], reach: float
) -> None:
    """Close the inside of *ring* and what is nearer to it than *reach* (nm).

    A wire passes between grid points, so its corners keep them off by what lies half a step aside.
    """
    rows = np.array(ring, np.float64)
    count = len(rows)
    lines = np.vstack([np.hstack([rows, np.roll(rows, -1, axis=0)]), np.hstack([rows, rows])])
    reaches = np.repeat([reach, math.hypot(reach, at[4] / 2)], count)
    stamp_bars(marks, *at, lines, reaches, np.full(2 * count, -1, np.int32))
    fill_ring(marks, *at, rows, True)
