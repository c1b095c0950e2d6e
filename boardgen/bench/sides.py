"""Rows and columns: the graph of nodes and keys, split into its two sides."""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from boardgen.bench.keys import Closure, Way
from boardgen.bench.model import contradiction, measure_next, natural
from boardgen.errors import Finding


@dataclass(frozen=True, slots=True)
class Island:
    """A connected part of the key graph. *left*, *right*: its two sides, in natural order.

    *closures* are those between the sides, *misfits* those left out because the
    part is not two-sided.
    """

    left: tuple[str, ...]
    right: tuple[str, ...]
    closures: tuple[Closure, ...]
    misfits: tuple[Closure, ...] = ()

    @property
    def star(self) -> str:
        """The one node that every key meets, "" where there is none or no telling."""
        if len(self.left) == 1 and len(self.right) > 1:
            return self.left[0]
        return self.right[0] if len(self.right) == 1 and len(self.left) > 1 else ""

    @property
    def bare(self) -> bool:
        """Whether no key conducts one way only."""
        return all(c.way in (Way.BOTH, Way.UNKNOWN) for c in self.closures)


def islands(closures: Sequence[Closure]) -> tuple[tuple[Island, ...], list[Finding]]:
    """Split the graph of *closures* into islands with two sides each; rings of odd length become findings."""
    near: dict[str, list[Closure]] = defaultdict(list)
    for closure in closures:
        near[closure.a].append(closure)
        near[closure.b].append(closure)
    seen: set[str] = set()
    found: list[Island] = []
    findings: list[Finding] = []
    for start in sorted(near, key=natural):
        if start in seen:
            continue
        part = _reach(start, near)
        seen |= part
        mine = [c for c in closures if c.a in part]
        island, clashes = _two_sides(mine)
        findings += clashes
        found.append(island)
    return tuple(found), findings


def _reach(start: str, near: Mapping[str, Sequence[Closure]]) -> set[str]:
    part, queue = {start}, deque([start])
    while queue:
        here = queue.popleft()
        for closure in near[here]:
            other = closure.b if closure.a == here else closure.a
            if other not in part:
                part.add(other)
                queue.append(other)
    return part


def _two_sides(closures: Sequence[Closure]) -> tuple[Island, list[Finding]]:
    """Colour the nodes of one connected part; leave out as few keys as cycles demand, and name each cycle."""
    kept = list(closures)
    misfits: list[Closure] = []
    findings: list[Finding] = []
    while (cycle := odd_cycle(kept)) is not None:
        alone = [c for c in cycle if odd_cycle([k for k in kept if k is not c]) is None]
        out = alone[-1] if len(alone) == 1 else cycle[-1]
        kept = [k for k in kept if k is not out]
        misfits.append(out)
        findings += _cycle_findings(cycle, alone, out)
    side = _colours(kept)
    left = tuple(sorted((n for n, s in side.items() if s == 0), key=natural))
    right = tuple(sorted((n for n, s in side.items() if s == 1), key=natural))
    return Island(left, right, tuple(kept), tuple(misfits)), findings


def _cycle_findings(cycle: Sequence[Closure], alone: Sequence[Closure], out: Closure) -> list[Finding]:
    path = ", ".join(f"{c.key!r} {c.a}-{c.b}" for c in cycle)
    message = (
        f"no two sides: {len(cycle)} keys join contacts in a ring of odd length ({path}); "
        f"{out.key!r} is left out of the matrix"
    )
    found = [contradiction(message, *(c.lines[0] for c in cycle))]
    if alone:
        names = " or ".join(f"{c.key!r} ({c.a}-{c.b})" for c in alone)
        found.append(measure_next(f"measure {names} again: if that reading is wrong, all others fit"))
    return found


def odd_cycle(closures: Sequence[Closure]) -> tuple[Closure, ...] | None:
    """Return the keys of a shortest odd ring through the graph's first clash, None where it has two sides."""
    near: dict[str, list[tuple[str, Closure]]] = defaultdict(list)
    for c in closures:
        near[c.a].append((c.b, c))
        near[c.b].append((c.a, c))
    side: dict[str, int] = {}
    came: dict[str, tuple[str, Closure]] = {}
    for start in sorted(near, key=natural):
        if start in side:
            continue
        side[start] = 0
        queue = deque([start])
        while queue:
            here = queue.popleft()
            for other, closure in near[here]:
                if other not in side:
                    side[other] = 1 - side[here]
                    came[other] = (here, closure)
                    queue.append(other)
                elif side[other] == side[here]:
                    return _ring(came, here, other, closure)
    return None


def _ring(
    came: Mapping[str, tuple[str, Closure]], here: str, other: str, closing: Closure
) -> tuple[Closure, ...]:
    ways: list[list[tuple[str, Closure]]] = []
    for start in (here, other):
        node, steps = start, list[tuple[str, Closure]]()
        while node in came:
            before, closure = came[node]
            steps.append((node, closure))
            node = before
        ways.append(list(reversed(steps)))
    shared = 0
    while shared < min(map(len, ways)) and ways[0][shared] == ways[1][shared]:
        shared += 1
    rising = [closure for _, closure in ways[0][shared:]]
    falling = [closure for _, closure in reversed(ways[1][shared:])]
    return (*falling, *rising, closing)


def _colours(closures: Sequence[Closure]) -> dict[str, int]:
    near: dict[str, set[str]] = defaultdict(set)
    for c in closures:
        near[c.a].add(c.b)
        near[c.b].add(c.a)
    side: dict[str, int] = {}
    for start in sorted(near, key=natural):
        if start in side:
            continue
        side[start] = 0
        queue = deque([start])
        while queue:
            here = queue.popleft()
            for other in sorted(near[here], key=natural):
                if other not in side:
                    side[other] = 1 - side[here]
                    queue.append(other)
    return side
