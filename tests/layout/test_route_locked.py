"""Tracks that a person locked: where their nets are still to be joined, what keeps them, what joins them."""

from __future__ import annotations

from dataclasses import replace

import pytest
from route_oracle import clearance_faults, open_nets, shorted
from shapely import LineString
from shapely import Point as ShapelyPoint
from test_route_boards import board_of, plated, rules_of, surface

from boardgen.board.model import Board, Keepout, Side, Track, Via
from boardgen.catalog.load import load_catalog
from boardgen.layout.route import route_report
from boardgen.layout.route.cut_back import cut_back
from boardgen.layout.route.locked import Joint, Reach, hindrance, joints, lines_of, usable_tracks, usable_vias
from boardgen.units import Nm, mm, point_mm

TOP, BOTTOM = Side.TOP, Side.BOTTOM
WIDTH = mm("0.25")


def leg(x1: float, y1: float, x2: float, y2: float, net: str = "N", side: Side = TOP) -> Track:
    return Track(net, side, point_mm(x1, y1), point_mm(x2, y2), WIDTH)


def pad(x: float, y: float, sides: tuple[int, ...] = (0, 1)) -> Reach:
    at = point_mm(x, y)
    return Reach(
        at, lines_of([(float(at.x), float(at.y), float(at.x), float(at.y))]), 850_000.0, frozenset(sides)
    )


def told(pieces: list[tuple[Joint, ...]]) -> list[list[object]]:
    """Each piece as the places it is reached at: pads by index, free ends in mm."""
    return [
        [(joint.at.x.mm, joint.at.y.mm) if joint.at is not None else joint.pad for joint in piece]
        for piece in pieces
    ]


def test_pads_alone_are_pieces_of_their_own() -> None:
    assert told(joints([pad(0, 0), pad(10, 0)], [])) == [[0], [1]]


def test_a_track_from_pad_to_pad_makes_one_piece_reached_at_either() -> None:
    assert told(joints([pad(0, 0), pad(10, 0), pad(5, 9)], [(leg(0, 0, 10, 0), 0)])) == [[0, 1], [2]]


def test_a_track_between_pads_has_two_free_ends() -> None:
    assert told(joints([pad(0, 0), pad(10, 0)], [(leg(4, 0, 6, 0), 0)])) == [
        [0],
        [1],
        [(4.0, 0.0), (6.0, 0.0)],
    ]


def test_a_track_off_a_pad_is_reached_at_its_free_end_alone() -> None:
    legs = [(leg(0, 0, 4, 0), 0), (leg(4, 0, 4, 3), 0)]
    assert told(joints([pad(0, 0), pad(10, 0)], legs)) == [[(4.0, 3.0)], [1]]


def test_a_track_on_the_other_side_of_a_surface_pad_does_not_join_it() -> None:
    found = joints([pad(0, 0, (0,)), pad(10, 0)], [(leg(0, 0, 10, 0, side=BOTTOM), 1)])
    assert told(found) == [[0], [(0.0, 0.0)]]


def test_a_closed_ring_of_tracks_is_reached_at_a_corner() -> None:
    ring = [(leg(2, 2, 4, 2), 0), (leg(4, 2, 4, 4), 0), (leg(4, 4, 2, 2), 0)]
    assert told(joints([pad(9, 9)], ring)) == [[0], [(2.0, 2.0)]]


FAB = load_catalog(()).fab("economy-2l")


def _board() -> Board:
    return board_of(
        [
            (plated("1", 5, 5), "N"),
            (plated("2", 25, 5), "N"),
            (plated("3", 15, 10), "M"),
            (surface("4", 15, 15, "1", "1"), "M"),
        ],
        keepouts=(Keepout((point_mm(2, 15), point_mm(6, 15), point_mm(6, 18), point_mm(2, 18)), "antenna"),),
    )


@pytest.mark.parametrize(
    ("track", "words"),
    [
        (leg(5, 5, 25, 5), ""),
        (leg(5, 5, 25, 5, net="GONE"), "there is no net GONE any more"),
        (leg(5, 5, 0.2, 5), "the edge of the board is too near"),
        (leg(5, 5, 31, 5), "the edge of the board is too near"),
        (leg(10, 10, 20, 10), "P1 pad 3 is in its way"),
        (leg(10, 15, 20, 15), "P1 pad 4 is in its way"),
        (leg(10, 15, 20, 15, side=BOTTOM), ""),
        (leg(4, 12, 4, 16), "no copper may lie there: antenna"),
        (replace(leg(5, 5, 25, 5), width=mm("0.01")), "the fab class makes no track of 0.01 mm"),
    ],
)
def test_what_keeps_a_locked_track_from_its_place_is_said(track: Track, words: str) -> None:
    assert hindrance(_board(), FAB, track) == words


def test_a_side_that_is_not_made_is_said() -> None:
    board = replace(_board(), copper=(BOTTOM,))
    assert hindrance(board, FAB, leg(5, 5, 25, 5)) == "the fab class has no top copper"


def test_of_two_locked_tracks_that_clash_the_first_stays() -> None:
    one, two = (leg(5, 5, 25, 5),), (leg(10, 2, 10, 8, net="M"), leg(10, 8, 12, 8, net="M"))
    assert usable_tracks(_board(), FAB, [one, two]) == one
    assert usable_tracks(_board(), FAB, [two, one]) == two
    other_side = tuple(replace(track, side=BOTTOM) for track in two)
    assert usable_tracks(_board(), FAB, [one, other_side]) == (*one, *other_side)


def test_a_wish_with_one_leg_that_cannot_lie_is_left_out_whole() -> None:
    assert usable_tracks(_board(), FAB, [(leg(5, 5, 8, 5), leg(8, 5, 31, 5))]) == ()


