"""Compiled: nets of one copper side bargain for room, with tracks and wire links, and repair what is left."""

from __future__ import annotations

from typing import Any

import numpy as np

from boardgen.compiled import kernel
from boardgen.layout.route.searchkernels import HARD, LESS, ONE, ZERO
from boardgen.layout.route.wirefield import Books, Field, claim, clashes, fence
from boardgen.layout.route.wiresearch import wire_search

Array = Any


@kernel
def _route(field: Field, books: Books, n: int, price: int, out: Array, whole: bool) -> int:
    """Route net *n* into *out*, branches parted by -1; returns its length, -1 - length where a pin is left.

    With *whole* it ends at the first pin that cannot be joined.
    """
    w, h = field.width, field.height
    plane = w * h
    kind = field.kinds[n]
    first, past = field.pin_at[n], field.pin_at[n + 1]
    cell_at, cells = field.cell_at, field.cells
    linked = books.linked  # 1 on the tree that grows, 2 on one that cannot
    books.clock[2] += 1
    own = books.clock[2]
    box = np.zeros(4, np.int64)
    for p in range(first, past):
        linked[p] = 0
    linked[first] = 1
    left = past - first - 1
    size = 0
    tree = 0  # where the growing tree starts in the path
    failed = False
    while left > 0:
        books.clock[0] += 1
        epoch = books.clock[0]
        count = 0
        box[0], box[1], box[2], box[3] = w, h, -1, -1
        for p in range(first, past):
            for k in range(cell_at[p], cell_at[p + 1]):
                node = cells[k]
                if linked[p] == 1:
                    books.sources[count] = node
                    count += 1
                elif linked[p] == 0:
                    books.goal[node] = epoch
                    x, y = node % w, node // w
                    box[0], box[1] = min(box[0], x), min(box[1], y)
                    box[2], box[3] = max(box[2], x), max(box[3], y)
        for i in range(tree, size):
            node = out[i]
            if node >= 0 and books.degree[node] // 8 == own and books.degree[node] % 8 < 3 and count < plane:
                books.sources[count] = node
                count += 1
        found = wire_search(
            w, h, field.stat[kind], books.occ[kind], books.hist, field.end_stat[kind], books.end_occ[kind],
            field.wire_free, books.wire_occ, books.own_end, books.own_wire, own, field.wire, n + 1, price,
            books.sources, count, books.goal, epoch, box, books.cost, books.seen, books.parent, books.entry,
            books.heap, epoch,
        )  # fmt: skip
        books.clock[3] += 1
        if found < 0:
            failed = True
            if whole:
                break
            tree = size  # this tree is walled in: leave it, and join what can be joined of the rest
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
        start = size
        while node >= 0 and size < out.shape[0] - 1:
            into = books.parent[node]
            while into >= plane:  # over the wire to where it left the copper
                into = books.parent[into]
            out[size] = node
            size += 1
            d = (1 if before >= 0 else 0) + (1 if into >= 0 else 0)
            had = books.degree[node] % 8 if books.degree[node] // 8 == own else 0
            books.degree[node] = own * 8 + min(7, had + d)
            before = node
            node = into
        if node >= 0:
            return -1 - start
        out[size] = -1
        size += 1
        if left > 0:
            fence(field, books, out, start, size)
    return -1 - size if failed else size


@kernel
def _missing(state: Array) -> int:
    count = 0
    for n in range(state.shape[0]):
        if state[n] == 2:
            count += 1
    return count


