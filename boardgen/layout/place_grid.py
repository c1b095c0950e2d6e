"""The grid of places for a part's first pad: which are taken, and which wires run there."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from boardgen.layout.place_room import Rect, Room

GRID = 254_000  # nm; a tenth of the pitch of most leads
CELLS_MOST = 40_000  # places judged at once; larger boards get a coarser step

Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]
Wire = tuple[float, float, float, float]  # x and y of both ends, nm


def step_for(bounds: Rect) -> int:
    """Return the grid step, a multiple of 0.254 mm, that keeps the places few enough."""
    width, height = bounds[2] - bounds[0], bounds[3] - bounds[1]
    step = GRID
    while (width // step + 1) * (height // step + 1) > CELLS_MOST:
        step += GRID
    return step


class Grid:
    """Places at whole multiples of *step* within the room's bounds.

    *lines* are the x of the columns and the y of the rows. *wires* are the
    straight lines between module and connector that parts should not lie on.
    """

    def __init__(self, room: Room, step: int, wires: Sequence[Wire]) -> None:
        self.room = room
        self.step = step
        left, top, right, bottom = room.bounds
        self.first = (-(-left // step) * step, -(-top // step) * step)
        self.frame = np.array([*self.first, step], dtype=np.int64)
        columns = np.arange(self.first[0], right + 1, step, dtype=np.int64)
        rows = np.arange(self.first[1], bottom + 1, step, dtype=np.int64)
        if not (columns.size and rows.size):
            columns = rows = np.zeros(0, np.int64)
        self.lines = (columns, rows)
        self._sums = self._wire_sums(wires)
        self._under: dict[tuple[Rect, ...], Floats] = {}
        self._parts_under: dict[Rect, Floats] = {}

    def place(self, column: int, row: int) -> tuple[int, int]:
        """Return the place in nm."""
        return self.first[0] + column * self.step, self.first[1] + row * self.step

    def barred(self, box: Rect, gap: int) -> Bools:
        """Say, for each place, whether *box* about it would leave the bounds or touch an obstacle.

        *gap* is kept from module and connector.
        """
        columns, rows = self.lines
        left, top, right, bottom = self.room.bounds
        barred = np.zeros((rows.size, columns.size), dtype=np.bool_)
        barred[:, (columns + box[0] < left) | (columns + box[2] > right)] = True
        barred[(rows + box[1] < top) | (rows + box[3] > bottom), :] = True
        for rect in self.room.hard:
            self.bar(barred, box, rect, 0)
        for rect in self.room.big:
            self.bar(barred, box, rect, gap)
        return barred

    def bar(self, barred: Bools, box: Rect, rect: Rect, gap: int) -> None:
        """Bar the places where *box* would overlap *rect* grown by *gap*."""
        (x0, y0), step = self.first, self.step
        last_x = -((x0 + box[0] - rect[2] - gap) // step)  # ceiling, exclusive
        last_y = -((y0 + box[1] - rect[3] - gap) // step)
        if last_x > 0 and last_y > 0:
            first_x = max((rect[0] - gap - box[2] - x0) // step + 1, 0)
            first_y = max((rect[1] - gap - box[3] - y0) // step + 1, 0)
            barred[first_y:last_y, first_x:last_x] = True

    def wires_under(self, boxes: tuple[Rect, ...], weight: float) -> Floats:
        """Length (nm) of the straight wires within *boxes* times *weight*, for each place."""
        known = self._under.get(boxes)
        if known is None:
            known = np.zeros((self.lines[1].size, self.lines[0].size))
            for box in boxes:
                known += self._under_box(box)
            known *= weight
            self._under[boxes] = known
        return known

    def _under_box(self, box: Rect) -> Floats:
        known = self._parts_under.get(box)
        if known is None:
            width, height = self.lines[0].size, self.lines[1].size
            columns, rows = np.arange(width), np.arange(height)
            left = np.clip(columns + box[0] // self.step, 0, width)
            right = np.clip(columns + -(-box[2] // self.step), 0, width)
            top = np.clip(rows + box[1] // self.step, 0, height)
            bottom = np.clip(rows + -(-box[3] // self.step), 0, height)
            strips = self._sums[bottom] - self._sums[top]
            known = strips[:, right] - strips[:, left]
            self._parts_under[box] = known
        return known

    def _wire_sums(self, wires: Sequence[Wire]) -> NDArray[np.float64]:
        """Summed lengths of the wires, for sums over boxes; row and column 0 are zero."""
        columns, rows = self.lines
        cells = np.zeros((rows.size, columns.size))
        for x1, y1, x2, y2 in wires if cells.size else ():
            length = float(np.hypot(x2 - x1, y2 - y1))
            count = max(1, int(length / self.step * 2))
            t = (np.arange(count) + 0.5) / count
            column = ((x1 + (x2 - x1) * t - self.first[0]) // self.step).astype(np.int64)
            row = ((y1 + (y2 - y1) * t - self.first[1]) // self.step).astype(np.int64)
            inside = (column >= 0) & (column < columns.size) & (row >= 0) & (row < rows.size)
            np.add.at(cells, (row[inside], column[inside]), length / count)
        sums = np.zeros((rows.size + 1, columns.size + 1))
        sums[1:, 1:] = cells.cumsum(0).cumsum(1)
        return sums
