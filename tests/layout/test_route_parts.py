"""The router's pieces alone, each against a plainer way to the same answer."""

from __future__ import annotations

import heapq
import itertools
import math
import random
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, box
from shapely import Point as ShapelyPoint
from shapely import Polygon as ShapelyPolygon

from boardgen.board.geometry import courtyard_polygon
from boardgen.board.model import (
    Board,
    Keepout,
    Net,
    NetClass,
    NetKind,
    Part,
    PartKind,
    Placement,
    Side,
    rectangle_outline,
)
from boardgen.catalog.model import FabClass
from boardgen.footprint.model import Footprint, Pad, PadKind, PadShape, PartLayer, Polygon
from boardgen.layout.route import rules_for
from boardgen.layout.route.bounds import bound_l2, fermat_length, octile, spanning_length, steiner_bound
from boardgen.layout.route.grid import safe_reach
from boardgen.layout.route.kernels import fill_ring, gap2, negotiate, stamp_bars
from boardgen.layout.route.links import link_footprint, link_parts
from boardgen.layout.route.problem import build_problem
from boardgen.layout.route.searchkernels import SLANT, STEP
from boardgen.layout.route.wiregrid import link_rooms
from boardgen.units import ZERO, Box, Nm, Point, Size, mm, point_mm

COORD = st.integers(-50, 50)


@given(*[COORD] * 8)
@settings(deadline=None)
def test_segment_gaps_equal_shapely(a: int, b: int, c: int, d: int, e: int, f: int, g: int, h: int) -> None:
    one = LineString([(a, b), (c, d)]) if (a, b) != (c, d) else ShapelyPoint(a, b)
    two = LineString([(e, f), (g, h)]) if (e, f) != (g, h) else ShapelyPoint(e, f)
    got = math.sqrt(gap2(*map(float, (a, b, c, d, e, f, g, h))))
    assert got == pytest.approx(one.distance(two), abs=1e-6)


@given(st.lists(st.tuples(st.floats(0, 12), st.floats(0, 9)), min_size=3, max_size=7))
@settings(max_examples=50, deadline=None)
def test_rings_close_what_shapely_says_is_inside(spots: list[tuple[float, float]]) -> None:
    ring = ShapelyPolygon(spots)
    if not ring.is_valid or ring.area < 0.5:
        return
    cells = np.zeros(13 * 10, np.int32)
    fill_ring(cells, 13, 10, 0.0, 0.0, 1.0, np.array(spots, np.float64), True)
    for y, x in itertools.product(range(10), range(13)):
        spot = ShapelyPoint(x, y)
        if ring.boundary.distance(spot) > 1e-9:
            assert (cells[y * 13 + x] == -1) == ring.contains(spot)


def test_a_cell_two_nets_claim_is_closed_to_both() -> None:
    cells = np.zeros(100, np.int32)
    bars = np.array([[2.0, 5.0, 2.0, 5.0], [5.0, 5.0, 5.0, 5.0]])
    stamp_bars(cells, 10, 10, 0.0, 0.0, 1.0, bars, np.array([2.5, 2.5]), np.array([1, 2], np.int32))
    row = cells.reshape(10, 10)[5]
    assert list(row[:8]) == [1, 1, 1, -1, -1, 2, 2, 2]


@given(st.floats(0.3, 6.0))
@settings(max_examples=200, deadline=None)
def test_grid_steps_keep_their_reach_from_any_grid_point(reach: float) -> None:
    safe = safe_reach(reach, 1.0)
    assert safe >= reach
    around = range(-8, 9)
    for x, y in itertools.product(around, around):
        for dx, dy in ((1, 0), (0, 1), (1, 1), (1, -1)):
            if math.hypot(x, y) >= safe and math.hypot(x + dx, y + dy) >= safe:
                step = LineString([(x, y), (x + dx, y + dy)])
                assert step.distance(ShapelyPoint(0, 0)) >= reach - 1e-9


