"""Each rule on a hand-made board: at the limit it passes, one micrometre inside it fails."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from boardkit import (
    FAB,
    bare_hole,
    board,
    box_graphic,
    footprint,
    one_pad,
    outline,
    part,
    smd_pad,
    tht_pad,
    track,
    via,
)

from boardgen.board.model import (
    Board,
    Keepout,
    LegendLine,
    LegendText,
    PartKind,
    Pour,
    PourPiece,
    Side,
    outline_from_ring,
)
from boardgen.errors import Severity
from boardgen.footprint.model import Line, Pad, PadKind, PadShape, PartLayer
from boardgen.rules.check import check_board
from boardgen.units import ZERO, Box, Nm, Point, Size, mm, point_mm

TOP, BOTTOM = Side.TOP, Side.BOTTOM


def pour_of(net: str, *pieces: PourPiece, side: Side = TOP) -> Pour:
    return Pour(net, side, pieces[0].outer, pieces, mm("0.2"), mm("0.2"), mm("0.3"), mm("0.3"))


def square(left: float, top: float, right: float, bottom: float) -> PourPiece:
    return PourPiece(Box(mm(left), mm(top), mm(right), mm(bottom)).corners())


def room(w: float, h: float) -> tuple:
    return (box_graphic(PartLayer.COURTYARD, -w / 2, -h / 2, w / 2, h / 2, 0.05),)


# Each case: rule, limit, layer, names, and a board for a given measure (nm).


def two_tracks(d: Nm) -> Board:
    b = track("B", 5, 10, 15, 10)
    shift = mm("0.25") + d
    b = replace(b, start=Point(b.start.x, b.start.y + shift), end=Point(b.end.x, b.end.y + shift))
    return board(tracks=(track("A", 5, 10, 15, 10), b))


def track_and_pad(d: Nm) -> Board:
    # A round pad of 1.7 mm and a track whose edge passes it at d.
    y = point_mm(10, 10).y + mm("0.85") + d + mm("0.125")
    t = replace(track("B", 5, 10, 15, 10), start=Point(mm(5), y), end=Point(mm(15), y))
    return board(one_pad("J1", 10, 10, "A"), tracks=(t,))


def diagonal_pads(d: Nm) -> Board:
    # 3-4-5: centres 5 k apart, radii 0.85 each.
    unit = (mm("1.7") + d) // 5
    far = Point(mm(8) + 3 * unit, mm(8) + 4 * unit)
    second = one_pad("J2", 8, 8, "B")
    return board(one_pad("J1", 8, 8, "A"), replace(second, placement=replace(second.placement, at=far)))


def pour_and_track(d: Nm) -> Board:
    t = track("A", 5, 10, 15, 10)
    top = mm(10) + mm("0.125") + d
    piece = PourPiece(Box(mm(3), top, mm(17), mm(17)).corners())
    return board(tracks=(t,), pours=(pour_of("GND", piece),))


def track_by_bare_hole(d: Nm) -> Board:
    hole = part("H1", footprint("H", bare_hole(0, 0, "3.0")), 10, 10, kind=PartKind.HOLE)
    y = mm(10) + mm("1.5") + d + mm("0.125")
    t = replace(track("A", 5, 10, 15, 10), start=Point(mm(5), y), end=Point(mm(15), y))
    return board(hole, tracks=(t,))


def thin_track(d: Nm) -> Board:
    return board(tracks=(replace(track("A", 5, 10, 15, 10), width=d),))


def ring(d: Nm) -> Board:
    pad = replace(tht_pad("1", 0, 0), size=Size(mm(1) + 2 * d, mm(1) + 2 * d))
    return board(part("J1", footprint("P", pad), 10, 10, p1="A"))


def slot_ring(d: Nm) -> Board:
    size, hole = Size(mm(2) + 2 * d, mm(1) + 4 * d), Size(mm(2), mm(1))
    pad = Pad("1", PadKind.PLATED, PadShape.OVAL, point_mm(0, 0), size, hole, 30.0)
    return board(part("J1", footprint("P", pad), 10, 10, p1="A"))


def via_ring(d: Nm) -> Board:
    return board(vias=(replace(via("A", 10, 10), diameter=mm("0.8"), hole=mm("0.8") - 2 * d),))


def via_across(d: Nm) -> Board:
    return board(vias=(replace(via("A", 10, 10), diameter=d, hole=mm("0.25")),))


def small_hole(d: Nm) -> Board:
    pad = replace(tht_pad("1", 0, 0), hole=Size(d, d))
    return board(part("J1", footprint("P", pad), 10, 10, p1="A"))


def two_holes(d: Nm) -> Board:
    first = part("H1", footprint("H", bare_hole(0, 0, "2.0")), 5, 10, kind=PartKind.HOLE)
    second = replace(first, ref="H2", placement=replace(first.placement, at=Point(mm(7) + d, mm(10))))
    return board(first, second)


def track_by_edge(d: Nm) -> Board:
    y = d + mm("0.125")
    t = replace(track("A", 5, 10, 15, 10), start=Point(mm(5), y), end=Point(mm(15), y))
    return board(tracks=(t,))


def pad_by_edge(d: Nm) -> Board:
    print_ = footprint("P", smd_pad("1", 0, 0, "2.0", "1.0"))
    made = part("J1", print_, 10, 10, p1="A")
    return board(replace(made, placement=replace(made.placement, at=Point(mm(1) + d, mm(10)))))


def pour_by_edge(d: Nm) -> Board:
    pad = one_pad("J1", 10, 10, "GND")
    return board(pad, pours=(pour_of("GND", PourPiece(Box(d, mm(1), mm(19), mm(19)).corners())),))


def mask(d: Nm) -> Board:
    print_ = footprint("P", smd_pad("1", 0, 0, "1.0", "1.0"), smd_pad("2", 2, 0, "1.0", "1.0"))
    far = mm("1.0") + mm("0.1") + d
    pads = (print_.pads[0], replace(print_.pads[1], at=Point(far, ZERO)))
    return board(part("R1", replace(print_, pads=pads), 10, 10, p1="A", p2="B"))


def rooms(d: Nm) -> Board:
    print_ = footprint("P", graphics=room(2, 2))
    first = part("R1", print_, 5, 5)
    return board(
        first, replace(first, ref="R2", placement=replace(first.placement, at=Point(mm(7) + d, mm(5))))
    )


def ink_by_pad(d: Nm) -> Board:
    y = mm(10) + mm("0.85") + mm("0.05") + d + mm("0.075")
    line = LegendLine(TOP, (Point(mm(5), y), Point(mm(15), y)), mm("0.15"))
    return board(one_pad("J1", 10, 10, "A"), legend=(line,))


def ink_by_edge(d: Nm) -> Board:
    x = d + mm("0.075")
    line = LegendLine(BOTTOM, (Point(x, mm(5)), Point(x, mm(15))), mm("0.15"))
    return board(legend=(line,))


def ink_by_hole(d: Nm) -> Board:
    hole = part("H1", footprint("H", bare_hole(0, 0, "3.0")), 10, 10, kind=PartKind.HOLE)
    y = mm(10) + mm("1.55") + d + mm("0.075")
    line = LegendLine(TOP, (Point(mm(5), y), Point(mm(15), y)), mm("0.15"))
    return board(hole, legend=(line,))


def low_text(d: Nm) -> Board:
    return board(legend=(LegendText(TOP, "A", point_mm(10, 10), d, mm("0.15")),))


def thin_ink(d: Nm) -> Board:
    return board(legend=(LegendLine(TOP, (point_mm(5, 5), point_mm(9, 5)), d),))


def wide_board(d: Nm) -> Board:
    # The limit is an upper one here, so the board is smaller by what is over.
    width = 2 * FAB.board_max.w - d
    return board(shape=outline_from_ring(Box(ZERO, ZERO, width, mm(50)).corners()))


CASES: list[tuple[Callable[[Nm], Board], str, Nm, str, tuple[str, ...]]] = [
    (two_tracks, "spacing", FAB.gap_min, "top copper", ("track of A", "track of B")),
    (track_and_pad, "spacing", FAB.gap_min, "top copper", ("J1 pad 1", "track of B")),
    (diagonal_pads, "spacing", FAB.gap_min, "top copper", ("J1 pad 1", "J2 pad 1")),
    (pour_and_track, "spacing", FAB.gap_min, "top copper", ("track of A", "pour of GND")),
    (track_by_bare_hole, "spacing", FAB.npth_copper_min, "top copper", ("track of A", "hole of H1")),
    (thin_track, "track-width", FAB.track_min, "top copper", ("track of A",)),
    (ring, "annular-ring", FAB.ring_min, "drill", ("J1 pad 1",)),
    (slot_ring, "annular-ring", FAB.ring_min, "drill", ("J1 pad 1",)),
    (via_ring, "annular-ring", FAB.ring_min, "drill", ("via of A",)),
    (via_across, "annular-ring", FAB.via_diameter_min, "drill", ("via of A",)),
    (small_hole, "drill-size", FAB.hole_min, "drill", ("hole of J1 pad 1",)),
    (two_holes, "hole-spacing", FAB.hole_gap_min, "drill", ("hole of H1", "hole of H2")),
    (track_by_edge, "edge-distance", FAB.edge_copper_min, "top copper", ("track of A", "board edge")),
    (pad_by_edge, "edge-distance", FAB.edge_copper_min, "top copper", ("J1 pad 1", "board edge")),
    (pour_by_edge, "edge-distance", FAB.edge_copper_min, "top copper", ("pour of GND", "board edge")),
    (mask, "mask-web", FAB.mask_web_min, "top mask", ("R1 pad 1", "R1 pad 2")),
    (rooms, "courtyard", FAB.courtyard_gap_min, "top courtyard", ("R1", "R2")),
    (ink_by_pad, "legend-clear", FAB.legend_pad_gap_min, "legend top", ("board line", "opening of J1 pad 1")),
    (ink_by_edge, "legend-clear", FAB.legend_pad_gap_min, "legend bottom", ("board line", "board edge")),
    (
        ink_by_hole,
        "legend-clear",
        FAB.legend_pad_gap_min,
        "legend top",
        ("board line", "opening of hole of H1"),
    ),
    (low_text, "legend-size", FAB.legend_height_min, "legend top", ('text "A"',)),
    (thin_ink, "legend-size", FAB.legend_stroke_min, "legend top", ("board line",)),
    (wide_board, "profile", FAB.board_max.w, "profile", ("outline",)),
]


@pytest.mark.parametrize(
    ("make", "rule", "limit", "layer", "items"), CASES, ids=[c[0].__name__ for c in CASES]
)
def test_at_the_limit_a_rule_passes_and_one_um_inside_it_fails(make, rule, limit, layer, items):
    assert check_board(make(limit), None, FAB).of(rule) == ()
    found = check_board(make(limit - mm("0.001")), None, FAB).of(rule)
    assert len(found) >= 1
    first = found[0]
    assert (first.rule, first.layer, first.items) == (rule, layer, items)
    assert first.limit == limit
    assert first.measured is not None
    if rule == "profile":
        assert first.measured == limit + mm("0.001")
    else:
        assert abs(first.measured - (limit - mm("0.001"))) <= 2
    assert first.at is not None


def test_findings_name_the_place_between_the_two():
    found = check_board(two_tracks(mm("0.1")), None, FAB).of("spacing")[0]
    assert found.at is not None
    assert found.at.y == mm(10) + mm("0.125") + mm("0.05")
    assert found.severity is Severity.ERROR
    assert found.message == "track of A is 0.100 mm from track of B, less than 0.15 mm"


def test_copper_that_touches_is_a_short_not_a_spacing():
    crossed = board(tracks=(track("A", 5, 10, 15, 10), track("B", 10, 5, 10, 15)))
    report = check_board(crossed, None, FAB)
    assert [f.items for f in report.of("short")] == [("track of A", "track of B")]
    assert report.of("spacing") == ()
    assert report.of("short")[0].at == point_mm(10, 10)


def test_the_other_side_is_no_short():
    crossed = board(tracks=(track("A", 5, 10, 15, 10), track("B", 10, 5, 10, 15, BOTTOM)))
    assert check_board(crossed, None, FAB).of("short") == ()


def test_a_pour_over_a_foreign_track_is_a_short():
    made = board(tracks=(track("A", 5, 10, 15, 10),), pours=(pour_of("GND", square(2, 2, 18, 18)),))
    assert [f.items for f in check_board(made, None, FAB).of("short")] == [("track of A", "pour of GND")]


def test_pads_without_a_net_are_kept_apart_but_not_from_their_own_number():
    print_ = footprint("P", smd_pad("1", 0, 0), smd_pad("2", "1.1", 0), smd_pad("2", "2.15", 0))
    found = check_board(board(part("J1", print_, 10, 10)), None, FAB).of("spacing")
    assert [f.items for f in found] == [("J1 pad 1", "J1 pad 2")]


def test_drill_list_and_largest_hole():
    fab = replace(FAB, drills=(mm("0.8"), mm("1.0")))
    pads = [replace(tht_pad("1", 0, 0, "2.5"), hole=Size(mm(d), mm(d))) for d in ("1.0", "0.9")]
    made = board(*(part(f"J{i}", footprint("P", pad), 5 + 5 * i, 10) for i, pad in enumerate(pads)))
    found = check_board(made, None, fab).of("drill-size")
    assert [f.message for f in found] == [
        "hole of J1 pad 1 is 0.9 mm, not one of the drills there are (0.8, 1 mm)"
    ]
    big = board(part("H1", footprint("H", bare_hole(0, 0, "6.301")), 10, 10))
    assert check_board(big, None, FAB).of("drill-size")[0].measured == mm("6.301")


def test_hole_beyond_its_pad_has_a_negative_ring():
    pad = Pad(
        "1", PadKind.PLATED, PadShape.RECT, point_mm(0, 0), Size(mm(2), mm(1)), Size(mm("1.2"), mm("1.2"))
    )
    found = check_board(board(part("J1", footprint("P", pad), 10, 10)), None, FAB).of("annular-ring")
    assert found[0].measured == mm("-0.1")


def test_copper_beyond_the_edge_is_measured_negative():
    found = check_board(board(tracks=(track("A", -2, 10, -1, 10),)), None, FAB).of("edge-distance")
    assert found[0].measured == -mm(1) - mm("0.125")


def test_mask_web_is_not_checked_where_the_fab_has_no_limit():
    assert len(check_board(mask(mm("0.05")), None, FAB).of("mask-web")) == 1
    assert check_board(mask(mm("0.05")), None, replace(FAB, mask_web_min=ZERO)).of("mask-web") == ()


def test_pins_of_a_through_hole_part_meet_a_part_on_the_other_side():
    pins = one_pad("J1", 10, 10, "A")
    below = part("R1", footprint("P", graphics=room(3, 3), through_hole=False), 10, 12, side=BOTTOM)
    found = check_board(board(pins, below), None, FAB).of("courtyard")
    assert [(f.layer, f.items) for f in found] == [("bottom courtyard", ("J1 pad 1", "R1"))]
    above = replace(below, placement=replace(below.placement, at=point_mm(10, 13)))
    assert check_board(board(pins, above), None, FAB).of("courtyard") == ()


def test_overhang_of_a_small_part_and_of_a_pad():
    over = part("R1", footprint("P", graphics=room(3, 3)), 1, 10)
    report = check_board(board(over), None, FAB)
    assert [(f.items, f.measured) for f in report.of("overhang")] == [(("R1", "board edge"), mm("-0.25"))]
    connector = replace(over, kind=PartKind.CONNECTOR)
    assert check_board(board(connector), None, FAB).of("overhang") == ()
    pad = one_pad("J1", -1, 10, "A")
    assert check_board(board(pad), None, FAB).of("overhang")[0].measured == mm(-1)


def test_keepouts_take_no_copper_and_no_parts():
    keepout = Keepout(Box(mm(5), mm(5), mm(10), mm(10)).corners(), "antenna of U1", parts_too=True)
    made = board(
        part("R1", footprint("P", graphics=room(2, 2)), 6, 6),
        tracks=(track("A", 3, 7, 8, 7), track("B", 3, 3, 12, 3)),
        keepouts=(keepout,),
    )
    report = check_board(made, None, FAB)
    assert [f.items for f in report.of("spacing")] == [("track of A", "antenna of U1")]
    assert [f.items for f in report.of("courtyard")] == [("R1", "antenna of U1")]


def test_a_broken_profile_is_said_and_stops_nothing():
    ring_ = outline(20, 20).outer
    open_ = replace(outline(20, 20), outer=ring_[:-1])
    found = check_board(board(shape=open_), None, FAB).of("profile")
    assert [f.message for f in found] == ["the outline is open by 20.000 mm"]
    bow = outline_from_ring((point_mm(0, 0), point_mm(20, 20), point_mm(20, 0), point_mm(0, 20)))
    crossed = check_board(board(one_pad("J1", 5, 10, "A"), shape=bow), None, FAB)
    assert [f.message for f in crossed.of("profile")] == ["the outline crosses itself"]
    nothing = check_board(board(shape=replace(open_, outer=())), None, FAB)
    assert [f.message for f in nothing.of("profile")] == ["the outline has no pieces"]


def test_a_cutout_must_lie_inside():
    hole = outline_from_ring(Box(mm(15), mm(5), mm(25), mm(10)).corners()).outer
    found = check_board(board(shape=replace(outline(20, 20), cutouts=(hole,))), None, FAB).of("profile")
    assert [f.message for f in found] == ["cut-out 1 is not inside the outline"]


def test_legend_of_a_footprint_counts_as_printed():
    graphic = Line(PartLayer.LEGEND, point_mm(0, 0), point_mm(1, 0), mm("0.15"))
    made = board(part("R1", footprint("P", graphics=(graphic,)), 10, 10))
    counts = dict(check_board(made, None, FAB).counts)
    assert counts["legend-size items"] == 0  # only what the legend stage put on the board is printed


def test_counts_are_the_evidence_of_a_clean_board():
    report = check_board(two_tracks(FAB.gap_min), None, FAB)
    counts = dict(report.counts)
    assert counts["spacing items"] == 2
    assert counts["track-width items"] == 2
    assert {name.split(" ")[0] for name in counts} >= {
        "short", "unconnected", "spacing", "track-width", "annular-ring", "drill-size", "hole-spacing",
        "edge-distance", "mask-web", "courtyard", "legend-clear", "legend-size", "isolated-copper",
        "stub", "overhang", "profile",
    }  # fmt: skip


def test_order_of_findings_does_not_hang_on_the_order_of_copper():
    tracks = tuple(track(n, 5, 5 + 0.3 * i, 15, 5 + 0.3 * i) for i, n in enumerate("ABCDEF"))
    forward = check_board(board(tracks=tracks), None, FAB).of("spacing")
    backward = check_board(board(tracks=tracks[::-1]), None, FAB).of("spacing")
    assert [(f.at, f.measured) for f in forward] == [(f.at, f.measured) for f in backward]
    assert len(forward) == 5


def test_a_measure_just_below_its_limit_is_not_written_as_the_limit():
    found = check_board(via_ring(FAB.ring_min - Nm(500)), None, FAB).of("annular-ring")
    assert [f.message for f in found] == [
        "via of A has 0.1495 mm of copper round its hole, less than 0.15 mm"
    ]
