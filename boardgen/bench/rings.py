"""Rings of odd length in the key graph: what keeps it from having two sides."""

from __future__ import annotations

from collections import Counter, defaultdict, deque
from collections.abc import Mapping, Sequence

from boardgen.bench.keys import Closure
from boardgen.bench.model import natural

ROUNDS = 20  # keys found to be at fault one at a time; what is left after that goes all at once
MOST_TRIED = 12

Ring = tuple[Closure, ...]


def sides(closures: Sequence[Closure]) -> tuple[dict[str, int], list[Ring]]:
    """Return each node's side (0 or 1), from the lowest contact on, and a ring for each key that clashes.

    Each ring ends with the key that clashes; without those keys the sides hold.
    """
    near: dict[str, list[tuple[str, Closure]]] = defaultdict(list)
    for c in closures:
        near[c.a].append((c.b, c))
        near[c.b].append((c.a, c))
    side: dict[str, int] = {}
    came: dict[str, tuple[str, Closure]] = {}
    clashes: dict[int, tuple[str, str, Closure]] = {}
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
                    clashes.setdefault(id(closure), (here, other, closure))
    return side, [_ring(came, *clash) for clash in clashes.values()]


def _ring(came: Mapping[str, tuple[str, Closure]], here: str, other: str, closing: Closure) -> Ring:
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


def misfits(closures: Sequence[Closure]) -> list[tuple[Closure, Ring, Ring]]:
    """Return the keys to leave out so that two sides remain: the key, a ring through it, and its equals.

    The key that stands in most rings goes first, as one wrong reading makes many
    rings. The equals are the keys each of which alone would mend all.
    """
    kept = list(closures)
    found: list[tuple[Closure, Ring, Ring]] = []
    for _ in range(ROUNDS):
        rings = sides(kept)[1]
        if not rings:
            return found
        count = Counter(id(c) for ring in rings for c in ring)
        most = max(count.values())
        top = [c for c in kept if count[id(c)] == most]
        alone: list[Closure] = []
        if most == len(rings) and len(top) <= MOST_TRIED:
            alone = [c for c in top if not sides(_without(kept, c))[1]]
        closing = min(rings, key=len)[-1]
        out = alone[0] if len(alone) == 1 else closing if most == 1 else (alone or top)[-1]
        through = min((ring for ring in rings if any(c is out for c in ring)), key=len)
        found.append((out, through, tuple(alone)))
        kept = _without(kept, out)
    return [*found, *((ring[-1], ring, ()) for ring in sides(kept)[1])]


def _without(closures: Sequence[Closure], out: Closure) -> list[Closure]:
    return [c for c in closures if c is not out]
