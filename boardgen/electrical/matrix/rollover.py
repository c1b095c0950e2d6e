"""How many keys may be held at once, by exact counts."""

from __future__ import annotations

import itertools
import math

import numpy as np

from boardgen.electrical.matrix.model import Phantoms, Rollover, Share, Wiring
from boardgen.electrical.matrix.triples import Grid, by_crossing, grid_of, pairs_in_four, triples
from boardgen.electrical.matrix.wiring import unread_keys


def rollover(wiring: Wiring, found: Phantoms) -> Rollover:
    """Return guaranteed and effective rollover of *wiring*, whose smallest unsafe sets are *found*.

    Sets of keys that cannot be read at all count as wrong, unless others held
    with them happen to give the current another way.
    """
    grid = grid_of(wiring)
    count, dead = len(wiring.keys), len(unread_keys(wiring))
    guaranteed = min((size for size, _ in found.sizes), default=None)
    if guaranteed is None and found.exact_to is not None:
        guaranteed = found.exact_to + 1
    limit = None if guaranteed is None else guaranteed - 1
    if dead:
        limit = 0
    shares = [
        Share(size, right, math.comb(count, size))
        for size, right in ((3, _three(grid, count - dead)), (4, _four(grid, count - dead)))
        if count >= size
    ]
    return Rollover(limit, tuple(shares))


def _three(grid: Grid, alive: int) -> int:
    """Combinations of three keys that read right: no three keys can help a fourth one out."""
    unsafe = triples(grid, grid.back & grid.ahead)
    return math.comb(alive, 3) - int(unsafe.sum(dtype=np.int64))


def _four(grid: Grid, alive: int) -> int:
    """Combinations of four that read right.

    Wrong ones hold an unsafe triple and any other key but its phantom. Those
    with two triples were counted twice.
    """
    unsafe = triples(grid, grid.back & grid.ahead)
    by_phantom = by_crossing(unsafe, "phantom")
    total = int(by_phantom.sum())
    wrong = total * (alive - 3) - int((by_phantom * grid.ahead).sum()) - pairs_in_four(unsafe)
    return math.comb(alive, 4) - wrong + _helped_out(grid)


def _helped_out(grid: Grid) -> int:
    """Rectangles whose unreadable keys are read through the others: one, or two at opposite corners.

    The current passes the opposite corner back, so one alone needs a key there that lets it.
    """
    dead = grid.placed & ~grid.ahead
    if not dead.any():
        return 0
    count = 0
    for r in range(len(dead)):
        for other in range(r + 1, len(dead)):
            both = np.flatnonzero(grid.placed[r] & grid.placed[other]).tolist()
            for d, e in itertools.combinations(both, 2):
                places = ((r, d), (r, e), (other, e), (other, d))
                corners = [bool(dead[at]) for at in places]
                number = sum(corners)
                if number == 1:
                    count += bool(grid.back[places[(corners.index(True) + 2) % 4]])
                count += number == 2 and corners[0] == corners[2]
    return count
