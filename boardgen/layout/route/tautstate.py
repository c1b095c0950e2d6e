"""Links while they are pulled taut: the wiring with room to grow, and what the kernels ask about it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np

from boardgen.layout.route.exact import drilled_spots, with_vias
from boardgen.layout.route.kernels import BEND
from boardgen.layout.route.problem import Bars, Problem
from boardgen.layout.route.rules import RoutingRules
from boardgen.layout.route.trace import Wiring

Array = Any

ROOM = 64  # points of a new link


@dataclass(slots=True)
class Taut:
    """Links while they are pulled. *links* in use, free slots after them; *fast* places that cannot move."""

    problem: Problem
    rules: RoutingRules
    wiring: Wiring
    bars: Bars
    links: int
    fast: frozenset[tuple[int, int]]
    sides_at: dict[tuple[int, int, int], int]  # net and place of a pad or via: bits of the sides it is on
    nobody: Array

    def copper(self) -> tuple[Array, ...]:
        """Return the arrays that say what stands where, as the kernels take them."""
        w, b, p = self.wiring, self.bars, self.problem
        return (
            w.points,
            w.at,
            w.count,
            w.nets,
            w.layers,
            p.half,
            p.spacing,
            b.line,
            b.radius,
            b.gap,
            b.copper,
            b.net,
            b.mask,
        )

    def cost(self, link: int) -> float:
        """Return the length of *link* in nm, with what its corners cost."""
        return way_cost(self.wiring.link(link))

    def total(self, net: int) -> float:
        """Return what all links of *net* cost, nm."""
        rows = np.nonzero((self.wiring.nets == net) & (self.wiring.count > 1))[0]
        return sum(self.cost(int(link)) for link in rows.tolist())

    def put(self, link: int, way: list[tuple[int, int]]) -> None:
        """Let *link* run along *way*, which its slot must hold."""
        a = int(self.wiring.at[link])
        self.wiring.points[a : a + len(way)] = way
        self.wiring.count[link] = len(way)

    def room(self, link: int) -> int:
        """Return how many points the slot of *link* holds."""
        return int(self.wiring.at[link + 1] - self.wiring.at[link])

    def arms(self, link: int, end: int) -> Array:
        """Return the unit vectors of the other links that leave the tee at one *end* (0, 1) of *link*."""
        joint = int(self.wiring.joints[link, end])
        found: list[tuple[float, float]] = []
        if joint >= 0:
            for other, side in self.meeting(joint):
                if other != link:
                    (ax, ay), (bx, by) = self.leaving(other, side)
                    length = math.hypot(bx - ax, by - ay)
                    found.append(((bx - ax) / length, (by - ay) / length))
        return np.array(found, np.float64).reshape(len(found), 2)

    def meeting(self, joint: int) -> list[tuple[int, int]]:
        """Return (link, end) of every link at the tee *joint*."""
        rows, ends = np.nonzero(self.wiring.joints[: self.links] == joint)
        return [
            (int(r), int(e)) for r, e in zip(rows.tolist(), ends.tolist(), strict=True)
            if self.wiring.count[r] > 1
        ]  # fmt: skip

    def leaving(self, link: int, end: int) -> tuple[tuple[int, int], tuple[int, int]]:
        """Return the end point of *link* at *end* and the point that follows."""
        a = int(self.wiring.at[link])
        i, j = (a, a + 1) if end == 0 else (a + int(self.wiring.count[link]) - 1,) * 2
        if end:
            j = i - 1
        (ax, ay), (bx, by) = self.wiring.points[[i, j]].tolist()
        return (ax, ay), (bx, by)


def way_cost(way: list[tuple[int, int]]) -> float:
    """Return the length of *way* in nm, with what its corners cost."""
    return sum(math.dist(a, b) for a, b in pairwise(way)) + BEND * max(0, len(way) - 2)


def begin(problem: Problem, wiring: Wiring, rules: RoutingRules) -> Taut:
    """Return a copy of *wiring* with room for its links to gain corners, and for as many new ones."""
    links = len(wiring.count)
    spare = links + 8
    sizes = np.concatenate([np.maximum(np.diff(wiring.at), ROOM), np.full(spare, ROOM, np.int64)])
    at = np.zeros(links + spare + 1, np.int64)
    at[1:] = np.cumsum(sizes)
    points = np.zeros((int(at[-1]), 2), np.int64)
    for i in range(links):
        a, n = int(wiring.at[i]), int(wiring.count[i])
        points[at[i] : at[i] + n] = wiring.points[a : a + n]

    def longer(values: Array, fill: int) -> Array:
        more = np.full((spare, *values.shape[1:]), fill, values.dtype)
        return np.concatenate([values, more])

    copy = replace(
        wiring,
        points=points,
        at=at,
        count=longer(wiring.count, 0),
        nets=longer(wiring.nets, 0),
        layers=longer(wiring.layers, 0),
        joints=longer(wiring.joints, -1),
    )
    spots = drilled_spots(wiring)
    every = (1 << len(rules.sides)) - 1
    sides_at = dict.fromkeys(spots, every)
    for pins in problem.pins:
        for pin in (place for each in pins for place in each.places):
            key = (pin.net, int(pin.at.x), int(pin.at.y))
            sides_at[key] = sides_at.get(key, 0) | sum(1 << s for s in pin.sides)
    return Taut(
        problem,
        rules,
        copy,
        with_vias(problem, wiring, rules),
        links,
        frozenset((x, y) for _, x, y in spots),
        sides_at,
        np.zeros(links + spare, np.bool_),
    )
