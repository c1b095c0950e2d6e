"""The grid: where it lies, what it may use, and how far tracks keep each other off."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass
from typing import Any

import numpy as np

from boardgen.board.model import Board
from boardgen.layout.route.kernels import bar_distance2, fill_ring, stamp_bars
from boardgen.layout.route.problem import Pin, Problem
from boardgen.layout.route.rules import RoutingRules

Array = Any


@dataclass(frozen=True, slots=True)
class Grid:
    """Maps for the negotiation (see searchkernels for their meaning); lengths in nm."""

    step: float
    x0: float
    y0: float
    shape: Array
    stat: Array
    via_stat: Array
    discs: Array
    disc_at: Array
    pin_at: Array
    cell_at: Array
    cells: Array

    def place(self, node: int) -> tuple[int, int]:
        """Return the position of *node* in whole nm."""
        rest = node % int(self.shape[0] * self.shape[1])
        return (
            int(self.x0 + (rest % int(self.shape[0])) * self.step),
            int(self.y0 + (rest // int(self.shape[0])) * self.step),
        )

    def places(self, nodes: Array) -> Array:
        """Return the positions of *nodes* in whole nm, one row each."""
        rest = nodes % int(self.shape[0] * self.shape[1])
        step, width = int(self.step), int(self.shape[0])
        return np.stack([int(self.x0) + rest % width * step, int(self.y0) + rest // width * step], axis=1)


def _phase(values: list[int], step: int) -> int:
    """The commonest remainder of *values*, the smallest on a tie."""
    counts = Counter(v % step for v in values)
    if not counts:
        return 0
    most = max(counts.values())
    return min(r for r, c in counts.items() if c == most)


def safe_reach(reach: float, step: float) -> float:
    """Return the least distance between grid points that keeps grid tracks *reach* apart.

    Between grid points at least *reach* apart, a diagonal step can still pass
    nearer: it runs at k/sqrt(2) steps (k odd) past a point whose distance from
    both its ends is sqrt((k^2 + 1)/2) steps. Only reaches between the two are
    affected, and are raised to the latter.
    """
    ratio = reach / step
    k = 1
    while k / math.sqrt(2) < ratio:
        end = math.sqrt((k * k + 1) / 2)
        if ratio <= end:
            return end * step * (1 + 1e-12)
        k += 2
    return reach


def _disc(reach: float, step: float) -> list[tuple[int, int]]:
    n = math.ceil(reach / step)
    limit = (reach / step) ** 2 * (1 - 1e-12)
    return [(dx, dy) for dy in range(-n, n + 1) for dx in range(-n, n + 1) if dx * dx + dy * dy < limit]


def _discs(
    classes: tuple[tuple[float, float], ...], rules: RoutingRules, step: float, linked: bool
) -> tuple[Array, Array]:
    count = max(1, len(classes))
    at = np.zeros((5, count, count, 2), np.int32)
    offsets: list[tuple[int, int]] = []
    radius = float(rules.link_pad if linked else rules.via_diameter) / 2
    hole = float(rules.link_hole if linked else rules.via_hole) / 2
    for a, (half_a, space_a) in enumerate(classes):
        for b, (half_b, space_b) in enumerate(classes):
            gap = max(space_a, space_b)
            via_via = max(2 * radius + gap, 2 * hole + float(rules.hole_gap))
            reaches = (half_a + half_b + gap, half_a + radius + gap, radius + half_b + gap, via_via)
            for what, reach in enumerate(reaches):
                disc = _disc(safe_reach(reach, step), step)
                at[what, a, b] = len(offsets), len(offsets) + len(disc)
                offsets.extend(disc)
    return np.array(offsets, np.int32).reshape(len(offsets), 2), at


def _pin_cells(
    pin: Pin, problem: Problem, stat: Array, step: float, x0: float, y0: float, shape: tuple[int, int, int]
) -> list[int]:
    """Nodes from which the pad's centre is reached: the nearest grid points its copper covers."""
    width, height, _ = shape
    plane = width * height
    fx, fy = (pin.at.x - x0) / step, (pin.at.y - y0) / step
    xs = sorted({math.floor(fx + 1e-6), math.ceil(fx - 1e-6)})
    ys = sorted({math.floor(fy + 1e-6), math.ceil(fy - 1e-6)})
    kind = int(problem.kinds[pin.net])
    found: list[int] = []
    spots = [(gx, gy) for gy in ys for gx in xs if 0 <= gx < width and 0 <= gy < height]
    for strict in (True, False):
        for gx, gy in spots:
            for side in pin.sides:
                held = int(stat[kind, side, gy, gx])
                inside = (
                    not strict or len(spots) == 1 or _covers(pin, problem, x0 + gx * step, y0 + gy * step)
                )
                if held in (0, pin.net + 1) and inside:
                    found.append(side * plane + gy * width + gx)
        if found:
            break
    return found


