"""Nets of one copper side that bargain, on fields made by hand; links of one net keep off each other."""

from __future__ import annotations

import random
from itertools import combinations, pairwise

import numpy as np
from shapely import LineString, Polygon

from boardgen.layout.route.grid import _disc
from boardgen.layout.route.linked import TERMS
from boardgen.layout.route.searchkernels import STEP
from boardgen.layout.route.wirebargain import Bargain
from boardgen.layout.route.wirefield import Field
from boardgen.layout.route.wiregrid import _close

END, BEND, WIRE = 4, 3, 2  # cells from end to end, from end to wire, from wire to wire
REACHES = (1.2, 1.2, 1.2, END, WIRE, BEND, END)  # rows of the disc table
LEAST, MOST, REST = 3, 12, 4
Cell = tuple[int, int]


def field_of(
    size: int, nets: list[list[Cell]], walls: frozenset[Cell] = frozenset(), links: bool = True
) -> Field:
    plane = size * size
    offsets: list[Cell] = []
    at = np.zeros((7, 1, 1, 2), np.int32)
    for what, reach in enumerate(REACHES):
        disc = _disc(float(reach), 1.0)
        at[what, 0, 0] = len(offsets), len(offsets) + len(disc)
        offsets.extend(disc)
    stat = np.zeros((1, plane), np.int32)
    for x, y in sorted(walls):
        stat[0, y * size + x] = -1
    pins = [y * size + x for net in nets for x, y in net]
    return Field(
        width=size,
        height=size,
        stat=stat,
        end_stat=stat.copy(),
        wire_free=np.ones(plane, np.int32),
        discs=np.array(offsets, np.int32),
        disc_at=at,
        kinds=np.zeros(len(nets), np.int32),
        pin_at=np.cumsum([0] + [len(net) for net in nets]).astype(np.int32),
        cell_at=np.arange(len(pins) + 1, dtype=np.int32),
        cells=np.array(pins, np.int32),
        wire=np.array([30 * STEP if links else -1, STEP, LEAST, MOST, REST], np.int64),
    )


def bargain_of(field: Field) -> Bargain:
    return Bargain(field, list(range(len(field.kinds))), TERMS)


def hops(path: list[int], size: int) -> list[tuple[Cell, Cell]]:
    found = []
    for a, b in pairwise(path):
        (ax, ay), (bx, by) = (a % size, a // size), (b % size, b // size)
        if a >= 0 and b >= 0 and max(abs(ax - bx), abs(ay - by)) > 1:
            found.append(((ax, ay), (bx, by)))
    return found


def over(hop: tuple[Cell, Cell]) -> list[Cell]:
    (ax, ay), (bx, by) = hop
    far = max(abs(ax - bx), abs(ay - by))
    return [(ax + (bx - ax) * k // far, ay + (by - ay) * k // far) for k in range(far + 1)]


def nearest(some: list[Cell], others: list[Cell]) -> float:
    return min(float(np.hypot(a - c, b - d)) for a, b in some for c, d in others)


CROSS = [[(0, 9), (18, 9)], [(9, 0), (9, 18)]]


def test_nets_that_cross_take_one_link_between_them() -> None:
    flat = bargain_of(field_of(19, CROSS, links=False))
    assert flat.bargain(8, 3, False, 99, 100)
    assert flat.missing == 1
    table = bargain_of(field_of(19, CROSS))
    assert table.bargain(30, 8, True, 8, 40)
    assert table.state == [0, 0]
    assert [len(hops(path.tolist(), 19)) for path in table.paths] in ([0, 1], [1, 0])


def test_a_net_walled_in_ends_a_strict_bargain_in_its_first_round() -> None:
    ring = frozenset((x, y) for x in range(7, 12) for y in range(7, 12) if (x, y) != (9, 9))
    nets = [[(0, 0), (18, 0)], [(9, 9), (18, 18)]]
    table = bargain_of(field_of(19, nets, ring, links=False))
    assert not table.bargain(30, 8, True, 8, 40)
    assert (table.rounds, table.state) == (1, [0, 1])
    table = bargain_of(field_of(19, nets, ring, links=False))
    assert table.bargain(30, 8, False, 8, 40)
    assert table.state == [0, 1]


def test_a_crowd_is_told_and_left() -> None:
    lanes = [[(0, y), (18, y)] for y in (3, 8, 13)] + [[(x, 0), (x, 18)] for x in (3, 8, 13)]
    table = bargain_of(field_of(19, lanes, links=False))
    assert not table.bargain(30, 8, True, 1, 40)
    assert table.rounds == 1
    assert table.state.count(2) > 4
    table = bargain_of(field_of(19, lanes, links=False))
    assert table.bargain(30, 8, False, 1, 40)  # settled: those that stay agree
    assert table.rounds == 1
    assert sum(table._disputes(0)) == 0
    assert 0 < table.missing < 6


def test_repair_closes_what_the_bargain_left_and_never_opens_more() -> None:
    table = bargain_of(field_of(19, CROSS))
    table.state = [2, 2]  # nothing laid
    table.repair(20, 20)
    assert table.missing == 0
    assert sum(table._disputes(0)) == 0
    hopeless = bargain_of(field_of(19, CROSS, links=False))
    hopeless.bargain(8, 3, False, 99, 100)
    hopeless.repair(50, 5)
    assert (hopeless.missing, hopeless.repairs) == (1, 5)


def test_links_of_one_net_keep_out_of_each_others_room() -> None:
    size, linked = 24, 0
    for seed in range(40):
        draw = random.Random(seed)
        cells = [(x, y) for x in range(size) for y in range(size)]
        walls = frozenset(cell for cell in cells if draw.random() < 0.65)
        free = [cell for cell in cells if cell not in walls]
        nets = [draw.sample(free, 5)]
        table = bargain_of(field_of(size, nets, walls))
        table.bargain(3, 3, False, 99, 100)
        links = hops(table.paths[0].tolist(), size)
        linked += len(links) > 1
        for a, b in combinations(links, 2):
            assert nearest(list(a), list(b)) >= END
            assert nearest(list(a), over(b)) >= BEND
            assert nearest(over(a), list(b)) >= BEND
            assert nearest(over(a), over(b)) >= WIRE
    assert linked > 10


def test_a_wire_keeps_off_a_corner_that_lies_between_grid_points() -> None:
    step, size, reach = 254_000.0, 30, 400_000.0
    for seed in range(30):
        draw = random.Random(seed)
        x, y = draw.uniform(8, 20) * step, draw.uniform(8, 20) * step
        far = draw.uniform(0.1, 5) * step
        marks = np.zeros(size * size, np.int32)
        ring = [(x - far, y), (x, y - far), (x + far, y), (x, y + far)]
        _close(marks, (size, size, 0.0, 0.0, step), ring, reach)
        room = Polygon(ring)
        shut = marks.reshape(size, size) != 0
        for row, col in np.argwhere(~shut[:, :-1] & ~shut[:, 1:]).tolist():
            wire = LineString([(col * step, row * step), ((col + 1) * step, row * step)])
            assert wire.distance(room) >= reach - 1
