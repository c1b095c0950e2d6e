"""The placer's inner loop, compiled."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from boardgen.compiled import kernel

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@kernel
def _mate(
    row: int,
    column: int,
    frame: Ints,
    gap: int,
    others: Ints,
    at: Ints,
    costs: Floats,
    none: float,
    barred: NDArray[np.bool_],
    boxes: Ints,
    limit: float,
) -> float:
    """Return the cost of the first free place of the capacitor beside a part at *row*, *column*.

    Costs of *limit* and more are all alike: the search stops there.
    """
    x0, y0, step = frame[0], frame[1], frame[2]
    for k in range(at.shape[0]):
        if costs[k] >= limit:
            return float(costs[k])
        turn, c, r = at[k, 0], column + at[k, 1], row + at[k, 2]
        if r < 0 or c < 0 or r >= barred.shape[1] or c >= barred.shape[2] or barred[turn, r, c]:
            continue
        left = x0 + c * step + boxes[turn, 0] - gap
        top = y0 + r * step + boxes[turn, 1] - gap
        right = x0 + c * step + boxes[turn, 2] + gap
        bottom = y0 + r * step + boxes[turn, 3] + gap
        free = True
        for n in range(others.shape[0]):
            if left < others[n, 2] and right > others[n, 0] and top < others[n, 3] and bottom > others[n, 1]:
                free = False
                break
        if free:
            return float(costs[k])
    return none


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
    mate_at: Ints,
    mate_cost: Floats,
    mate_none: float,
    mate_barred: NDArray[np.bool_],
    mate_boxes: Ints,
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

    A part whose capacitor is still to be placed has its places beside it in *mate_at*
    (n, 3: turn, columns and rows away), the cheapest first, their *mate_cost*, and
    *mate_none* for none of them being free. *mate_barred* (turn, row, column) and
    *mate_boxes* (turn, 4) are the capacitor's own. The first free one is counted.
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
            if not free:
                continue
            if mate_at.shape[0]:
                cost += _mate(
                    row, column, frame, gap, others, mate_at, mate_cost, mate_none, mate_barred, mate_boxes,
                    best - cost,
                )  # fmt: skip
                if cost >= best:
                    continue
            best, best_row, best_column = cost, row, column
    return best_row, best_column, best
