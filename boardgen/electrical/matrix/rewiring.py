"""Keys on other crossings: two that change places, or one that moves to a free crossing."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import replace

from boardgen.electrical.matrix.groups import group_ways
from boardgen.electrical.matrix.model import Change, Wiring

MOST_OFFERED = 3
MOST_CHANGES = 3
MOST_TRIED = 6_000  # changes looked at for one step

_Groups = tuple[tuple[int, ...], ...]


def rewirings(wiring: Wiring, groups: _Groups) -> tuple[tuple[Change, ...], ...]:
    """Return up to three single changes that each make every group right, in the order of the keys.

    Where none does, one chain of at most three, the best change taken each
    time; () where that does not mend it either. Keys keep their places in the
    wiring's list, and a diode goes with its key.
    """
    here = wiring
    chain: list[Change] = []
    for _ in range(MOST_CHANGES):
        worst = _faults(here, groups)
        options: list[tuple[int, int, Change, Wiring]] = []
        done: list[tuple[Change, ...]] = []
        for n, (change, after) in enumerate(_steps(here, groups)):
            faults = _faults(after, groups)
            options.append((faults, n, change, after))
            if faults == 0:
                done.append((*chain, change))
            if len(done) == (1 if chain else MOST_OFFERED):
                break
        if done:
            return tuple(done)
        best = min(options, key=lambda option: option[:2], default=None)
        if best is None or best[0] >= worst:
            return ()
        chain.append(best[2])
        here = best[3]
    return ()


def _faults(wiring: Wiring, groups: _Groups) -> int:
    """Keys that show wrongly, over all groups: as group_ways counts them, in bits, for it is asked often."""
    placed = [0] * len(wiring.read)
    for key in wiring.keys:
        placed[key.read] |= 1 << key.driven
    count = 0
    for group in groups:
        own: dict[int, int] = {}
        for place in group:
            key = wiring.keys[place]
            own[key.read] = own.get(key.read, 0) | 1 << key.driven
        for line, drives in own.items():
            count += (_reached(wiring, group, line) & placed[line] & ~drives).bit_count()
        for place in group:
            key = wiring.keys[place]
            others = tuple(p for p in group if p != place)
            count += _reached(wiring, others, key.read) >> key.driven & 1
    return count


def _reached(wiring: Wiring, closed: tuple[int, ...], line: int) -> int:
    """Return the driven lines, as bits, that current from read line *line* gets to."""
    reads, drives = 1 << line, 0
    while True:
        before = (reads, drives)
        for place in closed:
            key = wiring.keys[place]
            if reads >> key.read & 1 and key.conducts_ahead:
                drives |= 1 << key.driven
            if drives >> key.driven & 1 and key.conducts_back:
                reads |= 1 << key.read
        if (reads, drives) == before:
            return drives


def _steps(wiring: Wiring, groups: _Groups) -> Iterator[tuple[Change, Wiring]]:
    """Yield the wiring after each change that touches a broken group, at most MOST_TRIED."""
    return itertools.islice(_every_step(wiring, groups), MOST_TRIED)


def _every_step(wiring: Wiring, groups: _Groups) -> Iterator[tuple[Change, Wiring]]:
    concerned = sorted({place for group in groups if group_ways(wiring, group) for place in group})
    taken = {(key.read, key.driven) for key in wiring.keys}
    free = [(r, d) for r in range(len(wiring.read)) for d in range(len(wiring.driven)) if (r, d) not in taken]
    for place in concerned:
        key = wiring.keys[place]
        for r, d in free:
            moved = (*wiring.keys[:place], replace(key, read=r, driven=d), *wiring.keys[place + 1 :])
            yield Change(key.name, "", wiring.read[r], wiring.driven[d]), replace(wiring, keys=moved)
    for place in concerned:
        key = wiring.keys[place]
        for other, partner in enumerate(wiring.keys):
            if other == place or (other in concerned and other < place):
                continue
            keys = list(wiring.keys)
            keys[place] = replace(key, read=partner.read, driven=partner.driven)
            keys[other] = replace(partner, read=key.read, driven=key.driven)
            yield Change(key.name, partner.name), replace(wiring, keys=tuple(keys))
