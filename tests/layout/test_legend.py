"""The printing: everything inside the board, clear of what is soldered, and of itself."""

from __future__ import annotations

import sys
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).parents[1] / "rules"))

from boardkit import (
    CHIP,
    FAB,
    bare_hole,
    board,
    box_graphic,
    footprint,
    keypad,
    one_pad,
    outline,
    part,
    tht_pad,
)

from boardgen.board.geometry import copper_items, hole_shape, outline_polygon
from boardgen.board.model import Board, LegendLine, LegendText, PartKind, Side
from boardgen.board.strokes import text_ring, text_strokes
from boardgen.footprint.model import Circle, Face, Line, PartLayer, Polygon, Text
from boardgen.layout.labels import Label
from boardgen.layout.legend import add_legend
from boardgen.rules.check import check_board
from boardgen.units import mm, point_mm

TOP, BOTTOM = Side.TOP, Side.BOTTOM
LABELS = [
    Label("LECTURE-KEYPAD REV A", rank=0),
    Label("PINS 0123456789ab", rank=1),
    *(Label(f"ROW{i}", "J1", str(i), 2) for i in range(1, 26)),
]


def texts_of(made: Board) -> list[LegendText]:
    return [i for i in made.legend if isinstance(i, LegendText)] + [t for _, t in made.references]


def ring(text: LegendText):
    mirrored = text.side is BOTTOM
    return shapely.Polygon(text_ring(text.text, text.at, text.height, text.stroke, text.rotation, mirrored))


def ink(item):
    if isinstance(item, LegendText):
        paths = text_strokes(item.text, item.at, item.height, item.stroke, item.rotation, item.side is BOTTOM)
    else:
        paths = (item.points,)
    return shapely.union_all([shapely.LineString(p).buffer(item.stroke / 2, quad_segs=32) for p in paths])


def assert_clear(made: Board) -> None:
    edge = outline_polygon(made.outline)
    for item in (*made.legend, *(t for _, t in made.references)):
        mark = ink(item)
        assert edge.contains(mark)
        assert edge.boundary.distance(mark) >= FAB.legend_pad_gap_min - 10
        for copper in copper_items(made):
            if copper.side is item.side and copper.ref:
                gap = copper.shape.skeleton.distance(mark) - copper.shape.radius - FAB.mask_margin
                assert gap >= FAB.legend_pad_gap_min - 10
        for p in made.parts:
            for pad in p.footprint.pads:
                if pad.hole is not None:
                    hole = hole_shape(p, pad)
                    gap = hole.skeleton.distance(mark) - hole.radius
                    assert gap >= FAB.legend_pad_gap_min - 10
    texts = texts_of(made)
    for a, b in combinations(texts, 2):
        if a.side is b.side:
            assert ring(a).distance(ring(b)) >= mm("0.3") - 10
    for text in texts:
        for item in made.legend:
            if isinstance(item, LegendLine) and item.side is text.side:
                assert ring(text).distance(ink(item)) >= mm("0.3") - 1_000


def test_a_keypad_board_is_printed_in_full_and_clear():
    made = add_legend(keypad(1), FAB, LABELS)
    assert_clear(made)
    assert {ref for ref, _ in made.references} == {p.ref for p in made.parts if p.kind is not PartKind.HOLE}
    assert "LECTURE-KEYPAD REV A" in {t.text for t in texts_of(made)}
    report = check_board(made, None, FAB)
    assert report.of("legend-clear") == ()
    assert report.of("legend-size") == ()
    assert dict(report.counts)["legend-clear items"] == len(made.legend) + len(made.references)


@settings(max_examples=12, deadline=None)
@given(st.integers(0, 10**6), st.sampled_from([52.0, 58.0, 65.0]))
def test_any_board_is_clear_even_where_parts_hang_over(seed, height):
    made = add_legend(replace(keypad(seed), outline=outline(65, height, 3)), FAB, LABELS)
    assert_clear(made)


def test_references_stand_near_their_parts():
    made = add_legend(keypad(1), FAB, LABELS)
    for ref, text in made.references:
        if made.part(ref).kind is PartKind.COMPONENT:
            assert text.at.distance(made.part(ref).placement.at) <= mm(6)
            assert text.height >= FAB.legend_height_min
            assert text.stroke >= FAB.legend_stroke_min


def test_parts_on_the_bottom_are_printed_there():
    made = add_legend(board(part("R1", CHIP, 10, 10, side=BOTTOM, p1="A", p2="B")), FAB, [])
    assert made.references[0][1].side is BOTTOM
    assert {i.side for i in made.legend} == {BOTTOM}
    assert_clear(made)


