"""Attempts on one copper side: first without wire links, then with them and with repairs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from boardgen.board.model import Board
from boardgen.layout.route.attempts import Attempt, _orders
from boardgen.layout.route.grid import Grid
from boardgen.layout.route.kernels import STEP
from boardgen.layout.route.problem import Problem
from boardgen.layout.route.rules import RoutingRules
from boardgen.layout.route.wirebargain import wire_bargain
from boardgen.layout.route.wirefield import Field
from boardgen.layout.route.wiregrid import wire_field

Array = Any

# price of crossing another's ground: at first, growth in percent, most, and lasting rise;
# in a repair: price of crossing, and lasting rise
TERMS = (6 * STEP, 150, 120 * STEP, STEP, 20 * STEP, 2 * STEP)


@dataclass(frozen=True, slots=True)
class Effort:
    """How hard an attempt tries: without links first, rounds, rounds without progress, and repairs."""

    flat: bool
    rounds: int
    patience: int
    repairs: int


FLAT = Effort(True, 12, 4, 0)
# at full width, with the stuck nets narrow, with all of them narrow
EFFORTS = (Effort(True, 30, 8, 40), Effort(False, 30, 8, 60), Effort(False, 30, 8, 150))
POLISH = 1  # rounds in which each net looks for a better way among the others


def best_linked(
    board: Board, problem: Problem, grid: Grid, rules: RoutingRules, effort: Effort
) -> tuple[Attempt, int]:
    """Return the best attempt on one copper side and how many were made."""
    field = wire_field(board, problem, rules, grid)
    order = _orders(problem)[0]
    if effort.flat:
        attempt = _run(problem, field._replace(wire=np.array([-1, *field.wire[1:]], np.int64)), order, FLAT)
        if not attempt.missing:
            return attempt, 1
    return _run(problem, field, order, effort), 1 + effort.flat


def _run(problem: Problem, field: Field, order: list[int], effort: Effort) -> Attempt:
    nets = len(problem.names)
    plane = field.width * field.height
    each = min(plane, max(12 * (field.width + field.height), plane // 4, 20_000)) + 64
    todo = frozenset(problem.todo)
    path_at = np.zeros(nets + 1, np.int64)
    path_at[1:] = np.cumsum(
        [each * min(3, len(p) - 1) if n in todo else 0 for n, p in enumerate(problem.pins)]
    )
    paths = np.empty(int(path_at[-1]) + 1, np.int32)
    lengths, state = np.zeros(nets, np.int64), np.zeros(nets, np.int32)
    info = wire_bargain(
        field, np.array(order, np.int32), effort.rounds, effort.patience, POLISH, effort.repairs,
        np.array(TERMS, np.int64), path_at, paths, lengths, state,
    )  # fmt: skip
    branches: list[tuple[tuple[int, ...], ...]] = []
    totals: list[int] = []
    links = 0
    for n in range(nets):
        row = paths[path_at[n] : path_at[n] + lengths[n]]
        pieces = np.split(row, np.nonzero(row < 0)[0] + 1)
        mine = [piece[:-1] for piece in pieces if len(piece) > 1]
        total = 0
        for piece in mine:
            dx = np.abs(np.diff(piece % field.width))
            dy = np.abs(np.diff(piece // field.width))
            far = np.maximum(dx, dy)
            links += int(np.count_nonzero(far > 1))
            total += int(far.sum()) * STEP + 41 * int(np.minimum(dx, dy).sum())
        branches.append(tuple(tuple(piece.tolist()) for piece in mine))
        totals.append(total)
    return Attempt(tuple(branches), tuple(state.tolist()), links, tuple(totals), int(info[0]))
