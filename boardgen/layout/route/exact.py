"""Exact geometry after the grid: links pulled tight, then everything measured once more."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from boardgen.layout.route.kernels import SLIP, breaches, tighten
from boardgen.layout.route.problem import Bars, Problem
from boardgen.layout.route.rules import RoutingRules
from boardgen.layout.route.trace import Wiring

Array = Any

BEND = 50_000  # nm; a 45-degree turn must save this much track to be worth making
ROUNDS = 2


def drilled_spots(wiring: Wiring) -> list[tuple[int, int, int]]:
    """Net and place of every via and of both pads of every wire link."""
    ends = [(n, x, y) for n, x, y, _, _ in wiring.jumps] + [(n, x, y) for n, _, _, x, y in wiring.jumps]
    return wiring.vias + ends


def with_vias(problem: Problem, wiring: Wiring, rules: RoutingRules) -> Bars:
    """The obstacles, with the copper of vias and link pads among them."""
    bars = problem.bars
    extra = drilled_spots(wiring)
    if not extra:
        return bars
    radius = float(rules.link_pad if wiring.jumps else rules.via_diameter) / 2
    count = len(extra)
    nets = np.array([n for n, _, _ in extra], np.int32)
    return replace(
        bars,
        line=np.vstack([bars.line, np.array([(x, y, x, y) for _, x, y in extra], np.float64)]),
        radius=np.append(bars.radius, np.full(count, radius)),
        gap=np.append(bars.gap, problem.spacing[nets]),
        copper=np.append(bars.copper, np.ones(count, np.bool_)),
        net=np.append(bars.net, nets),
        mask=np.append(bars.mask, np.full(count, (1 << len(rules.sides)) - 1, np.int32)),
    )


def pull_tight(problem: Problem, wiring: Wiring, rules: RoutingRules) -> None:
    """Straighten the links of *wiring* in place, keeping every clearance exactly."""
    if not len(wiring.count):
        return
    bars = with_vias(problem, wiring, rules)
    tighten(
        wiring.points,
        wiring.at,
        wiring.count,
        wiring.nets,
        wiring.layers,
        wiring.joints,
        problem.half,
        problem.spacing,
        bars.line,
        bars.radius,
        bars.gap,
        bars.copper,
        bars.net,
        bars.mask,
        BEND,
        ROUNDS,
    )


def faulty_nets(
    problem: Problem, wiring: Wiring, rules: RoutingRules, octilinear: bool = True
) -> tuple[int, ...]:
    """Return the nets whose new copper comes too near to anything, measured exactly.

    With *octilinear* also those with a track in none of the eight directions.
    """
    bad: set[int] = set()
    bars = with_vias(problem, wiring, rules)
    if len(wiring.count):
        found = breaches(
            wiring.points,
            wiring.at,
            wiring.count,
            wiring.nets,
            wiring.layers,
            problem.half,
            problem.spacing,
            bars.line,
            bars.radius,
            bars.gap,
            bars.copper,
            bars.net,
            bars.mask,
            octilinear,
        )
        bad.update(int(wiring.nets[i]) for i in np.nonzero(found)[0])
    bad.update(_faulty_vias(problem, wiring, rules, bars))
    return tuple(sorted(bad))


def _faulty_vias(problem: Problem, wiring: Wiring, rules: RoutingRules, bars: Bars) -> set[int]:
    bad: set[int] = set()
    drilled = drilled_spots(wiring)
    radius = float(rules.link_pad if wiring.jumps else rules.via_diameter) / 2
    hole = float(rules.link_hole if wiring.jumps else rules.via_hole) / 2
    apart = 2 * hole + float(rules.hole_gap) - SLIP
    for i, (n, x, y) in enumerate(drilled):
        gap = np.where(bars.copper, np.maximum(bars.gap, float(problem.spacing[n])), bars.gap)
        near = _away2(x, y, bars.line) < (radius + bars.radius + gap - SLIP) ** 2
        holes = _away2(x, y, problem.holes[:, :4])
        drill = hole + problem.holes[:, 4] + float(rules.hole_gap) - SLIP
        if (near & (bars.net != n)).any() or (holes < drill**2).any():
            bad.add(n)
        for m, u, v in drilled[:i]:
            if (x - u) ** 2 + (y - v) ** 2 < apart * apart:
                bad.add(max(n, m))
    return bad


def _away2(x: float, y: float, lines: Array) -> Array:
    """Return the squared distance of the point (x, y) from each segment, rows (ax, ay, bx, by)."""
    start, along = lines[:, :2], lines[:, 2:] - lines[:, :2]
    from_start = np.array((x, y), np.float64) - start
    length2 = (along**2).sum(axis=1)
    share = (from_start * along).sum(axis=1) / np.where(length2 > 0.0, length2, 1.0)
    miss = from_start - along * np.clip(share, 0.0, 1.0)[:, None]
    return (miss**2).sum(axis=1)
