"""Controls moved between readings: which resistors moved with them, and so which contact is a wiper."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

from boardgen.bench.idle import Idle
from boardgen.bench.model import JOINED_OHMS, PairLine, pair_of
from boardgen.bench.network import Network, Pair, networks

MOVES = 0.1  # a resistance that differs by more of itself when a control is moved belongs to that control


@dataclass(frozen=True, slots=True)
class Turning:
    """The pairs that *moved*; *states* the resistors of each state, the network's own first."""

    moved: frozenset[Pair]
    states: tuple[Mapping[Pair, float], ...] = ()

    def turns(self, node: str, near: Mapping[str, float]) -> bool:
        """Whether *node* acts as a wiper between its two neighbours: its halves move, their sum stays."""
        a, b = near
        halves = [pair_of(node, end) for end in (a, b)]
        moved = [pair for pair in halves if pair in self.moved]
        if not moved or pair_of(a, b) in self.moved:
            return False
        if not self.states:
            return all(node in pair for pair in self.moved if a in pair or b in pair)
        sums = [sum(state[p] for p in halves) for state in self.states if all(p in state for p in halves)]
        return len(moved) == 2 and not any(_differ(sums[0], other) for other in sums[1:])


def _differ(x: float, y: float) -> bool:
    return abs(x - y) > max(MOVES * max(x, y), JOINED_OHMS)


def base_state(idle: Idle) -> str:
    """Return the state of the controls in which most pairs were measured, "" first."""
    count: dict[str, int] = defaultdict(int)
    for found in idle.ohms.values():
        for line in found:
            count[line.at] += 1
    return min(count, key=lambda at: (at != "", -count[at], at), default="")


def turning_of(network: Network, idle: Idle, base: str, hubs: frozenset[str]) -> Turning:
    """Return what moved in *network* (its state is *base*) when controls were moved.

    With pots side by side a reading may stand still while the resistor behind it
    moves, so each state that was measured in full is traced back by itself.
    """
    inside = {p: lines for p, lines in idle.ohms.items() if set(p) <= set(network.nodes)}
    states: dict[str, dict[Pair, float]] = defaultdict(dict)
    for pair, lines in inside.items():
        for line in lines:
            states[line.at].setdefault(pair, max(line.reading.value, JOINED_OHMS / 10))
    whole = [at for at in sorted(states) if len(states[at]) == len(inside) and at != base]
    if not whole or len(states.get(base, ())) < len(inside):
        return Turning(frozenset(p for p, lines in inside.items() if _moves(lines)))
    own = {r.pair: r.ohms for r in network.resistors}
    others = [{r.pair: r.ohms for n in networks(states[at], hubs) for r in n.resistors} for at in whole]
    moved = {p for other in others for p in own if p in other and _differ(own[p], other[p])}
    return Turning(frozenset(moved), (own, *others))


def _moves(lines: tuple[PairLine, ...]) -> bool:
    first = lines[0]
    return any(o.at != first.at and _differ(o.reading.value, first.reading.value) for o in lines[1:])
