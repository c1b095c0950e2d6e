"""The placer's inner loop, compiled."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from boardgen.compiled import kernel

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@kernel
def cheapest_place(
    barred: NDArray[np.bool_],
    under: Floats,
    frame: Ints,
    box: Ints,
    gap: int,
    others: Ints,
    pads: Ints,
    boxes: Ints,
    pull: Floats,
    limit: float,
) -> tuple[int, int, float]:
    """Return row, column and cost of the cheapest free place under *limit*; row -1 where there is none.

    *barred* and *under* have a row for each y and a column for each x of the
    grid whose *frame* is its first x, first y and step (nm). *box* is the
    part's box about a place and *others* (n, 4) the boxes of placed parts, to
    be kept at *gap*. *pads* (k, 2) lie about the place, *boxes* (k, 4) hold the
    other pins of their nets. *pull* is the anchor's weight, and where the
    place is to be for the part to stand on it. Ties go to the first place by
    row, then column.
    """
    rows, columns = barred.shape
    x0, y0, step = frame[0], frame[1], frame[2]
    along_x = np.zeros(columns)
    along_y = np.zeros(rows)
    for column in range(columns):
        x = x0 + column * step
        cost = pull[0] * abs(x - pull[1])
        for k in range(pads.shape[0]):
            cost += max(boxes[k, 0] - x - pads[k, 0], x + pads[k, 0] - boxes[k, 2], 0)
        along_x[column] = cost
    for row in range(rows):
        y = y0 + row * step
        cost = pull[0] * abs(y - pull[2])
        for k in range(pads.shape[0]):
            cost += max(boxes[k, 1] - y - pads[k, 1], y + pads[k, 1] - boxes[k, 3], 0)
        along_y[row] = cost
    least_x = along_x.min() if columns else 0.0
    best, best_row, best_column = limit, -1, -1
    for row in range(rows):
        if along_y[row] + least_x >= best:
            continue
        top = y0 + row * step + box[1] - gap
        bottom = y0 + row * step + box[3] + gap
        for column in range(columns):
            if barred[row, column]:
                continue
            cost = under[row, column] + along_x[column] + along_y[row]
            if cost >= best:
                continue
            left = x0 + column * step + box[0] - gap
            right = x0 + column * step + box[2] + gap
            free = True
            for k in range(others.shape[0]):
                if (
                    left < others[k, 2]
                    and right > others[k, 0]
                    and top < others[k, 3]
                    and bottom > others[k, 1]
                ):
                    free = False
                    break
            if free:
                best, best_row, best_column = cost, row, column
    return best_row, best_column, best
