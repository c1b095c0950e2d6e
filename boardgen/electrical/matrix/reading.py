"""What the firmware reads for any set of closed keys."""

from __future__ import annotations

from collections import deque
from collections.abc import Collection

from boardgen.electrical.matrix.model import Reading, Wiring

_Node = tuple[int, int]  # (0, read line) or (1, driven line)


def readings(wiring: Wiring, closed: Collection[int]) -> tuple[Reading, ...]:
    """Return every crossing that reads closed while the keys at the places *closed* are.

    One line is driven at a time and the others are let go, so that current
    finds any way through closed keys, diodes permitting; crossings without a
    key are among them.
    """
    ways: dict[_Node, list[tuple[_Node, int]]] = {}
    for place in sorted(closed):
        key = wiring.keys[place]
        ends: tuple[_Node, _Node] = ((0, key.read), (1, key.driven))
        if key.conducts_ahead:
            ways.setdefault(ends[0], []).append((ends[1], place))
        if key.conducts_back:
            ways.setdefault(ends[1], []).append((ends[0], place))
    found: list[Reading] = []
    for line in sorted({wiring.keys[place].read for place in closed}):
        found.extend(_from(wiring, ways, line))
    return tuple(found)


def _from(wiring: Wiring, ways: dict[_Node, list[tuple[_Node, int]]], line: int) -> list[Reading]:
    """Breadth first by (diodes, keys) from read line *line*."""
    start: _Node = (0, line)
    best: dict[_Node, tuple[int, tuple[int, ...]]] = {start: (0, ())}
    queue = deque([start])
    while queue:
        node = queue.popleft()
        diodes, path = best[node]
        for after, place in ways.get(node, ()):
            step = (diodes + wiring.keys[place].diode, (*path, place))
            old = best.get(after)
            if old is None or (step[0], len(step[1])) < (old[0], len(old[1])):
                best[after] = step
                queue.append(after)
    return [
        Reading(line, place, path, diodes)
        for (side, place), (diodes, path) in sorted(best.items())
        if side == 1
    ]


def wrongly_read(wiring: Wiring, closed: Collection[int]) -> tuple[tuple[int, Reading], ...]:
    """Return the keys that read closed though they are not, by place, each with the current's way."""
    at = {(key.read, key.driven): place for place, key in enumerate(wiring.keys)}
    held = set(closed)
    wrong = [
        (place, item)
        for item in readings(wiring, closed)
        if (place := at.get((item.read, item.driven))) is not None and place not in held
    ]
    return tuple(sorted(wrong, key=lambda one: one[0]))


def not_read(wiring: Wiring, closed: Collection[int]) -> tuple[int, ...]:
    """Return the places of closed keys that do not read closed."""
    seen = {(item.read, item.driven) for item in readings(wiring, closed)}
    return tuple(p for p in sorted(closed) if (wiring.keys[p].read, wiring.keys[p].driven) not in seen)


def reads_right(wiring: Wiring, closed: Collection[int]) -> bool:
    """Whether exactly the keys at the places *closed* read closed."""
    return not wrongly_read(wiring, closed) and not not_read(wiring, closed)
