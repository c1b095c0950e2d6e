"""Fewer crossings for a little more length: swaps, moves to free pins, and rings of three."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from boardgen.circuit.assign_problem import Problem, keeps_ties
from boardgen.floorplan.wires import crossings

CROSSING_NM = 4_000_000  # nm of length a crossing is worth: what a detour round one pad pair costs
ROUNDS = 12

Floats = NDArray[np.float64]


def pairs_crossing(starts: Floats, ends: Floats) -> NDArray[np.bool_]:
    """Return the symmetric matrix of properly crossing segments; NaN ends cross nothing."""
    way = ends - starts

    def side(points: Floats) -> Floats:
        rel = points[None, :, :] - starts[:, None, :]
        return np.asarray(way[:, None, 0] * rel[:, :, 1] - way[:, None, 1] * rel[:, :, 0])

    with np.errstate(invalid="ignore"):
        split = side(starts) * side(ends) < 0
    return np.asarray(split & split.T)


def improve(problem: Problem, chosen: list[int], starts: Floats, ends: Floats) -> list[int]:
    """Return a choice no worse in length plus :data:`CROSSING_NM` a crossing, all ties kept.

    *starts* (requests x 2) and *ends* (columns x 2) are positions in nm, NaN
    for a request without an anchor. Moves touch a segment that crosses another.
    """
    best = list(chosen)
    if len(best) < 2:
        return best
    value, crossing = _value(problem, best, starts, ends)
    for _ in range(ROUNDS):
        if not crossing.any():
            break
        found: tuple[float, list[int]] | None = None
        for trial in _moves(problem, best, crossing):
            length = float(problem.cost[np.arange(len(trial)), trial].sum())
            if length >= (value if found is None else found[0]):
                continue
            worth = length + CROSSING_NM * crossings(starts, ends[trial])
            if worth < (value if found is None else found[0]) - 1.0 and keeps_ties(problem, trial):
                found = (worth, trial)
        if found is None:
            break
        best = found[1]
        value, crossing = _value(problem, best, starts, ends)
    return best


def _value(
    problem: Problem, chosen: list[int], starts: Floats, ends: Floats
) -> tuple[float, NDArray[np.bool_]]:
    crossing = pairs_crossing(starts, ends[chosen])
    length = float(problem.cost[np.arange(len(chosen)), chosen].sum())
    return length + CROSSING_NM * int(np.triu(crossing, 1).sum()), crossing


def _moves(problem: Problem, chosen: list[int], crossing: NDArray[np.bool_]) -> Iterator[list[int]]:
    allowed = problem.allowed
    held = set(problem.fixed)
    free = sorted(set(range(allowed.shape[1])) - set(chosen))
    restless = [row for row in np.flatnonzero(crossing.any(axis=1)).tolist() if row not in held]
    for row in restless:
        for column in free:
            if allowed[row, column]:
                yield _with(chosen, {row: column})
        for other in range(len(chosen)):
            if other == row or other in held or (other in restless and other < row):
                continue
            if allowed[row, chosen[other]] and allowed[other, chosen[row]]:
                yield _with(chosen, {row: chosen[other], other: chosen[row]})
        partners = [o for o in np.flatnonzero(crossing[row]).tolist() if o not in held]
        for a, b in permutations(partners, 2):
            if allowed[row, chosen[a]] and allowed[a, chosen[b]] and allowed[b, chosen[row]]:
                yield _with(chosen, {row: chosen[a], a: chosen[b], b: chosen[row]})


def _with(chosen: list[int], changes: dict[int, int]) -> list[int]:
    trial = list(chosen)
    for row, column in changes.items():
        trial[row] = column
    return trial
