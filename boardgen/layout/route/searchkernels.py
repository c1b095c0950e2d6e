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

Array = Any

STEP = 100  # cost of one straight step
SLANT = 141  # cost of one diagonal step
HARD = 1 << 20  # a crossing price that means: never cross
# int64, not literals: a kernel called with a literal is compiled once more for it
ZERO: Any = np.int64(0)
ONE: Any = np.int64(1)
LESS: Any = np.int64(-1)


@kernel
def _push(heap: Array, size: int, key: int) -> int:
    i = size
    while i > 0:
        parent = (i - 1) >> 1
        if heap[parent] <= key:
            break
        heap[i] = heap[parent]
        i = parent
    heap[i] = key
    return size + 1


@kernel
def _pop(heap: Array, size: int) -> int:
    """Remove the least key (heap[0]); returns the new size."""
    size -= 1
    key = heap[size]
    i = 0
    while True:
        child = 2 * i + 1
        if child >= size:
            break
        if child + 1 < size and heap[child + 1] < heap[child]:
            child += 1
        if heap[child] >= key:
            break
        heap[i] = heap[child]
        i = child
    heap[i] = key
    return size


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
    heap: Array,
    epoch: int,
) -> int:
    """Find the cheapest way from any source to a goal node; returns it, or -1."""
    width, height, layers = shape[0], shape[1], shape[2]
    plane = width * height
    limit = heap.shape[0] - 1
    size = ZERO
    for i in range(source_count):
        node = sources[i]
        if seen[node] == epoch:
            continue
        rest = node % plane
        x, y = rest % width, rest // width
        start = side_cost[node // plane]
        cost[node] = start
        seen[node] = epoch
        parent[node] = -1
        dx = max(0, box[0] - x, x - box[2])
        dy = max(0, box[1] - y, y - box[3])
        h = STEP * max(dx, dy) + (SLANT - STEP) * min(dx, dy)
        if size < limit:
            size = _push(heap, size, ((start + h) << 40) | (min(h >> 3, 0xFFFF) << 24) | node)
    while size > 0:
        node = int(heap[0] & 0xFFFFFF)
        size = _pop(heap, size)
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
            dx = max(0, box[0] - nx, nx - box[2])
            dy = max(0, box[1] - ny, ny - box[3])
            h = STEP * max(dx, dy) + (SLANT - STEP) * min(dx, dy)
            if size < limit:
                size = _push(heap, size, (min(now + h, 0x7FFFFF) << 40) | (min(h >> 3, 0xFFFF) << 24) | to)
    return -1
