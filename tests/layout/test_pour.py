"""The pour against its promises, measured on finer circles than it was drawn with."""

from __future__ import annotations

import math
import sys
from dataclasses import replace
from pathlib import Path

import pytest
import shapely
from hypothesis import example, given, settings
from hypothesis import strategies as st
from shapely import Polygon

sys.path.insert(0, str(Path(__file__).parents[1] / "rules"))

from boardkit import (
    CHIP,
    ETCH,
    FAB,
    board,
    footprint,
    keypad,
    one_pad,
    outline,
    part,
    smd_pad,
    tht_pad,
    track,
    via,
)

from boardgen.board.geometry import (
    copper_items,
    hole_shape,
    outline_polygon,
    pad_shape,
    piece_polygon,
)
from boardgen.board.model import Board, Keepout, Net, NetKind, PartKind, Side
from boardgen.catalog.model import FabClass
from boardgen.footprint.model import PadKind
from boardgen.layout.pour import pour
from boardgen.rules.check import check_board
from boardgen.units import Box, mm

TOP, BOTTOM = Side.TOP, Side.BOTTOM
FINE = 128  # chords per quarter of the oracle's circles: within 0.1 um at 2 mm


def fills(made: Board, side: Side) -> list[Polygon]:
    return [piece_polygon(piece) for p in made.pours if p.side is side for piece in p.pieces]


def fine(shape, grow: float = 0.0):  # the true shape, grown, from outside
    r = shape.radius + grow
    return (
        shape.skeleton.buffer(r / math.cos(math.pi / (4 * FINE)), quad_segs=FINE) if r > 0 else shape.skeleton
    )


def arms(fill, pad) -> int:
    met = fine(pad.shape).exterior.intersection(fill.boundary)
    return 0 if met.is_empty else shapely.get_num_geometries(met) // 2


def assert_keeps_its_promises(made: Board, fab: FabClass) -> None:
    for side in made.copper:
        pieces = fills(made, side)
        assert pieces
        for piece in pieces:
            assert piece.is_valid
        whole = shapely.union_all(pieces)
        assert math.isclose(whole.area, sum(p.area for p in pieces), rel_tol=1e-9)  # apart from each other
        net = made.pours[0].net
        solid = made.pours[0].solid_pads
        for copper in copper_items(made):
            if copper.side is not side:
                continue
            if copper.net != net:
                assert whole.distance(fine(copper.shape)) >= fab.pour_gap
            elif copper.ref and (copper.ref, copper.pad) not in solid:
                assert arms(whole, copper) != 1
                assert arms(whole, copper) <= 4
        for p in made.parts:
            for pad in p.footprint.pads:
                if pad.kind is PadKind.UNPLATED:
                    assert whole.distance(fine(hole_shape(p, pad))) >= fab.npth_copper_min
        assert whole.distance(outline_polygon(made.outline, 100.0).boundary) >= fab.edge_copper_min
        assert outline_polygon(made.outline).contains(whole)
        for keepout in made.keepouts:
            assert not whole.intersects(Polygon(keepout.ring))
        # No place narrower than asked, but for the rounded ends of an opening (drawn with chords).
        thin = whole.difference(whole.buffer(-0.49 * fab.pour_min_width).buffer(0.5 * fab.pour_min_width))
        assert thin.buffer(-fab.pour_min_width * 0.1).is_empty


@pytest.mark.parametrize("seed", range(4))
def test_a_keypad_board_keeps_every_distance(seed):
    assert_keeps_its_promises(pour(keypad(seed), FAB), FAB)


def test_one_layer_pour():
    made = pour(keypad(1, copper=(BOTTOM,), gap=0.6), ETCH)
    assert [p.side for p in made.pours] == [BOTTOM]
    assert_keeps_its_promises(made, ETCH)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10**6), st.sampled_from([0.2, 0.3, 0.5]), st.sampled_from([0.0, 2.0, 5.0]))
@example(40967, 0.5, 0.0)  # two spokes of a small pad that run together
def test_any_keypad_board(seed, gap, corner):
    fab = replace(FAB, pour_gap=mm(gap), thermal_gap=mm(gap + 0.1))
    made = pour(replace(keypad(seed), outline=outline(65, 65, corner)), fab)
    assert_keeps_its_promises(made, fab)
    report = check_board(made, None, fab)
    ours = [f for f in report.findings if "pour of GND" in f.items]
    assert ours == []
    assert [f for f in report.of("unconnected") if "net GND" in f.message] == []


def test_same_board_same_pour():
    assert pour(keypad(3), FAB) == pour(keypad(3), FAB)


def test_vertices_stay_few():
    made = pour(keypad(1), FAB)
    for p in made.pours:
        count = sum(len(piece.outer) + sum(map(len, piece.holes)) for piece in p.pieces)
        copper = sum(c.side is p.side for c in copper_items(made))
        assert count <= 45 * copper


