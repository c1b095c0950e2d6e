"""A matrix simulated key by key, with none of the program's own code: who pulls whom low."""

from __future__ import annotations

import itertools
import random
from dataclasses import replace

from boardgen.design.model import Matrix


def lines(count, letter):
    return tuple(f"{letter}{n}" for n in range(count))


def matrix(rows, columns, *, share=1.0, diodes="none", diode_share=1.0, drive="columns", seed=0, **more):
    """A matrix with *share* of its crossings filled and *diode_share* of its keys with a diode.

    With *diodes* "both-ways" each of these points as it happens, two in three to the column.
    """
    rng = random.Random(f"{rows} {columns} {seed}")
    keys = tuple(
        (r, c, f"{r}{c}") for r in lines(rows, "R") for c in lines(columns, "C") if rng.random() < share
    )
    if diodes == "both-ways":
        return _both_ways(
            rng,
            keys,
            diode_share,
            Matrix("keys", lines(rows, "R"), lines(columns, "C"), drive, keys=keys, **more),
        )
    some = None
    if diodes != "none" and diode_share < 1.0:
        some = tuple(name for _, _, name in keys if rng.random() < diode_share)
        if not some:
            diodes, some = "none", None
    return Matrix("keys", lines(rows, "R"), lines(columns, "C"), drive, diodes, keys, diode_keys=some, **more)


def _both_ways(rng, keys, diode_share, item):
    """Say it in one of the ways a file may: exceptions from a direction, or every key's own."""
    ways = {
        name: rng.choice(["row", "column", "column"]) for _, _, name in keys if rng.random() < diode_share
    }
    row, column = (tuple(name for name, way in ways.items() if way == side) for side in ("row", "column"))
    some = tuple(ways) if len(ways) < len(keys) else None
    form = rng.randrange(3)
    if form == 0 or not ways:
        return replace(item, cathode_to_row=row, cathode_to_column=column)
    if form == 1:
        return replace(item, diodes="cathode-to-column", diode_keys=some, cathode_to_row=row)
    return replace(item, diodes="cathode-to-row", diode_keys=some, cathode_to_column=column)


class Simulated:
    """Walks wires: a line is low when current can get from it to the driven line."""

    def __init__(self, item):
        self.item = item
        self.keys = {name: (r, c) for r, c, name in item.keys}
        self.wires = {}
        for name, (r, c) in self.keys.items():
            diode = item.diodes != "none" and (item.diode_keys is None or name in item.diode_keys)
            both = [(r, c), (c, r)]
            to_row = item.diodes == "cathode-to-row"
            if name in item.cathode_to_row or name in item.cathode_to_column:
                diode, to_row = True, name in item.cathode_to_row
            if diode:  # conventional current runs to the cathode
                both = [(c, r)] if to_row else [(r, c)]
            self.wires[name] = both
        self.driven = item.columns if item.drive == "columns" else item.rows
        self.read = item.rows if item.drive == "columns" else item.columns

    def shows(self, closed):
        """The keys that the firmware takes for pressed while *closed* are."""
        into = {}
        for name in closed:
            for start, end in self.wires[name]:
                into.setdefault(end, []).append(start)
        low = set()
        for strobe in self.driven:
            reached, todo = {strobe}, [strobe]
            while todo:
                for start in into.get(todo.pop(), ()):
                    if start not in reached:
                        reached.add(start)
                        todo.append(start)
            low |= {frozenset((line, strobe)) for line in self.read if line in reached}
        return frozenset(name for name, ends in self.keys.items() if frozenset(ends) in low)

    def combinations(self, most):
        """(keys held, keys shown) of every combination of one to *most* keys."""
        for size in range(1, most + 1):
            for held in itertools.combinations(sorted(self.keys), size):
                yield frozenset(held), self.shows(held)


def smallest_unsafe(combinations):
    """{(keys, phantom)}: sets that show a key not held, no part of which shows any."""
    unsafe, found = [], set()
    for held, shown in combinations:
        extra = shown - held
        if extra and not any(part <= held for part in unsafe):
            unsafe.append(held)
            found |= {(held, phantom) for phantom in extra}
    return found
