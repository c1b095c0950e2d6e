"""What the wire kernels work on: the field of nets and maps, the books of claims, and how claims are made."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from boardgen.compiled import kernel

Array = Any

# rows of the disc table: what keeps off what
TRACK_TRACK, TRACK_END, END_TRACK, END_END, WIRE_WIRE, WIRE_END, OWN_END = range(7)


class Field(NamedTuple):
    """What does not change: the static maps and the nets.

    *stat* and *end_stat* (classes, cells) say where tracks and links' pads may
    be, *wire_free* (cells) where a wire may lie; *discs* and *disc_at* are the
    offsets closed round a claimed cell (see the rows above); pins and cells as
    in bargainkernels; *wire* as in wiresearch.
    """

    width: int
    height: int
    stat: Array
    end_stat: Array
    wire_free: Array
    discs: Array
    disc_at: Array
    kinds: Array
    pin_at: Array
    cell_at: Array
    cells: Array
    wire: Array


class Books(NamedTuple):
    """What changes: how many nets close each cell to tracks, pads and wires, and the search's own arrays.

    *clock* counts searches, claims and routed nets, so that no array is ever cleared.
    """

    occ: Array
    end_occ: Array
    wire_occ: Array
    marks: Array
    end_marks: Array
    wire_marks: Array
    own_end: Array
    own_wire: Array
    hist: Array
    nodes: Array
    goal: Array
    degree: Array
    heads: Array
    pool: Array
    at: Array
    sources: Array
    linked: Array
    clock: Array


@kernel
def _spread(
    cells: Array,
    width: int,
    height: int,
    at: int,
    discs: Array,
    span: Array,
    marks: Array,
    epoch: int,
    add: int,
) -> None:
    """Add *add* once per epoch to each cell of a disc about cell *at*."""
    x, y = at % width, at // width
    for k in range(span[0], span[1]):
        nx, ny = x + discs[k, 0], y + discs[k, 1]
        if 0 <= nx < width and 0 <= ny < height:
            to = ny * width + nx
            if marks[to] != epoch:
                marks[to] = epoch
                cells[to] += add


@kernel
def _hop(width: int, a: int, b: int) -> int:
    """Return the steps of the link from cell *a* to *b*, 0 where they are neighbours."""
    far = max(abs(a % width - b % width), abs(a // width - b // width))
    return far if far > 1 else 0


@kernel
def claim(field: Field, books: Books, path: Array, length: int, kind: int, add: int) -> None:
    """Add (or take back) one net's path to the occupancy of every class."""
    w, h = field.width, field.height
    discs, at = field.discs, field.disc_at
    books.clock[1] += 1
    epoch = books.clock[1]
    last: Any = -1
    for i in range(length):
        node: Any = np.int64(path[i])
        if node < 0:
            last = -1
            continue
        for c in range(books.occ.shape[0]):
            _spread(books.occ[c], w, h, node, discs, at[TRACK_TRACK, kind, c], books.marks[c], epoch, add)
            _spread(
                books.end_occ[c], w, h, node, discs, at[TRACK_END, kind, c], books.end_marks[c], epoch, add
            )
        far = _hop(w, last, node) if last >= 0 else 0
        if far:
            for end in (last, node):
                _spread(books.wire_occ, w, h, end, discs, at[WIRE_END, 0, 0], books.wire_marks, epoch, add)
                for c in range(books.occ.shape[0]):
                    span = at[END_TRACK, kind, c]
                    _spread(books.occ[c], w, h, end, discs, span, books.marks[c], epoch, add)
                    span = at[END_END, kind, c]
                    _spread(books.end_occ[c], w, h, end, discs, span, books.end_marks[c], epoch, add)
            way = (node - last) // far
            for k in range(far + 1):
                over = last + way * k
                _spread(books.wire_occ, w, h, over, discs, at[WIRE_WIRE, 0, 0], books.wire_marks, epoch, add)
                for c in range(books.occ.shape[0]):
                    span = at[WIRE_END, 0, 0]
                    _spread(books.end_occ[c], w, h, over, discs, span, books.end_marks[c], epoch, add)
        last = node


@kernel
def fence(field: Field, ends: Array, wires: Array, mark: int, path: Array, first: int, past: int) -> int:
    """Close with *mark* to further links of a net what those on nodes *first* to *past* of its path take up.

    Ends of links are kept off *ends*, wires off *wires*. Stops at a link that
    is closed out already and returns where in the path it ends, else -1.
    """
    w, h = field.width, field.height
    discs, at = field.discs, field.disc_at
    last: Any = -1
    for i in range(first, past):
        node: Any = np.int64(path[i])
        far = _hop(w, last, node) if last >= 0 and node >= 0 else 0
        if far:
            if ends[last] == mark or ends[node] == mark:
                return i
            way = (node - last) // far
            for k in range(far + 1):
                if wires[last + way * k] == mark:
                    return i
            for k in range(far + 1):
                over = last + way * k
                end = k in (0, far)
                for what in range(2):
                    span = at[
                        (OWN_END if end else WIRE_END) if what == 0 else (WIRE_END if end else WIRE_WIRE),
                        0,
                        0,
                    ]
                    into = ends if what == 0 else wires
                    x, y = over % w, over // w
                    for j in range(span[0], span[1]):
                        nx, ny = x + discs[j, 0], y + discs[j, 1]
                        if 0 <= nx < w and 0 <= ny < h:
                            into[ny * w + nx] = mark
        last = node
    return -1


@kernel
def clashes(field: Field, books: Books, path: Array, length: int, kind: int, add: int) -> int:
    """Return how many cells of a claimed path others claim too; raises their history by *add*."""
    w = field.width
    plane = w * field.height
    found = 0
    last: Any = -1
    for i in range(length):
        node: Any = np.int64(path[i])
        if node < 0:
            last = -1
            continue
        if books.occ[kind, node] > 1:
            found += 1
            books.hist[node] += add
        far = _hop(w, last, node) if last >= 0 else 0
        if far:
            for end in (last, node):
                if books.end_occ[kind, end] > 1:
                    found += 1
                    books.hist[plane + end] += add
                    books.hist[2 * plane + end] += add
                    books.hist[end] += add
            way = (node - last) // far
            for k in range(far + 1):
                over = last + way * k
                if books.wire_occ[over] > 1:
                    found += 1
                    books.hist[plane + over] += add
                    books.hist[2 * plane + over] += add
        last = node
    return found