def plain_search(walls: set[tuple[int, int]], size: int, goal: tuple[int, int]) -> int | None:
    """Dijkstra from (0, 0), eight directions, in the router's cost units."""
    best = {(0, 0): 0}
    heap = [(0, (0, 0))]
    while heap:
        cost, (x, y) = heapq.heappop(heap)
        if (x, y) == goal:
            return cost
        if cost > best[(x, y)]:
            continue
        for dx, dy in itertools.product((-1, 0, 1), repeat=2):
            to = (x + dx, y + dy)
            if (dx, dy) == (0, 0) or to in walls or not (0 <= to[0] < size and 0 <= to[1] < size):
                continue
            now = cost + (SLANT if dx and dy else STEP)
            if now < best.get(to, 1 << 30):
                best[to] = now
                heapq.heappush(heap, (now, to))
    return None


def run_kernel(size: int, walls: set[tuple[int, int]], pins: list[list[tuple[int, int]]], kinds: int = 1):
    """Negotiate on one layer with the given walls; discs of a single cell."""
    stat = np.zeros(size * size, np.int32)
    for x, y in walls:
        stat[y * size + x] = -1
    pin_at = np.zeros(len(pins) + 1, np.int32)
    pin_at[1:] = np.cumsum([len(p) for p in pins])
    cells = np.array([y * size + x for p in pins for x, y in p], np.int32)
    cell_at = np.arange(len(cells) + 1, dtype=np.int32)
    room = size * size * 4
    path_at = np.arange(len(pins) + 1, dtype=np.int64) * room
    paths = np.zeros(len(pins) * room + 1, np.int32)
    lengths, state = np.zeros(len(pins), np.int64), np.zeros(len(pins), np.int32)
    disc_at = np.zeros((5, kinds, kinds, 2), np.int32)
    disc_at[0, :, :, 1] = 1
    negotiate(
        np.array([size, size, 1], np.int64),
        np.zeros(len(pins), np.int32),
        stat,
        np.zeros((1, 1), np.int32),
        np.zeros(1, np.int64),
        np.zeros((1, 2), np.int32),
        disc_at,
        pin_at,
        cell_at,
        cells,
        np.arange(len(pins), dtype=np.int32),
        -1,
        40,
        8,
        1,
        np.array([600, 150, 12000, 100], np.int64),
        False,
        path_at,
        paths,
        lengths,
        state,
    )
    return [paths[path_at[i] : path_at[i] + lengths[i]].tolist() for i in range(len(pins))], state.tolist()


