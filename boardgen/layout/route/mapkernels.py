"""Compiled: distances to segments, and clearance maps on the grid."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from boardgen.compiled import kernel

Array = Any


@kernel
def bar_distance2(px: float, py: float, ax: float, ay: float, bx: float, by: float) -> float:
    """Return the squared distance from a point to a segment."""
    dx = bx - ax
    dy = by - ay
    length2 = dx * dx + dy * dy
    t = 0.0
    if length2 > 0.0:
        t = ((px - ax) * dx + (py - ay) * dy) / length2
        t = min(1.0, max(0.0, t))
    ex = px - (ax + t * dx)
    ey = py - (ay + t * dy)
    return ex * ex + ey * ey


@kernel
def stamp_bars(
    cells: Array,
    width: int,
    height: int,
    x0: float,
    y0: float,
    step: float,
    bars: Array,
    reach: Array,
    marks: Array,
) -> None:
    """Mark on one layer's map the cells nearer than ``reach[i]`` to bar i with ``marks[i]``.

    A cell claimed by two different marks, or by -1, is closed to all.
    """
    for i in range(bars.shape[0]):
        ax, ay, bx, by = bars[i, 0], bars[i, 1], bars[i, 2], bars[i, 3]
        r = reach[i]
        if r <= 0.0:
            continue
        lo_x = max(0, math.ceil((min(ax, bx) - r - x0) / step))
        hi_x = min(width - 1, math.floor((max(ax, bx) + r - x0) / step))
        lo_y = max(0, math.ceil((min(ay, by) - r - y0) / step))
        hi_y = min(height - 1, math.floor((max(ay, by) + r - y0) / step))
        limit = r * r - 1e-3
        for gy in range(lo_y, hi_y + 1):
            for gx in range(lo_x, hi_x + 1):
                k = gy * width + gx
                if cells[k] == -1 or cells[k] == marks[i]:
                    continue
                if bar_distance2(x0 + gx * step, y0 + gy * step, ax, ay, bx, by) < limit:
                    cells[k] = marks[i] if cells[k] == 0 else -1


@kernel
def fill_ring(
    cells: Array, width: int, height: int, x0: float, y0: float, step: float, ring: Array, inside: bool
) -> None:
    """Close every cell inside (or outside) the closed *ring* of points, by even-odd crossing."""
    count = ring.shape[0]
    crossings = np.empty(count, np.float64)
    for gy in range(height):
        py = y0 + gy * step
        found = 0
        for i in range(count):
            j = (i + 1) % count
            ay, by = ring[i, 1], ring[j, 1]
            if (ay <= py) != (by <= py):
                cross = ring[i, 0] + (py - ay) / (by - ay) * (ring[j, 0] - ring[i, 0])
                k = found  # kept in order by insertion: a ring is crossed a few times only
                while k > 0 and crossings[k - 1] > cross:
                    crossings[k] = crossings[k - 1]
                    k -= 1
                crossings[k] = cross
                found += 1
        at = 0
        for gx in range(width):
            px = x0 + gx * step
            while at < found and crossings[at] <= px:
                at += 1
            if (at % 2 == 1) == inside:
                cells[gy * width + gx] = -1
