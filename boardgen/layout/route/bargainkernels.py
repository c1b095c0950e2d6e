"""Compiled: nets bargain for room until no two claim the same ground."""

from __future__ import annotations

from typing import Any

import numpy as np

from boardgen.compiled import kernel
from boardgen.layout.route.queuekernels import BUCKETS
from boardgen.layout.route.searchkernels import HARD, LESS, ONE, ZERO, search

Array = Any


@kernel
def _spread(
    cells: Array,
    offset: int,
    width: int,
    height: int,
    x: int,
    y: int,
    disc: Array,
    lo: int,
    hi: int,
    marks: Array,
    epoch: int,
    add: int,
) -> None:
    """Add *add* once per epoch to each cell of a disc about (x, y)."""
    for k in range(lo, hi):
        nx, ny = x + disc[k, 0], y + disc[k, 1]
        if 0 <= nx < width and 0 <= ny < height:
            at = offset + ny * width + nx
            if marks[at] != epoch:
                marks[at] = epoch
                cells[at] += add


@kernel
def _count(
    shape: Array,
    path: Array,
    length: int,
    kind: int,
    classes: int,
    occ: Array,
    via_occ: Array,
    discs: Array,
    disc_at: Array,
    marks: Array,
    via_marks: Array,
    epoch: int,
    add: int,
    use_vias: bool,
) -> None:
    """Add (or take back) one net's path to the occupancy of every class.

    ``disc_at[what, a, b]`` starts the disc of: what 0 a track of class a against
    tracks of class b, 1 a track of a against vias of b, 2 a via of a against
    tracks of b, 3 via against via.
    """
    width, height, layers = shape[0], shape[1], shape[2]
    plane = width * height
    last = -1
    for i in range(length):
        node = path[i]
        if node < 0:
            last = -1
            continue
        layer = node // plane
        rest = node - layer * plane
        x, y = rest % width, rest // width
        for c in range(classes):
            lo, hi = disc_at[0, kind, c, 0], disc_at[0, kind, c, 1]
            _spread(occ, (c * layers + layer) * plane, width, height, x, y, discs, lo, hi, marks, epoch, add)
            if use_vias:
                lo, hi = disc_at[1, kind, c, 0], disc_at[1, kind, c, 1]
                _spread(via_occ, c * plane, width, height, x, y, discs, lo, hi, via_marks, epoch, add)
        if use_vias and last >= 0:
            was = last % plane
            if was == rest:
                for c in range(classes):
                    for on in range(layers):
                        lo, hi = disc_at[2, kind, c, 0], disc_at[2, kind, c, 1]
                        at = (c * layers + on) * plane
                        _spread(occ, at, width, height, x, y, discs, lo, hi, marks, epoch, add)
                    lo, hi = disc_at[3, kind, c, 0], disc_at[3, kind, c, 1]
                    at = c * plane
                    _spread(via_occ, at, width, height, x, y, discs, lo, hi, via_marks, epoch, add)
        last = node


@kernel
def _conflicts(
    shape: Array,
    path: Array,
    length: int,
    kind: int,
    occ: Array,
    via_occ: Array,
    hist: Array,
    add: int,
) -> int:
    """Return how many cells of a counted path others claim too; raises their history by *add*."""
    width, height, layers = shape[0], shape[1], shape[2]
    plane = width * height
    found = 0
    last = -1
    for i in range(length):
        node = path[i]
        if node < 0:
            last = -1
            continue
        if occ[kind * layers * plane + node] > 1:
            found += 1
            hist[node] += add
        if last >= 0:
            a, b = last % plane, node % plane
            if a == b and (via_occ[kind * plane + a] > 1 or via_occ[kind * plane + b] > 1):
                found += 1
                hist[node] += add
                hist[last] += add
        last = node
    return found


