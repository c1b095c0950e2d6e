"""From grid nodes to links: the polylines between pads, vias and tees."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from boardgen.layout.route.attempts import Attempt
from boardgen.layout.route.grid import Grid
from boardgen.layout.route.problem import Problem

Array = Any
Spot = tuple[int, int]


@dataclass(slots=True)
class Wiring:
    """Links in the making (see tightkernels.tighten for the arrays), with vias and wire links.

    *vias* are (net, x, y), *jumps* (net, x1, y1, x2, y2), in nm.
    """

    points: Array
    at: Array
    count: Array
    nets: Array
    layers: Array
    joints: Array
    vias: list[tuple[int, int, int]] = field(default_factory=list)
    jumps: list[tuple[int, int, int, int, int]] = field(default_factory=list)

    def link(self, i: int) -> list[Spot]:
        """Return the points of link *i*."""
        a = int(self.at[i])
        return [(int(x), int(y)) for x, y in self.points[a : a + int(self.count[i])]]


@dataclass(slots=True)
class _Gathered:
    links: list[tuple[int, int, list[Spot], int, int]] = field(default_factory=list)
    vias: set[tuple[int, int, int]] = field(default_factory=set)
    jumps: set[tuple[int, int, int, int, int]] = field(default_factory=set)


def _corners(spots: Sequence[Spot]) -> list[Spot]:
    """Drop the points where a grid path goes straight on."""
    kept: list[Spot] = []
    for i, spot in enumerate(spots):
        if 0 < i < len(spots) - 1:
            (ax, ay), (bx, by) = spots[i - 1], spots[i + 1]
            if spot[0] - ax == bx - spot[0] and spot[1] - ay == by - spot[1]:
                continue
        kept.append(spot)
    return kept


def _trace_net(n: int, problem: Problem, grid: Grid, attempt: Attempt, got: _Gathered) -> None:
    width = int(grid.shape[0])
    plane = width * int(grid.shape[1])
    first = int(grid.pin_at[n])
    owner: dict[int, list[int]] = {}
    for p in range(len(problem.pins[n])):
        for k in range(int(grid.cell_at[first + p]), int(grid.cell_at[first + p + 1])):
            owner.setdefault(int(grid.cells[k]), []).append(p)
    branches = attempt.branches[n]
    tees = {b[-1] for b in branches if b and b[-1] not in owner}

    def centre(p: int) -> Spot:
        at = problem.pins[n][p].at
        return int(at.x), int(at.y)

    for branch in branches:
        if len(branch) == 1:
            ends = owner.get(branch[0], [])
            spot = grid.place(branch[0])
            if len(ends) > 1 and centre(ends[0]) != centre(ends[-1]):
                got.links.append((n, branch[0] // plane, [centre(ends[0]), spot, centre(ends[-1])], -1, -1))
            elif len(ends) == 1 and branch[0] in tees and centre(ends[0]) != spot:
                got.links.append((n, branch[0] // plane, [centre(ends[0]), spot], -1, branch[0]))
            continue
        start = 0
        for i in range(1, len(branch)):
            a, b = branch[i - 1], branch[i]
            ax, ay = grid.place(a)
            bx, by = grid.place(b)
            moved = max(abs(bx - ax), abs(by - ay))
            hop = moved == 0 or moved > grid.step
            last = i == len(branch) - 1
            if hop:
                if moved == 0:
                    got.vias.add((n, ax, ay))
                else:
                    got.jumps.add((n, *min((ax, ay), (bx, by)), *max((ax, ay), (bx, by))))
                _close(n, branch[start:i], grid, owner, tees, centre, plane, got, start == 0, False)
                start = i
                if last:
                    _close(n, branch[i : i + 1], grid, owner, tees, centre, plane, got, False, True)
            elif b in tees or last:
                _close(n, branch[start : i + 1], grid, owner, tees, centre, plane, got, start == 0, last)
                start = i


def _close(
    n: int,
    nodes: Sequence[int],
    grid: Grid,
    owner: dict[int, list[int]],
    tees: set[int],
    centre: Any,
    plane: int,
    got: _Gathered,
    at_start: bool,
    at_end: bool,
) -> None:
    """Add the link along *nodes*, led to the pads' centres at the ends of its branch."""
    spots = _corners([grid.place(node) for node in nodes])
    head = owner.get(nodes[0]) if at_start else None
    tail = owner.get(nodes[-1]) if at_end else None
    if head:
        spots.insert(0, centre(head[-1]))
    if tail:
        spots.append(centre(tail[0]))
    clean = [s for i, s in enumerate(spots) if i == 0 or s != spots[i - 1]]
    if len(clean) < 2:
        return
    left = nodes[0] if not head and nodes[0] in tees else -1
    right = nodes[-1] if not tail and nodes[-1] in tees else -1
    got.links.append((n, nodes[0] // plane, clean, left, right))


def trace(problem: Problem, grid: Grid, attempt: Attempt) -> Wiring:
    """Return the links of *attempt*, their ends exact, their corners still on the grid."""
    got = _Gathered()
    for n in range(len(problem.names)):
        if attempt.branches[n]:
            _trace_net(n, problem, grid, attempt, got)
    count = np.array([len(link[2]) for link in got.links], np.int64)
    room = 6 * count + 40
    at = np.zeros(len(count) + 1, np.int64)
    at[1:] = np.cumsum(room)
    points = np.zeros((int(at[-1]), 2), np.int64)
    for i, link in enumerate(got.links):
        points[at[i] : at[i] + count[i]] = link[2]
    return Wiring(
        points=points,
        at=at,
        count=count,
        nets=np.array([link[0] for link in got.links], np.int64),
        layers=np.array([link[1] for link in got.links], np.int64),
        joints=np.array([link[3:5] for link in got.links], np.int64).reshape(len(got.links), 2),
        vias=sorted(got.vias),
        jumps=sorted(got.jumps),
    )
