"""The placer's search: every place of a grid judged at once, part by part, then improved.

The estimate is the half perimeter of each net's box, a pull toward the part's
anchor, and the length of straight module-to-connector wires its pads would
stand on. The first two are sums of a term in x and a term in y, so that all places of
a turn cost two short vectors. Nothing here draws random numbers; ties go to
the first turn, then the topmost and leftmost place.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boardgen.layout.place_grid import Grid
from boardgen.layout.place_kernel import cheapest_place
from boardgen.layout.place_room import Rect
from boardgen.layout.place_shape import Mover, Turned

WIRE_WEIGHT = 0.5  # of a mm of wire for a mm of straight wires that pads stand in the way of
PASSES = 3
PUSH_LEAST = 2_000_000.0  # nm a part must gain by standing where it wants before others are moved
GAIN_LEAST = 1_000.0  # nm; smaller gains end the improvement

Spot = tuple[int, int, int]  # turn, column, row of the first pad
NetPads = dict[str, list[tuple[int, int]]]


@dataclass(frozen=True, slots=True)
class Gaps:
    """Distances to keep, in nm: round module and connector, and between small parts."""

    big: int
    small: int


class Search:
    """One attempt on one grid; *pins* holds the fixed pads of each net."""

    def __init__(
        self, grid: Grid, gaps: Gaps, pins: Mapping[str, Sequence[tuple[int, int]]], movers: Sequence[Mover]
    ) -> None:
        self.grid = grid
        self.gaps = gaps
        self.movers = movers
        self.spots: dict[int, Spot] = {}
        self._fixed = {net: _box(points) for net, points in pins.items() if points}
        self._pads: dict[int, NetPads] = {}
        boxes = dict.fromkeys(turned.box for mover in movers for turned in mover.turns)
        self._barred = {box: grid.barred(box, gaps.big) for box in boxes}
        nets: dict[str, list[int]] = {}
        for index, mover in enumerate(movers):
            for net in dict.fromkeys(net for net, _, _ in mover.turns[0].pads):
                nets.setdefault(net, []).append(index)
        self._on_net = {net: tuple(found) for net, found in nets.items()}

    def run(self, order: Sequence[int]) -> int | None:
        """Place the parts in *order*, then improve; returns the index that did not fit, or None."""
        for index in order:
            spot = self.best(index)
            if spot is None:
                return index
            self._stand(index, spot)
        for _ in range(PASSES):
            moved = self._move_pass(order)
            moved = self._swap_pass(order) or moved
            if not (self._push_pass(order) or moved):
                break
        return None

    def _move_pass(self, order: Sequence[int]) -> bool:
        moved = False
        for index in order:
            old = self._take(index)
            found = self.best(index)
            better = found is not None and self.cost(index, found) < self.cost(index, old) - GAIN_LEAST
            self._stand(index, found if found is not None and better else old)
            moved = moved or better
        return moved

    def _push_pass(self, order: Sequence[int]) -> bool:
        """Let each part have the place it wants, and those in its way find others."""
        pushed = False
        for index in order:
            here = self.cost(index, self.spots[index])
            wish = self.best(index, through=True)
            if wish is None or self.cost(index, wish) > here - PUSH_LEAST:
                continue
            before, spots = self.total(), dict(self.spots)
            if self._push(index, wish) and self.total() < before - GAIN_LEAST:
                pushed = True
                continue
            for other, spot in spots.items():
                if self.spots.get(other) != spot:
                    if other in self.spots:
                        self._take(other)
                    self._stand(other, spot)
        return pushed

    def _push(self, index: int, wish: Spot) -> bool:
        """Put *index* where it wishes and others elsewhere; False, some left out, where that fails."""
        gap = self.gaps.small
        left, top, right, bottom = self._rect(index, wish)
        left, top, right, bottom = left - gap, top - gap, right + gap, bottom + gap
        self._take(index)
        away = []
        for other, spot in list(self.spots.items()):
            rect = self._rect(other, spot)
            if left < rect[2] and right > rect[0] and top < rect[3] and bottom > rect[1]:
                away.append(other)
                self._take(other)
        self._stand(index, wish)
        for other in sorted(away, key=lambda i: (-self.movers[i].area, i)):
            found = self.best(other)
            if found is None:
                return False
            self._stand(other, found)
        return True

    def _rect(self, index: int, spot: Spot) -> Rect:
        x, y = self.grid.place(spot[1], spot[2])
        left, top, right, bottom = self.movers[index].turns[spot[0]].box
        return (left + x, top + y, right + x, bottom + y)

    def total(self) -> float:
        """Return the estimate for the whole board: nets' half perimeters, anchors, wires stood upon."""
        total = 0.0
        for net, indices in self._on_net.items():
            points = [point for i in indices if i in self._pads for point in self._pads[i][net]]
            if points:
                box, fixed = _box(points), self._fixed.get(net)
                box = box if fixed is None else _both(box, fixed)
                total += box[2] - box[0] + box[3] - box[1]
        for index, spot in self.spots.items():
            mover = self.movers[index]
            copper = mover.turns[spot[0]].copper
            total += float(self.grid.wires_under(copper, WIRE_WEIGHT)[spot[2], spot[1]])
            total += self._pull(mover, spot)
        return total

    def _pull(self, mover: Mover, spot: Spot) -> float:
        """The cost of standing away from the anchor."""
        anchor = self._anchor(mover)
        if anchor is None:
            return 0.0
        x, y = self.grid.place(spot[1], spot[2])
        box = mover.turns[spot[0]].box
        away_x = abs(x + (box[0] + box[2]) // 2 - anchor[0])
        return mover.weight * (away_x + abs(y + (box[1] + box[3]) // 2 - anchor[1]))

    def _anchor(self, mover: Mover) -> tuple[int, int] | None:
        """The point the part belongs beside: the pad it serves, once that stands."""
        pads = None if mover.beside is None else self._pads.get(mover.beside)
        if pads is not None:
            for net, _, _ in mover.turns[0].pads:
                if net in pads:
                    return pads[net][0]
        return mover.anchor

    def _swap_pass(self, order: Sequence[int]) -> bool:
        """Exchange parts of one shape where that shortens the wires."""
        alike: dict[tuple[Rect, ...], list[int]] = {}
        for index in order:
            alike.setdefault(tuple(t.box for t in self.movers[index].turns), []).append(index)
        swapped = False
        for group in alike.values():
            now = {index: self.cost(index, self.spots[index]) for index in group}
            for at, a in enumerate(group):
                for b in group[at + 1 :]:
                    if self._swap(a, b, now[a] + now[b]):
                        swapped = True
                        now = {index: self.cost(index, self.spots[index]) for index in group}
        return swapped

    def _swap(self, a: int, b: int, before: float) -> bool:
        """Exchange *a* and *b* if both together then cost less than *before*."""
        spot_a, spot_b = self.spots[a], self.spots[b]
        self._stand(a, spot_b)
        self._stand(b, spot_a)
        if self.cost(a, spot_b) + self.cost(b, spot_a) < before - GAIN_LEAST:
            return True
        self._stand(a, spot_a)
        self._stand(b, spot_b)
        return False

    def _stand(self, index: int, spot: Spot) -> None:
        """Note where a part stands, without its room."""
        self.spots[index] = spot
        x, y = self.grid.place(spot[1], spot[2])
        pads: NetPads = {}
        for net, dx, dy in self.movers[index].turns[spot[0]].pads:
            pads.setdefault(net, []).append((x + dx, y + dy))
        self._pads[index] = pads

    def _take(self, index: int) -> Spot:
        del self._pads[index]
        return self.spots.pop(index)

    def best(self, index: int, through: bool = False) -> Spot | None:
        """Return the cheapest legal spot for an unplaced part; None where none is legal.

        With *through*, other small parts are looked through.
        """
        mover = self.movers[index]
        rects = [] if through else [self._rect(i, spot) for i, spot in self.spots.items() if i != index]
        others = np.array(rects, dtype=np.int64).reshape(-1, 4)
        boxes = self._net_boxes(index)
        found: Spot | None = None
        least = np.inf
        for number, turned in enumerate(mover.turns):
            tied = [(dx, dy, boxes[net]) for net, dx, dy in turned.pads if net in boxes]
            row, column, cost = cheapest_place(
                self._barred[turned.box],
                self.grid.wires_under(turned.copper, WIRE_WEIGHT),
                self.grid.frame,
                np.array(turned.box, dtype=np.int64),
                self.gaps.small,
                others,
                np.array([(dx, dy) for dx, dy, _ in tied], dtype=np.int64).reshape(-1, 2),
                np.array([box for _, _, box in tied], dtype=np.int64).reshape(-1, 4),
                _pull_at(self._anchor(mover), mover.weight, turned),
                least,
            )
            if row >= 0:
                found, least = (number, column, row), cost
        return found

    def cost(self, index: int, spot: Spot) -> float:
        """Return what *spot* costs the part, all others standing where they are."""
        mover = self.movers[index]
        turned = mover.turns[spot[0]]
        x, y = self.grid.place(spot[1], spot[2])
        boxes = self._net_boxes(index)
        total = float(self.grid.wires_under(turned.copper, WIRE_WEIGHT)[spot[2], spot[1]])
        for net, dx, dy in turned.pads:
            box = boxes.get(net)
            if box is not None:
                total += max(box[0] - x - dx, x + dx - box[2], 0) + max(box[1] - y - dy, y + dy - box[3], 0)
        return total + self._pull(mover, spot)

    def _net_boxes(self, index: int) -> dict[str, Rect]:
        """The box round the other pins of each of the part's nets that has any placed."""
        boxes: dict[str, Rect] = {}
        for net, _, _ in self.movers[index].turns[0].pads:
            box = self._fixed.get(net)
            points: list[tuple[int, int]] = []
            for other in self._on_net[net]:
                pads = self._pads.get(other)
                if other != index and pads is not None:
                    points += pads[net]
            if points:
                new = _box(points)
                box = new if box is None else _both(box, new)
            if box is not None:
                boxes[net] = box
        return boxes


def _pull_at(anchor: tuple[int, int] | None, weight: float, turned: Turned) -> NDArray[np.float64]:
    """The anchor's weight, and the place at which the part would stand on it."""
    if anchor is None:
        return np.zeros(3)
    left, top, right, bottom = turned.box
    x, y = anchor[0] - (left + right) // 2, anchor[1] - (top + bottom) // 2
    return np.array([weight, x, y], dtype=np.float64)


def _box(points: Sequence[tuple[int, int]]) -> Rect:
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return (min(xs), min(ys), max(xs), max(ys))


def _both(a: Rect, b: Rect) -> Rect:
    return (min(a[0], b[0]), min(a[1], b[1]), max(a[2], b[2]), max(a[3], b[3]))
