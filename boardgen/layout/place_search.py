"""The placer's search: every place of a grid judged at once, part by part, then improved.

The estimate is the half perimeter of each net's box, a pull toward the part's
anchor, and the length of straight module-to-connector wires a part would lie
on. The first two are sums of a term in x and a term in y, so that all places of
a turn cost two short vectors. Nothing here draws random numbers; ties go to
the first turn, then the topmost and leftmost place.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boardgen.layout.place_grid import Grid
from boardgen.layout.place_room import Rect
from boardgen.layout.place_shape import Mover, Turned

ANCHOR_WEIGHT = 0.5  # of a mm of wire for a mm away from the anchor
WIRE_WEIGHT = 0.15  # of a mm of wire for a mm of other wires lain upon: two layers leave ways round
PASSES = 3
GAIN_LEAST = 1_000.0  # nm; smaller gains end the improvement

Floats = NDArray[np.float32]
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
        self._boxes = list(dict.fromkeys(turned.box for mover in movers for turned in mover.turns))
        self._taken = {box: grid.taken(box, gaps.big) for box in self._boxes}
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
            self._put(index, spot)
        for _ in range(PASSES):
            moved = self._move_pass(order)
            if not (self._swap_pass(order) or moved):
                break
        return None

    def _move_pass(self, order: Sequence[int]) -> bool:
        moved = False
        for index in order:
            old = self._take(index)
            found = self.best(index)
            better = found is not None and self.cost(index, found) < self.cost(index, old) - GAIN_LEAST
            self._put(index, found if found is not None and better else old)
            moved = moved or better
        return moved

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

    def _put(self, index: int, spot: Spot) -> None:
        self._stand(index, spot)
        self._room(index, 1)

    def _take(self, index: int) -> Spot:
        self._room(index, -1)
        del self._pads[index]
        return self.spots.pop(index)

    def _room(self, index: int, by: int) -> None:
        turn, column, row = self.spots[index]
        x, y = self.grid.place(column, row)
        left, top, right, bottom = self.movers[index].turns[turn].box
        rect = (left + x, top + y, right + x, bottom + y)
        for box in self._boxes:
            self.grid.mark(self._taken[box], box, rect, self.gaps.small, by)

    def best(self, index: int) -> Spot | None:
        """Return the cheapest legal spot for an unplaced part; None where none is legal."""
        found: Spot | None = None
        least = np.inf
        boxes = self._net_boxes(index)
        for number, turned in enumerate(self.movers[index].turns):
            taken = self._taken[turned.box]
            if not taken.size:
                continue
            cost = self.grid.wires_under(turned.box) * np.float32(WIRE_WEIGHT)
            cost += self._along(index, turned, boxes, 0)[None, :]
            cost += self._along(index, turned, boxes, 1)[:, None]
            cost[taken > 0] = np.inf
            row, column = divmod(int(cost.argmin()), cost.shape[1])
            value = float(cost[row, column])
            if value < least:
                found, least = (number, column, row), value
        return found

    def cost(self, index: int, spot: Spot) -> float:
        """Return what *spot* costs the part, all others standing where they are."""
        mover = self.movers[index]
        turned = mover.turns[spot[0]]
        x, y = self.grid.place(spot[1], spot[2])
        boxes = self._net_boxes(index)
        total = float(self.grid.wires_under(turned.box)[spot[2], spot[1]]) * WIRE_WEIGHT
        for net, dx, dy in turned.pads:
            box = boxes.get(net)
            if box is not None:
                total += max(box[0] - x - dx, x + dx - box[2], 0) + max(box[1] - y - dy, y + dy - box[3], 0)
        if mover.anchor is not None:
            middle_x = x + (turned.box[0] + turned.box[2]) // 2
            middle_y = y + (turned.box[1] + turned.box[3]) // 2
            total += ANCHOR_WEIGHT * (abs(middle_x - mover.anchor[0]) + abs(middle_y - mover.anchor[1]))
        return total

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

    def _along(self, index: int, turned: Turned, boxes: dict[str, Rect], axis: int) -> Floats:
        """The part of the cost that depends on x (axis 0) or y (axis 1) alone, for each grid line."""
        line = self.grid.lines[axis]
        total = np.zeros(line.size)
        for net, *offset in turned.pads:
            box = boxes.get(net)
            if box is not None:
                middle, half = (box[axis] + box[axis + 2]) / 2, (box[axis + 2] - box[axis]) / 2
                total += np.maximum(np.abs(line + (offset[axis] - middle)) - half, 0)
        anchor = self.movers[index].anchor
        if anchor is not None:
            centre = (turned.box[axis] + turned.box[axis + 2]) // 2
            total += ANCHOR_WEIGHT * np.abs(line + (centre - anchor[axis]))
        return total.astype(np.float32)


def _box(points: Sequence[tuple[int, int]]) -> Rect:
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return (min(xs), min(ys), max(xs), max(ys))


def _both(a: Rect, b: Rect) -> Rect:
    return (min(a[0], b[0]), min(a[1], b[1]), max(a[2], b[2]), max(a[3], b[3]))
