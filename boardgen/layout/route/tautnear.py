"""Compiled: what a straight track has to keep clear of, and whether it does.

Everything near is a bar (a segment) grown by a need; positions are whole nm, and a need is met exactly.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from boardgen.compiled import kernel
from boardgen.layout.route.linekernels import SLIP, free, gap2
from boardgen.layout.route.searchkernels import ZERO

Array = Any


@kernel
def surround(
    net: int,
    layer: int,
    skip: Array,
    box: Array,
    points: Array,
    at: Array,
    count: Array,
    nets: Array,
    layers: Array,
    half: Array,
    spacing: Array,
    line: Array,
    radius: Array,
    gap: Array,
    copper: Array,
    bar_net: Array,
    mask: Array,
    near: Array,
    need: Array,
) -> int:
    """Collect what a track of *net* on *layer* within *box* has to keep clear of; returns how many bars.

    Links with *skip* set are left out. Rows of *near* that are full are an
    error the caller sees by the number.
    """
    mine, space = half[net], spacing[net]
    lo_x, lo_y, hi_x, hi_y = box[0], box[1], box[2], box[3]
    found = ZERO
    limit = near.shape[0]
    for i in range(line.shape[0]):
        if (bar_net[i] == net and bar_net[i] >= 0) or (mask[i] >> layer) & 1 == 0:
            continue
        r = radius[i] + mine + (max(gap[i], space) if copper[i] else gap[i])
        if (
            min(line[i, 0], line[i, 2]) - hi_x > r
            or lo_x - max(line[i, 0], line[i, 2]) > r
            or min(line[i, 1], line[i, 3]) - hi_y > r
            or lo_y - max(line[i, 1], line[i, 3]) > r
        ):
            continue
        if found < limit:
            near[found] = line[i]
            need[found] = r
            found += 1
    for other in range(count.shape[0]):
        if nets[other] == net or layers[other] != layer or skip[other]:
            continue
        r = half[nets[other]] + mine + max(spacing[nets[other]], space)
        for i in range(at[other], at[other] + count[other] - 1):
            ax, ay, bx, by = points[i, 0], points[i, 1], points[i + 1, 0], points[i + 1, 1]
            if (
                min(ax, bx) - hi_x > r
                or lo_x - max(ax, bx) > r
                or min(ay, by) - hi_y > r
                or lo_y - max(ay, by) > r
            ):
                continue
            if found < limit:
                near[found, 0], near[found, 1], near[found, 2], near[found, 3] = ax, ay, bx, by
                need[found] = r
                found += 1
    return int(found)


@kernel
def is_clear(
    net: int,
    layer: int,
    ax: int,
    ay: int,
    bx: int,
    by: int,
    skip: Array,
    points: Array,
    at: Array,
    count: Array,
    nets: Array,
    layers: Array,
    half: Array,
    spacing: Array,
    line: Array,
    radius: Array,
    gap: Array,
    copper: Array,
    bar_net: Array,
    mask: Array,
) -> bool:
    """Whether a track of *net* from a to b on *layer* keeps clear of everything but *skip*."""
    near = np.empty((4096, 4), np.float64)
    need = np.empty(4096, np.float64)
    box = np.empty(4, np.float64)
    box[0], box[1], box[2], box[3] = min(ax, bx), min(ay, by), max(ax, bx), max(ay, by)
    found = surround(
        net, layer, skip, box, points, at, count, nets, layers, half, spacing, line, radius, gap, copper,
        bar_net, mask, near, need,
    )  # fmt: skip
    return found < near.shape[0] and free(ax, ay, bx, by, near, need, found)


@kernel
def crossed(way: Array, size: int, net: int, layer: int, points: Array, at: Array, count: Array, nets: Array,
            layers: Array, half: Array, spacing: Array, out: Array) -> None:  # fmt: skip
    """Set ``out[i]`` for each link of another net that *way*, a track of *net* on *layer*, comes too near."""
    for other in range(count.shape[0]):
        out[other] = False
        if nets[other] == net or layers[other] != layer:
            continue
        r = half[nets[other]] + half[net] + max(spacing[nets[other]], spacing[net]) - SLIP
        for i in range(at[other], at[other] + count[other] - 1):
            for k in range(size - 1):
                ax, ay = float(points[i, 0]), float(points[i, 1])
                bx, by = float(points[i + 1, 0]), float(points[i + 1, 1])
                cx, cy = float(way[k, 0]), float(way[k, 1])
                if gap2(ax, ay, bx, by, cx, cy, float(way[k + 1, 0]), float(way[k + 1, 1])) < r * r:
                    out[other] = True
