"""Compiled: exact clearances of octilinear links.

Positions are whole nm, directions 0 to 7 in steps of 45 degrees from +x toward
+y.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from boardgen.compiled import kernel
from boardgen.layout.route.mapkernels import bar_distance2

Array = Any

SLIP = 0.01  # nm; float noise a clearance may miss by


@kernel
def gap2(ax: float, ay: float, bx: float, by: float, cx: float, cy: float, dx: float, dy: float) -> float:
    """Return the squared distance of the segments ab and cd, 0 where they cross."""
    ux, uy, vx, vy = bx - ax, by - ay, dx - cx, dy - cy
    s1 = ux * (cy - ay) - uy * (cx - ax)
    s2 = ux * (dy - ay) - uy * (dx - ax)
    s3 = vx * (ay - cy) - vy * (ax - cx)
    s4 = vx * (by - cy) - vy * (bx - cx)
    if ((s1 > 0 and s2 < 0) or (s1 < 0 and s2 > 0)) and ((s3 > 0 and s4 < 0) or (s3 < 0 and s4 > 0)):
        return 0.0
    return min(
        bar_distance2(ax, ay, cx, cy, dx, dy),
        bar_distance2(bx, by, cx, cy, dx, dy),
        bar_distance2(cx, cy, ax, ay, bx, by),
        bar_distance2(dx, dy, ax, ay, bx, by),
    )


@kernel
def blocking(ax: int, ay: int, bx: int, by: int, near: Array, need: Array, count: int) -> int:
    """Return the first near bar i from which the centre line ab does not keep ``need[i]``, -1 for none."""
    lo_x, hi_x = min(ax, bx), max(ax, bx)
    lo_y, hi_y = min(ay, by), max(ay, by)
    for i in range(count):
        r = need[i]
        if (
            min(near[i, 0], near[i, 2]) - hi_x > r
            or lo_x - max(near[i, 0], near[i, 2]) > r
            or min(near[i, 1], near[i, 3]) - hi_y > r
            or lo_y - max(near[i, 1], near[i, 3]) > r
        ):
            continue
        room = r - SLIP
        if room > 0.0 and gap2(
            float(ax), float(ay), float(bx), float(by), near[i, 0], near[i, 1], near[i, 2], near[i, 3]
        ) < (room * room):
            return i
    return -1


@kernel
def free(ax: int, ay: int, bx: int, by: int, near: Array, need: Array, count: int) -> bool:
    """Whether the centre line ab keeps ``need[i]`` from each near bar i."""
    return blocking(ax, ay, bx, by, near, need, count) < 0


@kernel
def direction(dx: int, dy: int) -> int:
    """Direction of an octilinear step, -1 for any other or none."""
    if dx == 0 and dy == 0:
        return -1
    if dy == 0:
        return 0 if dx > 0 else 4
    if dx == 0:
        return 2 if dy > 0 else 6
    if dx == dy:
        return 1 if dx > 0 else 5
    if dx == -dy:
        return 7 if dx > 0 else 3
    return -1


@kernel
def gather(
    link: int,
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
    margin: float,
    near: Array,
    need: Array,
) -> int:
    """Collect what link *link* has to keep clear of; returns how many bars."""
    net, layer = nets[link], layers[link]
    mine, space = half[net], spacing[net]
    first = at[link]
    lo_x = hi_x = points[first, 0]
    lo_y = hi_y = points[first, 1]
    for i in range(first + 1, first + count[link]):
        lo_x, hi_x = min(lo_x, points[i, 0]), max(hi_x, points[i, 0])
        lo_y, hi_y = min(lo_y, points[i, 1]), max(hi_y, points[i, 1])
    found = 0
    limit = near.shape[0]
    for i in range(line.shape[0]):
        if (bar_net[i] == net and bar_net[i] >= 0) or (mask[i] >> layer) & 1 == 0:
            continue
        r = radius[i] + mine + (max(gap[i], space) if copper[i] else gap[i])
        reach = r + margin
        if (
            min(line[i, 0], line[i, 2]) - hi_x > reach
            or lo_x - max(line[i, 0], line[i, 2]) > reach
            or min(line[i, 1], line[i, 3]) - hi_y > reach
            or lo_y - max(line[i, 1], line[i, 3]) > reach
        ):
            continue
        if found < limit:
            near[found] = line[i]
            need[found] = r
            found += 1
    for other in range(count.shape[0]):
        if nets[other] == net or layers[other] != layer:
            continue
        r = half[nets[other]] + mine + max(spacing[nets[other]], space)
        reach = r + margin
        for i in range(at[other], at[other] + count[other] - 1):
            ax, ay, bx, by = points[i, 0], points[i, 1], points[i + 1, 0], points[i + 1, 1]
            if (
                min(ax, bx) - hi_x > reach
                or lo_x - max(ax, bx) > reach
                or min(ay, by) - hi_y > reach
                or lo_y - max(ay, by) > reach
            ):
                continue
            if found < limit:
                near[found, 0], near[found, 1], near[found, 2], near[found, 3] = ax, ay, bx, by
                need[found] = r
                found += 1
    return found


@kernel
def breaches(
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
    octilinear: bool,
) -> Array:
    """Return for each link how many of its pieces come too near to something or run in no right direction."""
    links = count.shape[0]
    bad = np.zeros(links, np.int32)
    near = np.empty((8192, 4), np.float64)
    need = np.empty(8192, np.float64)
    for link in range(links):
        found = gather(
            link, points, at, count, nets, layers, half, spacing, line, radius, gap, copper, bar_net,
            mask, 0.0, near, need,
        )  # fmt: skip
        if found == 8192:
            bad[link] += 1
        for i in range(at[link], at[link] + count[link] - 1):
            ax, ay, bx, by = points[i, 0], points[i, 1], points[i + 1, 0], points[i + 1, 1]
            wrong = (octilinear and direction(bx - ax, by - ay) < 0) or (ax == bx and ay == by)
            if wrong or not free(ax, ay, bx, by, near, need, found):
                bad[link] += 1
    return bad
