"""Complete attempts on one grid, in several orders, and the choice of the best."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from boardgen.layout.route.bounds import spanning_length
from boardgen.layout.route.grid import Grid
from boardgen.layout.route.kernels import STEP, negotiate
from boardgen.layout.route.problem import Problem
from boardgen.layout.route.rules import RoutingRules

Array = Any

SIDE_COST = 4 * STEP  # starting on the less preferred side costs this much track
VIA_COSTS = (80 * STEP, 80 * STEP, 40 * STEP, 15 * STEP)
# price of crossing another's ground: at first, growth in percent, most, and lasting rise (measured best)
TERMS = (6 * STEP, 150, 120 * STEP, STEP)
ROUNDS = 40  # most rounds of bargaining in one attempt
POLISH = 1  # rounds in which each net looks for a better way among the others
SHORTER = 1  # further attempts at most when the first is complete but some net goes a long way round
FAIR = 1.03  # a whole this many times its least needs none of them
FAR = 1.25  # a whole longer than this many times its least, by more than a via, is tried with vias
WORK = 5_000_000  # searches times cells of an attempt up to which another for length alone is worth its time
DETOUR, DETOUR_COST = 1.05, 3 * STEP  # a net this many times its least, and this much more, takes a detour
NO_WAY = 1  # the state of a net that finds no way even past nobody
PATIENCE = 3  # rounds without progress before an attempt settles


@dataclass(frozen=True, slots=True)
class Attempt:
    """One attempt: each net's branches as node sequences, and its state (0 is complete)."""

    branches: tuple[tuple[tuple[int, ...], ...], ...]
    state: tuple[int, ...]
    vias: int
    lengths: tuple[int, ...]  # of each net, in cost units of the grid
    rounds: int
    work: int = 0  # searches made, times the cells of the grid
    given_up: bool = False  # some net has no way on this grid, and nothing is settled

    @property
    def length(self) -> int:
        """Length of all nets, in cost units of the grid."""
        return sum(self.lengths)

    @property
    def missing(self) -> int:
        """How many nets are not complete."""
        return sum(1 for s in self.state if s)


def _orders(problem: Problem) -> list[list[int]]:
    """Orders worth trying: short nets first, long first, then fixed shuffles."""

    def span(n: int) -> tuple[int, int, int]:
        xs = [int(pin.at.x) for pin in problem.pins[n]]
        ys = [int(pin.at.y) for pin in problem.pins[n]]
        wide = -int(problem.half[n])
        return (wide, (max(xs) - min(xs)) + (max(ys) - min(ys)), n)

    short = sorted(problem.todo, key=span)
    result = [short, short[::-1]]
    seed = 12345
    for _ in range(3):
        shuffled = short[:]
        for i in range(len(shuffled) - 1, 0, -1):
            seed = (seed * 1103515245 + 12345) % (1 << 31)
            j = (seed >> 8) % (i + 1)
            shuffled[i], shuffled[j] = shuffled[j], shuffled[i]
        result.append(shuffled)
    return result


