"""Small parts standing on a grid: what a place costs, and the cheapest one there is.

The estimate is the half perimeter of each net's box, a pull toward the part's
anchor, and the length of straight module-to-connector wires its pads would
stand on. The first two are sums of a term in x and a term in y, so that all places of
a turn cost two short vectors. Nothing here draws random numbers; ties go to
the first turn, then the topmost and leftmost place.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boardgen.layout.place_grid import Grid
from boardgen.layout.place_kernel import cheapest_place
from boardgen.layout.place_pair import ALONE, REACH, Beside, beside, fed_pad, mates_of
from boardgen.layout.place_room import Rect
from boardgen.layout.place_shape import Mover, Turned

WIRE_WEIGHT = 0.5  # of a mm of wire for a mm of straight wires that pads stand in the way of

Spot = tuple[int, int, int]  # turn, column, row of the first pad
NetPads = dict[str, list[tuple[int, int]]]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]
NO_ROOM, NO_BOXES = np.zeros((0, 0, 0), np.bool_), np.zeros((0, 4), np.int64)


@dataclass(frozen=True, slots=True)
class Gaps:
    """Distances to keep, in nm: round module and connector, and between small parts."""

    big: int
    small: int


class Standing:
    """Parts on one grid; *pins* holds the fixed pads of each net."""

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
        self.mates = mates_of(movers)
        self._beside: dict[tuple[int, int], Beside] = {}
        self._room: dict[int, tuple[Bools, Ints]] = {}

    def stand(self, index: int, spot: Spot) -> None:
        """Put a part at *spot*, whether it has room there or not."""
        self.spots[index] = spot
        x, y = self.grid.place(spot[1], spot[2])
        pads: NetPads = {}
        for net, dx, dy in self.movers[index].turns[spot[0]].pads:
            pads.setdefault(net, []).append((x + dx, y + dy))
        self._pads[index] = pads

    def take(self, index: int) -> Spot:
        """Take a part away; returns where it stood."""
        del self._pads[index]
        return self.spots.pop(index)

    def best(self, index: int, through: bool = False) -> Spot | None:
        """Return the cheapest legal spot for an unplaced part; None where none is legal.

        With *through*, small parts other than the chip it serves are looked through. A chip whose capacitor
        is still to be placed is judged with the best place that leaves it.
        """
        mover = self.movers[index]
        seen = [i for i in self.spots if i != index and (not through or i == mover.beside)]
        rects = [self.rect(i, self.spots[i]) for i in seen]
        others = np.array(rects, dtype=np.int64).reshape(-1, 4)
        barred, round_mate = self._mate_room(index)
        boxes = self._net_boxes(index)
        found: Spot | None = None
        least = np.inf
        for number, turned in enumerate(mover.turns):
            tied = [(dx, dy, boxes[net]) for net, dx, dy in turned.pads if net in boxes]
            near = self._places_beside(index, number)
            row, column, cost = cheapest_place(
                self._barred[turned.box],
                self.grid.wires_under(turned.copper, WIRE_WEIGHT),
                self.grid.frame,
                np.array(turned.box, dtype=np.int64),
                self.gaps.small,
                others,
                np.array([(dx, dy) for dx, dy, _ in tied], dtype=np.int64).reshape(-1, 2),
                np.array([box for _, _, box in tied], dtype=np.int64).reshape(-1, 4),
                _pull_at(self._anchor(mover), mover, turned),
                near.at,
                near.cost,
                near.none,
                barred,
                round_mate,
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

    def far_off(self) -> int:
        """Return how many capacitors stand out of reach of the chips they serve, once all parts stand."""
        far = 0
        for chip, mate in self.mates.items():
            (turn, x, y), (mate_turn, mate_x, mate_y) = self._stood(chip), self._stood(mate)
            fed = fed_pad(self.movers[mate], self.movers[chip].turns[turn])
            if fed is not None:
                pads = self.movers[mate].turns[mate_turn].pads
                _, px, py = next(pad for pad in pads if pad[0] == fed[0])
                far += math.hypot(mate_x + px - x - fed[1], mate_y + py - y - fed[2]) > REACH
        return far

    def rect(self, index: int, spot: Spot) -> Rect:
        """Return the room a part takes at *spot*."""
        x, y = self.grid.place(spot[1], spot[2])
        left, top, right, bottom = self.movers[index].turns[spot[0]].box
        return (left + x, top + y, right + x, bottom + y)

    def _pull(self, mover: Mover, spot: Spot) -> float:
        """The cost of standing away from the anchor."""
        anchor = self._anchor(mover)
        if anchor is None:
            return 0.0
        x, y = self.grid.place(spot[1], spot[2])
        dx, dy = mover.held_by(mover.turns[spot[0]])
        return mover.weight * (abs(x + dx - anchor[0]) + abs(y + dy - anchor[1]))

    def _anchor(self, mover: Mover) -> tuple[int, int] | None:
        """The point the part belongs beside: the pad it serves, once that stands."""
        if mover.beside in self.spots:
            turn, column, row = self.spots[mover.beside]
            fed = fed_pad(mover, self.movers[mover.beside].turns[turn])
            if fed is not None:
                x, y = self.grid.place(column, row)
                return x + fed[1], y + fed[2]
        return mover.anchor

    def _stood(self, index: int) -> Spot:
        """The turn of a part, and where its first pad stands."""
        turn, column, row = self.spots[index]
        return (turn, *self.grid.place(column, row))

    def _places_beside(self, index: int, turn: int) -> Beside:
        """The places of a chip's capacitor about it; none where that stands already."""
        mate = self.mates.get(index)
        if mate is None or mate in self.spots:
            return ALONE
        key = (index, turn)
        if key not in self._beside:
            chip = self.movers[index].turns[turn]
            self._beside[key] = beside(chip, self.movers[mate], self.grid.step, self.gaps.small)
        return self._beside[key]

    def _mate_room(self, index: int) -> tuple[Bools, Ints]:
        """Where a chip's capacitor may not stand, and its boxes, for each of its turns."""
        mate = self.mates.get(index)
        if mate is None:
            return NO_ROOM, NO_BOXES
        if mate not in self._room:
            boxes = [turned.box for turned in self.movers[mate].turns]
            stacked = np.stack([self._barred[box] for box in boxes])
            self._room[mate] = (stacked, np.array(boxes, dtype=np.int64))
        return self._room[mate]

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


def _pull_at(anchor: tuple[int, int] | None, mover: Mover, turned: Turned) -> NDArray[np.float64]:
    """The anchor's weight, and the place at which the part would stand on it."""
    if anchor is None:
        return np.zeros(3)
    dx, dy = mover.held_by(turned)
    return np.array([mover.weight, anchor[0] - dx, anchor[1] - dy], dtype=np.float64)


def _box(points: Sequence[tuple[int, int]]) -> Rect:
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return (min(xs), min(ys), max(xs), max(ys))


def _both(a: Rect, b: Rect) -> Rect:
    return (min(a[0], b[0]), min(a[1], b[1]), max(a[2], b[2]), max(a[3], b[3]))
