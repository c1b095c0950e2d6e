"""Compiled: the shortest clear way between two points at any angle, all other copper standing.

What has to be kept clear of are bars (segments) grown by a need each. The
shortest way past grown bars bends round their ends only, so the ways tried run
over polygons set about the ends, searched by A* (edges are proved clear when
they come up, not when they are found), and the corners found are then slid to
where the way is shortest. Positions are whole nm and every piece is measured
again where it lies, so a way returned is clear exactly.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from boardgen.compiled import kernel
from boardgen.layout.route.linekernels import SLIP, blocking, free
from boardgen.layout.route.mapkernels import bar_distance2
from boardgen.layout.route.searchkernels import ZERO
from boardgen.layout.route.tautnear import surround

Array = Any

SHORTEST = 100_000.0  # nm; no piece between corners is shorter
BEND = 20_000.0  # nm of track a corner must save to be worth making
SIDES = 10  # of the polygon about an end: 1/cos(18 degrees) = 1.051 of the need, slid in later
BACK = -0.2  # least cosine of a turn: none by more than about 100 degrees
PART = 0.5  # most cosine between two tracks that meet off a pad: 60 degrees at least
TANGENT = 0.93  # a way that bends round an end passes it at this share of the need or more
GATE = 400_000.0  # nm of room at most between two needs for the gap to count as narrow
STAND_OFF = 0.45  # of the need: how far before a gate's middle its corners stand
MOST = 3000  # corners tried
HEAP = 200_000


@kernel
def _own(
    link: int,
    layer: int,
    ends: Array,
    points: Array,
    at: Array,
    count: Array,
    nets: Array,
    layers: Array,
    near: Array,
    need: Array,
    found: int,
) -> int:
    """Add the net's other tracks on *layer*, not to be crossed; those that meet an end are left out."""
    for other in range(count.shape[0]):
        if nets[other] != nets[link] or layers[other] != layer or other == link:
            continue
        for i in range(at[other], at[other] + count[other] - 1):
            meets = False
            for e in range(2):
                for k in range(2):
                    if points[i + k, 0] == ends[e, 0] and points[i + k, 1] == ends[e, 1]:
                        meets = True
            if not meets and found < near.shape[0]:
                near[found, 0], near[found, 1] = points[i, 0], points[i, 1]
                near[found, 2], near[found, 3] = points[i + 1, 0], points[i + 1, 1]
                need[found] = 1.0
                found += 1
    return int(found)


@kernel
def _apart(dx: float, dy: float, arms: Array) -> bool:
    """Whether a track that leaves toward (dx, dy) keeps 60 degrees from each of the unit *arms*."""
    length = math.sqrt(dx * dx + dy * dy)
    worst = -1.0
    for i in range(arms.shape[0]):
        worst = max(worst, (dx * arms[i, 0] + dy * arms[i, 1]) / length)
    return worst <= PART


@kernel
def _free_spot(x: Any, y: Any, near: Array, need: Array, nears: int) -> bool:
    for j in range(nears):
        r = need[j] - SLIP
        if bar_distance2(float(x), float(y), near[j, 0], near[j, 1], near[j, 2], near[j, 3]) < r * r:
            return False
    return True


