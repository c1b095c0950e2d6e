"""The least set of things that meets every one of many demands (minimum hitting set)."""

from __future__ import annotations

from collections.abc import Iterable

MOST_STEPS = 20_000


def least_cover(demands: Iterable[frozenset[int]]) -> tuple[tuple[int, ...], int]:
    """Return the least sorted set that has a member in each of *demands*, and a proven lower bound.

    Exact, with the bound met, unless more than 20 000 branches are needed: then
    the best found so far. Raises ValueError for an empty demand.
    """
    every = sorted(_smallest(demands), key=lambda d: (len(d), sorted(d)))
    if every and not every[0]:
        raise ValueError("a demand that nothing meets")
    best = _greedy(every)
    bound = _apart(every)
    steps = 0
    stack: list[tuple[frozenset[int], frozenset[int]]] = [(frozenset(), frozenset())]
    while stack and len(best) > bound:
        chosen, barred = stack.pop()
        steps += 1
        if steps > MOST_STEPS:
            return tuple(sorted(best)), bound
        open_ones = [d - barred for d in every if not d & chosen]
        if not open_ones:
            best = min(best, chosen, key=lambda c: (len(c), sorted(c)))
            continue
        open_ones.sort(key=lambda d: (len(d), sorted(d)))
        if len(chosen) + _apart(open_ones) >= len(best) or not open_ones[0]:
            continue
        shut = barred
        branches = []
        for item in sorted(open_ones[0]):
            branches.append((chosen | {item}, shut))
            shut |= {item}
        stack.extend(reversed(branches))
    return tuple(sorted(best)), len(best)


def _smallest(demands: Iterable[frozenset[int]]) -> set[frozenset[int]]:
    """Drop demands that another one implies."""
    every = set(demands)
    return {d for d in every if not any(other < d for other in every)}


def _apart(demands: list[frozenset[int]]) -> int:
    """Demands that share nothing, each of which needs a member of its own."""
    taken: frozenset[int] = frozenset()
    count = 0
    for demand in demands:
        if not demand & taken:
            taken |= demand
            count += 1
    return count


def _greedy(demands: list[frozenset[int]]) -> frozenset[int]:
    chosen: set[int] = set()
    left = demands
    while left:
        tally: dict[int, int] = {}
        for demand in left:
            for item in demand:
                tally[item] = tally.get(item, 0) + 1
        pick = min(tally, key=lambda item: (-tally[item], item))
        chosen.add(pick)
        left = [d for d in left if pick not in d]
    return frozenset(chosen)
