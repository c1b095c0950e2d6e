"""Nets of one copper side bargain for room, with tracks and wire links, and repair what is left.

The loops are plain Python: their time goes into the compiled search, and compiling them too took 20 s.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from boardgen.layout.route.queuekernels import BUCKETS
from boardgen.layout.route.searchkernels import HARD
from boardgen.layout.route.wirefield import Books, Field, claim, clashes
from boardgen.layout.route.wireroute import route_net

Array = Any
NOTHING: Array = np.zeros(0, np.int32)
CROWD = 4  # nets in dispute that are never too many to go on


@dataclass(frozen=True, slots=True)
class Terms:
    """Prices, in cost units.

    *price* of crossing another net's cell at first, its *growth* in percent a
    round, its *most*, and what a cell in dispute grows dearer by for good; in a
    repair the price is *across* and the lasting rise *scar*.
    """

    price: int
    growth: int
    most: int
    rise: int
    across: int
    scar: int


class Bargain:
    """The nets of one field on their way to agreement.

    ``paths[n]`` are the nodes of net n, branches parted by -1; ``state[n]`` is 0
    for joined, 1 for no way even on the empty board, 2 for no way past the others.
    """

    def __init__(self, field: Field, order: list[int], terms: Terms) -> None:
        self.field, self.order, self.terms = field, order, terms
        nets = len(field.kinds)
        self.kinds = [int(kind) for kind in field.kinds]
        self.pins = [int(field.pin_at[n + 1] - field.pin_at[n]) for n in range(nets)]
        self.paths: list[Array] = [NOTHING] * nets
        self.state = [0] * nets
        self.rounds = 0
        self.dropped = 0
        self.repairs = 0
        plane, classes = field.width * field.height, len(field.stat)
        each = min(plane, max(12 * (field.width + field.height), plane // 4, 20_000)) + 64
        self._out = np.zeros(each * max(3, max(self.pins, default=1)), np.int32)
        short, whole, three = (classes, plane), np.int32, 3 * plane
        self._books = Books(
            occ=np.zeros(short, np.int16),
            end_occ=np.zeros(short, np.int16),
            wire_occ=np.zeros(plane, np.int16),
            marks=np.zeros(short, whole),
            end_marks=np.zeros(short, whole),
            wire_marks=np.zeros(plane, whole),
            own_end=np.zeros(plane, whole),
            own_wire=np.zeros(plane, whole),
            hist=np.zeros(three, whole),
            nodes=np.zeros((three, 4), whole),
            goal=np.zeros(plane, whole),
            degree=np.zeros(plane, whole),
            heads=np.zeros(BUCKETS, whole),
            pool=np.zeros((12 * plane + 64, 2), whole),
            at=np.zeros(4, np.int64),
            sources=np.zeros(plane + 64, whole),
            linked=np.zeros(int(field.pin_at[nets]) + 1, np.int8),
            clock=np.zeros(4, np.int64),
        )

    @property
    def searches(self) -> int:
        """How many searches were made."""
        return int(self._books.clock[3])

    @property
    def missing(self) -> int:
        """How many nets have no way past the others."""
        return self.state.count(2)

    def _find(self, n: int, price: int, whole: bool) -> tuple[Array, bool]:
        """Return a path of net *n*, and whether it joins all pins; with *whole* it stops where it cannot."""
        size = int(route_net(self.field, self._books, n, price, self._out, int(whole)))
        return self._out[: size if size >= 0 else -1 - size].copy(), size >= 0

    def _lay(self, n: int, path: Array) -> None:
        self.paths[n] = path
        claim(self.field, self._books, path, len(path), self.kinds[n], 1)

    def _lift(self, n: int) -> None:
        claim(self.field, self._books, self.paths[n], len(self.paths[n]), self.kinds[n], -1)
        self.paths[n] = NOTHING

    def _disputes(self, rise: int) -> list[int]:
        """Return for each net how many of its cells others claim too, and make those dearer by *rise*."""
        return [
            int(clashes(self.field, self._books, path, len(path), self.kinds[n], rise)) if len(path) else 0
            for n, path in enumerate(self.paths)
        ]

    def bargain(self, rounds: int, patience: int, strict: bool, after: int, share: int) -> bool:
        """Let the nets in dispute look for other ways, dearer from round to round; drop those that cannot.

        It is no use to go on where *after* rounds more than *share* percent of the nets are in
        dispute. With *strict* it then ends with nothing settled, those nets' state 2, and so it
        does after one round where a net has no way even across the others. Returns whether it
        came to the end.
        """
        terms, price = self.terms, self.terms.price
        stuck = [1] * len(self.paths)
        best, idle = 1 << 30, 0
        while sum(stuck) and self.rounds < rounds and idle < patience:
            self.rounds += 1
            for n in self.order:
                if stuck[n]:
                    self._lift(n)
                    path, whole = self._find(n, price, False)
                    self.state[n] = 0 if whole else 1  # what could be joined stays joined
                    self._lay(n, path)
            if strict and 1 in self.state:
                return False
            stuck = self._disputes(terms.rise)
            crowd = [n for n, s in enumerate(stuck) if s]
            if self.rounds == after and len(crowd) > max(CROWD, share * len(self.order) // 100):
                if not strict:
                    break
                for n in crowd:
                    self.state[n] = 2
                return False
            price = min(price * terms.growth // 100, terms.most)
            idle = 0 if sum(stuck) < best else idle + 1
            best = min(best, sum(stuck))
        while any(stuck):  # those of few pins first: they lose the least
            worst = min((n for n, s in enumerate(stuck) if s), key=lambda n: (self.pins[n], -stuck[n], n))
            self._lift(worst)
            self.state[worst] = 2
            self.dropped += 1
            stuck = self._disputes(0)
        self._books.hist[:] = 0
        return True

    def repair(self, most: int, patience: int) -> None:
        """Lay one open net after another across the rest, and those in its way anew; keep the best seen.

        At most *most* times, and *patience* times without fewer nets open.
        """
        if not self.missing:
            return
        tries = [0] * len(self.paths)
        least = self.missing
        idle = 0
        kept = self.paths[:], self.state[:]
        while self.missing and self.repairs < most and idle < patience:
            self.repairs += 1
            idle += 1
            n = min((m for m in self.order if self.state[m] == 2), key=lambda m: tries[m])
            tries[n] += 1
            path, whole = self._find(n, self.terms.across, True)
            if not whole:
                continue
            self._lay(n, path)
            self.state[n] = 0
            stuck = self._disputes(self.terms.scar)
            hurt = [m for m in self.order if stuck[m] and m != n]
            for m in hurt:
                self._lift(m)
            for m in hurt:
                path, whole = self._find(m, HARD, True)
                self.state[m] = 0 if whole else 2
                if whole:
                    self._lay(m, path)
            if self.missing < least:
                least = self.missing
                idle = 0
                kept = self.paths[:], self.state[:]
        if self.missing > least:
            for n, path in enumerate(kept[0]):
                self._lift(n)
                self.paths[n] = path
            for n, path in enumerate(kept[0]):
                self._lay(n, path)
            self.state = kept[1]
        self._books.hist[:] = 0

    def polish(self) -> None:
        """Let each net look for a better way among the others."""
        for n in self.order:
            if self.state[n] == 0:
                old = self.paths[n]
                self._lift(n)
                path, whole = self._find(n, HARD, True)
                self._lay(n, path if whole else old)

    def finish(self) -> None:
        """Try the dropped nets once more; what can be joined of them is joined."""
        for n in self.order:
            if self.state[n] == 2:
                path, whole = self._find(n, HARD, False)
                self.state[n] = 0 if whole else 2
                self._lay(n, path)
