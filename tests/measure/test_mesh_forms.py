"""Volts lost in copper against closed forms: tracks, strips, corners, rings, plates, barrels."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from copper_kit import (
    FAB,
    SQUARE,
    board,
    box,
    disc,
    plated,
    pour,
    surface,
    track,
    via,
)
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgen.board.model import Part, PartKind, PourPiece, Side
from boardgen.footprint.model import Footprint, Pad, PadKind, PadShape
from boardgen.measure.material import barrel_ohms, sheet_ohms, wire_ohms
from boardgen.measure.mesh import supply_drop
from boardgen.measure.model import Load, Terminal
from boardgen.units import Point, Size, mm, nm, point_mm

A, B = Terminal("A", "1"), Load("B", "1", 1.0)


def ohms(made, net="V", tolerance=0.02) -> float:
    drop = supply_drop(made, net, (A,), (B,), FAB, tolerance=tolerance)
    (only,) = drop.loads
    assert only.volts == pytest.approx(only.ohms, rel=1e-6)
    return only.ohms


def test_a_square_of_35_um_is_half_a_milliohm():
    assert sheet_ohms(35) == pytest.approx(0.4914e-3, rel=1e-3)
    assert sheet_ohms(35, 60.0) == pytest.approx(sheet_ohms(35) * 1.156)
    with pytest.raises(ValueError, match=r"^copper must have a thickness$"):
        sheet_ohms(0)


def test_barrel_and_wire_by_hand():
    # 0.3 mm hole, wall 20 um: pi (0.17^2 - 0.15^2) = 0.020106 mm2 of copper, 1.6 mm long
    assert barrel_ohms(300_000, 1_600_000) == pytest.approx(1.72e-8 * 1.6e-3 / 0.020106e-6, rel=1e-4)
    # 0.6 mm wire, 10 mm: 0.2827 mm2
    assert wire_ohms(600_000, 10_000_000) == pytest.approx(1.72e-8 * 10e-3 / 0.28274e-6, rel=1e-4)


def test_the_practice_note_s_track():
    """100 x 0.25 mm at 0.5 A loses 98 mV."""
    made = board(surface("A", -0.5, 0), surface("B", 100.5, 0), tracks=(track(-0.5, 0, 100.5, 0),))
    drop = supply_drop(made, "V", (A,), (Load("B", "1", 0.5),), FAB)
    assert drop.worst.volts == pytest.approx(0.0983, rel=0.002)
    assert drop.worst.ohms == pytest.approx(400 * SQUARE, rel=0.002)


@settings(max_examples=40)
@given(
    length=st.floats(3, 90),
    width=st.sampled_from([0.15, 0.25, 0.4, 0.5, 0.8, 1.0]),
    angle=st.integers(0, 359),
    amps=st.floats(0.001, 3),
    copper=st.sampled_from([18, 35, 70]),
)
def test_a_straight_track_in_any_direction_follows_its_closed_form(length, width, angle, amps, copper):
    # Square pads as wide as the track and turned with it, so that nothing spreads.
    turn = math.radians(angle)
    end = Point(nm(length * 1e6 * math.cos(turn)), nm(length * 1e6 * math.sin(turn)))
    pads = [surface("A", 0, 0, width, width), surface("B", 0, 0, width, width)]
    pads[0] = replace(pads[0], placement=replace(pads[0].placement, rotation=-angle))
    pads[1] = replace(pads[1], placement=replace(pads[1].placement, rotation=-angle, at=end))
    made = board(*pads, tracks=(replace(track(0, 0, 0, 0, width), end=end),))
    drop = supply_drop(made, "V", (A,), (Load("B", "1", amps),), replace(FAB, copper_um=copper))
    square = 1.72e-8 / (copper * 1e-6)
    assert drop.worst.ohms == pytest.approx((length - width) / width * square, rel=0.005)
    assert drop.worst.volts == pytest.approx(amps * drop.worst.ohms)


def test_tracks_in_series_with_different_widths_add_up():
    made = board(
        surface("A", -0.5, 0, 1, 1),
        surface("B", 60.5, 0, 1, 1),
        tracks=(track(-0.5, 0, 30, 0, 0.25), track(30, 0, 60.5, 0, 0.5)),
    )
    assert ohms(made) == pytest.approx((30 / 0.25 + 30 / 0.5) * SQUARE, rel=0.02)


def test_parallel_tracks_halve_and_a_third_joined_midway_counts():
    one = board(surface("A", -0.5, 0, 1, 6), surface("B", 40.5, 0, 1, 6), tracks=(track(0, 0, 40, 0),))
    two = replace(one, tracks=(track(0, 2, 40, 2), track(0, -2, 40, -2)))
    assert ohms(one) == pytest.approx(160 * SQUARE, rel=0.01)
    assert ohms(two) == pytest.approx(80 * SQUARE, rel=0.01)
    # A rung between two equal tracks at the same height carries nothing.
    rung = replace(two, tracks=(*two.tracks, track(20, -2, 20, 2)))
    assert ohms(rung) == pytest.approx(ohms(two), rel=0.01)
    # Two tracks for the first half, one for the second, joined midway onto its side.
    half = replace(one, tracks=(track(0, 0, 40, 0), track(0, 2, 20, 2), track(20, 2, 20, 0)))
    upper = 20 / 0.25 + 2 / 0.25
    expected = 1 / (1 / 80 + 1 / upper) + 80
    assert ohms(half) == pytest.approx(expected * SQUARE, rel=0.015)


def test_a_right_angle_corner_counts_0_56_square():
    """The corner square of a sharp L is worth 0.559 square (by conformal map)."""
    corner = PourPiece(
        (
            point_mm(0, 0),
            point_mm(10, 0),
            point_mm(10, 1),
            point_mm(1, 1),
            point_mm(1, 10),
            point_mm(0, 10),
        )
    )
    made = board(surface("A", 10.5, 0.5), surface("B", 0.5, 10.5), pours=(pour(corner),))
    assert ohms(made, tolerance=0.002) == pytest.approx((9 + 9 + 0.559) * SQUARE, rel=0.003)
    assert ohms(made) == pytest.approx((9 + 9 + 0.559) * SQUARE, rel=0.01)


def test_a_strip_of_pour_is_its_length_over_its_width():
    made = board(
        surface("A", -0.5, 0, 1, 12),
        surface("B", 40.5, 0, 1, 12),
        pours=(pour(PourPiece(box(0, -6, 40, 6))),),
    )
    assert ohms(made) == pytest.approx(40 / 12 * SQUARE, rel=1e-4)


def test_a_slit_strip_is_two_strips():
    slit = (PourPiece(box(0, -6, 40, 6), (box(-0.0 + 0.5, -0.1, 39.5, 0.1),)),)
    made = board(surface("A", -0.5, 0, 1, 12), surface("B", 40.5, 0, 1, 12), pours=(pour(*slit),))
    assert ohms(made) == pytest.approx(40 / 11.8 * SQUARE, rel=0.01)


def test_an_annulus_between_two_radii():
    """R = Rs ln(r2 / r1) / (2 pi)."""
    circle = tuple(
        Point(nm(12e6 * math.cos(2 * math.pi * i / 360)), nm(12e6 * math.sin(2 * math.pi * i / 360)))
        for i in range(360)
    )
    inner = disc("A", 0, 0, 2)
    # The outer contact: many pads with one number round the rim.
    pads = tuple(Pad("1", PadKind.SURFACE, PadShape.CIRCLE, p, Size(mm("0.3"), mm("0.3"))) for p in circle)
    rim = Part("B", "", Footprint("rim", pads), inner.placement, nets=(("1", "V"),))
    made = board(inner, rim, pours=(pour(PourPiece(circle)),))
    expected = math.log((12 - 0.15) / 1) / (2 * math.pi) * SQUARE
    assert ohms(made) == pytest.approx(expected, rel=0.015)


def test_a_large_plate_with_two_round_contacts():
    """R = Rs acosh(d / 2r) / pi on an endless sheet (two cylinders); 190 mm are nearly endless."""
    made = board(disc("A", -5, 0, 1.8), disc("B", 5, 0, 1.8), pours=(pour(PourPiece(box(-95, -95, 95, 95))),))
    expected = math.acosh(10 / 1.8) / math.pi * SQUARE
    assert ohms(made) == pytest.approx(expected, rel=0.015)


def test_vias_in_series_and_two_of_them_in_parallel():
    plating = barrel_ohms(300_000, 1_600_000)
    front, back = track(0, 0, 20, 0), track(20, 0, 40, 0, side=Side.BOTTOM)
    pads = (surface("A", -0.5, 0), surface("B", 40.5, 0, side=Side.BOTTOM))
    single = board(*pads, tracks=(front, back), vias=(via(20, 0),))
    # A via's pad is a wider piece of the way; its two halves and the spreading are worth 0.1 square.
    assert ohms(single) == pytest.approx(160 * SQUARE + plating, rel=0.02)
    lone = replace(single, vias=())
    assert supply_drop(lone, "V", (A,), (B,), FAB).loads[0].ohms is None


def test_a_pin_is_soldered_below_so_a_track_above_pays_for_the_barrel():
    pads = (plated("A", 0, 0), plated("B", 30, 0))
    below = board(*pads, tracks=(track(0, 0, 30, 0, side=Side.BOTTOM),))
    above = board(*pads, tracks=(track(0, 0, 30, 0),))
    assert ohms(above) - ohms(below) == pytest.approx(2 * barrel_ohms(1_000_000, 1_600_000), rel=0.01)
    assert supply_drop(replace(above, plated=False), "V", (A,), (B,), FAB).loads[0].volts is None


def test_a_wire_link_joins_its_pads():
    pads = (
        Pad("1", PadKind.PLATED, PadShape.CIRCLE, point_mm(0, 0), Size(mm(2), mm(2)), Size(mm(1), mm(1))),
        Pad("2", PadKind.PLATED, PadShape.CIRCLE, point_mm(10, 0), Size(mm(2), mm(2)), Size(mm(1), mm(1))),
    )
    link = Part(
        "W1",
        "",
        Footprint("link", pads),
        plated("A", 0, 0).placement,
        PartKind.LINK,
        (("1", "V"), ("2", "V")),
    )
    made = board(
        plated("A", -20, 0),
        link,
        plated("B", 30, 0),
        copper=(Side.BOTTOM,),
        plated=False,
        tracks=(track(-20, 0, 0, 0, 0.5, Side.BOTTOM), track(10, 0, 30, 0, 0.5, Side.BOTTOM)),
    )
    bare = 2 * (20 - 0.8 - 1) / 0.5 * SQUARE
    assert ohms(made) == pytest.approx(bare + wire_ohms(600_000, 13_200_000), rel=0.02)


def test_current_is_shared_by_loads_and_sources():
    """Two loads on one line: the far one sees both currents on the common piece; superposition holds."""
    made = board(
        surface("A", -0.5, 0),
        surface("B", 20, 0),
        surface("C", 40.5, 0),
        tracks=(track(-0.5, 0, 40.5, 0),),
    )
    loads = (Load("B", "1", 0.3), Load("C", "1", 0.2))
    near, far = supply_drop(made, "V", (A,), loads, FAB).loads
    first, second = 19.5 / 0.25 * SQUARE, 19.5 / 0.25 * SQUARE
    assert near.volts == pytest.approx(0.5 * first, rel=0.01)
    assert far.volts == pytest.approx(0.5 * first + 0.2 * second, rel=0.01)
    assert far.ohms == pytest.approx(first + second, rel=0.01)
    # Fed from both ends, the middle load draws from each by the inverse of the way.
    both = supply_drop(made, "V", (A, Terminal("C", "1")), (Load("B", "1", 1.0),), FAB)
    assert both.worst.ohms == pytest.approx(first / 2, rel=0.01)


def test_a_load_that_is_not_joined_has_no_figure_and_a_wrong_pad_is_named():
    made = board(surface("A", 0, 0), surface("B", 20, 0), surface("C", 40, 0), tracks=(track(0, 0, 20, 0),))
    drop = supply_drop(made, "V", (A,), (B, Load("C", "1", 1.0)), FAB)
    assert [load.volts is None for load in drop.loads] == [False, True]
    assert drop.worst.load.ref == "B"
    with pytest.raises(ValueError, match=r"^A pad 7 is not on net V$"):
        supply_drop(made, "V", (Terminal("A", "7"),), (B,), FAB)


def test_a_source_that_is_the_load_loses_nothing():
    made = board(surface("A", 0, 0), surface("B", 20, 0), tracks=(track(0, 0, 20, 0),))
    drop = supply_drop(made, "V", (A, Terminal("B", "1")), (B,), FAB)
    assert drop.worst.volts == 0.0


@settings(max_examples=25)
@given(st.data())
def test_more_copper_never_raises_a_loss(data):
    number = st.integers(-9, 9)
    places = st.tuples(number, number, number, number, st.sampled_from([0.3, 0.6, 1.0]))
    pads = (plated("A", -10, 0), plated("B", 10, 0))
    base = (track(-10, 0, 10, 0, 0.4, Side.BOTTOM),)
    extra = tuple(
        track(x1, y1, x2, y2, w, Side.BOTTOM)
        for x1, y1, x2, y2, w in data.draw(st.lists(places, min_size=1, max_size=8))
    )
    less = board(*pads, tracks=base)
    more = replace(less, tracks=(*base, *extra))
    poured = replace(more, pours=(pour(PourPiece(box(-8, -8, 8, 8)), side=Side.BOTTOM),))
    a, b, c = (ohms(made, tolerance=0.01) for made in (less, more, poured))
    assert b <= a * 1.005
    assert c <= b * 1.005