@kernel
def negotiate(
    shape: Array,
    kinds: Array,
    stat: Array,
    via_stat: Array,
    side_cost: Array,
    discs: Array,
    disc_at: Array,
    pin_at: Array,
    cell_at: Array,
    cells: Array,
    order: Array,
    via_cost: int,
    rounds: int,
    patience: int,
    polish: int,
    terms: Array,
    strict: bool,
    path_at: Array,
    paths: Array,
    lengths: Array,
    state: Array,
) -> Array:
    """Route every net of *order*, let them bargain, and settle what is left.

    Net n has the pins ``pin_at[n] .. pin_at[n + 1]``, pin p the goal nodes
    ``cells[cell_at[p] : cell_at[p + 1]]``. The path of net n, branches parted by
    -1, is written to ``paths[path_at[n] :]``. *state* gets 0 routed, 1 no way
    even on the empty board, 2 no way past the others. Returns (rounds used,
    searches made, nets dropped, whether it gave up). *terms* are the price of
    crossing another net's ground at first, its growth in percent a round, its
    most, and what a cell in dispute grows dearer by for good. With *strict* it
    gives up after one round where a net has no way even on the empty board.
    """
    width, height, layers = shape[0], shape[1], shape[2]
    plane = width * height
    nodes = plane * layers
    classes = via_stat.shape[0]
    nets = kinds.shape[0]
    use_vias = via_cost >= 0
    occ = np.zeros(classes * nodes, np.int16)
    marks = np.zeros(classes * nodes, np.int32)
    via_occ = np.zeros(classes * plane if use_vias else classes, np.int16)
    via_marks = np.zeros(classes * plane if use_vias else classes, np.int32)
    hist = np.zeros(nodes, np.int32)
    cost = np.empty(nodes, np.int32)
    seen = np.zeros(nodes, np.int32)
    parent = np.empty(nodes, np.int32)
    goal = np.zeros(nodes, np.int32)
    degree = np.zeros(nodes, np.int32)  # epoch * 8 + tracks that meet there
    heads = np.empty(BUCKETS, np.int32)
    pool = np.empty((8 * nodes + 64, 2), np.int32)
    at = np.zeros(4, np.int64)
    sources = np.empty(nodes, np.int32)
    box = np.zeros(4, np.int64)
    stuck = np.zeros(nets, np.int32)
    linked = np.zeros(pin_at[nets], np.int8)  # 1 on the tree that grows, 2 on one that cannot
    info = np.zeros(4, np.int64)
    epoch = 1
    stamp = 0
    price = terms[0]
    best = 1 << 30
    idle = 0
    for n in range(nets):
        lengths[n] = 0
        state[n] = 0
        stuck[n] = 1
    total_rounds = rounds + polish + 2
    phase = 0  # 0 bargain, 1 polish, 2 dropped nets tried once more
    step_round = 0
    while step_round < total_rounds:
        step_round += 1
        for o in range(order.shape[0]):
            n = order[o]
            if phase == 0 and stuck[n] == 0:
                continue
            if phase == 1 and state[n] != 0:
                continue
            if phase == 2 and state[n] != 2:
                continue
            kind = kinds[n]
            base = path_at[n]
            room = path_at[n + 1] - base
            old_length = lengths[n]
            if lengths[n] > 0:
                stamp += 1
                _count(
                    shape, paths[base:], lengths[n], kind, classes, occ, via_occ, discs, disc_at,
                    marks, via_marks, stamp, LESS, use_vias,
                )  # fmt: skip
            keep = paths[base : base + old_length].copy()
            stamp += 1
            first, past = pin_at[n], pin_at[n + 1]
            left = past - first - 1
            for p in range(first, past):
                linked[p] = 0
            linked[first] = 1
            size = ZERO
            tree = ZERO  # where the growing tree starts in the path
            failed = False
            mine = kind * nodes
            while left > 0:
                # the tree so far is the source, every pin not yet on it a goal
                epoch += 1
                count = ZERO
                box[0], box[1], box[2], box[3] = width, height, -1, -1
                for p in range(first, past):
                    for k in range(cell_at[p], cell_at[p + 1]):
                        node = cells[k]
                        if linked[p] == 1:
                            sources[count] = node
                            count += 1
                        elif linked[p] == 0:
                            goal[node] = epoch
                            rest = node % plane
                            x, y = rest % width, rest // width
                            box[0], box[1] = min(box[0], x), min(box[1], y)
                            box[2], box[3] = max(box[2], x), max(box[3], y)
                for i in range(tree, size):
                    node = paths[base + i]
                    if node >= 0 and degree[node] // 8 == stamp and degree[node] % 8 < 3 and count < nodes:
                        sources[count] = node
                        count += 1
                found = search(
                    shape, stat[mine : mine + nodes], occ[mine : mine + nodes], hist,
                    via_stat[kind], via_occ[kind * plane :], n + 1, HARD if phase > 0 else price,
                    via_cost, side_cost, sources, count, goal, epoch, box,
                    cost, seen, parent, heads, pool, at, epoch,
                )  # fmt: skip
                info[1] += 1
                if found < 0:
                    # this tree is walled in: leave it, and join what can be joined of the rest
                    failed = True
                    if phase == 1:
                        break
                    tree = size
                    seed = -1
                    for p in range(first, past):
                        if linked[p] == 1:
                            linked[p] = 2
                        elif linked[p] == 0 and seed < 0:
                            seed = p
                    linked[seed] = 1
                    left -= 1
                    continue
                hit = -1
                for p in range(first, past):
                    if linked[p] == 0:
                        for k in range(cell_at[p], cell_at[p + 1]):
                            if cells[k] == found:
                                hit = p
                linked[hit] = 1
                left -= 1
                node = found
                before = -1
                while node >= 0 and size < room:
                    paths[base + size] = node
                    size += 1
                    into = parent[node]
                    via = (before >= 0 and before % plane == node % plane) or (
                        into >= 0 and into % plane == node % plane
                    )
                    d = (1 if before >= 0 else 0) + (1 if into >= 0 else 0) + (4 if via else 0)
                    had = degree[node] % 8 if degree[node] // 8 == stamp else 0
                    degree[node] = stamp * 8 + min(7, had + d)
                    before = node
                    node = into
                if size < room:
                    paths[base + size] = -1
                    size += 1
                else:
                    failed = True
                    break
            if failed:
                if phase == 0:
                    state[n] = 1  # what could be joined stays joined
                elif phase == 1:
                    for i in range(old_length):
                        paths[base + i] = keep[i]
                    size = old_length
            lengths[n] = size
            if size == 0:
                continue
            if phase == 2 and not failed:
                state[n] = 0
            stamp += 1
            _count(
                shape, paths[base:], size, kind, classes, occ, via_occ, discs, disc_at,
                marks, via_marks, stamp, ONE, use_vias,
            )  # fmt: skip
        if strict and step_round == 1:
            for n in range(nets):
                if state[n] == 1:
                    info[3] = 1
                    return info
        if phase == 2:
            break
        if phase == 1:
            polish -= 1
            if polish <= 0:
                phase = 2
            continue
        total = 0
        for n in range(nets):
            if lengths[n] > 0:
                stuck[n] = _conflicts(
                    shape, paths[path_at[n] :], lengths[n], kinds[n], occ, via_occ, hist, terms[3]
                )
                total += stuck[n]
            else:
                stuck[n] = 0
        info[0] = step_round
        price = min(price * terms[1] // 100, terms[2])
        if total < best:
            best = total
            idle = 0
        else:
            idle += 1
        if total > 0 and (step_round >= rounds or idle >= patience):
            # give up on nets until the rest agree: those of few pins first, they lose the least
            while total > 0:
                worst = -1
                for n in range(nets):
                    if stuck[n] == 0:
                        continue
                    more = -1 if worst < 0 else pin_at[n + 1] - pin_at[n] - pin_at[worst + 1] + pin_at[worst]
                    if more < 0 or (more == 0 and stuck[n] > stuck[worst]):
                        worst = n
                stamp += 1
                _count(
                    shape, paths[path_at[worst] :], lengths[worst], kinds[worst], classes, occ, via_occ,
                    discs, disc_at, marks, via_marks, stamp, LESS, use_vias,
                )  # fmt: skip
                lengths[worst] = 0
                state[worst] = 2
                info[2] += 1
                total = 0
                for n in range(nets):
                    stuck[n] = 0
                    if lengths[n] > 0:
                        stuck[n] = _conflicts(
                            shape,
                            paths[path_at[n] :],
                            lengths[n],
                            kinds[n],
                            occ,
                            via_occ,
                            hist,
                            ZERO,
                        )
                        total += stuck[n]
        if total == 0:
            hist[:] = 0
            phase = 1 if polish > 0 else 2
    return info
