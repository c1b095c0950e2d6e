"""Tracks at any angle, held to independent distances, to the 45-degree board and to known shortest ways."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgen.board.geometry import pad_centre
from boardgen.board.model import Board, Net, NetClass, Part, Placement, Side, rectangle_outline
from boardgen.footprint.model import Footprint, Pad, PadKind, PadShape
from boardgen.layout.route import NetRule, RoutingRules, route_report
from boardgen.layout.route.bounds import fermat_length
from boardgen.units import ORIGIN, ZERO, Box, Nm, Point, Size, mm
from tests.layout.route_oracle import clearance_faults, open_nets, shorted

SIGNAL = NetRule(mm("0.25"), mm("0.2"))
REACH = 0.85e6 + 0.2e6 + 0.125e6  # of a 1.7 mm pad against a track's centre line, nm


def _pad(number: str, x: float, y: float) -> Pad:
    at = Point(Nm(round(x * 1e6)), Nm(round(y * 1e6)))
    round_pad, hole = Size(mm("1.7"), mm("1.7")), Size(mm("1.0"), mm("1.0"))
    return Pad(number, PadKind.PLATED, PadShape.CIRCLE, at, round_pad, hole)


def _board(nets: dict[str, list[tuple[float, float]]], bare: list[tuple[float, float]] = ()) -> Board:
    """A 60 by 40 mm board with a part of one pad at each place."""
    pads, joined = [], []
    for name, places in nets.items():
        for x, y in places:
            joined.append((str(len(pads)), name))
            pads.append(_pad(str(len(pads)), x, y))
    pads += [_pad(str(len(pads) + i), x, y) for i, (x, y) in enumerate(bare)]
    part = Part("P1", "", Footprint("pads", tuple(pads)), Placement(ORIGIN), nets=tuple(sorted(joined)))
    return Board(
        "taut",
        "A",
        "",
        rectangle_outline(Box(ZERO, ZERO, mm(60), mm(40))),
        (part,),
        tuple(Net(name) for name in nets),
        (NetClass("signal", SIGNAL.width, SIGNAL.spacing),),
    )


def _rules(board: Board, sides: tuple[Side, ...] = (Side.TOP, Side.BOTTOM)) -> RoutingRules:
    return RoutingRules(
        nets=tuple((net.name, SIGNAL) for net in board.nets),
        default=SIGNAL,
        edge=mm("0.3"),
        npth=mm("0.3"),
        hole_gap=mm("0.45"),
        via_diameter=mm("0.6"),
        via_hole=mm("0.3"),
        allow_vias=len(sides) > 1,
        sides=sides,
        any_angle=True,
    )


def _length(board: Board) -> float:
    return sum(t.start.distance(t.end) for t in board.tracks)


def _sharp(board: Board) -> list[str]:
    """Where two tracks of a net meet off pads and vias at less than 60 degrees, or one is under 0.1 mm."""
    stops = {pad_centre(part, pad) for part in board.parts for pad in part.footprint.pads}
    stops |= {via.at for via in board.vias}
    meet: dict[tuple[str, Side, Point], list[tuple[int, int]]] = {}
    bad = [f"{t.net} short at {t.start}" for t in board.tracks if t.start.distance(t.end) < 99_999]
    for t in board.tracks:
        for a, b in ((t.start, t.end), (t.end, t.start)):
            if a not in stops:
                meet.setdefault((t.net, t.side, a), []).append((b.x - a.x, b.y - a.y))
    for (net, _, at), arms in meet.items():
        for u, v in combinations(arms, 2):
            if u[0] * v[0] + u[1] * v[1] > 0.5001 * math.hypot(*u) * math.hypot(*v):
                bad.append(f"{net} at {at}")
    return bad


def test_a_free_track_is_one_straight_piece():
    board = _board({"A": [(5, 5), (40, 17)]})
    (track,) = route_report(board, _rules(board)).board.tracks
    assert {track.start, track.end} == {Point(mm(5), mm(5)), Point(mm(40), mm(17))}


def test_a_track_bends_round_a_pad_as_a_string_would():
    board = _board({"A": [(10, 20), (50, 20)]}, bare=[(30, 20)])
    routed = route_report(board, _rules(board)).board
    half = 20e6
    slope = math.asin(REACH / half)
    string = 2 * math.sqrt(half**2 - REACH**2) + 2 * slope * REACH
    assert string - 1 <= _length(routed) <= string + 2_000
    assert clearance_faults(routed, _rules(board)) == []


def test_a_branch_stands_where_three_tracks_are_shortest():
    places = [(10.0, 10.0), (45.0, 12.0), (28.0, 33.0)]
    board = _board({"A": places})
    routed = route_report(board, _rules(board)).board
    least = fermat_length(*(Point(Nm(round(x * 1e6)), Nm(round(y * 1e6))) for x, y in places))
    assert least - 10 <= _length(routed) <= least + 5_000
    assert open_nets(routed) == []


def test_a_gate_off_the_grid_is_passed():
    # a wall of pads whose gaps leave 0.02 mm beyond track and clearances, over the whole height
    pitch = 2 * REACH / 1e6 + 0.02
    wall = [(30.1237, 0.9 + pitch * i) for i in range(17)]
    board = _board({"A": [(12, 18.3), (48, 21.1)]}, bare=wall)
    routed = route_report(board, replace(_rules(board), grids=(mm("0.127"),))).board
    if not routed.tracks:
        pytest.skip("the grid itself found no way")
    assert clearance_faults(routed, _rules(board)) == []
    straight = math.hypot(36e6, 2.8e6)
    assert _length(routed) < straight + 1.5e6


def test_tracks_that_cross_take_a_side_each():
    board = _board({"A": [(10, 10), (50, 30)], "B": [(10, 30), (50, 10)]})
    result = route_report(board, _rules(board))
    assert [len([t for t in result.board.tracks if t.net == n]) for n in "AB"] == [1, 1]
    assert len({t.side for t in result.board.tracks}) == 2
    assert result.board.vias == ()


PLACES = st.tuples(st.integers(2, 57), st.integers(2, 37))


@settings(max_examples=25, deadline=None)
@given(
    st.lists(PLACES, min_size=8, max_size=22, unique=True).filter(
        lambda places: all(math.dist(a, b) > 1.9 for a, b in combinations(places, 2))
    ),
    st.integers(2, 3),
    st.booleans(),
)
def test_never_longer_never_nearer_never_parted(places, pads, one_side):
    off = [(x + 0.0371 * (i % 7), y + 0.0533 * (i % 5)) for i, (x, y) in enumerate(places)]
    nets = {f"N{i}": off[i * pads : (i + 1) * pads] for i in range(len(off) // pads - 1)}
    board = _board(nets, bare=off[len(nets) * pads :])
    sides = (Side.BOTTOM,) if one_side else (Side.TOP, Side.BOTTOM)
    rules = _rules(board, sides)
    before = route_report(board, replace(rules, any_angle=False))
    after = route_report(board, rules)
    assert _length(after.board) <= _length(before.board) + 1_000
    assert len(after.board.vias) <= len(before.board.vias)
    assert after.unrouted == before.unrouted
    assert clearance_faults(after.board, rules) == []
    assert shorted(after.board) == []
    assert open_nets(after.board) == open_nets(before.board)
    assert len(_sharp(after.board)) <= len(_sharp(before.board))
    assert route_report(board, rules) == after
