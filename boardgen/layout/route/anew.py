"""Nets that go a long way round, led anew on the fine grid together with those in their way.

Bargaining finds a way for every net, not always the shortest: a net may go round a connector's shell because
another took the gap. The worst are looked at once more, past all other tracks where they lie exactly.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np

from boardgen.board.model import Board
from boardgen.layout.route.attempts import route_flat
from boardgen.layout.route.bounds import spanning_length
from boardgen.layout.route.exact import pull_tight, with_vias
from boardgen.layout.route.grid import build_grid
from boardgen.layout.route.kernels import crossed
from boardgen.layout.route.problem import Bars, Problem
from boardgen.layout.route.rules import RoutingRules
from boardgen.layout.route.trace import Wiring, joined, trace

Array = Any

DETOUR, DETOUR_NM = 1.3, 6e6  # times, and nm, longer than 45-degree tracks need: a net worth another look
GAIN_NM = 3e6  # nm that new ways must spare
VIA_NM = 5e6  # nm of track that a via is worth
MANY = 2  # nets that are looked at, the worst first
CROWD = 3  # nets that may have to move for one


@dataclass(slots=True)
class _Laid:
    """A board and its wiring while nets are led anew."""

    board: Board
    problem: Problem
    rules: RoutingRules
    wiring: Wiring


def led_anew(board: Board, problem: Problem, wiring: Wiring, rules: RoutingRules) -> Wiring | None:
    """Return *wiring* with its worst detours led shorter on the finest grid; None where none can be.

    A detour comes with what lies in its way; all other tracks stand. No via is added. The result is pulled
    tight, and has still to be measured.
    """
    laid = _Laid(board, problem, rules, wiring)
    costs = _costs(problem, wiring)
    over = []
    for n in problem.todo:
        least = spanning_length(tuple(pin.at for pin in problem.pins[n]), octilinear=True)
        if costs[n] > max(DETOUR * least, least + DETOUR_NM):
            over.append((least - costs[n], n))
    moved = [_move(laid, n) for _, n in sorted(over)[:MANY]]
    if not any(moved):
        return None
    pull_tight(problem, laid.wiring, rules)
    return laid.wiring


def _costs(problem: Problem, wiring: Wiring) -> list[float]:
    """Return the track length of each net with what its vias are worth, nm."""
    found = wiring.lengths(len(problem.names))
    for n, _x, _y in wiring.vias:
        found[n] += VIA_NM
    return found


def _move(laid: _Laid, n: int) -> bool:
    """Lead net *n* shorter, alone or with those in its way; returns whether enough is spared by it."""
    costs = _costs(laid.problem, laid.wiring)
    free = _led(laid, [n], ())
    if free is None:
        return False
    most = costs[n] - _costs(laid.problem, free)[n]  # what can be spared at all
    crowd = _in_the_way(laid, free, n)
    nets = {int(m) for m in laid.wiring.nets}
    gain, best, led = 0.0, None, [n]
    for moving in ([n], [n, *crowd]) if 0 < len(crowd) <= CROWD else ([n],):
        if most - gain < GAIN_NM:
            break
        new = _led(laid, moving, nets - set(moving))
        if new is not None:
            after = _costs(laid.problem, new)
            spared = sum(costs[m] - after[m] for m in moving)
            if spared >= gain + GAIN_NM:
                gain, best, led = spared, new, moving
    if best is None:
        return False
    kept = [i for i, m in enumerate(laid.wiring.nets.tolist()) if m not in led]
    laid.wiring = joined(laid.wiring, kept, best, [via for via in laid.wiring.vias if via[0] not in led])
    return True


def _in_the_way(laid: _Laid, way: Wiring, n: int) -> list[int]:
    """Return the other nets that come too near to *way* of net *n*, those with most links there first."""
    problem, wiring = laid.problem, laid.wiring
    found: Counter[int] = Counter()
    hit = np.zeros(len(wiring.count), np.bool_)
    for i in range(len(way.count)):
        spots = np.array(way.link(i), np.int64)
        crossed(
            spots, len(spots), n, int(way.layers[i]), wiring.points, wiring.at, wiring.count, wiring.nets,
            wiring.layers, problem.half, problem.spacing, hit,
        )  # fmt: skip
        found.update(wiring.nets[hit].tolist())
    return [m for m, _ in sorted(found.items(), key=lambda one: (-one[1], one[0]))]


def _led(laid: _Laid, moving: list[int], standing: Collection[int]) -> Wiring | None:
    """Return the links of the nets *moving*, led past those of *standing*; None where one finds no way."""
    problem, wiring, rules = laid.problem, laid.wiring, laid.rules
    links = [i for i, m in enumerate(wiring.nets.tolist()) if m in standing]
    apart = replace(wiring, vias=[via for via in wiring.vias if via[0] in standing])
    kinds = sorted({int(problem.kinds[m]) for m in moving})
    row = np.zeros(len(problem.classes), problem.kinds.dtype)
    row[kinds] = np.arange(len(kinds))
    alone = replace(
        problem,
        todo=tuple(moving),
        bars=_with_links(problem, wiring, with_vias(problem, apart, rules), links),
        classes=tuple(problem.classes[k] for k in kinds),
        kinds=row[problem.kinds],
    )
    grid = build_grid(laid.board, alone, replace(rules, allow_vias=False), int(rules.grids[-1]))
    attempt = route_flat(alone, grid, moving)
    if attempt.missing:
        return None
    new = trace(alone, grid, attempt)
    pull_tight(alone, new, rules)
    return new


def _with_links(problem: Problem, wiring: Wiring, bars: Bars, links: list[int]) -> Bars:
    """Return *bars* with the tracks of *links* among them."""
    pieces = [(i, (*a, *b)) for i in links for a, b in pairwise(wiring.link(i))]
    if not pieces:
        return bars
    rows = np.array([i for i, _ in pieces], np.int64)
    nets = wiring.nets[rows].astype(np.int32)
    return Bars(
        line=np.vstack([bars.line, np.array([line for _, line in pieces], np.float64)]),
        radius=np.append(bars.radius, problem.half[nets]),
        gap=np.append(bars.gap, problem.spacing[nets]),
        copper=np.append(bars.copper, np.ones(len(rows), np.bool_)),
        net=np.append(bars.net, nets),
        mask=np.append(bars.mask, (1 << wiring.layers[rows]).astype(np.int32)),
    )