@kernel
def _corners(
    ends: Array, most: float, near: Array, need: Array, nears: int, spots: Array, core: Array
) -> int:
    """Write the corners worth trying; returns their number, the two *ends* the first of them.

    ``spots[i]`` is the corner, ``core[i]`` (x, y, need) the bar's end it goes
    round, need -1 for none. All lie where a way of *most* nm from end to end can
    touch them. Where two ends leave a narrow gate, corners stand before and
    behind its middle.
    """
    size = ZERO
    for e in range(2):
        spots[size, 0], spots[size, 1] = ends[e, 0], ends[e, 1]
        core[size, 0], core[size, 1], core[size, 2] = 0.0, 0.0, -1.0
        size += 1
    sx, sy, tx, ty = float(ends[0, 0]), float(ends[0, 1]), float(ends[1, 0]), float(ends[1, 1])
    blow = 1.0 / math.cos(math.pi / SIDES)
    disc = np.empty((2 * nears, 3), np.float64)
    discs = ZERO
    for i in range(nears):
        if need[i] <= 1.0:
            continue
        for k in range(2):
            cx, cy = near[i, 2 * k], near[i, 2 * k + 1]
            if k == 1 and cx == near[i, 0] and cy == near[i, 1]:
                continue
            reach = need[i] * blow + 3.0
            if math.hypot(cx - sx, cy - sy) + math.hypot(cx - tx, cy - ty) - 2.0 * reach > most:
                continue
            twice = False
            for j in range(discs):
                if disc[j, 2] >= need[i] and disc[j, 0] == cx and disc[j, 1] == cy:
                    twice = True
                    break
            if twice:
                continue
            for j in range(discs):
                away = math.hypot(cx - disc[j, 0], cy - disc[j, 1])
                slack = away - need[i] - disc[j, 2]
                if slack < 0.0 or slack > GATE:
                    continue
                ux, uy = (disc[j, 0] - cx) / away, (disc[j, 1] - cy) / away
                mid = need[i] + slack / 2.0
                for side in range(-1, 2, 2):
                    off = side * STAND_OFF * min(need[i], disc[j, 2])
                    x = np.int64(round(cx + mid * ux - off * uy))
                    y = np.int64(round(cy + mid * uy + off * ux))
                    if size < spots.shape[0] and _free_spot(x, y, near, need, nears):
                        spots[size, 0], spots[size, 1] = x, y
                        core[size, 0], core[size, 1], core[size, 2] = 0.0, 0.0, -1.0
                        size += 1
            disc[discs, 0], disc[discs, 1], disc[discs, 2] = cx, cy, need[i]
            discs += 1
            for side in range(SIDES):
                turn = 2.0 * math.pi * side / SIDES
                x = np.int64(round(cx + reach * math.cos(turn)))
                y = np.int64(round(cy + reach * math.sin(turn)))
                if math.hypot(x - sx, y - sy) + math.hypot(x - tx, y - ty) > most:
                    continue
                if size < spots.shape[0] and _free_spot(x, y, near, need, nears):
                    spots[size, 0], spots[size, 1] = x, y
                    core[size, 0], core[size, 1], core[size, 2] = cx, cy, need[i]
                    size += 1
    return int(size)


@kernel
def _tangent(dx: float, dy: float, length: float, ax: float, ay: float, core: Array) -> float:
    """Side on which a way by (dx, dy) from a leaves the core (+1, -1), 0 where it runs into it."""
    off = dx * (core[1] - ay) - dy * (core[0] - ax)
    touch = TANGENT * core[2] * length
    if off >= touch:
        return 1.0
    return -1.0 if off <= -touch else 0.0


@kernel
def _lift(heap: Array, edge: Array, size: int, key: float, a: int, b: int) -> int:
    i = size
    while i > 0:
        up = (i - 1) >> 1
        if heap[up] <= key:
            break
        heap[i], edge[i, 0], edge[i, 1] = heap[up], edge[up, 0], edge[up, 1]
        i = up
    heap[i], edge[i, 0], edge[i, 1] = key, a, b
    return size + 1


@kernel
def _drop(heap: Array, edge: Array, size: int) -> int:
    """Remove the first entry; returns the new size."""
    size -= 1
    key, a, b = heap[size], edge[size, 0], edge[size, 1]
    i = 0
    while True:
        child = 2 * i + 1
        if child >= size:
            break
        if child + 1 < size and heap[child + 1] < heap[child]:
            child += 1
        if heap[child] >= key:
            break
        heap[i], edge[i, 0], edge[i, 1] = heap[child], edge[child, 0], edge[child, 1]
        i = child
    heap[i], edge[i, 0], edge[i, 1] = key, a, b
    return size


@kernel
def _passes(ax: int, ay: int, bx: int, by: int, near: Array, need: Array, nears: int) -> bool:
    """As free, but the bar that is in the way moves forward: it is often in that of the next as well."""
    i = blocking(ax, ay, bx, by, near, need, nears)
    if i < 0:
        return True
    j = i // 2
    for k in range(4):
        near[i, k], near[j, k] = near[j, k], near[i, k]
    need[i], need[j] = need[j], need[i]
    return False


