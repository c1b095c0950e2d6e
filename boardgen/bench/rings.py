"""The two sides of a key graph: the split that the fewest keys speak against, and the rings of those keys."""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Mapping, Sequence

from boardgen.bench.keys import Closure
from boardgen.bench.model import natural

MOST_TRIED = 12

Near = Mapping[str, Sequence[tuple[str, Closure]]]
Weights = Mapping[str, Mapping[str, int]]
Ring = tuple[Closure, ...]


def neighbours(closures: Sequence[Closure]) -> dict[str, list[tuple[str, Closure]]]:
    """Return each node's neighbours with the key between, nodes in natural order."""
    near: dict[str, list[tuple[str, Closure]]] = defaultdict(list)
    for c in closures:
        near[c.a].append((c.b, c))
        near[c.b].append((c.a, c))
    return {node: near[node] for node in sorted(near, key=natural)}


def best_sides(closures: Sequence[Closure]) -> dict[str, int]:
    """Return the side (0 or 1) of each node of a connected graph, with the fewest keys inside a side.

    Exact where two sides exist. Else sides are laid from every node in turn, each
    node changes over while more keys speak for that, and the best is taken: with
    a few wrong readings in a matrix that is the matrix.
    """
    near = _weights(closures)
    best: dict[str, int] = {}
    least = len(closures) + 1
    for start in near:
        side = _laid(start, near)
        _improve(side, near)
        wrong = sum(side[c.a] == side[c.b] for c in closures)
        if wrong < least:
            best, least = side, wrong
        if not wrong:
            break
    return best


def _weights(closures: Sequence[Closure]) -> Weights:
    """Return each node's neighbours with the number of keys between."""
    near: dict[str, dict[str, int]] = defaultdict(dict)
    for a, b in (end for c in closures for end in (c.pair, c.pair[::-1])):
        near[a][b] = near[a].get(b, 0) + 1
    return {node: near[node] for node in sorted(near, key=natural)}


def _laid(start: str, near: Weights) -> dict[str, int]:
    side, queue = {start: 0}, deque([start])
    while queue:
        here = queue.popleft()
        for other in near[here]:
            if other not in side:
                side[other] = 1 - side[here]
                queue.append(other)
    return side


def _improve(side: dict[str, int], near: Weights) -> None:
    """Change nodes over, and whole pieces that nothing right holds in place, while that mends keys."""
    moved = True
    while moved:
        moved = False
        for node, ends in near.items():
            wrong = sum(keys for other, keys in ends.items() if side[other] == side[node])
            if 2 * wrong > sum(ends.values()):
                side[node] = 1 - side[node]
                moved = True
        if not moved:
            held = _held(next(iter(near)), side, near)
            if len(held) < len(near):
                for node in near:
                    if node not in held:
                        side[node] = 1 - side[node]
                moved = True


def _held(start: str, side: Mapping[str, int], near: Weights) -> set[str]:
    held, queue = {start}, deque([start])
    while queue:
        here = queue.popleft()
        for other in near[here]:
            if other not in held and side[other] != side[here]:
                held.add(other)
                queue.append(other)
    return held


def misfits(closures: Sequence[Closure], side: Mapping[str, int]) -> list[tuple[Closure, Ring, Ring]]:
    """Return the keys inside a side: the key, the shortest odd ring that it closes, and its equals.

    The equals, itself among them, are the keys each of which alone would mend all.
    """
    wrong = [c for c in closures if side[c.a] == side[c.b]]
    one_a_pair: dict[tuple[str, str], Closure] = {}
    for c in closures:
        if side[c.a] != side[c.b]:
            one_a_pair.setdefault(c.pair, c)
    right = neighbours(list(one_a_pair.values()))
    found = []
    for out in wrong:
        ring = (out, *_way(out.a, out.b, right))
        equals: Ring = (out,)
        if len(wrong) == 1 and len(ring) <= MOST_TRIED:
            equals = tuple(c for c in ring if c is out or _mends(closures, c))
        found.append((out, ring, equals))
    return found


def _mends(closures: Sequence[Closure], out: Closure) -> bool:
    rest = [c for c in closures if c is not out]
    side = best_sides(rest)
    return all(side[c.a] != side[c.b] for c in rest)


def _way(start: str, goal: str, near: Near) -> list[Closure]:
    came: dict[str, tuple[str, Closure]] = {}
    queue, seen = deque([start]), {start}
    while queue and goal not in seen:
        here = queue.popleft()
        for other, closure in near.get(here, ()):
            if other not in seen:
                seen.add(other)
                came[other] = (here, closure)
                queue.append(other)
    way: list[Closure] = []
    while goal != start:
        goal, closure = came[goal]
        way.append(closure)
    return list(reversed(way))
