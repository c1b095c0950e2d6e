"""The cheapest assignment that keeps every tie: branch and bound over assignment relaxations.

A relaxation (who may go where, ties ignored) is solved exactly by the
assignment method; where its answer breaks a tie, the search splits on that tie
so that no feasible answer is lost. Nodes are taken cheapest first, so the first
answer that keeps all ties is a cheapest one.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from itertools import pairwise, product

import numpy as np
from numpy.typing import NDArray

from boardgen.circuit.assign_milp import solve_program
from boardgen.circuit.assign_problem import (
    Bools,
    GroupTie,
    Problem,
    bus_fault,
    bus_instances,
    consecutive_runs,
    function_clash,
    group_kept,
)
from boardgen.matching import cheapest_pairing

NODE_LIMIT = 20_000
MORE = 300  # nodes spent on further ways once a cheapest one is known
# Breaks ties of distance the same way everywhere: far below a nm in sum, far above float noise.
_TIE = 1e-3


def tied_cost(problem: Problem) -> NDArray[np.float64]:
    """Return the distances with a trace of preference, so that equal choices have one winner."""
    rows, columns = problem.cost.shape
    trace = np.outer(np.arange(1, rows + 1) / max(rows, 1), np.arange(1, columns + 1) / max(columns, 1))
    return problem.cost - trace * _TIE + np.arange(columns)[None, :] * (_TIE * 1e-1)


def relaxed(cost: NDArray[np.float64], allowed: Bools) -> tuple[float, list[int]] | None:
    """Return the least cost and a column per row, or None where the rows do not fit."""
    if cost.shape[0] == 0:
        return 0.0, []
    if cost.shape[0] > cost.shape[1]:
        return None
    columns = cheapest_pairing(np.where(allowed, cost, np.inf))
    if columns is None:
        return None
    return float(cost[np.arange(len(columns)), columns].sum()), [int(c) for c in columns]


def bound(problem: Problem) -> float:
    """Return the least sum of distances any allowed choice has, ties ignored (nm); inf for none."""
    solved = relaxed(problem.cost, problem.allowed)
    return float("inf") if solved is None else solved[0]


def solve(problem: Problem, limit: int = NODE_LIMIT) -> list[int] | None:
    """Return a cheapest choice of columns that keeps all ties, or None where there is none.

    Past *limit* nodes the rest is left to an integer program.
    """
    return next(solutions(problem, limit), None)


def solutions(problem: Problem, limit: int = NODE_LIMIT) -> Iterator[list[int]]:
    """Yield choices that keep all ties, the cheapest first: one for each way the ties were split."""
    cost = tied_cost(problem)
    first = relaxed(cost, problem.allowed)
    if first is None:
        return
    count = 0
    # A node waits with a bound and is solved when its turn comes: most never come.
    heap: list[tuple[float, int, list[int] | None, Bools]] = [(first[0], 0, first[1], problem.allowed)]
    found = 0
    while heap:
        if found and count > found + MORE:
            return
        if count > limit:
            last = None if found else solve_program(problem, cost)
            if last is not None:
                yield last
            return
        bound_here, order, chosen, allowed = heapq.heappop(heap)
        if chosen is None:
            solved = relaxed(cost, allowed)
            if solved is None:
                continue
            count += 1
            key = max(solved[0], bound_here)
            heapq.heappush(heap, (key, order, solved[1], allowed))
            continue
        splits = _splits(problem, chosen, allowed)
        if splits is None:
            found = found or count + 1
            yield chosen
            continue
        least, slack = _slack(cost, allowed, chosen)
        for child in splits:
            extra = float(np.where(child, slack, np.inf).min(axis=1).sum())
            if extra == np.inf:
                continue
            count += 1
            key = least + extra - _TIE
            heapq.heappush(heap, (key, count, None, child))


def _slack(cost: NDArray[np.float64], allowed: Bools, chosen: list[int]) -> tuple[float, NDArray[np.float64]]:
    """Return the cost of *chosen* and the reduced costs of all pairs (>= 0) for it.

    Duality of the assignment problem: any choice costs at least the optimum plus
    the reduced costs of its pairs. The columns' prices are shortest paths in
    the residual graph (Bellman-Ford; no negative cycle where *chosen* is optimal).
    """
    rows, columns = cost.shape
    table = np.where(allowed, cost, np.inf)
    own = table[np.arange(rows), chosen]
    step = table - own[:, None]
    price = np.zeros(columns)
    for _ in range(columns):
        lower = np.minimum(price, (step + price[chosen][:, None]).min(axis=0))
        if (lower >= price - 1e-6).all():
            break
        price = lower
    slack = np.maximum(step + price[chosen][:, None] - price[None, :], 0.0)
    return float(own.sum()), slack


def _splits(problem: Problem, chosen: list[int], allowed: Bools) -> Iterator[Bools] | None:
    """Return restrictions that cover every answer left and leave *chosen* out; None if it keeps all ties."""
    broken = [g for g in problem.groups if not group_kept(problem, g, chosen)]
    if broken:
        return _group_splits(problem, max(broken, key=lambda g: len(g.rows)), chosen, allowed)
    name = bus_fault(problem, chosen)
    if name is not None:
        return _bus_splits(problem, allowed)
    clash = function_clash(problem, chosen)
    if clash is not None:
        return _ban(allowed, [(row, chosen[row]) for row in clash])
    return None


def _ban(allowed: Bools, pairs: list[tuple[int, int]]) -> Iterator[Bools]:
    for row, column in pairs:
        child = allowed.copy()
        child[row, column] = False
        yield child


def _group_splits(problem: Problem, group: GroupTie, chosen: list[int], allowed: Bools) -> Iterator[Bools]:
    rows = list(group.rows)
    if group.consecutive:
        for run in consecutive_runs(problem, len(rows)):
            child = allowed.copy()
            child[:, run] = False
            if group.ordered:
                child[rows, :] = False
                child[rows, run] = allowed[rows, run]
            else:
                inside = np.zeros(allowed.shape[1], dtype=bool)
                inside[run] = True
                child[rows, :] = allowed[rows, :] & inside[None, :]
            yield child
        return
    ports = {int(problem.port[chosen[row]]) for row in rows}
    if len(ports) > 1 or -1 in ports:
        for port in sorted({int(p) for p in problem.port if p >= 0}):
            child = allowed.copy()
            child[rows, :] &= (problem.port == port)[None, :]
            yield child
        return
    for a, b in pairwise(rows):
        at = int(problem.index[chosen[a]])
        if at >= int(problem.index[chosen[b]]):
            # Either a stands below its present number, or b above it.
            low, high = allowed.copy(), allowed.copy()
            low[a, problem.index >= at] = False
            high[b, problem.index <= at] = False
            yield low
            yield high
            return


def _bus_splits(problem: Problem, allowed: Bools) -> Iterator[Bools]:
    """Yield a restriction for each way to give the buses distinct peripheral instances."""
    options = []
    for _, rows in problem.buses:
        found = {
            instance
            for row in rows
            for column in np.flatnonzero(allowed[row]).tolist()
            for instance in bus_instances(problem, row, column)
        }
        options.append(sorted(found) or [""])
    for pick in product(*options):
        named = [p for p in pick if p]
        if len(set(named)) < len(named):
            continue
        child = allowed.copy()
        for (_, rows), instance in zip(problem.buses, pick, strict=True):
            for row in rows:
                for column in np.flatnonzero(allowed[row]).tolist():
                    own = bus_instances(problem, row, column)
                    if own and own != {instance}:
                        child[row, column] = instance in own
        if (child != allowed).any():
            yield child
