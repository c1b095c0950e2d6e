"""Small direct-current networks of resistors and one-way branches: the span a node's voltage can have.

Resistances in ohm, voltages in V, currents in A. Every branch is a range, so that tolerances and
unknowns stay in the answer.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

REFERENCE = ""  # the node at 0 V
Span = tuple[float, float]  # least, most
Floats = NDArray[np.float64]

_LEAK_S = 1e-13  # siemens from every node to 0 V, so that a node on its own has a solution
_LEAST_OHMS = 1e-3
_ROUNDS = 60
_SWEEPS = 4
_GAIN_V = 1e-9
_STILL_V = 1e-12
_LEAST_A = 1e-11  # more than all leaks of a net together


@dataclass(frozen=True, slots=True)
class Branch:
    """What joins *start* to *end*: a resistance and a voltage lost from start to end.

    A source of v volts on a node is a branch from the node to the reference
    that loses v. *way* is "both", or "forward" where current flows from
    start to end only, or "back" for the other way only. *name* is in words.
    """

    start: str
    end: str
    ohms: Span
    drop: Span = (0.0, 0.0)
    way: str = "both"
    name: str = ""


def source(node: str, volts: Span, ohms: Span, name: str = "", way: str = "both") -> Branch:
    """Return a branch that pulls *node* to *volts*; "forward" only takes from the node, "back" only gives."""
    return Branch(node, REFERENCE, ohms, volts, way, name)


Point = Sequence[tuple[float, float]]  # (ohm, drop) of each branch


def _solve(branches: Sequence[Branch], point: Point, nodes: Mapping[str, int]) -> tuple[Floats, list[bool]]:
    """Return the nodes' voltages, and which branches hold them: one-way ones need a current for it.

    One-way branches settle by turns. One that would feed nothing but a node's leak is left on, so that
    the turns end, and holds nothing.
    """
    size = len(nodes)
    active = [True] * len(branches)
    seen: set[tuple[bool, ...]] = set()
    volts: Floats = np.zeros(size)
    for _ in range(_ROUNDS):
        matrix = np.eye(size) * _LEAK_S
        right = np.zeros(size)
        for branch, (ohms, drop), on in zip(branches, point, active, strict=True):
            if not on:
                continue
            g = 1 / max(ohms, _LEAST_OHMS)
            for node, other, sign in ((branch.start, branch.end, 1.0), (branch.end, branch.start, -1.0)):
                if node == REFERENCE:
                    continue
                k = nodes[node]
                matrix[k, k] += g
                if other != REFERENCE:
                    matrix[k, nodes[other]] -= g
                right[k] += sign * g * drop
        volts = np.asarray(np.linalg.solve(matrix, right), dtype=np.float64)
        wrong = []
        for n, (branch, (_, drop)) in enumerate(zip(branches, point, strict=True)):
            if branch.way == "both":
                continue
            flow = _at(volts, nodes, branch.start) - _at(volts, nodes, branch.end) - drop
            along = flow if branch.way == "forward" else -flow
            # between the two it stays as it is: the leak would turn it for ever
            if along < -_STILL_V if active[n] else along > _STILL_V:
                wrong.append(n)
        if not wrong:
            break
        state = tuple(active)
        for n in wrong[:1] if state in seen else wrong:
            active[n] = not active[n]
        seen.add(state)
    return volts, [
        on
        and (
            branch.way == "both"
            or abs(_at(volts, nodes, branch.start) - _at(volts, nodes, branch.end) - drop)
            > _LEAST_A * max(ohms, _LEAST_OHMS)
        )
        for branch, (ohms, drop), on in zip(branches, point, active, strict=True)
    ]


def _at(volts: Floats, nodes: Mapping[str, int], node: str) -> float:
    return 0.0 if node == REFERENCE else float(volts[nodes[node]])


def _held(branches: Sequence[Branch], active: Sequence[bool], node: str) -> bool:
    """Whether anything that conducts leads from *node* to a voltage."""
    reached, frontier = {node}, [node]
    while frontier:
        here = frontier.pop()
        for branch, on in zip(branches, active, strict=True):
            if on and here in (branch.start, branch.end):
                other = branch.end if here == branch.start else branch.start
                if other == REFERENCE:
                    return True
                if other not in reached:
                    reached.add(other)
                    frontier.append(other)
    return False


def _nodes(branches: Sequence[Branch], node: str) -> dict[str, int]:
    names = {node, *(b.start for b in branches), *(b.end for b in branches)} - {REFERENCE}
    return {name: k for k, name in enumerate(sorted(names))}


def _corners(branch: Branch) -> list[tuple[float, float]]:
    return [(o, d) for o in sorted(set(branch.ohms)) for d in sorted(set(branch.drop))]


def extreme(branches: Sequence[Branch], node: str, sign: int) -> float | None:
    """Return the least (*sign* -1) or the most (+1) voltage at *node* over all ranges; None if it floats.

    The voltage rises or falls steadily with each figure while the others stand, so the extreme lies at a
    corner; figures are moved one at a time until none gains.
    """
    nodes = _nodes(branches, node)
    place = nodes[node]
    point = [
        (b.ohms[0], b.drop[1] if sign > 0 else b.drop[0]) if b.end == REFERENCE else (b.ohms[0], b.drop[0])
        for b in branches
    ]
    volts, active = _solve(branches, point, nodes)
    best = sign * float(volts[place])
    for _ in range(_SWEEPS):
        moved = False
        for n, branch in enumerate(branches):
            for corner in _corners(branch):
                if corner == point[n]:
                    continue
                tried = [*point[:n], corner, *point[n + 1 :]]
                volts, now = _solve(branches, tried, nodes)
                value = sign * float(volts[place])
                if value > best + _GAIN_V:
                    best, point, active, moved = value, tried, now, True
        if not moved:
            break
    return sign * best if _held(branches, active, node) else None


def span(branches: Sequence[Branch], node: str) -> Span | None:
    """Return the (least, most) voltage at *node*, None where nothing holds it in some corner."""
    least, most = extreme(branches, node, -1), extreme(branches, node, 1)
    return None if least is None or most is None else (least, most)


def ohms_at(branches: Sequence[Branch], node: str) -> float:
    """Return the resistance seen from *node* with every figure at its middle; infinite where it floats."""
    nodes = _nodes(branches, node)
    point = [((b.ohms[0] + b.ohms[1]) / 2, (b.drop[0] + b.drop[1]) / 2) for b in branches]
    _, active = _solve(branches, point, nodes)
    if not _held(branches, active, node):
        return float("inf")
    kept = [Branch(b.start, b.end, b.ohms) for b, on in zip(branches, active, strict=True) if on]
    probe = 1e-6
    fed = [*kept, Branch(node, REFERENCE, (1e9, 1e9), (probe * 1e9, probe * 1e9))]
    volts, _ = _solve(fed, [((b.ohms[0] + b.ohms[1]) / 2, b.drop[0]) for b in fed], nodes)
    return float(volts[nodes[node]]) / probe


def drawn(branches: Sequence[Branch], node: str, volts: float) -> float:
    """Return the most A that *node*, held at *volts*, gives (positive) or takes (negative)."""
    nodes = _nodes(branches, node)
    point = [
        (b.ohms[0], b.drop[1] if b.end == REFERENCE and volts <= b.drop[0] else b.drop[0]) for b in branches
    ]
    holder = source(node, (volts, volts), (_LEAST_OHMS, _LEAST_OHMS))
    solved, active = _solve([*branches, holder], [*point, (_LEAST_OHMS, volts)], nodes)
    total = 0.0
    for branch, (ohms, drop), on in zip(branches, point, active, strict=False):
        if not on or node not in (branch.start, branch.end):
            continue
        flow = (_at(solved, nodes, branch.start) - _at(solved, nodes, branch.end) - drop) / max(
            ohms, _LEAST_OHMS
        )
        total += flow if branch.start == node else -flow
    return total
