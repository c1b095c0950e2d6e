"""Compiled: the cheapest way over the grid.

A node is ``(layer * height + y) * width + x``. A static map holds 0 where a
track may run, k > 0 where only net k - 1 may, and -1 where none may. Occupancy
counts the nets whose tracks forbid a cell to a class. Costs are integers, and a
node once settled is never opened again, so no rounding can reopen ties.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from boardgen.compiled import kernel
from boardgen.layout.route.queuekernels import COUNT, put, start, take

Array = Any

STEP = 100  # cost of one straight step
SLANT = 141  # cost of one diagonal step
HARD = 1 << 20  # a crossing price that means: never cross
# int64, not literals: a kernel called with a literal is compiled once more for it
ZERO: Any = np.int64(0)
ONE: Any = np.int64(1)
LESS: Any = np.int64(-1)
FAR_KEY: Any = np.int64(1 << 40)


@kernel
def ahead(box: Array, x: int, y: int) -> int:
    """Return the least cost from (x, y) into *box*."""
    dx = max(0, box[0] - x, x - box[2])
    dy = max(0, box[1] - y, y - box[3])
    far: int = STEP * max(dx, dy) + (SLANT - STEP) * min(dx, dy)
    return far


@kernel
def search(
    shape: Array,
    stat: Array,
    occ: Array,
    hist: Array,
    via_stat: Array,
    via_occ: Array,
    mark: int,
    price: int,
    via_cost: int,
    side_cost: Array,
    sources: Array,
    source_count: int,
    goal: Array,
    goal_epoch: int,
    box: Array,
    cost: Array,
    seen: Array,
    parent: Array,
    heads: Array,
    pool: Array,
    at: Array,
    epoch: int,
) -> int:
    """Find the cheapest way from any source to a goal node; returns it, or -1."""
    width, height, layers = shape[0], shape[1], shape[2]
    plane = width * height
    least_key = FAR_KEY
    for i in range(source_count):
        rest = sources[i] % plane
        key = side_cost[sources[i] // plane] + ahead(box, rest % width, rest // width)
        least_key = min(least_key, key)
    start(heads, at, least_key)
    for i in range(source_count):
        node = sources[i]
        if seen[node] == epoch:
            continue
        rest = node % plane
        cost[node] = side_cost[node // plane]
        seen[node] = epoch
        parent[node] = -1
        put(heads, pool, at, cost[node] + ahead(box, rest % width, rest // width), node)
    while at[COUNT] > 0:
        node = take(heads, pool, at)
        if seen[node] == -epoch:
            continue  # settled already
        seen[node] = -epoch
        if goal[node] == goal_epoch:
            return node
        layer = node // plane
        rest = node - layer * plane
        x, y = rest % width, rest // width
        base = cost[node]
        for d in range(9):
            if d < 8:
                nx = x + (1 if (d == 7 or d <= 1) else (-1 if 3 <= d <= 5 else 0))
                ny = y + (1 if 1 <= d <= 3 else (-1 if d >= 5 else 0))
                if nx < 0 or ny < 0 or nx >= width or ny >= height:
                    continue
                to = layer * plane + ny * width + nx
                step = SLANT if d & 1 else STEP
            else:
                if via_cost < 0 or layers < 2:
                    continue
                held = via_stat[rest]
                if held != 0:
                    continue
                nx, ny = x, y
                to = (1 - layer) * plane + rest
                step = via_cost
                crowd = via_occ[rest]
                if crowd > 0:
                    if price >= HARD:
                        continue
                    step += price * min(crowd, 4)
            if seen[to] == -epoch:
                continue
            held = stat[to]
            if held not in (0, mark):
                continue
            crowd = occ[to]
            if crowd > 0:
                if price >= HARD:
                    continue
                step += price * min(crowd, 4)
            now = base + step + hist[to]
            if seen[to] == epoch and cost[to] <= now:
                continue
            cost[to] = now
            seen[to] = epoch
            parent[to] = node
            put(heads, pool, at, now + ahead(box, nx, ny), to)
    return -1
