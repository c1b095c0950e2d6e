"""Who goes where: cheapest and largest pairings of rows with columns, and groups that hang together."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from boardgen.compiled import kernel


@kernel
def _pair(cost: NDArray[np.float64], chosen: NDArray[np.int64]) -> bool:
    """Fill *chosen* with a column per row of least total *cost*; False where no pairing is finite.

    Shortest augmenting paths with potentials (the Hungarian method in its
    n^2 m form); row and column 0 of the work arrays are the path's start.
    """
    rows, columns = cost.shape
    row_of = np.zeros(columns + 1, dtype=np.int64)
    above = np.zeros(rows + 1)
    beside = np.zeros(columns + 1)
    for row in range(1, rows + 1):
        row_of[0] = row
        here = 0
        least = np.full(columns + 1, np.inf)
        came = np.zeros(columns + 1, dtype=np.int64)
        done = np.zeros(columns + 1, dtype=np.bool_)
        while True:
            done[here] = True
            owner = row_of[here]
            step = np.inf
            after = -1
            for column in range(1, columns + 1):
                if done[column]:
                    continue
                reduced = cost[owner - 1, column - 1] - above[owner] - beside[column]
                if reduced < least[column]:
                    least[column] = reduced
                    came[column] = here
                if least[column] < step:
                    step = least[column]
                    after = column
            if after < 0:
                return False
            for column in range(columns + 1):
                if done[column]:
                    above[row_of[column]] += step
                    beside[column] -= step
                else:
                    least[column] -= step
            here = after
            if row_of[here] == 0:
                break
        while here != 0:
            before = came[here]
            row_of[here] = row_of[before]
            here = before
    for column in range(1, columns + 1):
        if row_of[column] > 0:
            chosen[row_of[column] - 1] = column - 1
    return True


def cheapest_pairing(cost: NDArray[np.float64]) -> NDArray[np.int64] | None:
    """Return a distinct column for each row with the least sum of *cost*, or None where none is finite.

    *cost* is (rows, columns) in any unit; infinity forbids a pair. The same
    costs give the same answer; among equal sums which one is not promised.
    """
    rows, columns = cost.shape
    if rows > columns:
        return None
    chosen = np.full(rows, -1, dtype=np.int64)
    if rows and not _pair(np.ascontiguousarray(cost, dtype=np.float64), chosen):
        return None
    return chosen


def largest_pairing(allowed: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Return a distinct column for as many rows as can have one, -1 for the others.

    *allowed* is (rows, columns). Augmenting paths, rows in order.
    """
    rows, columns = allowed.shape
    row_of = [-1] * columns
    for start in range(rows):
        parent: dict[int, int] = {}
        queue = [start]
        end = -1
        for row in queue:
            for column in np.flatnonzero(allowed[row]).tolist():
                if column in parent:
                    continue
                parent[column] = row
                if row_of[column] < 0:
                    end = column
                    break
                queue.append(row_of[column])
            if end >= 0:
                break
        held = {column: row for column, row in enumerate(row_of) if row >= 0}
        column_of = {row: column for column, row in held.items()}
        while end >= 0:
            row = parent[end]
            row_of[end] = row
            end = column_of.get(row, -1)
    chosen = np.full(rows, -1, dtype=np.int64)
    for column, row in enumerate(row_of):
        if row >= 0:
            chosen[row] = column
    return chosen


def connected(count: int, a: NDArray[np.int64], b: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return a label per thing, equal where joins *a* to *b* connect them; labels in order of first thing."""
    parent = list(range(count))

    def root(item: int) -> int:
        while parent[item] != item:
            parent[item] = parent[parent[item]]
            item = parent[item]
        return item

    for left, right in zip(a.tolist(), b.tolist(), strict=True):
        x, y = root(left), root(right)
        if x != y:
            parent[max(x, y)] = min(x, y)
    labels: dict[int, int] = {}
    return np.array([labels.setdefault(root(i), len(labels)) for i in range(count)], dtype=np.int64)
