"""The placer's search: part by part each in its cheapest place, then moved, exchanged and pushed.

A capacitor is placed right after the chip it serves, and moves with it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from boardgen.layout.place_room import Rect
from boardgen.layout.place_standing import Spot, Standing

PASSES = 3
PUSH_LEAST = 2_000_000.0  # nm a part must gain by standing where it wants before others are moved
GAIN_LEAST = 1_000.0  # nm; smaller gains end the improvement


class Search(Standing):
    """One attempt on one grid."""

    def run(self, order: Sequence[int]) -> int | None:
        """Place the parts in *order*, then improve; returns the index that did not fit, or None.

        A capacitor is placed with the chip it serves, and moves with it.
        """
        for index in order:
            missing = None if index in self.spots else self._settle(index)
            if missing is not None:
                return missing
        for _ in range(PASSES):
            moved = self._move_pass(order)
            moved = self._swap_pass(order) or moved
            if not (self._push_pass(order) or moved):
                break
        return None

    def _settle(self, index: int) -> int | None:
        """Give a part, and a chip's capacitor after it, the best place; returns the one without any."""
        for one in (index, self.mates.get(index)):
            if one is not None and one not in self.spots:
                spot = self.best(one)
                if spot is None:
                    return one
                self.stand(one, spot)
        return None

    def _unit(self, index: int) -> tuple[int, ...]:
        """The part, and the capacitor that moves with it."""
        mate = self.mates.get(index)
        return (index,) if mate is None else (index, mate)

    def _lift(self, index: int) -> tuple[float, dict[int, Spot]]:
        """Take a part and its capacitor away; returns what they cost together, and where they stood."""
        unit = self._unit(index)
        old = {one: self.spots[one] for one in unit}
        for one in unit:
            self.take(one)
        return self._stand_all(old), {one: self.take(one) for one in unit}

    def _stand_all(self, spots: Mapping[int, Spot]) -> float:
        """Put parts where *spots* has them, one after the other; returns what that adds to the total."""
        cost = 0.0
        for one, spot in spots.items():
            cost += self.cost(one, spot)
            self.stand(one, spot)
        return cost

    def _move_pass(self, order: Sequence[int]) -> bool:
        moved = False
        for index in order:
            before, old = self._lift(index)
            new: dict[int, Spot] = {}
            if self._settle(index) is None:
                after, new = self._lift(index)
                new = new if after < before - GAIN_LEAST else {}
            for one in old:
                if one in self.spots:
                    self.take(one)
            self._stand_all(new or old)
            moved = moved or bool(new)
        return moved

    def _push_pass(self, order: Sequence[int]) -> bool:
        """Let each part have the place it wants, and those in its way find others."""
        pushed = False
        for index in order:
            here, old = self._lift(index)
            wish = self._wish(index)
            there = self._stand_all(wish)
            for one in wish:
                self.take(one)
            self._stand_all(old)
            if len(wish) < len(old) or there > here - PUSH_LEAST:
                continue
            before, spots = self.total(), dict(self.spots)
            if self._push(index, wish) and self.total() < before - GAIN_LEAST:
                pushed = True
                continue
            for other, spot in spots.items():
                if self.spots.get(other) != spot:
                    if other in self.spots:
                        self.take(other)
                    self.stand(other, spot)
        return pushed

    def _wish(self, index: int) -> dict[int, Spot]:
        """Where a part and its capacitor, both lifted, would stand if no other small part did."""
        wish: dict[int, Spot] = {}
        for one in self._unit(index):
            spot = self.best(one, through=True)
            if spot is None:
                break
            wish[one] = spot
            self.stand(one, spot)
        for one in wish:
            self.take(one)
        return wish

    def _push(self, index: int, wish: Mapping[int, Spot]) -> bool:
        """Put *index* where it wishes and others elsewhere; False, some left out, where that fails."""
        for one in wish:
            self.take(one)
        away: set[int] = set()
        for spot in (self.rect(one, spot) for one, spot in wish.items()):
            away.update(other for other in self.spots if self._near(spot, other))
        away.update(one for other in list(away) for one in self._unit(other) if one in self.spots)
        for other in away:
            self.take(other)
        self._stand_all(wish)
        for other in sorted(away, key=lambda i: (-self.movers[i].area, i)):
            if other not in self.spots and self._settle(other) is not None:
                return False
        return True

    def _near(self, rect: Rect, other: int) -> bool:
        """Whether a part standing within *rect* would be too near to another."""
        gap, taken = self.gaps.small, self.rect(other, self.spots[other])
        return (
            rect[0] - gap < taken[2]
            and rect[2] + gap > taken[0]
            and rect[1] - gap < taken[3]
            and rect[3] + gap > taken[1]
        )

    def _swap_pass(self, order: Sequence[int]) -> bool:
        """Exchange parts of one shape where that shortens the wires."""
        alike: dict[tuple[Rect, ...], list[int]] = {}
        for index in order:
            alike.setdefault(tuple(t.box for t in self.movers[index].turns), []).append(index)
        swapped = False
        for group in alike.values():
            now = {index: self._share(index) for index in group}
            for at, a in enumerate(group):
                for b in group[at + 1 :]:
                    if self._swap(a, b, now[a] + now[b]):
                        swapped = True
                        now = {index: self._share(index) for index in group}
        return swapped

    def _share(self, index: int) -> float:
        """What a part and its capacitor cost, each with all others standing."""
        return sum(self.cost(one, self.spots[one]) for one in self._unit(index))

    def _swap(self, a: int, b: int, before: float) -> bool:
        """Exchange *a* and *b*, and their capacitors, if all together then cost less than *before*."""
        one, other = self._unit(a), self._unit(b)
        boxes = [[tuple(turn.box for turn in self.movers[i].turns) for i in unit] for unit in (one, other)]
        if boxes[0] != boxes[1]:
            return False
        old = {i: self.spots[i] for i in (*one, *other)}
        for i, j in zip(one, other, strict=True):
            self.stand(i, old[j])
            self.stand(j, old[i])
        if self._share(a) + self._share(b) < before - GAIN_LEAST:
            return True
        for i, spot in old.items():
            self.stand(i, spot)
        return False
