"""Pin assignment as plain numbers: who may go where, at what distance, tied how."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from boardgen.catalog.model import Module, ModulePin
from boardgen.circuit.assign_kept import kept_places
from boardgen.circuit.assign_usable import (
    instance_of,
    pin_index,
    serving,
    why_reserved,
    why_unfit,
)
from boardgen.design.model import Design
from boardgen.electrical.model import ElectricalPlan, PinRequest
from boardgen.errors import InputError

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class GroupTie:
    """A group by request rows, in the order given."""

    name: str
    rows: tuple[int, ...]
    consecutive: bool
    ordered: bool


@dataclass(frozen=True, slots=True)
class Problem:
    """Requests (rows) against candidate pins (columns).

    *cost* is the distance in nm (0 where it does not matter), *allowed* what a
    row may take. *port*/*index* give each column's port (a number per prefix,
    -1 for none) and GPIO number. *buses* are (name, rows); *instances* maps
    (row, column) to the peripheral functions that would serve there.
    """

    requests: tuple[PinRequest, ...]
    pins: tuple[ModulePin, ...]
    cost: Floats
    allowed: Bools
    port: NDArray[np.int64]
    index: NDArray[np.int64]
    groups: tuple[GroupTie, ...] = ()
    buses: tuple[tuple[str, tuple[int, ...]], ...] = ()
    fixed: tuple[int, ...] = ()
    instances: dict[tuple[int, int], tuple[str, ...]] = field(default_factory=dict)
    kept: tuple[tuple[int, int], ...] = ()  # (row, column) of signals that stay where they were, if they can
    waived: tuple[int, ...] = ()  # columns that a waiver alone makes usable, and nothing is fixed to


def build_problem(module: Module, plan: ElectricalPlan, design: Design, cost: Floats | None) -> Problem:
    """Return the problem; *cost* has a row per request and a column per module pin (None: all 0).

    Raises InputError where a fixed pin cannot carry its signal.
    """
    requests = plan.requests
    fixed = _fixed_pins(module, plan, design)
    wanted = set(fixed.values())
    usable = [k for k, pin in enumerate(module.pins) if not why_reserved(pin, design.waivers) or k in wanted]
    pins = tuple(module.pins[k] for k in usable)
    column_of = {k: column for column, k in enumerate(usable)}
    allowed = np.array(
        [[not why_unfit(pin, request, module) for pin in pins] for request in requests], dtype=bool
    ).reshape(len(requests), len(pins))
    for row, k in fixed.items():
        column = column_of[k]
        allowed[:, column] = False
        allowed[row, :] = False
        allowed[row, column] = True
    table = np.zeros((len(requests), len(pins))) if cost is None else cost[:, usable]
    ports: dict[str, int] = {}
    port, index = [], []
    for pin in pins:
        found = pin_index(pin.name)
        port.append(-1 if found is None else ports.setdefault(found[0], len(ports)))
        index.append(-1 if found is None else found[1])
    rows_of: dict[str, int] = {}
    for row, request in enumerate(requests):
        rows_of.setdefault(request.signal, row)
    groups = []
    for group in design.groups:
        rows = tuple(rows_of[s] for s in group.signals if s in rows_of)
        if len(rows) > 1 and (group.consecutive or group.ordered):
            groups.append(GroupTie(group.name, rows, group.consecutive, group.ordered))
    buses: dict[str, list[int]] = {}
    instances: dict[tuple[int, int], tuple[str, ...]] = {}
    for row, request in enumerate(requests):
        if not request.function:
            continue
        if request.bus:
            buses.setdefault(request.bus, []).append(row)
        for column in np.flatnonzero(allowed[row]).tolist():
            serve = tuple(f for f in serving(pins[column], request.function) if instance_of(f))
            if serve:
                instances[row, column] = serve
    return Problem(
        requests,
        pins,
        table,
        allowed,
        np.array(port, dtype=np.int64),
        np.array(index, dtype=np.int64),
        tuple(groups),
        tuple((name, tuple(rows)) for name, rows in sorted(buses.items())),
        tuple(sorted(fixed)),
        instances,
        kept_places(design, rows_of, pins, allowed),
        tuple(
            column for column, k in enumerate(usable) if k not in wanted and why_reserved(module.pins[k], ())
        ),
    )


def _fixed_pins(module: Module, plan: ElectricalPlan, design: Design) -> dict[int, int]:
    """Return row to place in ``module.pins`` of every fixed pin; raises InputError."""
    rows = {request.signal: row for row, request in reversed(list(enumerate(plan.requests)))}
    taken: dict[int, str] = {}
    found: dict[int, int] = {}
    for item in design.fixed:
        row = rows.get(item.signal)
        if row is None:
            continue  # a signal that needs no GPIO; the design floor has its own word on that

        def refuse(reason: str, line: int | None = item.line, pin: str = item.pin) -> InputError:
            return InputError(reason, where=design.origin, key="fixed", line=line, found=pin)

        try:
            pin = module.pin(item.pin)
        except KeyError:
            raise refuse(f"module {module.id} has no pin {item.pin} for {item.signal}") from None
        k = next(i for i, own in enumerate(module.pins) if own is pin)
        reserved = why_reserved(pin, design.waivers)
        if reserved:
            advice = "; a waiver with the reason allows it" if pin.strap or pin.shared else ""
            raise refuse(f"{item.signal} is fixed to {pin.name}, which is reserved ({reserved}){advice}")
        unfit = why_unfit(pin, plan.requests[row], module)
        if unfit:
            raise refuse(f"{item.signal} is fixed to {pin.name}, which {unfit}")
        if k in taken:
            raise refuse(f"{item.signal} and {taken[k]} are both fixed to {pin.name}")
        taken[k] = item.signal
        found[row] = k
    return found


def keeps_ties(problem: Problem, chosen: list[int]) -> bool:
    """Whether *chosen* (a column per row) keeps every group, bus and function rule."""
    return (
        all(group_kept(problem, group, chosen) for group in problem.groups)
        and bus_fault(problem, chosen) is None
        and function_clash(problem, chosen) is None
    )


def group_kept(problem: Problem, group: GroupTie, chosen: list[int]) -> bool:
    """Whether *chosen* keeps *group*."""
    columns = [chosen[row] for row in group.rows]
    ports = {int(problem.port[c]) for c in columns}
    if len(ports) != 1 or -1 in ports:
        return False
    numbers = [int(problem.index[c]) for c in columns]
    if group.ordered and any(a >= b for a, b in pairwise(numbers)):
        return False
    return not group.consecutive or max(numbers) - min(numbers) == len(numbers) - 1


def bus_instances(problem: Problem, row: int, column: int) -> set[str]:
    """Return the peripheral instances that can serve *row* at *column*."""
    return {instance_of(f) for f in problem.instances.get((row, column), ())}


def bus_fault(problem: Problem, chosen: list[int]) -> str | None:
    """Return the name of a bus whose pins share no instance, or share one with another bus; else None."""
    commons = []
    for name, rows in problem.buses:
        sets = [s for s in (bus_instances(problem, row, chosen[row]) for row in rows) if s]
        if not sets:
            continue
        common = set.intersection(*sets)
        if not common:
            return name
        commons.append((name, common))
    for i, (name, common) in enumerate(commons):
        for _, other in commons[:i]:
            if len(common) == 1 and common == other:
                return name
    return None


def function_clash(problem: Problem, chosen: list[int]) -> tuple[int, int] | None:
    """Return two rows that only one and the same peripheral function serves, or None."""
    seen: dict[str, int] = {}
    for row, request in enumerate(problem.requests):
        if not request.function:
            continue
        serve = problem.instances.get((row, chosen[row]), ())
        if len(serve) != 1:
            continue
        if serve[0] in seen:
            return seen[serve[0]], row
        seen[serve[0]] = row
    return None


def consecutive_runs(problem: Problem, length: int) -> Iterator[list[int]]:
    """Yield the columns of each run of consecutive GPIO numbers in one port, ascending."""
    by_port: dict[int, dict[int, int]] = {}
    for column, (port, index) in enumerate(zip(problem.port, problem.index, strict=True)):
        if port >= 0:
            by_port.setdefault(int(port), {}).setdefault(int(index), column)
    for port in sorted(by_port):
        numbers = by_port[port]
        for start in sorted(numbers):
            run = [numbers.get(start + step, -1) for step in range(length)]
            if -1 not in run:
                yield run