def _covers(pin: Pin, problem: Problem, x: float, y: float) -> bool:
    first, past = pin.bars
    bars = problem.bars
    if past - first == 4:  # a rectangle: its edges are rows
        rows = bars.line[first:past]
        turn = [
            (r[2] - r[0]) * (y - r[1]) - (r[3] - r[1]) * (x - r[0]) for r in rows
        ]  # same sign all round: inside
        if all(t >= 0 for t in turn) or all(t <= 0 for t in turn):
            return True
    return any(bar_distance2(x, y, *bars.line[i]) <= float(bars.radius[i]) ** 2 for i in range(first, past))


def build_grid(board: Board, problem: Problem, rules: RoutingRules, step: int) -> Grid:
    """Lay a grid of *step* nm over the board so that most pads stand on it, and fill its maps."""
    centres = [pin.at for pins in problem.pins for pin in pins]
    left, top, right, bottom = problem.box
    px, py = _phase([int(c.x) for c in centres], step), _phase([int(c.y) for c in centres], step)
    x0 = float(math.floor((left - px) / step) * step + px)
    y0 = float(math.floor((top - py) / step) * step + py)
    width, height = int((right - x0) // step) + 2, int((bottom - y0) // step) + 2
    layers = len(rules.sides)
    plane = width * height
    classes = problem.classes or ((0.0, 0.0),)
    bars = problem.bars
    marks = np.where(bars.net >= 0, bars.net + 1, -1).astype(np.int32)
    on_grid = (
        (bars.line[:, 0] == bars.line[:, 2])
        & (bars.line[:, 1] == bars.line[:, 3])
        & ((bars.line[:, 0] - x0) % step == 0)
        & ((bars.line[:, 1] - y0) % step == 0)
    )
    outside = np.zeros(plane, np.int32)
    for ring, inside in problem.rings:
        fill_ring(outside, width, height, x0, y0, float(step), ring, inside)
    stat = np.zeros((len(classes), layers, plane), np.int32)
    linked = rules.allow_links and layers == 1
    drilled = linked or (rules.allow_vias and layers == 2)
    via_stat = np.zeros((len(classes), plane if drilled else 1), np.int32)
    radius = float(rules.link_pad if linked else rules.via_diameter) / 2
    hole = float(rules.link_hole if linked else rules.via_hole) / 2
    for k, (half, space) in enumerate(classes):
        gap = np.where(bars.copper, np.maximum(bars.gap, space), bars.gap)
        reach = bars.radius + gap + half
        # half a diagonal step is the longest chord a track can cut off a round corner
        grown = np.sqrt(reach**2 + step**2 / 2)
        exact: dict[float, float] = {}
        for i in np.nonzero(on_grid)[0]:
            r = float(reach[i])
            if r not in exact:
                exact[r] = safe_reach(r, step)
            grown[i] = exact[r]
        for layer in range(layers):
            here = grown * ((bars.mask >> layer) & 1)
            stat[k, layer] = outside
            stamp_bars(stat[k, layer], width, height, x0, y0, float(step), bars.line, here, marks)
        if drilled:
            via_stat[k] = outside
            stamp_bars(
                via_stat[k], width, height, x0, y0, float(step), bars.line, bars.radius + gap + radius, marks
            )
            lines = np.ascontiguousarray(problem.holes[:, :4])
            reach = problem.holes[:, 4] + hole + float(rules.hole_gap)
            stamp_bars(
                via_stat[k],
                width,
                height,
                x0,
                y0,
                float(step),
                lines,
                reach,
                np.full(len(lines), -1, np.int32),
            )
    discs, disc_at = _discs(classes, rules, float(step), linked)
    pin_at = np.zeros(len(problem.names) + 1, np.int32)
    cell_at = [0]
    cells: list[int] = []
    size = (width, height, layers)
    maps = stat.reshape(len(classes), layers, height, width)
    todo = frozenset(problem.todo)
    for n, pins in enumerate(problem.pins):
        for pin in pins if n in todo else ():
            for place in pin.places:
                cells.extend(_pin_cells(place, problem, maps, float(step), x0, y0, size))
            cell_at.append(len(cells))
        pin_at[n + 1] = len(cell_at) - 1
    return Grid(
        step=float(step),
        x0=x0,
        y0=y0,
        shape=np.array([width, height, layers], np.int64),
        stat=stat.reshape(-1),
        via_stat=via_stat,
        discs=discs,
        disc_at=disc_at,
        pin_at=pin_at,
        cell_at=np.array(cell_at, np.int32),
        cells=np.array(cells, np.int32),
    )