@pytest.mark.parametrize("seed", range(25))
def test_paths_on_small_grids_are_as_short_as_any(seed: int) -> None:
    draw = random.Random(seed)
    size = 9
    spots = list(itertools.product(range(size), repeat=2))
    walls = set(draw.sample(spots, 30)) - {(0, 0), (8, 8)}
    expected = plain_search(walls, size, (8, 8))
    (path,), (state,) = run_kernel(size, walls, [[(0, 0), (8, 8)]])
    if expected is None:
        assert state == 1
        return
    assert state == 0
    nodes = path[:-1]
    cost = 0
    for a, b in itertools.pairwise(nodes):
        dx, dy = abs(a % size - b % size), abs(a // size - b // size)
        assert max(dx, dy) == 1
        cost += SLANT if dx and dy else STEP
    assert cost == expected
    assert not {(n % size, n // size) for n in nodes} & walls


def test_bargaining_finds_the_way_round_that_greed_misses() -> None:
    # the short net's straight way closes the only door of the long one; it has to step aside
    size = 7
    walls = {(3, y) for y in range(7)} - {(3, 1), (3, 5)}
    pins = [[(2, 1), (4, 1)], [(0, 1), (6, 1)]]
    paths, state = run_kernel(size, walls, pins)
    assert state == [0, 0]
    first, second = ({n for n in path if n >= 0} for path in paths)
    assert not first & second


def test_fermat_point_against_a_search() -> None:
    draw = random.Random(5)
    for _ in range(20):
        a, b, c = (Point(Nm(draw.randrange(1000)), Nm(draw.randrange(1000))) for _ in range(3))
        x, y = (a.x + b.x + c.x) / 3, (a.y + b.y + c.y) / 3
        step = 300.0
        total = lambda u, v: sum(math.hypot(u - p.x, v - p.y) for p in (a, b, c))  # noqa: B023, E731
        while step > 1e-4:
            moves = [(x, y), (x + step, y), (x - step, y), (x, y + step), (x, y - step)]
            best = min(moves, key=lambda m: total(*m))
            if best == (x, y):
                step /= 2
            x, y = best
        assert fermat_length(a, b, c) == pytest.approx(total(x, y), rel=1e-3)


def test_bounds_never_exceed_their_trees() -> None:
    draw = random.Random(9)
    for count in (2, 3, 4, 6):
        spots = tuple(Point(Nm(draw.randrange(10**7)), Nm(draw.randrange(10**7))) for _ in range(count))
        assert steiner_bound(spots) <= spanning_length(spots) + 1e-6
        assert spanning_length(spots) <= spanning_length(spots, octilinear=True) + 1e-6


def test_octile_by_hand() -> None:
    assert octile(point_mm(0, 0), point_mm(3, 4)) == pytest.approx(4e6 + (math.sqrt(2) - 1) * 3e6)


def test_l2_is_the_best_of_all_choices() -> None:
    draw = random.Random(3)
    ends = [Point(Nm(draw.randrange(1000)), Nm(draw.randrange(1000))) for _ in range(4)]
    pins = [Point(Nm(draw.randrange(1000)), Nm(draw.randrange(1000))) for _ in range(5)]
    allowed = [tuple(pins), tuple(pins[:3]), tuple(pins), (pins[4],)]
    brute = min(
        sum(e.distance(p) for e, p in zip(ends, choice, strict=True))
        for choice in itertools.permutations(pins, 4)
        if all(p in a for p, a in zip(choice, allowed, strict=True))
    )
    assert bound_l2(tuple(zip(ends, allowed, strict=True)), 7.0) == pytest.approx(brute + 7.0)


def test_l2_says_when_there_is_no_choice() -> None:
    spot = point_mm(1, 1)
    with pytest.raises(ValueError, match="fewer pins"):
        bound_l2(((spot, (spot,)), (spot, (spot,))))


def test_link_footprints_span_and_ring() -> None:
    footprint = link_footprint(mm("7.62"), mm("1.8"), mm("0.9"))
    first, second = footprint.pads
    assert second.at.x - first.at.x == mm("7.62")
    assert first.size == Size(mm("1.8"), mm("1.8"))
    assert footprint.numbers() == ("1", "2")


@pytest.mark.parametrize("standoff", [ZERO, mm(2), mm("8.5")])
def test_links_lie_under_a_module_on_sockets_but_not_on_its_strips(standoff: Nm) -> None:
    """Two rows 15.24 mm apart on a 30 by 30 mm board; the judge measures from the pads, not the grid."""
    pads = tuple(
        Pad(
            f"{row}{i}",
            PadKind.PLATED,
            PadShape.CIRCLE,
            point_mm(x, -7.62 + 2.54 * i),
            Size(mm("1.7"), mm("1.7")),
            Size(mm(1), mm(1)),
        )
        for row, x in (("a", -7.62), ("b", 7.62))
        for i in range(7)
    )
    yard = Polygon(PartLayer.COURTYARD, Box(mm("-9.5"), mm(-10), mm("9.5"), mm(10)).corners(), mm("0.05"))
    module = Part(
        "U1",
        "m",
        Footprint("m", pads, (yard,)),
        Placement(point_mm(15, 15)),
        PartKind.MODULE,
        standoff=standoff,
    )
    outline = rectangle_outline(Box(Nm(0), Nm(0), mm(30), mm(30)))
    board = Board("b", "A", "", outline, parts=(module,), copper=(Side.BOTTOM,), plated=False)
    rules = rules_for(fab(copper_layers=1), board)
    at = (31, 31, 0.0, 0.0, 1e6)
    free, ends = (m.reshape(31, 31) for m in link_rooms(board, build_problem(board, rules), rules, at))
    assert free[15, 15] == (standoff >= mm(3))
    assert free[15, 1] == 1
    assert not free[15, 6:10].any()
    assert not free[15, 21:25].any()
    assert not (ends > free).any()
    assert not free[0].any()
    antenna = Keepout(Box(mm(1), mm(1), mm(4), mm(4)).corners(), "antenna")
    walled = replace(board, keepouts=(antenna,))
    barred = link_rooms(walled, build_problem(walled, rules), rules, at)[0].reshape(31, 31)
    assert free[2, 2] == 1
    assert not barred[1:5, 1:5].any()
    assert barred[10, 2] == 1
    inside, outside = link_parts(
        board,
        [("A", point_mm(13, 15), point_mm(18, 15)), ("B", point_mm(2, 2), point_mm(2, 9))],
        rules.link_pad,
        rules.link_hole,
    )
    assert courtyard_polygon(inside.footprint).is_empty == (standoff >= mm(3))
    assert not courtyard_polygon(outside.footprint).is_empty


def test_link_ends_keep_off_parts_soldered_from_below_though_their_wires_do_not() -> None:
    corners = Box(mm(-2), mm(-1), mm(2), mm(1)).corners()
    print_ = Footprint("chip", (), (Polygon(PartLayer.COURTYARD, corners, mm("0.05")),))
    chip = Part("Q1", "", print_, Placement(point_mm(15, 15), 0.0, Side.BOTTOM))
    outline = rectangle_outline(Box(ZERO, ZERO, mm(30), mm(30)))
    board = Board("b", "A", "", outline, parts=(chip,), copper=(Side.BOTTOM,), plated=False)
    rules = rules_for(fab(copper_layers=1), board)
    at = (31, 31, 0.0, 0.0, 1e6)
    free, ends = (m.reshape(31, 31) for m in link_rooms(board, build_problem(board, rules), rules, at))
    assert free[13:18, 11:20].all()
    room = box(13e6, 14e6, 17e6, 16e6)
    for y, x in itertools.product(range(2, 29), range(2, 29)):
        away = room.distance(ShapelyPoint(x * 1e6, y * 1e6))
        if away <= rules.link_pad / 2:
            assert not ends[y, x], (x, y)
        elif away > rules.link_pad / 2 + 0.2e6:  # corners are kept off by a little more
            assert ends[y, x], (x, y)


def fab(**changes: object) -> FabClass:
    values: dict[str, object] = {}
    for name, kind in FabClass.__annotations__.items():
        values[name] = {"Nm": mm("0.3"), "Size": Size(mm(1), mm(1)), "bool": True, "int": 2, "str": ""}.get(
            str(kind), ()
        )
    values.update(track=mm("0.25"), gap=mm("0.2"), via_diameter=mm("0.6"), via_hole=mm("0.3"))
    values.update(changes)
    return FabClass(**values)  # type: ignore[arg-type]


def test_rules_follow_fab_classes_and_sides() -> None:
    board = Board(
        "b",
        "A",
        "",
        rectangle_outline(Box(Nm(0), Nm(0), mm(10), mm(10))),
        nets=(Net("GND", NetKind.GROUND, "supply"), Net("X")),
        classes=(NetClass("signal", mm("0.25"), mm("0.2")), NetClass("supply", mm("0.8"), mm("0.3"))),
    )
    rules = rules_for(fab(), board)
    assert rules.skip == ("GND",)
    assert rules.rule("GND").width == mm("0.8")
    assert rules.rule("X").spacing == mm("0.2")
    assert rules.rule(None).width == mm("0.25")
    assert rules.allow_vias
    assert not rules.allow_links
    assert rules_for(fab(), board, route_ground=True).skip == ()


def test_rules_of_a_single_sided_board() -> None:
    board = Board(
        "b",
        "A",
        "",
        rectangle_outline(Box(Nm(0), Nm(0), mm(10), mm(10))),
        nets=(Net("GND", NetKind.GROUND),),
        copper=(Side.BOTTOM,),
        plated=False,
    )
    rules = rules_for(fab(plated=False, ring_min=mm("0.5"), drills=(mm("0.8"), mm("1.0"))), board)
    assert rules.sides == (Side.BOTTOM,)
    assert rules.skip == ()
    assert not rules.allow_vias
    assert rules.allow_links
    assert rules.link_hole == mm("0.8")
    assert rules.link_pad >= mm("1.8")
