"""Compiled: one net of one copper side joined, pin after pin, with tracks and wire links."""

from __future__ import annotations

from typing import Any

import numpy as np

from boardgen.compiled import kernel
from boardgen.layout.route.searchkernels import ZERO
from boardgen.layout.route.wirefield import Books, Field, fence
from boardgen.layout.route.wiresearch import PARENT, wire_search

Array = Any

FOLDS = 8  # ways refused because they fold back on themselves, before a pin is left


@kernel
def route_net(field: Field, books: Books, n: int, price: int, out: Array, whole: int) -> int:
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
    size: int = ZERO
    tree: int = ZERO  # where the growing tree starts in the path
    failed = False
    folds = 0
    while left > 0:
        books.clock[0] += 1
        epoch = books.clock[0]
        count = ZERO
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
            books.sources, count, books.goal, epoch, box, books.nodes,
            books.heads, books.pool, books.at, epoch,
        )  # fmt: skip
        books.clock[3] += 1
        hit = -1
        if found < 0 or folds > FOLDS:
            failed = True
            folds = 0
            if whole > 0:
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
        node = found
        start = size
        while node >= 0 and size < out.shape[0] - 1:
            out[size] = node
            size += 1
            node = books.nodes[node, PARENT]
            while node >= plane:  # over the wire to where it left the copper
                node = books.nodes[node, PARENT]
        if node >= 0:
            return -1 - start
        books.clock[1] += 1
        fold = fence(field, books.end_marks[0], books.wire_marks, books.clock[1], out, start, size)
        if fold >= 0:  # two links of this way are in each other's room, which the search cannot see
            folds += 1
            fence(field, books.own_end, books.own_wire, own, out, fold - 1, fold + 1)
            size = start
            continue
        for i in range(start, size):
            d = (1 if i > start else 0) + (1 if i < size - 1 else 0)
            node = out[i]
            had = books.degree[node] % 8 if books.degree[node] // 8 == own else 0
            books.degree[node] = own * 8 + min(7, had + d)
        for p in range(first, past):
            if linked[p] == 0:
                for k in range(cell_at[p], cell_at[p + 1]):
                    if cells[k] == found:
                        hit = p
        linked[hit] = 1
        left -= 1
        out[size] = -1
        size += 1
        if left > 0:
            fence(field, books.own_end, books.own_wire, own, out, start, size)
    return -1 - size if failed else size
