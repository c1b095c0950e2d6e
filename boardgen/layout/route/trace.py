"""From grid nodes to links: the polylines between pads, vias and tees."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import pairwise
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

    def lengths(self, nets: int) -> list[float]:
        """Return the track length of each of *nets* nets, nm."""
        found = [0.0] * nets
        for i in range(len(self.count)):
            found[int(self.nets[i])] += sum(math.dist(a, b) for a, b in pairwise(self.link(i)))
        return found


@dataclass(slots=True)
class _Gathered:
    links: list[tuple[int, int, list[Spot], int, int]] = field(default_factory=list)
    vias: set[tuple[int, int, int]] = field(default_factory=set)
    jumps: set[tuple[int, int, int, int, int]] = field(default_factory=set)


def _trace_net(n: int, problem: Problem, grid: Grid, attempt: Attempt, got: _Gathered) -> None:
    plane = int(grid.shape[0]) * int(grid.shape[1])
    first = int(grid.pin_at[n])
    owner: dict[int, list[int]] = {}
    for p in range(len(problem.pins[n])):
        for k in range(int(grid.cell_at[first + p]), int(grid.cell_at[first + p + 1])):
            owner.setdefault(int(grid.cells[k]), []).append(p)
    branches = attempt.branches[n]
    tees = {b[-1] for b in branches if b and b[-1] not in owner}

    def centre(p: int, node: int) -> Spot:
        pin = problem.pins[n][p]
        at = pin.at
        if pin.more:
            x, y = grid.place(node)
            on = [place for place in pin.places if node // plane in place.sides]
            at = min((place.at for place in on), key=lambda at: (math.hypot(at.x - x, at.y - y), at))
        return int(at.x), int(at.y)

    for branch in branches:
        nodes = np.array(branch, np.int64)
        if len(branch) == 1:
            ends = owner.get(branch[0], [])
            spot = grid.place(branch[0])
            spots_ = [centre(p, branch[0]) for p in (ends[0], ends[-1])] if ends else []
            if len(ends) > 1 and spots_[0] != spots_[1]:
                got.links.append((n, branch[0] // plane, [spots_[0], spot, spots_[1]], -1, -1))
            elif len(ends) == 1 and branch[0] in tees and spots_[0] != spot:
                got.links.append((n, branch[0] // plane, [spots_[0], spot], -1, branch[0]))
            continue
        spots = grid.places(nodes)
        step = np.diff(spots, axis=0)
        moved = np.abs(step).max(axis=1)
        hops = {int(i) for i in np.nonzero((moved == 0) | (moved > grid.step))[0]}  # from i to i + 1
        turns = np.ones(len(branch), np.bool_)
        turns[1:-1] = (step[1:] != step[:-1]).any(axis=1)
        cuts = {i for i in range(1, len(branch) - 1) if branch[i] in tees} if tees else set()
        last = len(branch) - 1
        stops = sorted({0, last} | cuts | hops | {i + 1 for i in hops})
        for i, j in pairwise(stops):
            if i in hops:
                (ax, ay), (bx, by) = spots[i].tolist(), spots[j].tolist()
                if (ax, ay) == (bx, by):
                    got.vias.add((n, ax, ay))
                else:
                    got.jumps.add((n, *min((ax, ay), (bx, by)), *max((ax, ay), (bx, by))))
                continue
            keep = [i, *(i + 1 + np.nonzero(turns[i + 1 : j])[0]).tolist(), j]
            way: list[Spot] = [(x, y) for x, y in spots[keep].tolist()]
            _add(n, way, branch[i], branch[j], i == 0, j == last, owner, tees, centre, plane, got)
        for end, at in ((0, 0), (last, last - 1)):
            if at in hops:  # a branch that starts or ends with a hop still has to meet its pad's centre
                way = [(x, y) for x, y in spots[[end]].tolist()]
                _add(n, way, branch[end], branch[end], end == 0, end == last, owner, tees, centre, plane, got)


def _add(
    n: int,
    way: list[Spot],
    head: int,
    tail: int,
    at_start: bool,
    at_end: bool,
    owner: dict[int, list[int]],
    tees: set[int],
    centre: Callable[[int, int], Spot],
    plane: int,
    got: _Gathered,
) -> None:
    """Add the link along *way*, led to the pads' centres at the ends of its branch."""
    first = owner.get(head) if at_start else None
    last = owner.get(tail) if at_end else None
    if first:
        way = [centre(first[-1], head), *way]
    if last:
        way = [*way, centre(last[0], tail)]
    clean = [s for i, s in enumerate(way) if i == 0 or s != way[i - 1]]
    if len(clean) < 2:
        return
    left = head if not first and head in tees else -1
    right = tail if not last and tail in tees else -1
    got.links.append((n, head // plane, clean, left, right))


def trace(problem: Problem, grid: Grid, attempt: Attempt) -> Wiring:
    """Return the links of *attempt*, their ends exact, their corners still on the grid."""
    got = _Gathered()
    for n in range(len(problem.names)):
        if attempt.branches[n]:
            _trace_net(n, problem, grid, attempt, got)
    return _laid(got)


def _laid(got: _Gathered) -> Wiring:
    """Return what was gathered, with room for each link to grow."""
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


def joined(wiring: Wiring, kept: list[int], new: Wiring, vias: list[tuple[int, int, int]]) -> Wiring:
    """Return the links *kept* of *wiring* with its *vias*, and all of *new*, whose tees are other ones."""
    shift = 1 + int(wiring.joints.max(initial=-1))
    got = _Gathered()
    for of, links, more in ((wiring, kept, 0), (new, range(len(new.count)), shift)):
        for i in links:
            a, b = (int(j) + more if j >= 0 else -1 for j in of.joints[i])
            got.links.append((int(of.nets[i]), int(of.layers[i]), of.link(i), a, b))
    got.vias.update(vias, new.vias)
    got.jumps.update(wiring.jumps, new.jumps)
    return _laid(got)
