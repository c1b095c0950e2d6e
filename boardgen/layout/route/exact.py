"""Exact geometry after the grid: links pulled tight, then everything measured once more."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from boardgen.layout.route.kernels import SLIP, breaches, gap2, tighten
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
    for i, (n, x, y) in enumerate(drilled):
        space = float(problem.spacing[n])
        for k in range(len(bars.line)):
            if int(bars.net[k]) == n:
                continue
            gap = max(float(bars.gap[k]), space) if bars.copper[k] else float(bars.gap[k])
            need = radius + float(bars.radius[k]) + gap - SLIP
            if gap2(x, y, x, y, *bars.line[k]) < need * need:
                bad.add(n)
        for ax, ay, bx, by, r in problem.holes:
            need = hole + r + float(rules.hole_gap) - SLIP
            if gap2(x, y, x, y, ax, ay, bx, by) < need * need:
                bad.add(n)
        for m, u, v in drilled[:i]:
            need = 2 * hole + float(rules.hole_gap) - SLIP
            if (x - u) ** 2 + (y - v) ** 2 < need * need:
                bad.add(max(n, m))
    return bad