def test_a_label_stands_beside_its_pad():
    print_ = footprint("ROW", *(tht_pad(str(i), 2.54 * i, 0) for i in range(4)))
    made = board(part("J1", print_, 6, 10, kind=PartKind.CONNECTOR, p0="A", p1="B"))
    done = add_legend(
        made, FAB, [Label("CLK", "J1", "1"), Label("NONE", "J9", "1"), Label("NONE", "J1", "9")]
    )
    (text,) = [i for i in done.legend if isinstance(i, LegendText)]
    assert text.text == "CLK"
    assert abs(text.at.x - (mm(6) + mm("2.54"))) < mm("0.1")
    assert mm(1) < abs(text.at.y - mm(10)) < mm(4)
    assert text.rotation == 90.0


def test_labels_without_room_are_left_out():
    made = add_legend(board(one_pad("J1", 2, 2, "A"), shape=outline(4, 4)), FAB, LABELS)
    assert texts_of(made) == []


def test_part_printing_is_cut_off_at_pads_and_edges():
    bar = Line(PartLayer.LEGEND, point_mm(-9, 0), point_mm(9, 0), mm("0.12"))
    made = add_legend(board(part("J1", footprint("P", tht_pad("1", 0, 0), graphics=(bar,)), 5, 10)), FAB, [])
    lines = sorted(i.points for i in made.legend if isinstance(i, LegendLine))
    assert len(lines) == 2
    assert all(i.origin == "footprint" and i.stroke == mm("0.15") for i in made.legend)
    left, right = lines
    assert left[0].x == pytest.approx(mm("0.15") + mm("0.075"), abs=6_000)
    assert left[-1].x == pytest.approx(mm(5) - mm("0.85") - mm("0.05") - mm("0.15") - mm("0.075"), abs=12_000)
    assert right[-1].x == mm(14)
    assert_clear(made)


def test_filled_marks_are_filled():
    triangle = Polygon(
        PartLayer.LEGEND, (point_mm(0, 0), point_mm(1, 0), point_mm(0, 1)), mm("0.1"), filled=True
    )
    dot = Circle(PartLayer.LEGEND, point_mm(5, 5), mm("0.5"), mm("0.1"), filled=True)
    made = add_legend(board(part("R1", footprint("P", graphics=(triangle, dot)), 5, 5)), FAB, [])
    lines = [i for i in made.legend if isinstance(i, LegendLine)]
    covered = shapely.union_all([ink(line) for line in lines])
    assert covered.covers(shapely.Polygon([(5e6, 5e6), (6e6, 5e6), (5e6, 6e6)]).buffer(-1000))
    assert covered.covers(shapely.Point(10e6, 10e6).buffer(0.5e6))


def test_part_texts_are_never_upside_down_and_far_faces_print_below():
    near = Text(PartLayer.LEGEND, "L", point_mm(0, 0), mm(1), mm("0.15"))
    far = Text(PartLayer.LEGEND, "L", point_mm(0, 0), mm(1), mm("0.15"), face=Face.FAR)
    print_ = footprint("P", graphics=(near, far))
    for turn in (0.0, 180.0):
        made = add_legend(board(part("R1", print_, 10, 10, turn)), FAB, [])
        top = next(i for i in made.legend if i.side is TOP)
        assert isinstance(top, LegendLine)
        assert top.points[0].y < top.points[1].y  # the stem is drawn downwards
        assert top.points[-1].x > top.points[1].x
        assert len([i for i in made.legend if i.side is BOTTOM]) == 1


def test_a_fab_that_does_not_print_gets_nothing():
    made = add_legend(keypad(1), replace(FAB, legend=False), LABELS)
    assert made.legend == ()
    assert made.references == ()
    assert check_board(made, None, replace(FAB, legend=False)).of("legend-clear") == ()


def test_earlier_printing_is_replaced_and_the_same_again():
    once = add_legend(keypad(2), FAB, LABELS)
    assert add_legend(once, FAB, LABELS) == once


def test_holes_without_copper_are_kept_clear():
    hole = footprint("H", bare_hole(0, 0, "3.0"), graphics=(box_graphic(PartLayer.LEGEND, -1, -3, 3, 3),))
    made = add_legend(board(part("H1", hole, 10, 10, kind=PartKind.HOLE)), FAB, LABELS[:1])
    assert_clear(made)
    assert any(isinstance(i, LegendLine) for i in made.legend)
    assert made.references == ()
