"""Why no pin map exists: which signals compete for too few pins, in one sentence."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from boardgen.catalog.model import Module
from boardgen.circuit.assign_problem import Problem
from boardgen.circuit.assign_solve import solve
from boardgen.electrical.model import PinRequest
from boardgen.matching import largest_pairing


def shortage(module: Module, problem: Problem) -> str:
    """Return the sentence for an infeasible *problem*: how many pins short, and of which kind."""
    rows, columns = _deficient(problem)
    if rows:
        short = len(rows) - len(columns)
        names = [problem.requests[row].signal for row in rows]
        pins = [problem.pins[column].name for column in columns]
        one = short == 1
        text = (
            f"module {module.id} is {short} pin{'' if one else 's'} short: {len(rows)} signals "
            f"({_listed(names)}) need {_needs([problem.requests[row] for row in rows])}, "
        )
        if not pins:
            return text + "and no free pin has that"
        return (
            text + f"and only {len(pins)} free pin{'' if len(pins) == 1 else 's'} offer it ({_listed(pins)})"
        )
    return f"module {module.id} has pins enough, but {_broken_tie(problem)}"


def _deficient(problem: Problem) -> tuple[list[int], list[int]]:
    """Return rows that share fewer columns than they are (Hall's condition broken), and those columns."""
    count = len(problem.requests)
    if not count:
        return [], []
    if not problem.pins:
        return list(range(count)), []
    match = largest_pairing(problem.allowed)
    unmatched = [row for row in range(count) if match[row] < 0]
    if not unmatched:
        return [], []
    owner = {int(column): row for row, column in enumerate(match) if column >= 0}
    reached, columns, todo = set(unmatched), set(), list(unmatched)
    while todo:
        row = todo.pop()
        for column in np.flatnonzero(problem.allowed[row]).tolist():
            if column in columns:
                continue
            columns.add(column)
            if owner[column] not in reached:
                reached.add(owner[column])
                todo.append(owner[column])
    return sorted(reached), sorted(columns)


def _needs(requests: list[PinRequest]) -> str:
    words = []
    if all(r.analog for r in requests):
        words.append("an ADC input")
    if all(r.drives for r in requests):
        words.append("an output")
    if all(r.pull for r in requests):
        words.append(f"an internal pull-{requests[0].pull}")
    functions = sorted({r.function for r in requests if r.function})
    if functions and all(r.function for r in requests):
        words.append(" or ".join(functions))
    volts = [r.min_max_volts for r in requests]
    if min(volts) > 0:
        words.append(f"{min(volts):g} V or more at the pin")
    if all(r.pins is not None for r in requests):
        words.append("levels that prove safe")
    return f"a pin with {' and '.join(words)}" if words else "a GPIO"


def _broken_tie(problem: Problem) -> str:
    """Name the groups and buses that cannot be kept, the first that fails alone if there is one."""
    for group in problem.groups:
        alone = replace(problem, groups=(group,), buses=())
        if solve(alone) is None:
            kind = "consecutive GPIO numbers" if group.consecutive else "ascending GPIO numbers"
            order = " in the order given" if group.ordered and group.consecutive else ""
            return f"group {group.name} finds no {len(group.rows)} {kind}{order} that are free and fit"
    for bus, rows in problem.buses:
        if solve(replace(problem, groups=(), buses=((bus, rows),))) is None:
            return f"no one peripheral offers all the pins of bus {bus}"
    names = [g.name for g in problem.groups] + [name for name, _ in problem.buses]
    if not names:
        return "two signals ask for the same peripheral function"
    return f"the groups and buses together ({_listed(names)}) find no room"


def _listed(names: list[str], most: int = 8) -> str:
    shown = ", ".join(names[:most])
    return shown if len(names) <= most else f"{shown} and {len(names) - most} more"
