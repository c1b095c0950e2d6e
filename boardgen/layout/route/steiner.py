"""A least length for the tree over a few points: what no routing of one net can beat.

Any tree with branch points, however short its edges, is one of the full shapes
(each point a leaf, each branch point of three edges). For a fixed shape the
least length is a convex problem, and pulls along the edges that balance at
every branch point, none stronger than one, bound it from below: the length is
at least the sum over the edges of pull times way (duality of a sum of norms).
Reweighted least squares balances the pulls exactly at every step, so each step
gives a bound and the best is kept.

Up to six points every shape is looked at. Beyond, shapes grow a point at a
time, the shortest first: what some of the points need, all of them need, so the
least bound among the shapes left to grow bounds every tree (branch and bound).
"""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np

Array = Any

MOST = 6  # 105 shapes; 7 points would have 945
STEPS = 40
SOFT = 1e-3  # edges shorter than this share of the whole no longer pull in full
FEW_STEPS = 14  # for shapes that still grow
BATCH = 24  # shapes grown at a time
EFFORT = 1500  # shapes looked at in all, beyond six points
ENOUGH = 0.995  # of a tree that exists: a bound this near is good enough


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


def _least(at: Array, edges: Array, leaves: int, first: int, steps: int) -> Array:
    """Return a bound for each of the shapes *edges* over the first *leaves* of the points *at*.

    Branch points are numbered from *first* on; the points fit a square of side 2.
    """
    shapes, branches = len(edges), leaves - 2
    rows = np.arange(shapes)[:, None]
    a, b = np.where(edges >= first, edges - first + leaves, edges).transpose(2, 0, 1)
    nodes = leaves + branches
    spots = np.zeros((shapes, nodes, 2))
    spots[:, :leaves] = at[:leaves]
    base = rows * nodes * nodes
    places = np.concatenate([base + a * nodes + b, base + b * nodes + a], axis=1).ravel()
    weight = np.ones(a.shape)
    best = np.zeros(shapes)
    for _ in range(steps):
        both = np.concatenate([weight, weight], axis=1).ravel()
        table = -np.bincount(places, both, shapes * nodes * nodes).reshape(shapes, nodes, nodes)
        inner = table[:, leaves:, leaves:].copy()
        k = np.arange(branches)
        inner[:, k, k] -= table[:, leaves:, :].sum(axis=2)
        right = -table[:, leaves:, :leaves] @ spots[:, :leaves]
        spots[:, leaves:] = np.linalg.solve(inner, right)
        way = np.linalg.norm(spots[rows, a] - spots[rows, b], axis=2)
        strongest = np.maximum(1.0, (weight * way).max(axis=1))
        best = np.maximum(best, (weight * way**2).sum(axis=1) / strongest)
        weight = 1.0 / np.hypot(way, SOFT)
    return best


def _scaled(points: tuple[tuple[float, float], ...]) -> tuple[Array, float]:
    """Return the points about their middle, in a square of side 2, and the scale."""
    at = np.array(points, dtype=float)
    at = at - at.mean(axis=0)
    size = float(np.abs(at).max())
    return (at / size if size else at), size


def least_tree(points: tuple[tuple[float, float], ...]) -> float:
    """Return a length that no tree over 3 to 6 *points* beats, within about a thousandth of the least.

    In the unit of *points*. Raises ValueError for another number of points.
    """
    count = len(points)
    if not 3 <= count <= MOST:
        raise ValueError(f"3 to {MOST} points, not {count}")
    at, size = _scaled(points)
    if size == 0.0:
        return 0.0
    return float(_least(at, _shapes(count), count, count, STEPS).min()) * size


def _far_first(at: Array) -> list[int]:
    """Order the points so that each lies far from those before it: a few then tell most of the length."""
    away = np.linalg.norm(at[:, None] - at[None, :], axis=2)
    first = int(away.max(axis=1).argmax())
    order = [first]
    while len(order) < len(at):
        near = away[:, order].min(axis=1)
        near[order] = -1.0
        order.append(int(near.argmax()))
    return order


def least_tree_of_many(points: tuple[tuple[float, float], ...], known: float) -> float:
    """Return a length that no tree over four *points* or more beats, by a bounded search.

    *known* is the length of some tree over them (a spanning tree will do). In the unit of *points*.
    """
    at, size = _scaled(points)
    if size == 0.0:
        return 0.0
    at = at[_far_first(at)]
    count, limit = len(at), known / size
    start = np.array([[(0, count), (1, count), (2, count)]], dtype=np.int64)
    open_shapes: list[tuple[float, int, Array]] = [
        (float(_least(at, start, 3, count, FEW_STEPS)[0]), 3, start[0])
    ]
    looked = 1
    whole = limit  # the least bound among whole trees, and of those not worth growing
    while open_shapes and looked < EFFORT:
        open_shapes.sort(key=lambda one: (one[0], one[1]))
        least = open_shapes[0][0]
        if least >= min(whole, ENOUGH * limit):
            break
        leaves = open_shapes[0][1]
        grown = [one for one in open_shapes if one[1] == leaves][:BATCH]
        ids = {id(one[2]) for one in grown}
        open_shapes = [one for one in open_shapes if id(one[2]) not in ids]
        new = []
        branch = count + leaves - 2
        for _, _, shape in grown:
            for i in range(len(shape)):
                split = [(shape[i][0], branch), (branch, shape[i][1]), (leaves, branch)]
                new.append(np.concatenate([shape[:i], np.array(split, dtype=np.int64), shape[i + 1 :]]))
        last = leaves + 1 == count
        bounds = _least(at, np.array(new), leaves + 1, count, STEPS if last else FEW_STEPS)
        looked += len(new)
        for bound, shape in zip(bounds.tolist(), new, strict=True):
            if last:
                whole = min(whole, bound)
            elif bound < whole:
                open_shapes.append((bound, leaves + 1, shape))
    return min([whole, *(one[0] for one in open_shapes)]) * size
