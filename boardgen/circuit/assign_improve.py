"""Fewer crossings for a little more length: moves to free pins, swaps, and rings of three."""

from __future__ import annotations

from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from boardgen.circuit.assign_problem import Problem, keeps_ties

CROSSING_NM = 4_000_000  # nm of length a crossing is worth: what a detour round one pad pair costs
ROUNDS = 120
TRIED = 24  # best moves of a round that are held against the ties
RINGS = 8  # rings of three tried once swaps and moves are exhausted

Floats = NDArray[np.float64]


def crossing_table(starts: Floats, ends: Floats, chosen: list[int], rows: list[int]) -> NDArray[np.bool_]:
    """Return whether a segment from each start to each end would cross the chosen segment of each of *rows*.

    Shape (starts, ends, rows); positions in nm, shape (n, 2); NaN crosses nothing.
    """
    a = starts[:, None, None, :]
    b = ends[None, :, None, :]
    c = starts[rows][None, None, :, :]
    d = ends[[chosen[row] for row in rows]][None, None, :, :]

    def turn(p: Floats, q: Floats, r: Floats) -> Floats:
        return np.asarray(
            (q[..., 0] - p[..., 0]) * (r[..., 1] - p[..., 1])
            - (q[..., 1] - p[..., 1]) * (r[..., 0] - p[..., 0])
        )

    with np.errstate(invalid="ignore"):
        return np.asarray((turn(a, b, c) * turn(a, b, d) < 0) & (turn(c, d, a) * turn(c, d, b) < 0))


class _State:
    """A choice with, for every pair, how many chosen segments it would cross."""

    def __init__(
        self,
        problem: Problem,
        chosen: list[int],
        starts: Floats,
        ends: Floats,
        price: int,
        meet: NDArray[np.bool_] | None,
    ) -> None:
        self.problem = problem
        self.meet = np.ones((len(chosen), len(chosen)), dtype=bool) if meet is None else meet
        self.price = price
        self.starts = starts
        self.ends = ends
        self.chosen = list(chosen)
        self.rows = np.arange(len(chosen))
        self.hits = crossing_table(starts, ends, self.chosen, list(range(len(chosen))))
        self.hits &= self.meet[:, None, :]
        self.counts = self.hits.sum(axis=2).astype(np.int64)

    @property
    def own(self) -> NDArray[np.int64]:
        """Crossings of each chosen segment."""
        return np.asarray(self.counts[self.rows, self.chosen])

    def value(self) -> float:
        """Length plus the price of the crossings, nm."""
        length = float(self.problem.cost[self.rows, self.chosen].sum())
        return length + self.price * int(self.own.sum()) / 2

    def take(self, changes: dict[int, int]) -> None:
        """Give rows new columns and bring the counts up to date."""
        rows = sorted(changes)
        self.counts -= self.hits[:, :, rows].sum(axis=2)
        for row, column in changes.items():
            self.chosen[row] = column
        found = crossing_table(self.starts, self.ends, self.chosen, rows)
        self.hits[:, :, rows] = found & self.meet[:, None, rows]
        self.counts += self.hits[:, :, rows].sum(axis=2)

    def moves(self) -> list[tuple[float, dict[int, int]]]:
        """Return the moves and swaps that gain most, the best first, with their gain (nm, negative)."""
        problem, chosen = self.problem, np.array(self.chosen)
        own = self.own
        held = np.zeros(len(chosen), dtype=bool)
        held[list(problem.fixed)] = True
        cost_now = problem.cost[self.rows, chosen]
        free = np.ones(problem.cost.shape[1], dtype=bool)
        free[chosen] = False
        shift = problem.cost - cost_now[:, None] + self.price * (self.counts - own[:, None])
        # A row's own old segment shares its start and never counts as crossed.
        shift = np.where(problem.allowed & free[None, :] & ~held[:, None], shift, np.inf)
        across = problem.cost[:, chosen]
        meets = self.hits[self.rows, chosen]  # [a, b]: the chosen segments of a and b cross
        swapped = self._swapped()
        count = self.counts[:, chosen]  # [a, b]: crossings of a's start to b's end
        swap = (across - cost_now[:, None]) + (across.T - cost_now[None, :])
        swap = swap + self.price * (count + count.T + swapped - own[:, None] - own[None, :] + meets)
        fits = problem.allowed[:, chosen]
        fits = fits & fits.T & ~held[:, None] & ~held[None, :]
        swap = np.where(np.triu(fits, 1), swap, np.inf)
        found: list[tuple[float, dict[int, int]]] = []
        for table, is_swap in ((shift, False), (swap, True)):
            flat = np.argsort(table, axis=None, kind="stable")[:TRIED]
            for a, b in zip(*np.unravel_index(flat, table.shape), strict=True):
                gain = float(table[a, b])
                if gain >= -1.0:
                    break
                row, other = int(a), int(b)
                if is_swap:
                    found.append((gain, {row: self.chosen[other], other: self.chosen[row]}))
                else:
                    found.append((gain, {row: other}))
        return sorted(found, key=lambda item: (item[0], sorted(item[1].items())))

    def _swapped(self) -> NDArray[np.bool_]:
        """Return [a, b]: whether a's and b's segments cross once they have changed ends."""
        a, b = self.starts[:, None, :], self.starts[None, :, :]
        end = self.ends[self.chosen]
        d, c = end[:, None, :], end[None, :, :]  # a goes to c (b's end), b goes to d (a's end)

        def turn(p: Floats, q: Floats, r: Floats) -> Floats:
            return np.asarray(
                (q[..., 0] - p[..., 0]) * (r[..., 1] - p[..., 1])
                - (q[..., 1] - p[..., 1]) * (r[..., 0] - p[..., 0])
            )

        with np.errstate(invalid="ignore"):
            crossed = (turn(a, c, b) * turn(a, c, d) < 0) & (turn(b, d, a) * turn(b, d, c) < 0)
        return np.asarray(crossed & self.meet)


