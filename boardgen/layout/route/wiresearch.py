"""Compiled: the cheapest way on one copper side, wire links included.

Three planes lie over each other: the copper, wires along x, wires along y. A way
leaves the copper where a link's pad may stand, runs straight on one of the wire
planes, and comes back where a pad may stand again. A node is
``plane_size * plane + y * width + x``; maps, costs and settled nodes are as in
searchkernels.
"""

from __future__ import annotations

from typing import Any

from boardgen.compiled import kernel
from boardgen.layout.route.queuekernels import COUNT, put, start, take
from boardgen.layout.route.searchkernels import FAR_KEY, HARD, SLANT, STEP, ahead

Array = Any

COST, SEEN, PARENT, ENTRY = range(4)  # what is known of a node in a search, side by side
FAR = 1 << 20  # steps since the last link's end: none yet


@kernel
def wire_search(
    width: int,
    height: int,
    stat: Array,
    occ: Array,
    hist: Array,
    end_stat: Array,
    end_occ: Array,
    wire_free: Array,
    wire_occ: Array,
    own_end: Array,
    own_wire: Array,
    own: int,
    wire: Array,
    mark: int,
    price: int,
    sources: Array,
    source_count: int,
    goal: Array,
    goal_epoch: int,
    box: Array,
    nodes: Array,
    heads: Array,
    pool: Array,
    at: Array,
    epoch: int,
) -> int:
    """Find the cheapest way from any source to a goal node on copper; returns it, or -1.

    *wire* holds the price of a link's end, of a step of wire, the least and most
    steps of a link, and the steps of track between two links of one net (an end
    price below 0 forbids links). *own_end* and *own_wire* hold *own* where the
    net's own links stand already. *entry* is, for a wire node, the cell where
    the link began, for a copper node the steps since the last link's end.
    """
    plane = width * height
    end_cost, wire_step, least, most, rest_steps = wire[0], wire[1], wire[2], wire[3], wire[4]
    least_key = FAR_KEY
    for i in range(source_count):
        node = sources[i]
        least_key = min(least_key, ahead(box, node % width, node // width))
    start(heads, at, least_key)
    for i in range(source_count):
        node = sources[i]
        if nodes[node, SEEN] == epoch:
            continue
        x, y = node % width, node // width
        nodes[node, COST] = 0
        nodes[node, SEEN] = epoch
        nodes[node, PARENT] = -1
        nodes[node, ENTRY] = FAR
        put(heads, pool, at, ahead(box, x, y), node)
    while at[COUNT] > 0:
        node = take(heads, pool, at)
        if nodes[node, SEEN] == -epoch:
            continue  # settled already
        nodes[node, SEEN] = -epoch
        layer = node // plane
        cell = node - layer * plane
        x, y = cell % width, cell // width
        base = nodes[node, COST]
        if layer == 0:
            if goal[node] == goal_epoch:
                return node
            since = nodes[node, ENTRY]
            may = (
                end_cost >= 0
                and since >= rest_steps
                and end_stat[cell] in (0, mark)
                and own_end[cell] != own
                and wire_free[cell] != 0
                and own_wire[cell] != own
            )
            for d in range(10):
                if d < 8:
                    nx = x + (1 if (d == 7 or d <= 1) else (-1 if 3 <= d <= 5 else 0))
                    ny = y + (1 if 1 <= d <= 3 else (-1 if d >= 5 else 0))
                    if nx < 0 or ny < 0 or nx >= width or ny >= height:
                        continue
                    to = ny * width + nx
                    if nodes[to, SEEN] == -epoch:
                        continue
                    held = stat[to]
                    if held not in (0, mark):
                        continue
                    step = SLANT if d & 1 else STEP
                    crowd = int(occ[to])
                else:
                    if not may:
                        break
                    nx, ny = x, y
                    to = (d - 7) * plane + cell
                    if nodes[to, SEEN] == -epoch:
                        continue
                    step = end_cost
                    crowd = int(end_occ[cell]) + int(wire_occ[cell])
                if crowd > 0:
                    if price >= HARD:
                        continue
                    step += price * min(crowd, 4)
                now = base + step + hist[to]
                if nodes[to, SEEN] == epoch and nodes[to, COST] <= now:
                    continue
                nodes[to, COST] = now
                nodes[to, SEEN] = epoch
                nodes[to, PARENT] = node
                nodes[to, ENTRY] = min(since + 1, FAR) if d < 8 else cell
                put(heads, pool, at, now + ahead(box, nx, ny), to)
            continue
        began = nodes[node, ENTRY]
        away = x - began % width if layer == 1 else y - began // width
        for d in range(3):
            if d < 2:
                way = 1 if d == 0 else -1
                if away * way < 0 or abs(away) >= most:
                    continue
                nx, ny = (x + way, y) if layer == 1 else (x, y + way)
                if nx < 0 or ny < 0 or nx >= width or ny >= height:
                    continue
                over = ny * width + nx
                to = layer * plane + over
                if nodes[to, SEEN] == -epoch or wire_free[over] == 0 or own_wire[over] == own:
                    continue
                step = wire_step
                crowd = int(wire_occ[over])
            else:
                if abs(away) < least:
                    continue
                nx, ny = x, y
                to = cell
                held, post = stat[cell], end_stat[cell]
                if nodes[to, SEEN] == -epoch or held not in (0, mark) or post not in (0, mark):
                    continue
                if own_end[cell] == own:
                    continue
                step = end_cost
                crowd = int(end_occ[cell])
            if crowd > 0:
                if price >= HARD:
                    continue
                step += price * min(crowd, 4)
            now = base + step + hist[to]
            if nodes[to, SEEN] == epoch and nodes[to, COST] <= now:
                continue
            nodes[to, COST] = now
            nodes[to, SEEN] = epoch
            nodes[to, PARENT] = node
            nodes[to, ENTRY] = began if d < 2 else 0
            put(heads, pool, at, now + ahead(box, nx, ny), to)
    return -1
