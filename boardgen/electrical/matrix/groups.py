"""What happens to a group of keys held together, in whatever order they are pressed."""

from __future__ import annotations

from collections.abc import Collection

from boardgen.electrical.matrix.model import Fault, GroupVerdict, Reading, Wiring
from boardgen.electrical.matrix.reading import readings, wrongly_read


def group_ways(wiring: Wiring, group: Collection[int]) -> tuple[tuple[int, Reading], ...]:
    """Return each key that shows while some part of *group* is held without it, with the current's way.

    A key outside shows once all is held, if ever. One inside shows before it
    is pressed or after it is let go, when all the others are held, if ever.
    """
    held = frozenset(group)
    found = list(wrongly_read(wiring, held))
    for place in sorted(held):
        key = wiring.keys[place]
        found += [
            (place, item)
            for item in readings(wiring, held - {place})
            if (item.read, item.driven) == (key.read, key.driven)
        ]
    return tuple(sorted(found, key=lambda one: one[0]))


def judge_group(wiring: Wiring, names: tuple[str, ...]) -> GroupVerdict:
    """Return what happens to the keys called *names*; raises KeyError for an unknown one."""
    group = tuple(wiring.place(name) for name in names)
    faults = tuple(
        Fault(wiring.keys[place].name, wiring.names(item.path), item.diodes, place in group)
        for place, item in group_ways(wiring, group)
    )
    unread = tuple(p for p in group if not wiring.keys[p].conducts_ahead)
    return GroupVerdict(names, faults, wiring.names(unread))
