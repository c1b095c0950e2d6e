"""Attempts on one copper side: first without wire links, then with them and with repairs."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, auto
from typing import Any

import numpy as np

from boardgen.board.model import Board
from boardgen.layout.route.attempts import Attempt, _orders
from boardgen.layout.route.grid import Grid
from boardgen.layout.route.kernels import STEP
from boardgen.layout.route.problem import Problem
from boardgen.layout.route.rules import RoutingRules
from boardgen.layout.route.wirebargain import Bargain, Terms
from boardgen.layout.route.wirefield import Field
from boardgen.layout.route.wiregrid import wire_field
from boardgen.units import Nm, mm

Array = Any

TERMS = Terms(6 * STEP, 200, 120 * STEP, STEP, 20 * STEP, 2 * STEP)


class Narrow(Enum):
    """Which nets run at their narrowest."""

    NONE = auto()
    STUCK = auto()
    ALL = auto()


@dataclass(frozen=True, slots=True)
class Effort:
    """How hard an attempt tries: without links first, rounds, rounds without progress, and repairs.

    It is made where no more nets than *most* are open, with the nets of *narrow* narrow, on a *grid* of its
    own where one is given. Where *after* rounds more than *share* percent of the nets are in dispute, it
    stops bargaining. Where more nets than *few* are open after that, nothing is repaired, and no more than
    *idle* times in turn where none is closed.
    """

    flat: bool
    rounds: int
    patience: int
    repairs: int
    after: int
    share: int
    few: int = 6
    idle: int = 40
    narrow: Narrow = Narrow.NONE
    most: int = 1 << 20
    grid: Nm | None = None


FLAT = Effort(True, 5, 2, 0, 1, 50)
# The last is for boards that lack little: on a twelfth of the pad pitch 0.4 mm tracks that keep 0.4 mm lie
# 0.85 mm apart, not 0.95, but it takes three times as long.
EFFORTS = (
    Effort(True, 30, 5, 40, 5, 40, idle=20),
    Effort(False, 30, 5, 60, 5, 40, idle=20, narrow=Narrow.STUCK, most=4),
    Effort(False, 30, 8, 150, 10, 60, few=12, narrow=Narrow.ALL),
    Effort(False, 30, 8, 150, 10, 60, few=12, narrow=Narrow.ALL, most=5, grid=mm("0.211667")),
)


def best_linked(
    board: Board, problem: Problem, grid: Grid, rules: RoutingRules, effort: Effort, strict: bool
) -> tuple[Attempt, int]:
    """Return the best attempt on one copper side and how many were made.

    With *strict* it is given up early where the others' width is to blame (see Bargain.bargain):
    the states alone are told then.
    """
    field = wire_field(board, problem, rules, grid)
    order = _orders(problem)[0]
    if effort.flat:
        attempt = _run(field._replace(wire=np.array([-1, *field.wire[1:]], np.int64)), order, FLAT, True)
        if not attempt.given_up and not attempt.missing:
            return attempt, 1
    return _run(field, order, effort, strict), 1 + effort.flat


def _run(field: Field, order: list[int], effort: Effort, strict: bool) -> Attempt:
    table = Bargain(field, order, TERMS)
    if not table.bargain(effort.rounds, effort.patience, strict, effort.after, effort.share):
        nets = len(table.paths)
        return Attempt(((),) * nets, tuple(table.state), 0, (0,) * nets, table.rounds, given_up=True)
    if table.missing <= effort.few:
        table.repair(effort.repairs, effort.idle)
    table.polish()
    table.finish()
    branches: list[tuple[tuple[int, ...], ...]] = []
    totals: list[int] = []
    links = 0
    for row in table.paths:
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
    return Attempt(tuple(branches), tuple(table.state), links, tuple(totals), table.rounds)
