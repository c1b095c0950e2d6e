"""The same assignment as one integer program: for designs with so many groups that splitting runs long.

Binary x[row, column] chooses pins; binary z chooses a run or port for each
group and a peripheral instance for each bus.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from boardgen.circuit.assign_problem import GroupTie, Problem, bus_instances, consecutive_runs


class _Program:
    """Variables and rows of the program as they come."""

    def __init__(self, problem: Problem, cost: NDArray[np.float64]) -> None:
        self.problem = problem
        self.pairs = {
            (int(r), int(c)): k for k, (r, c) in enumerate(zip(*np.nonzero(problem.allowed), strict=True))
        }
        self.costs = [float(cost[pair]) for pair in self.pairs]
        self.rows: list[tuple[dict[int, float], float, float]] = []

    def choice(self) -> int:
        """Add a free binary variable and return its number."""
        self.costs.append(0.0)
        return len(self.costs) - 1

    def row(self, terms: dict[int, float], low: float, high: float) -> None:
        """Add low <= sum(terms) <= high."""
        self.rows.append((terms, low, high))

    def solve(self) -> NDArray[np.float64] | None:
        """Return the values of a least-cost answer, or None where there is none."""
        # Heavy to load, and hardly ever needed.
        from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415
        from scipy.sparse import csr_matrix  # noqa: PLC0415

        data, at_row, at_column = [], [], []
        for number, (terms, _, _) in enumerate(self.rows):
            for variable, factor in terms.items():
                data.append(factor)
                at_row.append(number)
                at_column.append(variable)
        table = csr_matrix((data, (at_row, at_column)), shape=(len(self.rows), len(self.costs)))
        lows = np.array([low for _, low, _ in self.rows])
        highs = np.array([high for _, _, high in self.rows])
        scale = max(1.0, max(self.costs, default=1.0))
        found = milp(
            np.array(self.costs) / scale,
            constraints=LinearConstraint(table, lows, highs),
            integrality=np.ones(len(self.costs), dtype=np.int64),
            bounds=Bounds(0, 1),
            options={"mip_rel_gap": 1e-7},
        )
        return None if found.x is None else np.asarray(found.x)


def solve_program(problem: Problem, cost: NDArray[np.float64]) -> list[int] | None:
    """Return a cheapest choice (a column per row) that keeps all ties, or None where there is none."""
    program = _Program(problem, cost)
    rows, columns = problem.allowed.shape
    for row in range(rows):
        terms = {k: 1.0 for (r, _), k in program.pairs.items() if r == row}
        if not terms:
            return None
        program.row(terms, 1.0, 1.0)
    for column in range(columns):
        terms = {k: 1.0 for (_, c), k in program.pairs.items() if c == column}
        if terms:
            program.row(terms, 0.0, 1.0)
    for group in problem.groups:
        _tie_group(program, group)
    _tie_buses(program)
    _tie_functions(program)
    values = program.solve()
    if values is None:
        return None
    chosen = [-1] * rows
    for (row, column), k in program.pairs.items():
        if values[k] > 0.5:
            chosen[row] = column
    return chosen


def _tie_group(program: _Program, group: GroupTie) -> None:
    problem = program.problem
    if group.consecutive:
        options = [set(run) for run in consecutive_runs(problem, len(group.rows))]
    else:
        ports = sorted({int(p) for p in problem.port if p >= 0})
        options = [set(np.flatnonzero(problem.port == port).tolist()) for port in ports]
    picks = [program.choice() for _ in options]
    program.row(dict.fromkeys(picks, 1.0), 1.0, 1.0)
    for row in group.rows:
        for column in range(problem.allowed.shape[1]):
            k = program.pairs.get((row, column))
            if k is None:
                continue
            holding = {pick: -1.0 for pick, option in zip(picks, options, strict=True) if column in option}
            program.row({k: 1.0, **holding}, -np.inf, 0.0)
    if not group.ordered:
        return
    for a, b in zip(group.rows, group.rows[1:], strict=False):
        terms: dict[int, float] = {}
        for (row, column), k in program.pairs.items():
            if row == a:
                terms[k] = -float(problem.index[column])
            elif row == b:
                terms[k] = float(problem.index[column])
        program.row(terms, 1.0, np.inf)


def _tie_buses(program: _Program) -> None:
    problem = program.problem
    taken: dict[str, list[int]] = {}
    for _, rows in problem.buses:
        pairs = [(r, c) for (r, c) in program.pairs if r in rows and bus_instances(problem, r, c)]
        names = sorted({name for pair in pairs for name in bus_instances(problem, *pair)})
        if not names:
            continue
        picks = {name: program.choice() for name in names}
        program.row(dict.fromkeys(picks.values(), 1.0), 1.0, 1.0)
        for pair in pairs:
            own = bus_instances(problem, *pair)
            holding = {pick: -1.0 for name, pick in picks.items() if name in own}
            program.row({program.pairs[pair]: 1.0, **holding}, -np.inf, 0.0)
        for name, pick in picks.items():
            taken.setdefault(name, []).append(pick)
    for shared in taken.values():
        if len(shared) > 1:
            program.row(dict.fromkeys(shared, 1.0), 0.0, 1.0)


def _tie_functions(program: _Program) -> None:
    users: dict[str, list[int]] = {}
    for pair, functions in sorted(program.problem.instances.items()):
        if len(functions) == 1 and pair in program.pairs:
            users.setdefault(functions[0], []).append(program.pairs[pair])
    for variables in users.values():
        if len(variables) > 1:
            program.row(dict.fromkeys(variables, 1.0), 0.0, 1.0)