def test_ground_pads_in_the_open_get_four_spokes_along_the_board():
    made = pour(board(one_pad("J1", 6, 10, "GND"), one_pad("J2", 14, 10, "A")), FAB)
    assert len(fills(made, TOP)) == 1
    pad = next(c for c in copper_items(made) if c.ref == "J1")
    assert arms(fills(made, TOP)[0], pad) == 4
    spoke = shapely.box(6e6 + 0.9e6, 10e6 - 0.24e6, 6e6 + 1.2e6, 10e6 + 0.24e6)
    assert fills(made, TOP)[0].contains(spoke)
    assert not fills(made, TOP)[0].intersects(shapely.Point(6e6 + 0.7e6, 10e6 + 0.7e6))


def test_spokes_turn_where_straight_ones_are_blocked():
    fence = [one_pad(f"J{i}", 10 + dx, 10 + dy, "A") for i, (dx, dy) in
             enumerate(((2.2, 0), (-2.2, 0), (0, 2.2), (0, -2.2)), start=2)]  # fmt: skip
    made = pour(board(one_pad("J1", 10, 10, "GND"), *fence), FAB)
    pad = next(c for c in copper_items(made) if c.ref == "J1")
    for side in (TOP, BOTTOM):
        whole = shapely.union_all(fills(made, side))
        assert 2 <= arms(whole, pad) <= 4
    assert made.pours[0].solid_pads == ()


def test_a_turned_surface_pad_gets_spokes_along_its_own_sides():
    print_ = footprint("S", smd_pad("1", 0, 0, "1.6", "1.0", rotation=30))
    made = pour(board(part("R1", print_, 10, 10, p1="GND"), one_pad("J1", 3, 3, "GND")), FAB)
    copper = next(c for c in copper_items(made) if c.ref == "R1")
    whole = shapely.union_all(fills(made, TOP))
    assert arms(whole, copper) == 4
    along = shapely.Point(
        10e6 + 1.05e6 * math.cos(math.radians(30)), 10e6 - 1.05e6 * math.sin(math.radians(30))
    )
    assert whole.contains(along)


def test_a_pad_that_spokes_cannot_reach_is_filled_over():
    # Nearly walled in: one way out, wide enough for one spoke.
    walls = (
        track("A", "8.3", "8.3", "11.7", "8.3"),
        track("A", "8.3", "8.3", "8.3", "11.7"),
        track("A", "8.3", "11.7", "11.7", "11.7"),
        track("A", "11.7", "8.3", "11.7", "9.2"),
        track("A", "11.7", "10.8", "11.7", "11.7"),
    )
    print_ = footprint("S", smd_pad("1", 0, 0, "1.7", "1.7"))
    made = pour(
        board(part("R1", print_, 10, 10, p1="GND"), one_pad("J1", 16, 16, "GND"),
              one_pad("J2", 4, 4, "A"), tracks=walls),
        replace(FAB, thermal_gap=mm("0.6")),
    )  # fmt: skip
    assert made.pours[0].solid_pads == (("R1", "1"),)
    assert check_board(made, None, FAB).of("unconnected") == ()
    assert shapely.union_all(fills(made, TOP)).contains(shapely.Point(10e6, 10e6))


def test_a_lone_spoke_is_dropped_where_the_other_side_joins_the_pad():
    wall = tuple(
        replace(t, side=TOP)
        for t in (
            track("A", "8.6", "8.2", "12", "8.2"),
            track("A", "8.6", "11.8", "12", "11.8"),
            track("A", "8.6", "8.2", "8.6", "11.8"),
        )
    )
    made = pour(
        board(
            one_pad("J1", 10, 10, "GND"), one_pad("J3", 16, 16, "GND"), one_pad("J2", 4, 4, "A"), tracks=wall
        ),
        FAB,
    )
    pad = next(c for c in copper_items(made) if c.ref == "J1")
    assert made.pours[0].solid_pads == ()
    assert arms(shapely.union_all(fills(made, TOP)), pad) != 1
    assert arms(shapely.union_all(fills(made, BOTTOM)), pad) >= 2


def split_board() -> Board:
    """Two surface pads in two halves of the top, joined only by way of the bottom."""
    print_ = footprint("S", smd_pad("1", 0, 0, "1.5", "1.5"))
    wall = track("A", 10, "0.5", 10, "19.5")
    a, b = part("R1", print_, 5, 10, p1="GND"), part("R2", print_, 15, 10, p1="GND")
    return board(a, b, one_pad("J1", 10, 10, "A"), tracks=(wall,))


def test_halves_are_stitched_through_the_other_side():
    made = pour(split_board(), FAB)
    assert len(made.vias) == 2
    assert {v.net for v in made.vias} == {"GND"}
    report = check_board(made, None, FAB)
    assert report.of("unconnected") == ()
    for rule in (
        "spacing",
        "short",
        "hole-spacing",
        "annular-ring",
        "edge-distance",
        "stub",
        "isolated-copper",
    ):
        assert [f for f in report.of(rule) if f.items != ("track of A",)] == []


