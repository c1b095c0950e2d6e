"""What a resistance meter reads between two spots of a board, sound or with a fault."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from boardgen.export.bringup_model import Circuit

DIRECT_MOST = 1.0  # ohm through joints, copper and leads
OPEN_LEAST = 1e6  # ohm where nothing joins two nets; flux left on a board reads less
LEAK_LEAST = 1e3  # ohm a meter's small voltage meets in a junction or an unpowered chip
METER_SHARE, METER_OHMS = 0.02, 1.0  # a hand-held meter's error: 2 % and what its leads add

PAD = "/pad"  # after a spot's name: its pad on the board, below the joint

Range = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Change:
    """What is not as it should be: joints open, nets joined, probes moved, parts gone or of other ohms.

    *cut* are spots whose pads have lost the rest of their nets.
    """

    opened: frozenset[str] = frozenset()
    cut: frozenset[str] = frozenset()
    joined: tuple[tuple[str, str], ...] = ()
    moved: tuple[tuple[str, str], ...] = ()
    missing: frozenset[str] = frozenset()
    ohms: tuple[tuple[str, float], ...] = ()

    def also(self, other: Change) -> Change:
        """Return both changes at once."""
        return Change(
            self.opened | other.opened,
            self.cut | other.cut,
            self.joined + other.joined,
            self.moved + other.moved,
            self.missing | other.missing,
            self.ohms + other.ohms,
        )


SOUND = Change()


@dataclass(slots=True)
class Meter:
    """Reads one circuit with one change; holds what it has worked out."""

    circuit: Circuit
    change: Change = SOUND
    _nets: dict[str, str] = field(default_factory=dict)
    _names: dict[str, str] = field(default_factory=dict)
    _moves: dict[str, str] = field(default_factory=dict)
    _resistors: list[tuple[str, str, float, float]] = field(default_factory=list)
    _groups: dict[str, str] = field(default_factory=dict)
    _ways: dict[str, list[str]] = field(default_factory=dict)
    _members: dict[str, list[str]] = field(default_factory=dict)
    _known: dict[tuple[str, str], Range] = field(default_factory=dict)

    def __post_init__(self) -> None:
        change = self.change
        self._nets = {spot.name: spot.net for spot in self.circuit.spots}
        for a, b in change.joined:
            _join(self._names, a, b)
        self._moves = dict(change.moved)
        gone = change.missing
        other = dict(change.ohms)
        for item in self.circuit.elements:
            if item.ref in gone:
                continue
            a, b = self._node(item.a), self._node(item.b)
            least, most = (other[item.ref],) * 2 if item.ref in other else (item.least, item.most)
            if a != b:
                self._resistors.append((a, b, least, most))
                _join(self._groups, a, b)
        for leak in self.circuit.leaks:
            if leak.ref not in gone:
                self._ways.setdefault(self._node(leak.a), []).append(self._node(leak.b))
        for node in sorted({node for row in self._resistors for node in row[:2]}):
            self._members.setdefault(self._group(node), []).append(node)

    def _node(self, spot: str) -> str:
        """The conductor that the part's metal at *spot* belongs to."""
        if spot in self.change.opened or spot.split(".", 1)[0] in self.change.missing:
            return f"metal of {spot}"
        return self._pad(spot)

    def _pad(self, spot: str) -> str:
        """The conductor that the pad below *spot* belongs to."""
        if spot in self.change.cut:
            return f"pad of {spot}"
        return _root(self._names, self._nets[spot])

    def _probed(self, name: str) -> str:
        if name.endswith(PAD):
            return self._pad(name[: -len(PAD)])
        return self._node(self._moves.get(name, name))

    def _group(self, node: str) -> str:
        return _root(self._groups, node)

    def reads(self, a: str, b: str) -> Range:
        """Return the least and most ohm, red lead on spot *a*, black on *b*; PAD after a name: its pad."""
        first, second = self._probed(a), self._probed(b)
        known = self._known.get((first, second))
        if known is None:
            known = self._known[first, second] = self._between(first, second)
        return known

    def _between(self, a: str, b: str) -> Range:
        if a == b:
            return 0.0, DIRECT_MOST
        if self._group(a) != self._group(b):
            return (LEAK_LEAST if self._leads(a, b, None) else OPEN_LEAST), math.inf
        volts = self._solved(a, b, 2)
        least = volts[a] * (1 - METER_SHARE) - METER_OHMS
        most = self._solved(a, b, 3)[a] * (1 + METER_SHARE) + METER_OHMS
        if any(self._leads(node, "", volts) for node in volts if node in self._ways):
            least = min(least, LEAK_LEAST / 2)
        return max(0.0, least), most

    def _leads(self, a: str, b: str, volts: dict[str, float] | None) -> bool:
        """Whether current from *a* finds a way through junctions to *b*.

        With *volts*, those of a group's nodes as resistors set them: to any node of the group that is lower.
        """
        seen, front = {a}, [a]
        while front:
            node = front.pop()
            after = self._ways.get(node, [])
            if volts is None or node not in volts:
                after = after + self._members.get(self._group(node), [])
            for other in after:
                if other == b or (volts is not None and other in volts and volts[other] < volts[a] - 1e-9):
                    return True
                if other not in seen and (volts is None or other not in volts):
                    seen.add(other)
                    front.append(other)
        return False

    def _solved(self, a: str, b: str, corner: int) -> dict[str, float]:
        """Volts over *b* of the nodes of one group, 1 A going in at *a*: at *a*, the ohms between them.

        More ohms anywhere never give less between two nodes (Rayleigh), so the corners bound the rest.
        """
        group = self._group(a)
        rows = [row for row in self._resistors if self._group(row[0]) == group]
        order = {node: i for i, node in enumerate(self._members[group])}
        size = len(order)
        matrix = np.zeros((size, size))
        for row in rows:
            i, j = order[row[0]], order[row[1]]
            g = 1.0 / max(float(row[corner]), 1e-3)
            matrix[i, i] += g
            matrix[j, j] += g
            matrix[i, j] -= g
            matrix[j, i] -= g
        keep = [i for i in range(size) if i != order[b]]
        current = np.zeros(size)
        current[order[a]] = 1.0
        found = np.zeros(size)
        found[keep] = np.linalg.solve(matrix[np.ix_(keep, keep)], current[keep])
        return {node: float(found[i]) for node, i in order.items()}


def _root(parents: dict[str, str], name: str) -> str:
    while (up := parents.get(name, name)) != name:
        name = up
    return name


def _join(parents: dict[str, str], a: str, b: str) -> None:
    first, second = sorted((_root(parents, a), _root(parents, b)))
    if first != second:
        parents[second] = first


def fits(value: float, span: Iterable[float | None]) -> bool:
    """Return whether *value* lies within (least, most), None standing for no bound."""
    least, most = span
    return (least is None or value >= least) and (most is None or value <= most)


def ohms_words(value: float) -> str:
    """Return *value* ohm as people write it: "0.5 ohm", "9.5 kohm", "1 Mohm"."""
    for size, unit in ((1e6, "Mohm"), (1e3, "kohm")):
        if value >= size:
            return f"{value / size:.3g} {unit}"
    return f"{value:.3g} ohm"


def span_words(span: Range) -> str:
    """Return a range of ohms in words."""
    least, most = span
    if math.isinf(most):
        return f"{'open' if least >= OPEN_LEAST else 'no short'}: above {ohms_words(least)}"
    if least <= 0.0:
        return f"below {ohms_words(most)}"
    return f"{ohms_words(least)} to {ohms_words(most)}"
