"""A least length for the tree over a few points: what no routing of one net can beat.

Any tree with branch points, however short its edges, is one of the full shapes
(each point a leaf, each branch point of three edges). For a fixed shape the
least length is a convex problem, and pulls along the edges that balance at
every branch point, none stronger than one, bound it from below: the length is
at least the sum over the edges of pull times way (duality of a sum of norms).
Reweighted least squares balances the pulls exactly at every step, so each step
gives a bound and the best is kept.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np

Array = Any

MOST = 6  # 105 shapes; 7 points would have 945
STEPS = 40
SOFT = 1e-3  # edges shorter than this share of the whole no longer pull in full


@cache
def _shapes(points: int) -> Array:
    """Return the edges of every full shape, shape (shapes, edges, 2).

    Leaves are 0 to *points* - 1, branch points follow. Each shape of one point
    fewer grows by splitting each of its edges.
    """
    found = [[(0, points), (1, points), (2, points)]]
    for leaf in range(3, points):
        branch = points + leaf - 2
        found = [
            [*shape[:i], (shape[i][0], branch), (branch, shape[i][1]), (leaf, branch), *shape[i + 1 :]]
            for shape in found
            for i in range(len(shape))
        ]
    return np.array(found, dtype=np.int64)


def least_tree(points: tuple[tuple[float, float], ...]) -> float:
    """Return a length that no tree over 3 to 6 *points* beats, within about a thousandth of the least.

    In the unit of *points*. Raises ValueError for another number of points.
    """
    count = len(points)
    if not 3 <= count <= MOST:
        raise ValueError(f"3 to {MOST} points, not {count}")
    at = np.array(points, dtype=float)
    at = at - at.mean(axis=0)
    size = float(np.abs(at).max())
    if size == 0.0:
        return 0.0
    at /= size
    edges = _shapes(count)
    shapes, branches = len(edges), count - 2
    rows = np.arange(shapes)[:, None]
    a, b = edges[..., 0], edges[..., 1]
    spots = np.zeros((shapes, count + branches, 2))
    spots[:, :count] = at
    weight = np.ones(a.shape)
    best = np.zeros(shapes)
    for _ in range(STEPS):
        table = np.zeros((shapes, count + branches, count + branches))
        np.add.at(table, (rows, a, a), weight)
        np.add.at(table, (rows, b, b), weight)
        np.add.at(table, (rows, a, b), -weight)
        np.add.at(table, (rows, b, a), -weight)
        right = -table[:, count:, :count] @ spots[:, :count]
        spots[:, count:] = np.linalg.solve(table[:, count:, count:], right)
        way = np.linalg.norm(spots[rows, a] - spots[rows, b], axis=2)
        strongest = np.maximum(1.0, (weight * way).max(axis=1))
        best = np.maximum(best, (weight * way**2).sum(axis=1) / strongest)
        weight = 1.0 / np.hypot(way, SOFT)
    return float(best.min()) * size
