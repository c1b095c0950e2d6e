"""Compiled: links pulled tight between their ends.

Every move keeps |dx| = |dy| on a diagonal, so tracks that are octilinear stay so exactly.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from boardgen.compiled import kernel
from boardgen.layout.route.linekernels import direction, free, gap2, gather
from boardgen.layout.route.searchkernels import ZERO

Array = Any

ROOT2 = 1.4142135623730951
COMFORT = 150_000.0  # nm of room beyond the clearance that costs no length and is worth having


@kernel
def _turn(a: int, b: int) -> int:
    """Turn from direction a to b in steps of 45 degrees, -3 to 4."""
    t = (b - a) % 8
    return t - 8 if t > 4 else t


@kernel
def _bends(dx: int, dy: int, variant: int) -> tuple[int, int, int, int, int]:
    """Corners of way *variant* over (dx, dy): how many, then x1, y1, x2, y2 from the start.

    0 diagonal first, 1 straight first, 2 the diagonal in the middle, 3 the
    straight in the middle. No corner for an octilinear step (variant 0 only);
    -1 where there is no such way.
    """
    ax, ay = abs(dx), abs(dy)
    sx, sy = (1 if dx > 0 else -1), (1 if dy > 0 else -1)
    if ax == 0 or ay in (0, ax):
        return (0 if variant == 0 else -1), 0, 0, 0, 0
    short = min(ax, ay)
    if variant == 0:
        return 1, sx * short, sy * short, 0, 0
    if variant == 1:
        return (1, dx - sx * short, 0, 0, 0) if ax > ay else (1, 0, dy - sy * short, 0, 0)
    if variant == 2:
        lead = (max(ax, ay) - short) // 2
        if ax > ay:
            return 2, sx * lead, 0, sx * (lead + short), dy
        return 2, 0, sy * lead, dx, sy * (lead + short)
    lead = short // 2
    rest = max(ax, ay) - short
    if ax > ay:
        return 2, sx * lead, sy * lead, sx * (lead + rest), sy * lead
    return 2, sx * lead, sy * lead, sx * lead, sy * (lead + rest)


@kernel
def _merge(way: Array, count: int) -> int:
    """Drop repeated points and corners without a turn; returns the new count."""
    size = 0
    for i in range(count):
        if size > 0 and way[i, 0] == way[size - 1, 0] and way[i, 1] == way[size - 1, 1]:
            continue
        if size > 1:
            a = direction(way[size - 1, 0] - way[size - 2, 0], way[size - 1, 1] - way[size - 2, 1])
            b = direction(way[i, 0] - way[size - 1, 0], way[i, 1] - way[size - 1, 1])
            if a == b and a >= 0:
                size -= 1
        way[size, 0], way[size, 1] = way[i, 0], way[i, 1]
        size += 1
    return size


@kernel
def _shortcut(
    way: Array,
    count: int,
    near: Array,
    need: Array,
    nears: Array,
    bend: int,
    shun_start: int,
    shun_end: int,
    out: Array,
) -> int:
    """Find the best octilinear way that visits some of the points of *way*; returns its count, 0 for none.

    Best is length plus *bend* per 45-degree turn (eight times that for a right
    angle); sharper turns are not made. Directions whose bit is set in the shun
    masks cost a millimetre at that end.
    """
    big = np.int64(1) << 60
    cost = np.full((count, 8), big, np.int64)
    from_point = np.full((count, 8), -1, np.int64)
    from_dir = np.full((count, 8), -1, np.int64)
    by = np.full((count, 8), -1, np.int64)
    window = 80
    for j in range(1, count):
        for i in range(max(0, j - window), j):
            dx, dy = way[j, 0] - way[i, 0], way[j, 1] - way[i, 1]
            if dx == 0 and dy == 0:
                continue
            short = min(abs(dx), abs(dy))
            length = np.int64(max(abs(dx), abs(dy)) + short * (ROOT2 - 1.0))
            for variant in range(4):
                corners, x1, y1, x2, y2 = _bends(dx, dy, variant)
                if corners < 0:
                    continue
                if corners == 0:
                    head = tail = direction(dx, dy)
                elif corners == 1:
                    head, tail = direction(x1, y1), direction(dx - x1, dy - y1)
                else:
                    head, tail = direction(x1, y1), direction(dx - x2, dy - y2)
                if head < 0 or tail < 0:
                    continue
                own = length + corners * bend
                lead = big
                lead_dir = -1
                if i == 0:
                    lead = np.int64(1_000_000) if (shun_start >> head) & 1 else np.int64(0)
                else:
                    for d in range(8):
                        if cost[i, d] < big:
                            t = abs(_turn(d, head))
                            if t <= 2:
                                extra = 0 if t == 0 else (bend if t == 1 else 8 * bend)
                                if cost[i, d] + extra < lead:
                                    lead = cost[i, d] + extra
                                    lead_dir = d
                if lead >= big:
                    continue
                total = lead + own
                if j == count - 1 and (shun_end >> ((tail + 4) % 8)) & 1:
                    total += 1_000_000
                if total >= cost[j, tail]:
                    continue
                ax, ay = way[i, 0], way[i, 1]
                if corners == 0:
                    good = free(ax, ay, way[j, 0], way[j, 1], near, need, nears)
                elif corners == 1:
                    good = free(ax, ay, ax + x1, ay + y1, near, need, nears) and free(
                        ax + x1, ay + y1, way[j, 0], way[j, 1], near, need, nears
                    )
                else:
                    good = (
                        free(ax, ay, ax + x1, ay + y1, near, need, nears)
                        and free(ax + x1, ay + y1, ax + x2, ay + y2, near, need, nears)
                        and free(ax + x2, ay + y2, way[j, 0], way[j, 1], near, need, nears)
                    )
                if good:
                    cost[j, tail] = total
                    from_point[j, tail] = i
                    from_dir[j, tail] = lead_dir
                    by[j, tail] = variant
    last = 0
    for d in range(1, 8):
        if cost[count - 1, d] < cost[count - 1, last]:
            last = d
    if cost[count - 1, last] >= big:
        return 0
    back = np.empty((3 * count + 3, 2), np.int64)
    size = 0
    j, d = count - 1, last
    while j > 0:
        i = from_point[j, d]
        back[size, 0], back[size, 1] = way[j, 0], way[j, 1]
        size += 1
        corners, x1, y1, x2, y2 = _bends(way[j, 0] - way[i, 0], way[j, 1] - way[i, 1], by[j, d])
        if corners == 2:
            back[size, 0], back[size, 1] = way[i, 0] + x2, way[i, 1] + y2
            size += 1
        if corners >= 1:
            back[size, 0], back[size, 1] = way[i, 0] + x1, way[i, 1] + y1
            size += 1
        j, d = i, from_dir[j, d]
    back[size, 0], back[size, 1] = way[0, 0], way[0, 1]
    size += 1
    for i in range(size):
        out[i, 0], out[i, 1] = back[size - 1 - i, 0], back[size - 1 - i, 1]
    return _merge(out, size)


@kernel
def _slide(way: Array, count: int, near: Array, need: Array, nears: Array) -> int:
    """Slide inward each piece whose two ends turn the same way, as far as is clear."""
    vx = (1, 1, 0, -1, -1, -1, 0, 1)
    vy = (0, 1, 1, 1, 0, -1, -1, -1)
    k = 0
    while k + 3 < count:
        d0 = direction(way[k + 1, 0] - way[k, 0], way[k + 1, 1] - way[k, 1])
        d1 = direction(way[k + 2, 0] - way[k + 1, 0], way[k + 2, 1] - way[k + 1, 1])
        d2 = direction(way[k + 3, 0] - way[k + 2, 0], way[k + 3, 1] - way[k + 2, 1])
        if d0 < 0 or d1 < 0 or d2 < 0:
            k += 1
            continue
        t1, t2 = _turn(d0, d1), _turn(d1, d2)
        if t1 * t2 <= 0 or abs(t1) > 2 or abs(t2) > 2:
            k += 1
            continue
        # a move by one unit shifts the middle piece by the same amount at both its ends
        f0 = 1 if d1 % 2 == 1 and d0 % 2 == 1 else 2
        f2 = 1 if d1 % 2 == 1 and d2 % 2 == 1 else 2
        reach0 = max(abs(way[k + 1, 0] - way[k, 0]), abs(way[k + 1, 1] - way[k, 1])) // f0
        reach2 = max(abs(way[k + 3, 0] - way[k + 2, 0]), abs(way[k + 3, 1] - way[k + 2, 1])) // f2
        most = min(reach0, reach2)
        good = np.int64(0)
        low, high, trial = np.int64(0), most, most
        while trial > 0:
            ax, ay = way[k + 1, 0] - vx[d0] * trial * f0, way[k + 1, 1] - vy[d0] * trial * f0
            bx, by = way[k + 2, 0] + vx[d2] * trial * f2, way[k + 2, 1] + vy[d2] * trial * f2
            if (
                free(way[k, 0], way[k, 1], ax, ay, near, need, nears)
                and free(ax, ay, bx, by, near, need, nears)
                and free(bx, by, way[k + 3, 0], way[k + 3, 1], near, need, nears)
            ):
                good = trial
                low = trial
            else:
                high = trial
            if good == most or high - low <= 2_000:
                break
            trial = (low + high) // 2
        if good > 0:
            way[k + 1, 0] -= vx[d0] * good * f0
            way[k + 1, 1] -= vy[d0] * good * f0
            way[k + 2, 0] += vx[d2] * good * f2
            way[k + 2, 1] += vy[d2] * good * f2
        k += 1
    return _merge(way, count)


@kernel
def _chamfer(way: Array, count: int, near: Array, need: Array, nears: Array, out: Array) -> int:
    """Cut each right angle with a 45-degree piece, as large as is clear."""
    vx = (1, 1, 0, -1, -1, -1, 0, 1)
    vy = (0, 1, 1, 1, 0, -1, -1, -1)
    out[0, 0], out[0, 1] = way[0, 0], way[0, 1]
    size = 1
    for i in range(1, count - 1):
        px, py = out[size - 1, 0], out[size - 1, 1]
        x, y = way[i, 0], way[i, 1]
        d0 = direction(x - px, y - py)
        d1 = direction(way[i + 1, 0] - x, way[i + 1, 1] - y)
        done = False
        if d0 >= 0 and d1 >= 0 and abs(_turn(d0, d1)) == 2:
            cut = min(max(abs(x - px), abs(y - py)), max(abs(way[i + 1, 0] - x), abs(way[i + 1, 1] - y))) // 2
            while cut > 10_000 and not done:
                ax, ay = x - vx[d0] * cut, y - vy[d0] * cut
                bx, by = x + vx[d1] * cut, y + vy[d1] * cut
                if free(ax, ay, bx, by, near, need, nears):
                    out[size, 0], out[size, 1] = ax, ay
                    out[size + 1, 0], out[size + 1, 1] = bx, by
                    size += 2
                    done = True
                cut = cut * 3 // 4
        if not done:
            out[size, 0], out[size, 1] = x, y
            size += 1
    out[size, 0], out[size, 1] = way[count - 1, 0], way[count - 1, 1]
    return _merge(out, size + 1)


@kernel
def _spare(ax: int, ay: int, bx: int, by: int, near: Array, need: Array, count: int, cap: float) -> float:
    """How much more than needed the centre line ab keeps from the near bars, at most *cap* (nm)."""
    least = cap
    for i in range(count):
        reach = need[i] + least
        if (
            min(near[i, 0], near[i, 2]) - max(ax, bx) > reach
            or min(ax, bx) - max(near[i, 0], near[i, 2]) > reach
            or min(near[i, 1], near[i, 3]) - max(ay, by) > reach
            or min(ay, by) - max(near[i, 1], near[i, 3]) > reach
        ):
            continue
        away = gap2(
            float(ax), float(ay), float(bx), float(by), near[i, 0], near[i, 1], near[i, 2], near[i, 3]
        )
        least = min(least, away**0.5 - need[i])
    return least


@kernel
def _ease(way: Array, first: int, count: int, near: Array, need: Array, nears: int) -> None:
    """Move each piece between two parallel ones to where it keeps most room; the length stays.

    At most COMFORT beyond the clearance is sought, and the ends keep a tenth of a mm.
    """
    vx = (1, 1, 0, -1, -1, -1, 0, 1)
    vy = (0, 1, 1, 1, 0, -1, -1, -1)
    for k in range(first, first + count - 3):
        ax, ay, bx, by = way[k + 1, 0], way[k + 1, 1], way[k + 2, 0], way[k + 2, 1]
        d0 = direction(ax - way[k, 0], ay - way[k, 1])
        d1 = direction(bx - ax, by - ay)
        d2 = direction(way[k + 3, 0] - bx, way[k + 3, 1] - by)
        if d0 < 0 or d0 != d2 or abs(_turn(d0, d1)) != 1:
            continue
        back = min(1_500_000, max(abs(ax - way[k, 0]), abs(ay - way[k, 1])) - 100_000)
        ahead = min(1_500_000, max(abs(way[k + 3, 0] - bx), abs(way[k + 3, 1] - by)) - 100_000)
        best = _spare(ax, ay, bx, by, near, need, nears, COMFORT)
        move = np.int64(0)
        for tenth in range(1, 31):
            if best >= COMFORT:
                break
            for way_on in range(2):
                s = 50_000 * tenth if way_on == 0 else -50_000 * tenth
                if s > ahead or -s > back:
                    continue
                mx, my = vx[d0] * s, vy[d0] * s
                room = _spare(ax + mx, ay + my, bx + mx, by + my, near, need, nears, COMFORT)
                # the pieces before and after are part of lines that were clear, or must be now
                if (
                    room > best + 5_000.0
                    and free(way[k, 0], way[k, 1], ax + mx, ay + my, near, need, nears)
                    and free(bx + mx, by + my, way[k + 3, 0], way[k + 3, 1], near, need, nears)
                ):
                    best = room
                    move = np.int64(s)
        if move != 0:
            way[k + 1, 0] += vx[d0] * move
            way[k + 1, 1] += vy[d0] * move
            way[k + 2, 0] += vx[d0] * move
            way[k + 2, 1] += vy[d0] * move


@kernel
def tighten(
    points: Array,
    at: Array,
    count: Array,
    nets: Array,
    layers: Array,
    joints: Array,
    half: Array,
    spacing: Array,
    line: Array,
    radius: Array,
    gap: Array,
    copper: Array,
    bar_net: Array,
    mask: Array,
    bend: int,
    rounds: int,
) -> None:
    """Pull every link tight in turn, with all the others where they are.

    Link i has ``points[at[i] : at[i] + count[i]]``, room to ``at[i + 1]``, and
    the joints ``joints[i]`` (ids of the tees at its ends, -1 at pads and vias).
    Only the first and last points stand; a link that cannot be improved stays.
    """
    links = count.shape[0]
    near = np.empty((4096, 4), np.float64)
    need = np.empty(4096, np.float64)
    for _ in range(rounds):
        for link in range(links):
            first, n = at[link], count[link]
            room = at[link + 1] - first
            if n < 2:
                continue
            found = gather(
                link, points, at, count, nets, layers, half, spacing, line, radius, gap, copper, bar_net,
                mask, 1_500_000.0, near, need,
            )  # fmt: skip
            # corners, and the middle of each long piece
            way = np.empty((2 * n + 8, 2), np.int64)
            size = ZERO
            for i in range(n):
                if i > 0:
                    dx = points[first + i, 0] - points[first + i - 1, 0]
                    dy = points[first + i, 1] - points[first + i - 1, 1]
                    if max(abs(dx), abs(dy)) > 2_000_000 and direction(dx, dy) >= 0:
                        # half of an even number of nm keeps a diagonal exact
                        way[size, 0] = points[first + i - 1, 0] + dx // 2
                        way[size, 1] = points[first + i - 1, 1] + (dy // 2 if dx != -dy else -(dx // 2))
                        size += 1
                way[size, 0], way[size, 1] = points[first + i, 0], points[first + i, 1]
                size += 1
            shun = np.zeros(2, np.int64)
            for end in range(2):
                joint = joints[link, end]
                if joint < 0:
                    continue
                for other in range(links):
                    if other == link or layers[other] != layers[link]:
                        continue
                    for side in range(2):
                        if joints[other, side] != joint or count[other] < 2:
                            continue
                        a = at[other] if side == 0 else at[other] + count[other] - 1
                        b = a + 1 if side == 0 else a - 1
                        d = direction(points[b, 0] - points[a, 0], points[b, 1] - points[a, 1])
                        if d >= 0:
                            shun[end] |= (1 << d) | (1 << ((d + 1) % 8)) | (1 << ((d + 7) % 8))
            out = np.empty((6 * size + 16, 2), np.int64)
            made = _shortcut(way, size, near, need, found, bend, shun[0], shun[1], out)
            if made == 0:
                continue
            if joints[link, 0] < 0 and joints[link, 1] < 0:
                made = _slide(out, made, near, need, found)
            more = np.empty((2 * made + 8, 2), np.int64)
            made = _chamfer(out, made, near, need, found, more)
            if made <= room:
                for i in range(made):
                    points[first + i, 0], points[first + i, 1] = more[i, 0], more[i, 1]
                count[link] = made
    for link in range(links):
        found = gather(
            link, points, at, count, nets, layers, half, spacing, line, radius, gap, copper, bar_net,
            mask, 1_500_000.0 + COMFORT, near, need,
        )  # fmt: skip
        _ease(points, at[link], count[link], near, need, found)