@pytest.mark.parametrize(
    "locked",
    [
        (leg(5, 5, 25, 5),),
        (leg(10, 7, 20, 7),),
        (leg(10.03, 7.01, 19.97, 7.01),),
        (leg(5, 5, 9, 9), leg(9, 9, 9, 12)),
        (leg(8, 8, 22, 8, side=BOTTOM),),
        (leg(8, 3, 12, 3), leg(16, 3, 20, 3)),
    ],
)
@pytest.mark.parametrize("any_angle", [False, True])
def test_locked_tracks_stay_and_are_joined_at_both_ends(locked: tuple[Track, ...], any_angle: bool) -> None:
    board = _board()
    rules = replace(rules_of(board, locked=locked), any_angle=any_angle)
    result = route_report(board, rules)
    assert set(locked) <= set(result.board.tracks)
    assert not result.unrouted
    assert open_nets(result.board) == []
    assert shorted(result.board) == []
    assert clearance_faults(result.board, rules) == []
    assert _loose(result.board) == []


def _loose(board: Board) -> list[tuple[float, float]]:
    """Track ends that lie on no other track, via or pad of their net, found in another way."""
    found = []
    for i, track in enumerate(board.tracks):
        for end in (track.start, track.end):
            tip = ShapelyPoint(end)
            others = [
                LineString([other.start, other.end]).distance(tip) - other.width / 2
                for j, other in enumerate(board.tracks)
                if j != i and other.net == track.net and other.side is track.side
            ]
            others += [ShapelyPoint(via.at).distance(tip) - via.diameter / 2 for via in board.vias]
            others += [
                ShapelyPoint(part.placement.place(pad.at)).distance(tip) - float(min(pad.size)) / 2
                for part in board.parts
                for pad in part.footprint.pads
                if part.net_of(pad.number) == track.net
            ]
            if min(others, default=1.0) > 2:
                found.append((end.x.mm, end.y.mm))
    return found


@pytest.mark.parametrize("any_angle", [False, True])
def test_a_locked_via_stays_between_its_tracks(any_angle: bool) -> None:
    board = _board()
    locked = (leg(8, 7, 12, 7), leg(12, 7, 18, 7, side=BOTTOM))
    via = Via("N", point_mm(12, 7), mm("0.6"), mm("0.3"))
    assert usable_vias(board, FAB, [via], locked) == (via,)
    assert usable_vias(board, FAB, [via], locked[:1]) == ()
    rules = replace(rules_of(board, locked=locked, locked_vias=(via,)), any_angle=any_angle)
    result = route_report(board, rules)
    assert via in result.board.vias
    assert set(locked) <= set(result.board.tracks)
    assert open_nets(result.board) == []
    assert clearance_faults(result.board, rules) == []
    assert _loose(result.board) == []


def test_a_via_whose_track_is_cut_back_goes_with_it() -> None:
    locked = (leg(5, 5, 25, 5), leg(15, 5, 15, 12), leg(15, 12, 18, 12, side=BOTTOM))
    via = Via("N", point_mm(15, 12), mm("0.6"), mm("0.3"))
    assert cut_back(_board(), (locked, (via,)), (), (), ()) == (locked[:1], ())


def test_other_nets_go_round_locked_tracks() -> None:
    board = board_of([(plated("1", 5, 10), "N"), (plated("2", 25, 10), "N"), (plated("3", 15, 3), "M"),
                      (plated("4", 15, 17), "M")])  # fmt: skip
    fence = tuple(leg(x, 10, x + 4, 10) for x in (5, 9, 13, 17, 21))
    rules = rules_of(board, locked=fence)
    result = route_report(board, rules)
    assert set(fence) <= set(result.board.tracks)
    assert not result.unrouted
    assert open_nets(result.board) == []
    assert clearance_faults(result.board, rules) == []


def test_what_lies_off_the_way_of_its_net_is_let_go_not_left_loose() -> None:
    board = _board()
    result = route_report(board, rules_of(board, locked=(leg(20, 7, 20, 12),)))
    assert open_nets(result.board) == []
    assert _loose(result.board) == []


def test_a_locked_end_that_nothing_joins_is_cut_back() -> None:
    board = _board()
    locked = (leg(5, 5, 25, 5), leg(15, 5, 15, 7), leg(15, 7, 17, 7))
    result = route_report(board, rules_of(board, locked=locked))
    assert [track for track in result.board.tracks if track.net == "N"] == [locked[0]]
    assert _loose(result.board) == []


def test_cutting_back_stops_where_copper_joins() -> None:
    board = _board()
    locked = (leg(5, 5, 20, 5),)
    drop = (leg(12, 5, 12, 9), leg(12, 9, 25, 9), leg(25, 9, 25, 5))
    assert cut_back(board, (locked, ()), drop, (), ()) == ((leg(5, 5, 12, 5),), ())
    turned = (leg(20, 5, 5, 5),)
    assert cut_back(board, (turned, ()), drop, (), ()) == ((leg(12, 5, 5, 5),), ())
    assert cut_back(board, (locked, ()), drop, (), ("N",)) == (locked, ())
    assert cut_back(board, ((leg(15, 12, 20, 12),), ()), (), (), ()) == ((), ())


def test_nets_joined_by_locked_tracks_alone_ask_for_nothing() -> None:
    board = board_of([(plated("1", 5, 5), "N"), (plated("2", 25, 5), "N")])
    result = route_report(board, rules_of(board, locked=(leg(5, 5, 25, 5),)))
    assert result.board.tracks == (leg(5, 5, 25, 5),)
    assert result.stats.connections == 0
    assert result.stats.length == Nm(0)
