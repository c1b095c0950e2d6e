"""Can current get from one source into another? A walk over the steps, in the directions they let it."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Sequence

from boardgen.electrical.power.model import BackPath, Source, Step

Hop = tuple[Step, str, str]  # (step, from, to)


def _hops(steps: Sequence[Step], node: str, *, any_way: bool) -> Iterator[Hop]:
    for step in steps:
        if step.start == node:
            yield step, step.start, step.end
        if step.end == node and (step.back or any_way):
            yield step, step.end, step.start


def _way(steps: Sequence[Step], start: str, goal: str, *, any_way: bool) -> tuple[Hop, ...] | None:
    """Return the shortest way from *start* to *goal*; with *any_way*, against what blocks it too."""
    before: dict[str, Hop | None] = {start: None}
    queue = deque([start])
    while queue:
        node = queue.popleft()
        if node == goal:
            hops: list[Hop] = []
            last = before[node]
            while last is not None:
                hops.append(last)
                last = before[last[1]]
            return tuple(reversed(hops))
        for hop in _hops(steps, node, any_way=any_way):
            if hop[2] not in before:
                before[hop[2]] = hop
                queue.append(hop[2])
    return None


def back_paths(sources: Sequence[Source], steps: Sequence[Step]) -> tuple[BackPath, ...]:
    """Return, for each ordered pair of sources that are joined, the way between them and what blocks it.

    An open way is reported where there is one; else the shortest way and the
    first thing on it that lets no current through.
    """
    found: list[BackPath] = []
    for source in sources:
        for target in sources:
            if source is target:
                continue
            open_way = _way(steps, source.node, target.node, any_way=False)
            if open_way is not None:
                names = tuple(hop[0].through for hop in open_way)
                found.append(BackPath(source.name, target.name, names, ""))
                continue
            way = _way(steps, source.node, target.node, any_way=True)
            if way is None:
                continue
            block = next(step.through for step, start, _ in way if start == step.end and not step.back)
            names = tuple(hop[0].through for hop in way)
            found.append(BackPath(source.name, target.name, names, block))
    return tuple(found)