def _run(problem: Problem, grid: Grid, order: list[int], via_cost: int, strict: bool = False) -> Attempt:
    nets = len(problem.names)
    nodes = int(grid.shape.prod())
    fair = max(6 * int(grid.shape[0] + grid.shape[1]), nodes // 8)
    each = min(nodes, max(fair, 20_000)) + 64
    todo = frozenset(problem.todo)
    room = [each * min(3, len(p) - 1) if n in todo else 0 for n, p in enumerate(problem.pins)]
    path_at = np.zeros(nets + 1, np.int64)
    path_at[1:] = np.cumsum(room)
    paths = np.empty(int(path_at[-1]) + 1, np.int32)
    lengths = np.zeros(nets, np.int64)
    state = np.zeros(nets, np.int32)
    layers = int(grid.shape[2])
    side_cost = np.array([0, SIDE_COST][:layers], np.int64)
    info = negotiate(
        grid.shape,
        problem.kinds,
        grid.stat,
        grid.via_stat,
        side_cost,
        grid.discs,
        grid.disc_at,
        grid.pin_at,
        grid.cell_at,
        grid.cells,
        np.array(order, np.int32),
        via_cost,
        ROUNDS,
        PATIENCE,
        POLISH,
        np.array(TERMS, np.int64),
        strict,
        path_at,
        paths,
        lengths,
        state,
    )
    branches: list[tuple[tuple[int, ...], ...]] = []
    vias = 0
    totals = []
    width = int(grid.shape[0])
    plane = width * int(grid.shape[1])
    for n in range(nets):
        mine: list[tuple[int, ...]] = []
        total = 0
        if lengths[n] > 0:
            row = paths[path_at[n] : path_at[n] + lengths[n]]
            stops = np.nonzero(row < 0)[0]
            start = 0
            for stop in stops.tolist():
                piece = row[start:stop]
                start = stop + 1
                rest = piece % plane
                dx = np.abs(np.diff(rest % width))
                dy = np.abs(np.diff(rest // width))
                far = np.maximum(dx, dy)
                vias += int(np.count_nonzero(far != 1))
                total += int(far.sum()) * STEP + 41 * int(np.minimum(dx, dy).sum())
                mine.append(tuple(piece.tolist()))
        branches.append(tuple(mine))
        totals.append(total)
    return Attempt(
        branches=tuple(branches),
        state=tuple(state.tolist()),
        vias=vias,
        lengths=tuple(totals),
        rounds=int(info[0]),
        work=int(info[1]) * nodes,
        given_up=bool(info[3]),
    )


def route_flat(problem: Problem, grid: Grid, order: list[int]) -> Attempt:
    """Return one attempt without vias at the nets of *order*."""
    return _run(problem, grid, order, -1)


def best_attempt(
    problem: Problem, grid: Grid, rules: RoutingRules, strict: bool = False, known: Attempt | None = None
) -> tuple[Attempt, int]:
    """Return the best of at most ``rules.passes`` attempts and how many were made.

    Vias are forbidden at first; the first complete attempt without
    any ends the search, but for a few more that may be shorter. Fewest missing
    nets win, then fewest vias, then length. With *strict* the first attempt is
    given up where a net has no way on this grid. *known* is what the first would
    come to on this very grid, where that is known.
    """
    orders = _orders(problem)
    drilled = rules.allow_vias and int(grid.shape[2]) == 2
    # other orders seldom do without vias what the first cannot: they are for boards that may have none
    flat = [(0, -1)] if drilled or rules.shy else [(0, -1), (1, -1), (2, -1)]
    deep = list(enumerate((*VIA_COSTS, VIA_COSTS[-1]))) if drilled else []
    plans = flat if rules.shy else flat + deep
    best: Attempt | None = None
    made = 0
    complete_with_vias = 0
    while plans and made < rules.passes:
        which, via_cost = plans.pop(0)
        if known is not None and made == 0:
            attempt = replace(known, given_up=strict and NO_WAY in known.state)
        else:
            attempt = _run(problem, grid, orders[which], via_cost, strict and made == 0)
        made += 1
        if attempt.given_up:
            return attempt, made
        if made == 2 and via_cost < 0 and best is not None and attempt.missing == best.missing:
            plans = []  # the order makes no difference here
        if best is None or (attempt.missing, attempt.vias, attempt.length) < (
            best.missing,
            best.vias,
            best.length,
        ):
            best = attempt
        lost = sum(1 for s in attempt.state if s == 2)
        if lost == 0 and (attempt.missing == 0 or via_cost >= 0 or not drilled):
            break  # more orders cannot help what no order hinders
        if lost == 0 and attempt.missing:
            plans = [plan for plan in plans if plan[1] >= 0]
        if attempt.missing == 0:
            complete_with_vias += 1
            if complete_with_vias == 2:
                break
    if best is None:
        raise ValueError("at least one pass is needed")
    coarse = grid.step >= max(rules.grids)  # a fine grid costs several times more: it is for boards in need
    if made == 1 and best.missing == 0 and coarse and best.work <= WORK:
        best, more = _shorter(problem, grid, orders[0], best, rules.passes - made)
        made += more
    if drilled and best.missing == best.vias == 0 and made < rules.passes:
        spare = best.length - FAR * sum(_leasts(problem, grid))
        if spare > VIA_COSTS[0]:  # so far round that a person would drill
            attempt = _run(problem, grid, orders[0], VIA_COSTS[0])
            made += 1
            if attempt.missing == 0 and attempt.length + attempt.vias * VIA_COSTS[0] < best.length:
                best = attempt
    return best, made


def _leasts(problem: Problem, grid: Grid) -> list[float]:
    """Return for each net the length of 45-degree tracks from pad to pad, in cost units of *grid*."""
    least = [0.0] * len(problem.names)
    for n in problem.todo:
        tree = spanning_length(tuple(pin.at for pin in problem.pins[n]), octilinear=True)
        least[n] = tree / grid.step * STEP
    return least


def _shorter(problem: Problem, grid: Grid, order: list[int], best: Attempt, most: int) -> tuple[Attempt, int]:
    """Return the shortest of *best* and of attempts in which the worst detours go first, and their number."""
    least = _leasts(problem, grid)
    first: list[int] = []
    latest = best
    made = 0
    while made < min(SHORTER, most) and best.length > FAIR * sum(least):
        over = {
            n: latest.lengths[n] - least[n]
            for n in problem.todo
            if n not in first and latest.lengths[n] > max(DETOUR * least[n], least[n] + DETOUR_COST)
        }
        if not over:
            break
        first.insert(0, max(over, key=lambda n: (over[n], -n)))
        latest = _run(problem, grid, first + [n for n in order if n not in first], -1)
        made += 1
        if (latest.missing, latest.length) < (best.missing, best.length):
            best = latest
    return best, made