@kernel
def wire_bargain(
    field: Field,
    order: Array,
    rounds: int,
    patience: int,
    polish: int,
    repairs: int,
    terms: Array,
    path_at: Array,
    paths: Array,
    lengths: Array,
    state: Array,
) -> Array:
    """Route every net of *order*, let them bargain, settle, and repair what is left by rip-up.

    Paths, lengths and states are as in bargainkernels.negotiate, and so are the
    first four *terms*; the fifth is the price of crossing in a repair. Returns
    (rounds used, searches made, nets dropped at first, repairs made).
    """
    nets = field.kinds.shape[0]
    plane = field.width * field.height
    classes = field.stat.shape[0]
    books = Books(
        np.zeros((classes, plane), np.int16),
        np.zeros((classes, plane), np.int16),
        np.zeros(plane, np.int16),
        np.zeros((classes, plane), np.int32),
        np.zeros((classes, plane), np.int32),
        np.zeros(plane, np.int32),
        np.zeros(plane, np.int32),
        np.zeros(plane, np.int32),
        np.zeros(3 * plane, np.int32),
        np.zeros(3 * plane, np.int32),
        np.zeros(3 * plane, np.int32),
        np.zeros(3 * plane, np.int32),
        np.zeros(3 * plane, np.int32),
        np.zeros(plane, np.int32),
        np.zeros(plane, np.int32),
        np.zeros(12 * plane + 64, np.int64),
        np.zeros(plane + 64, np.int32),
        np.zeros(field.pin_at[nets] + 1, np.int8),
        np.zeros(4, np.int64),
    )
    info = np.zeros(4, np.int64)
    stuck = np.ones(nets, np.int32)
    price = terms[0]
    best = 1 << 30
    idle = 0
    for n in range(nets):
        lengths[n] = 0
        state[n] = 0
    total = 1
    while total > 0 and info[0] < rounds and idle < patience:
        info[0] += 1
        for n in order:
            if stuck[n] == 0:
                continue
            mine = paths[path_at[n] : path_at[n + 1]]
            kind = field.kinds[n]
            if lengths[n] > 0:
                claim(field, books, mine, lengths[n], kind, LESS)
            size = _route(field, books, n, price, mine, False)
            state[n] = 0 if size >= 0 else 1  # no way even on the empty board; what could be joined stays
            size = size if size >= 0 else -1 - size
            lengths[n] = size
            claim(field, books, mine, size, kind, ONE)
        total = 0
        for n in range(nets):
            stuck[n] = 0
            if lengths[n] > 0:
                mine = paths[path_at[n] : path_at[n + 1]]
                stuck[n] = clashes(field, books, mine, lengths[n], field.kinds[n], terms[3])
                total += stuck[n]
        price = min(price * terms[1] // 100, terms[2])
        idle = 0 if total < best else idle + 1
        best = min(best, total)
    while total > 0:  # give up on nets until the rest agree: those of few pins first, they lose the least
        worst = -1
        for n in range(nets):
            if stuck[n] == 0:
                continue
            more = -1
            if worst >= 0:
                more = field.pin_at[n + 1] - field.pin_at[n] - field.pin_at[worst + 1] + field.pin_at[worst]
            if more < 0 or (more == 0 and stuck[n] > stuck[worst]):
                worst = n
        mine = paths[path_at[worst] : path_at[worst + 1]]
        claim(field, books, mine, lengths[worst], field.kinds[worst], LESS)
        lengths[worst] = 0
        state[worst] = 2
        info[2] += 1
        total = 0
        for n in range(nets):
            stuck[n] = 0
            if lengths[n] > 0:
                mine = paths[path_at[n] : path_at[n + 1]]
                stuck[n] = clashes(field, books, mine, lengths[n], field.kinds[n], ZERO)
                total += stuck[n]
    books.hist[:] = 0
    _repair(field, books, order, repairs, terms, path_at, paths, lengths, state, info)
    books.hist[:] = 0
    for lap in range(polish + 1):  # each net looks for a better way, at last those that have none
        for n in order:
            if state[n] != (0 if lap < polish else 2):
                continue
            mine = paths[path_at[n] : path_at[n + 1]]
            kind = field.kinds[n]
            keep = mine[: lengths[n]].copy()
            if lengths[n] > 0:
                claim(field, books, mine, lengths[n], kind, LESS)
            size = _route(field, books, n, HARD, mine, lap < polish)
            if size >= 0:
                state[n] = 0
            elif lap < polish:
                mine[: keep.shape[0]] = keep
                size = keep.shape[0]
            else:
                size = -1 - size
            lengths[n] = size
            claim(field, books, mine, size, kind, ONE)
    info[1] = books.clock[3]
    return info


@kernel
def _repair(
    field: Field,
    books: Books,
    order: Array,
    repairs: int,
    terms: Array,
    path_at: Array,
    paths: Array,
    lengths: Array,
    state: Array,
    info: Array,
) -> None:
    """Lay one open net after the other across the rest, and lay those in its way anew, while any is open.

    The least number of open nets seen is what stays.
    """
    nets = state.shape[0]
    tries = np.zeros(nets, np.int32)
    missing = _missing(state)
    least = missing
    if missing == 0:
        return
    kept_paths, kept_lengths, kept_state = paths.copy(), lengths.copy(), state.copy()
    while missing > 0 and info[3] < repairs:
        info[3] += 1
        n = -1
        for m in order:
            if state[m] == 2 and (n < 0 or tries[m] < tries[n]):
                n = m
        tries[n] += 1
        mine = paths[path_at[n] : path_at[n + 1]]
        size = _route(field, books, n, terms[4], mine, True)
        if size < 0:
            continue
        lengths[n] = size
        state[n] = 0
        claim(field, books, mine, size, field.kinds[n], ONE)
        clashes(field, books, mine, size, field.kinds[n], terms[5])
        hurt = np.zeros(nets, np.int8)
        for m in order:
            if m != n and lengths[m] > 0:
                other = paths[path_at[m] : path_at[m + 1]]
                if clashes(field, books, other, lengths[m], field.kinds[m], terms[5]) > 0:
                    hurt[m] = 1
        for m in order:
            if hurt[m]:
                other = paths[path_at[m] : path_at[m + 1]]
                claim(field, books, other, lengths[m], field.kinds[m], LESS)
                lengths[m] = 0
                state[m] = 2
        for m in order:
            if hurt[m]:
                other = paths[path_at[m] : path_at[m + 1]]
                size = _route(field, books, m, HARD, other, True)
                if size >= 0:
                    lengths[m] = size
                    state[m] = 0
                    claim(field, books, other, size, field.kinds[m], ONE)
        missing = _missing(state)
        if missing < least:
            least = missing
            kept_paths[:] = paths
            kept_lengths[:] = lengths
            kept_state[:] = state
    if missing > least:
        for n in range(nets):
            if lengths[n] > 0:
                claim(field, books, paths[path_at[n] : path_at[n + 1]], lengths[n], field.kinds[n], LESS)
        paths[:] = kept_paths
        lengths[:] = kept_lengths
        state[:] = kept_state
        for n in range(nets):
            if lengths[n] > 0:
                claim(field, books, paths[path_at[n] : path_at[n + 1]], lengths[n], field.kinds[n], ONE)
