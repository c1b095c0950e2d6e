"""What would mend a matrix: the least set of single diodes, or keys on other crossings."""

from __future__ import annotations

import numpy as np

from boardgen.electrical.matrix.cover import least_cover
from boardgen.electrical.matrix.groups import group_ways
from boardgen.electrical.matrix.model import GroupVerdict, Mending, Wiring
from boardgen.electrical.matrix.rewiring import rewirings
from boardgen.electrical.matrix.triples import by_crossing, grid_of, triples
from boardgen.electrical.matrix.wiring import unread_keys, with_diodes, with_turned


def mending(wiring: Wiring, groups: tuple[GroupVerdict, ...]) -> Mending:
    """Return the least that makes every group of *groups* read right, and any three keys.

    Nothing is proposed where more diodes point against the scan than with it:
    the other drive comes first. Else those against it are turned round before
    all the rest.
    """
    against = unread_keys(wiring)
    if len(against) > sum(key.diode and key.ahead for key in wiring.keys):
        return Mending()
    mended = with_turned(wiring, against)
    places = tuple(tuple(wiring.place(name) for name in group.keys) for group in groups)
    diodes, bound = group_diodes(mended, places)
    three = wiring.names(three_key_diodes(mended))
    broken = any(not group.right for group in groups)
    if against:
        broken = any(group_ways(mended, group) for group in places)
    changes = rewirings(mended, places) if broken else ()
    return Mending(wiring.names(diodes), bound, changes, three, wiring.names(against))


def group_diodes(wiring: Wiring, groups: tuple[tuple[int, ...], ...]) -> tuple[tuple[int, ...], int]:
    """Return the fewest keys (places) that need a diode for *groups* to read right, and a lower bound.

    A phantom's current passes every other key of its way from the driven to
    the read line; a diode in one of these stops it. Ways are gathered as they
    show with the diodes chosen so far, until none is left, so the answer is
    that for all ways. Raises ValueError where a diode points against the scan:
    no further one stops what it lets through.
    """
    if unread_keys(wiring):
        raise ValueError("a diode points against the scan")
    demands: set[frozenset[int]] = set()
    while True:
        chosen, bound = least_cover(demands)
        mended = with_diodes(wiring, frozenset(chosen))
        open_ways = {frozenset(item.path[1::2]) for group in groups for _, item in group_ways(mended, group)}
        if not open_ways:
            return chosen, bound
        demands |= open_ways


def three_key_diodes(wiring: Wiring) -> tuple[int, ...]:
    """Return the keys that need a diode for any three keys to read right.

    The middle key of an unsafe triple is the only one its current passes the
    wrong way, so each such key needs its diode: there is no smaller set.
    """
    grid = grid_of(wiring)
    middle = by_crossing(triples(grid), "middle")
    return tuple(sorted(int(grid.place[r, d]) for r, d in np.argwhere(middle > 0).tolist()))