def improve(
    problem: Problem,
    chosen: list[int],
    starts: Floats,
    ends: Floats,
    price: int = CROSSING_NM,
    meet: NDArray[np.bool_] | None = None,
) -> tuple[float, list[int]]:
    """Return (value, choice) no worse in length plus *price* (nm) a crossing, all ties kept.

    *starts* (requests x 2) and *ends* (columns x 2) are positions in nm, NaN
    for a request without an anchor. *meet* [a, b] says whether the wires of two
    requests meet where they cross (None: all do).
    """
    state = _State(problem, chosen, starts, ends, price, meet)
    if len(chosen) < 2:
        return state.value(), state.chosen
    for _ in range(ROUNDS):
        if not state.own.any():
            break
        lawful = (
            changes for _, changes in state.moves() if keeps_ties(problem, _with(state.chosen, changes))
        )
        changes = next(lawful, None) or _ring(state)
        if changes is None:
            break
        state.take(changes)
    return state.value(), state.chosen


def _ring(state: _State) -> dict[int, int] | None:
    """Return a ring of three mutually tangled rows that gains, or None.

    Only rings that could gain if the three came out clear of each other are tried.
    """
    problem, chosen = state.problem, state.chosen
    held = set(problem.fixed)
    meets = state.hits[state.rows, chosen]
    worth = problem.cost + state.price * state.counts
    value = state.value()
    now = worth[state.rows, chosen]
    tried = 0
    for row in np.flatnonzero(meets.any(axis=1)).tolist():
        partners = [o for o in np.flatnonzero(meets[row]).tolist() if o > row and o not in held]
        if row in held:
            continue
        for a, b in permutations(partners, 2):
            hoped = worth[row, chosen[a]] + worth[a, chosen[b]] + worth[b, chosen[row]]
            if hoped - now[row] - now[a] - now[b] >= 0 or not (
                problem.allowed[row, chosen[a]]
                and problem.allowed[a, chosen[b]]
                and problem.allowed[b, chosen[row]]
            ):
                continue
            changes = {row: chosen[a], a: chosen[b], b: chosen[row]}
            if not keeps_ties(problem, _with(chosen, changes)):
                continue
            tried += 1
            if tried > RINGS:
                return None
            before = {r: chosen[r] for r in changes}
            state.take(changes)
            gained = state.value() < value - 1.0
            state.take(before)
            if gained:
                return changes
    return None


def _with(chosen: list[int], changes: dict[int, int]) -> list[int]:
    trial = list(chosen)
    for row, column in changes.items():
        trial[row] = column
    return trial
