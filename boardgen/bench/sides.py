"""Rows and columns: the graph of nodes and keys, split into its two sides."""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from boardgen.bench.keys import Closure, Way
from boardgen.bench.model import contradiction, measure_next, natural
from boardgen.bench.rings import best_sides, misfits
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
    """Colour the nodes of one connected part; leave out as few keys as rings demand, and name each ring."""
    side = best_sides(closures)
    left_out = misfits(closures, side)
    kept = tuple(c for c in closures if side[c.a] != side[c.b])
    findings = [finding for item in left_out for finding in _ring_findings(*item)]
    left = tuple(sorted((n for n, s in side.items() if s == 0), key=natural))
    right = tuple(sorted((n for n, s in side.items() if s == 1), key=natural))
    return Island(left, right, kept, tuple(c for c, _, _ in left_out)), findings


def _ring_findings(out: Closure, ring: Sequence[Closure], equals: Sequence[Closure]) -> list[Finding]:
    path = ", ".join(f"{c.key!r} {c.a}-{c.b}" for c in ring)
    message = (
        f"no two sides: {len(ring)} keys join contacts in a ring of odd length ({path}); "
        f"{out.key!r} is left out of the matrix"
    )
    found = [contradiction(message, *(c.lines[0] for c in ring))]
    names = " or ".join(f"{c.key!r} ({c.a}-{c.b})" for c in equals)
    found.append(measure_next(f"measure {names} again: if that reading is wrong, the others fit"))
    return found