@kernel
def _astar(
    spots: Array,
    core: Array,
    size: int,
    most: float,
    near: Array,
    need: Array,
    nears: int,
    arms: Array,
    arms_end: Array,
    heap: Array,
    edge: Array,
    parent: Array,
) -> bool:
    """Find the shortest way from spot 0 to spot 1 over the others, no longer than *most*."""
    done = np.zeros(size, np.bool_)
    cost = np.zeros(size, np.float64)
    rest = np.zeros(size, np.float64)  # what is left from a spot to spot 1 at least, with its corner
    for w in range(2, size):
        rest[w] = BEND + math.hypot(float(spots[w, 0] - spots[1, 0]), float(spots[w, 1] - spots[1, 1]))
    held = _lift(heap, edge, ZERO, 0.0, ZERO, ZERO)
    while held > 0:
        u, v = edge[0, 0], edge[0, 1]
        held = _drop(heap, edge, held)
        if done[v]:
            continue
        ux, uy, vx, vy = spots[u, 0], spots[u, 1], spots[v, 0], spots[v, 1]
        if u != v and not _passes(ux, uy, vx, vy, near, need, nears):
            continue
        done[v] = True
        parent[v] = u
        if v == 1:
            return True
        into_x, into_y = float(vx - ux), float(vy - uy)
        into = math.hypot(into_x, into_y)
        cost[v] = cost[u] + into + (BEND if v > 1 else 0.0)
        side = _tangent(into_x, into_y, into, float(ux), float(uy), core[v]) if v > 1 else 0.0
        here_x, here_y, so_far = float(vx), float(vy), cost[v]
        for w in range(1, size):
            if done[w]:
                continue
            dx, dy = float(spots[w, 0]) - here_x, float(spots[w, 1]) - here_y
            length = math.sqrt(dx * dx + dy * dy)
            key = so_far + length + rest[w]
            if key > most or length < SHORTEST or held >= heap.shape[0]:
                continue
            if w > 1 and _tangent(dx, dy, length, here_x, here_y, core[w]) == 0.0:
                continue
            if v > 1:
                # the turn goes the way of the core, and not back
                if _tangent(dx, dy, length, here_x, here_y, core[v]) != side:
                    continue
                if into_x * dx + into_y * dy < BACK * into * length:
                    continue
            elif not _apart(dx, dy, arms):
                continue
            if w == 1 and not _apart(-dx, -dy, arms_end):
                continue
            held = _lift(heap, edge, held, key, v, w)
    return False


@kernel
def _fits(way: Array, count: int, i: int, x: int, y: int, near: Array, need: Array, nears: int,
          arms: Array, arms_end: Array) -> bool:  # fmt: skip
    """Whether corner i of *way* may lie at (x, y)."""
    ax, ay, bx, by = way[i - 1, 0], way[i - 1, 1], way[i + 1, 0], way[i + 1, 1]
    ux, uy, vx, vy = float(x - ax), float(y - ay), float(bx - x), float(by - y)
    first, second = math.sqrt(ux * ux + uy * uy), math.sqrt(vx * vx + vy * vy)
    if first < SHORTEST or second < SHORTEST or ux * vx + uy * vy < BACK * first * second:
        return False
    if i > 1:
        px, py = float(ax - way[i - 2, 0]), float(ay - way[i - 2, 1])
        if px * ux + py * uy < BACK * first * math.sqrt(px * px + py * py):
            return False
    elif not _apart(ux, uy, arms):
        return False
    if i < count - 2:
        px, py = float(way[i + 2, 0] - bx), float(way[i + 2, 1] - by)
        if px * vx + py * vy < BACK * second * math.sqrt(px * px + py * py):
            return False
    elif not _apart(-vx, -vy, arms_end):
        return False
    return free(ax, ay, x, y, near, need, nears) and free(x, y, bx, by, near, need, nears)


@kernel
def _settle(
    way: Array, count: int, near: Array, need: Array, nears: int, arms: Array, arms_end: Array
) -> None:
    """Slide the corners of *way* to where it is shortest, to a micrometre."""
    step = 128_000
    while step >= 1_000:
        moved = False
        for i in range(1, count - 1):
            ax, ay, bx, by = way[i - 1, 0], way[i - 1, 1], way[i + 1, 0], way[i + 1, 1]
            for d in range(8):
                dx = 0 if d in (2, 6) else (step if d in (0, 1, 7) else -step)
                dy = 0 if d in (0, 4) else (step if d in (1, 2, 3) else -step)
                x, y = way[i, 0] + dx, way[i, 1] + dy
                old = math.hypot(float(way[i, 0] - ax), float(way[i, 1] - ay))
                old += math.hypot(float(way[i, 0] - bx), float(way[i, 1] - by))
                new = math.hypot(float(x - ax), float(y - ay)) + math.hypot(float(x - bx), float(y - by))
                if new < old - 1.0 and _fits(way, count, i, x, y, near, need, nears, arms, arms_end):
                    way[i, 0], way[i, 1] = x, y
                    moved = True
        if not moved:
            step //= 2