def test_an_island_gets_a_ground_track_where_vias_cannot_help():
    # A ground pad on a board of one layer, fenced off by tracks with a gap too tight for the
    # fill but not for a track.
    fence = tuple(
        track("A", x1, y1, x2, y2, BOTTOM)
        for x1, y1, x2, y2 in (
            (7, 7, 13, 7),
            (7, 13, 13, 13),
            (7, 7, 7, 13),
            (13, 7, 13, "9.4"),
            (13, "10.6", 13, 13),
        )
    )
    made = board(
        one_pad("J1", 10, 10, "GND"), one_pad("J2", 17, 10, "GND"), one_pad("J3", 7, 7, "A"),
        tracks=fence, copper=(BOTTOM,), plated=False,
    )  # fmt: skip
    fab = replace(ETCH, pour_gap=mm("0.45"), gap_min=mm("0.2"), track=mm("0.4"), track_min=mm("0.3"))
    done = pour(made, fab)
    assert len(done.tracks) > len(fence)
    report = check_board(done, None, fab)
    assert [f for f in report.of("unconnected") if "GND" in f.message] == []
    assert report.of("spacing") == ()
    assert report.of("short") == ()


def test_pieces_without_a_pad_are_left_out():
    ring = Box(mm(12), mm(12), mm(18), mm(18)).corners()
    fence = tuple(
        replace(track("A", 1, 1, 2, 2, side), start=a, end=b)
        for side in (TOP, BOTTOM)
        for a, b in zip(ring, ring[1:] + ring[:1], strict=True)
    )
    made = pour(board(one_pad("J1", 5, 5, "GND"), one_pad("J2", 12, 12, "A"), tracks=fence), FAB)
    for side in (TOP, BOTTOM):
        assert len(fills(made, side)) == 1
        assert not fills(made, side)[0].contains(shapely.Point(15e6, 15e6))
    assert check_board(made, None, FAB).of("isolated-copper") == ()


def test_keepouts_are_free_and_vias_are_filled_over():
    keepout = Keepout(Box(mm(12), mm(2), mm(18), mm(8)).corners(), "antenna")
    made = pour(board(one_pad("J1", 5, 5, "GND"), keepouts=(keepout,), vias=(via("GND", 5, 15),)), FAB)
    assert_keeps_its_promises(made, FAB)
    assert fills(made, TOP)[0].contains(shapely.Point(5e6, 15e6).buffer(1e6))


def test_a_board_without_ground_stays_bare():
    assert pour(board(one_pad("J1", 5, 5, "A")), FAB).pours == ()


def test_the_ground_with_most_pads_is_poured():
    nets = (Net("AGND", NetKind.GROUND), Net("GND", NetKind.GROUND))
    made = board(
        one_pad("J1", 4, 4, "AGND"), one_pad("J2", 10, 10, "GND"), one_pad("J3", 14, 14, "GND"), nets=nets
    )
    assert {p.net for p in pour(made, FAB).pours} == {"GND"}


def test_parameters_are_kept_for_a_refill():
    p = pour(board(one_pad("J1", 5, 5, "GND")), FAB).pours[0]
    assert (p.spacing, p.min_width, p.thermal_gap, p.spoke_width) == (
        FAB.pour_gap,
        FAB.pour_min_width,
        FAB.thermal_gap,
        FAB.thermal_spoke,
    )
    assert outline_polygon(outline()).contains(Polygon(p.area))


def test_ground_tracks_of_one_layer_join_with_the_fill():
    links = footprint("LINK", tht_pad("1", -3, 0), tht_pad("2", 3, 0))
    wall = track("A", 10, "0.6", 10, "19.4", BOTTOM)
    made = board(
        one_pad("J1", 5, 5, "GND"), one_pad("J2", 15, 5, "GND"), one_pad("J3", 10, 2, "A"),
        part("W1", links, 10, 12, kind=PartKind.LINK, p1="GND", p2="GND"),
        tracks=(wall,), copper=(BOTTOM,), plated=False,
    )  # fmt: skip
    done = pour(made, replace(ETCH, edge_copper_min=mm("0.3")))
    assert len(done.tracks) == 1
    assert check_board(done, None, ETCH).of("unconnected") == ()


def test_chip_pads_on_the_bottom_are_relieved_there():
    made = pour(
        board(part("R1", CHIP, 10, 10, side=BOTTOM, p1="A", p2="GND"), one_pad("J1", 4, 4, "GND")), FAB
    )
    pad = next(c for c in copper_items(made) if c.ref == "R1" and c.pad == "2")
    assert pad.side is BOTTOM
    assert arms(shapely.union_all(fills(made, BOTTOM)), pad) >= 2
    assert fills(made, TOP)[0].contains(pad_shape(made.part("R1"), CHIP.pads[1]).polygon())
