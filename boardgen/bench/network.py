"""Resistances between contacts at rest, traced back to the resistors that make them.

What a meter shows between two contacts is the whole network between them, not
one part. Seek conductances c >= 0 between pairs of nodes so that the network's
effective resistances meet the readings R: the minimum over c of

    sum(R_ij * c_ij) - log det'(L(c))

(L the network's Laplacian, det' without its zero eigenvalue) is convex, and its
gradient is R_ij - Reff_ij(c): where all pairs were measured, that is the
network itself. Resistors are taken in only where a reading is lower than what
those before give, and left out where the readings do without. Changing one
conductance by d changes L's inverse by a term of rank one, so the best d for
one pair is 1/R - 1/Reff: pairs are set in turn until nothing moves.
Source: "Resistance distance", J. Math. Chem. 12 (1993),
for Reff_ij = L+_ii + L+_jj - 2 L+_ij.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from boardgen.bench.model import natural, pair_of

SHARE, SLACK_OHMS = 0.015, 1.0  # how far a reading may be from what the network gives
SWEEPS = 400
SETTLED = 1e-5
MOST_NODES = 40

Pair = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Resistor:
    """A direct way of current between two nodes, natural order."""

    a: str
    b: str
    ohms: float

    @property
    def pair(self) -> Pair:
        """The two nodes."""
        return (self.a, self.b)


@dataclass(frozen=True, slots=True)
class Network:
    """One connected part: its *nodes*, its *resistors*, the pairs never measured, and readings not met."""

    nodes: tuple[str, ...]
    resistors: tuple[Resistor, ...]
    missing: tuple[Pair, ...]
    unmet: tuple[Pair, ...]
    effective: Mapping[Pair, float]


def networks(readings: Mapping[Pair, float], hubs: frozenset[str] = frozenset()) -> tuple[Network, ...]:
    """Return the connected networks that give *readings* (ohm, by node pair in natural order).

    A pot's kilohms beside a lamp's few ohms could hang on either end of the
    lamp, by a meter's three digits: such a resistor is put on one of the *hubs*
    (rails, grounds, commons), else on the node nearest to all others.
    """
    parts = _parts(readings)
    return tuple(
        _network(nodes, {p: r for p, r in readings.items() if p[0] in nodes}, hubs) for nodes in parts
    )


def _parts(readings: Mapping[Pair, float]) -> list[tuple[str, ...]]:
    group: dict[str, set[str]] = {}
    for a, b in readings:
        joined = group.get(a, {a}) | group.get(b, {b})
        for node in joined:
            group[node] = joined
    seen: set[str] = set()
    parts = []
    for node in sorted(group, key=natural):
        if node not in seen:
            seen |= group[node]
            parts.append(tuple(sorted(group[node], key=natural)))
    return parts


def _network(nodes: tuple[str, ...], readings: Mapping[Pair, float], hubs: frozenset[str]) -> Network:
    """Begin with a tree, add resistors where readings ask for them, take away what they can do without."""
    kept = dict(
        sorted(readings.items(), key=lambda item: (item[1], natural(item[0][0]), natural(item[0][1])))
    )
    pairs = [(a, b) for i, a in enumerate(nodes) for b in nodes[i + 1 :]]
    missing = tuple(pair for pair in pairs if pair not in readings)
    fit = _Fit(nodes, _tree(kept))
    while len(nodes) <= MOST_NODES:
        lower = {pair: fit.effective(pair) - ohms - _slack(ohms) for pair, ohms in kept.items()}
        worst = max(kept, key=lambda pair: lower[pair] / kept[pair])
        if lower[worst] <= 0 or worst in fit.sought:
            break
        fit = _Fit(nodes, {**fit.sought, worst: kept[worst]}, fit.c)
    if not fit.unmet(readings):
        for pair in sorted(fit.sought, key=lambda p: (fit.weight(p), natural(p[0]), natural(p[1]))):
            fewer = {p: r for p, r in fit.sought.items() if p != pair}
            if len(_tree(fewer)) == len(nodes) - 1:
                trial = _Fit(nodes, fewer, fit.c)
                if not trial.unmet(readings):
                    fit = trial
        fit = _rehung(fit, nodes, readings, hubs)
    resistors = tuple(Resistor(*pair, 1 / c) for pair, c in fit.conductances().items())
    return Network(nodes, resistors, missing, fit.unmet(readings), {p: fit.effective(p) for p in pairs})


def _rehung(fit: _Fit, nodes: Sequence[str], readings: Mapping[Pair, float], hubs: frozenset[str]) -> _Fit:
    """Move ends of resistors to the likeliest of nodes that the readings cannot tell apart."""

    def rank(node: str) -> tuple[bool, float, tuple[tuple[int, int, str], ...]]:
        return (node not in hubs, sum(r for p, r in readings.items() if node in p), natural(node))

    for pair in sorted(fit.sought, key=lambda p: -fit.sought[p]):
        for end, other in (pair, pair[::-1]):
            near = [n for n in nodes if n not in pair and pair_of(n, other) in readings]
            near = [
                n for n in near if readings.get(pair_of(n, end), 1e12) <= _slack(fit.sought.get(pair, 0.0))
            ]
            better = min((n for n in near if rank(n) < rank(end)), key=rank, default=None)
            moved = pair_of(better, other) if better is not None else pair
            if pair not in fit.sought or moved in fit.sought:
                continue
            trial_pairs = {p: r for p, r in fit.sought.items() if p != pair} | {moved: readings[moved]}
            if len(_tree(trial_pairs)) == len(nodes) - 1:
                trial = _Fit(nodes, trial_pairs, fit.c)
                if not trial.unmet(readings):
                    fit = trial
    return fit


def _tree(readings: Mapping[Pair, float]) -> dict[Pair, float]:
    """Return the least of *readings*, given in rising order, that hold all nodes together, no ring."""
    root: dict[str, str] = {}

    def top(node: str) -> str:
        while root.setdefault(node, node) != node:
            node = root[node]
        return node

    tree: dict[Pair, float] = {}
    for (a, b), ohms in readings.items():
        if top(a) != top(b):
            root[top(a)] = top(b)
            tree[(a, b)] = ohms
    return tree


def _slack(ohms: float) -> float:
    return SHARE * ohms + SLACK_OHMS


class _Fit:
    """Conductances on the pairs *sought* that meet their readings as well as may be."""

    def __init__(
        self, nodes: Sequence[str], sought: Mapping[Pair, float], start: Mapping[Pair, float] | None = None
    ) -> None:
        self.sought = dict(sought)
        self._index = {node: n for n, node in enumerate(nodes)}
        begin = start or {}
        self.c = {pair: max(begin.get(pair, 1 / ohms), 0.01 / ohms) for pair, ohms in sought.items()}
        self._inverse = self._grounded_inverse()
        for _ in range(SWEEPS):
            if self._sweep() < SETTLED:
                break

    def _grounded_inverse(self) -> list[list[float]]:
        """Return the inverse of the Laplacian with the first node held at zero (its row is zeros)."""
        size = len(self._index)
        laplacian = [[0.0] * size for _ in range(size)]
        for (a, b), c in self.c.items():
            i, j = self._index[a], self._index[b]
            laplacian[i][i] += c
            laplacian[j][j] += c
            laplacian[i][j] -= c
            laplacian[j][i] -= c
        inner = _inverted([row[1:] for row in laplacian[1:]])
        return [[0.0] * size, *([0.0, *row] for row in inner)]

    def _sweep(self) -> float:
        moved = 0.0
        for pair, ohms in self.sought.items():
            i, j = self._index[pair[0]], self._index[pair[1]]
            column = [row[i] - row[j] for row in self._inverse]
            seen = column[i] - column[j]
            step = max(1 / ohms - 1 / seen, -self.c[pair])
            scale = step / (1 + step * seen)
            self.c[pair] += step
            moved = max(moved, abs(step) * ohms)
            if scale == 0.0:
                continue
            for row, left in zip(self._inverse, column, strict=True):
                for n, right in enumerate(column):
                    row[n] -= scale * left * right
        return moved

    def effective(self, pair: Pair) -> float:
        """Return what a meter would show between the nodes of *pair*, in ohm."""
        i, j = self._index[pair[0]], self._index[pair[1]]
        inverse = self._inverse
        return inverse[i][i] + inverse[j][j] - inverse[i][j] - inverse[j][i]

    def unmet(self, readings: Mapping[Pair, float]) -> tuple[Pair, ...]:
        """Return the pairs whose reading this network does not give."""
        return tuple(
            pair for pair, ohms in readings.items() if abs(self.effective(pair) - ohms) > _slack(ohms)
        )

    def weight(self, pair: Pair) -> float:
        """Return how much of the current between the nodes of *pair* goes the direct way, 0 to 1."""
        return self.c[pair] * self.effective(pair)

    def conductances(self) -> dict[Pair, float]:
        """Return the conductances (S) that are not nothing."""
        return {pair: c for pair, c in self.c.items() if self.weight(pair) > 1e-3}


def _inverted(matrix: list[list[float]]) -> list[list[float]]:
    """Return the inverse of a symmetric positive definite *matrix* (by elimination; needs no pivots)."""
    size = len(matrix)
    work = [[*row, *(1.0 if n == m else 0.0 for m in range(size))] for n, row in enumerate(matrix)]
    for n in range(size):
        pivot = work[n][n]
        work[n] = [value / pivot for value in work[n]]
        for m in range(size):
            factor = work[m][n]
            if m != n and factor != 0.0:
                work[m] = [value - factor * by for value, by in zip(work[m], work[n], strict=True)]
    return [row[size:] for row in work]