@kernel
def _about(ends: Array, reach: float, box: Array) -> None:
    """Set *box* (left, top, right, bottom) about all ways of *reach* nm between the two *ends*."""
    sx, sy, tx, ty = float(ends[0, 0]), float(ends[0, 1]), float(ends[1, 0]), float(ends[1, 1])
    straight = math.hypot(tx - sx, ty - sy)
    a, b = reach / 2.0, math.sqrt(max(0.0, reach * reach - straight * straight)) / 2.0
    cos, sin = (tx - sx) / straight, (ty - sy) / straight
    wide, high = math.hypot(a * cos, b * sin), math.hypot(a * sin, b * cos)
    box[0], box[2] = (sx + tx) / 2.0 - wide, (sx + tx) / 2.0 + wide
    box[1], box[3] = (sy + ty) / 2.0 - high, (sy + ty) / 2.0 + high


@kernel
def taut_way(
    link: int,
    layer: int,
    skip: Array,
    ends: Array,
    most: float,
    arms: Array,
    arms_end: Array,
    out: Array,
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
) -> int:
    """Write to *out* the shortest way found for link *link* on *layer*; returns its points, 0 for none.

    *ends* are its first and last point, *most* the longest worth having (nm);
    links with *skip* set are taken as not there. The way leaves its ends 60
    degrees or more from the unit vectors *arms* and *arms_end*. The other
    arrays are those of tightkernels.tighten.
    """
    sx, sy, tx, ty = float(ends[0, 0]), float(ends[0, 1]), float(ends[1, 0]), float(ends[1, 1])
    straight = math.hypot(tx - sx, ty - sy)
    if straight >= most or straight < SHORTEST:
        return 0
    near = np.empty((4096, 4), np.float64)
    need = np.empty(4096, np.float64)
    spots = np.empty((MOST, 2), np.int64)
    core = np.empty((MOST, 3), np.float64)
    parent = np.empty(MOST, np.int64)
    box = np.empty(4, np.float64)
    level = 0
    heap = np.empty(HEAP, np.float64)
    edge = np.empty((HEAP, 2), np.int64)
    while True:
        # a narrow look first: most ways are nearly straight
        stretch = (1.0, 1.02, 1.2, 10.0)[level]
        reach = min(most, straight * stretch + 60_000.0 * level)
        _about(ends, reach, box)
        found = surround(
            nets[link], layer, skip, box, points, at, count, nets, layers, half, spacing, line, radius, gap,
            copper, bar_net, mask, near, need,
        )  # fmt: skip
        found = _own(link, layer, ends, points, at, count, nets, layers, near, need, found)
        if found >= near.shape[0]:
            return 0
        if level == 0:
            clear = free(ends[0, 0], ends[0, 1], ends[1, 0], ends[1, 1], near, need, found)
            if clear and _apart(tx - sx, ty - sy, arms) and _apart(sx - tx, sy - ty, arms_end):
                out[0, 0], out[0, 1], out[1, 0], out[1, 1] = ends[0, 0], ends[0, 1], ends[1, 0], ends[1, 1]
                return 2
        else:
            size = _corners(ends, reach, near, need, found, spots, core)
            if _astar(spots, core, size, reach, near, need, found, arms, arms_end, heap, edge, parent):
                break
            if reach >= most:
                return 0
        level += 1
        if level == 4:
            return 0
    size = 2
    v = parent[1]
    while v != 0:
        size += 1
        v = parent[v]
    if size > out.shape[0]:
        return 0
    v = 1
    for i in range(size):
        out[size - 1 - i, 0], out[size - 1 - i, 1] = spots[v, 0], spots[v, 1]
        v = parent[v]
    _settle(out, size, near, need, found, arms, arms_end)
    return size
