"""Pours are compared outline by outline: what differs by more than rounding is told, with its place."""

from __future__ import annotations

import re

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from runkit import examined, path_of

from boardgen.board.geometry import Shape
from boardgen.board.model import Side
from boardgen.readback.fills import check_fills, fills_apart, pairs_of_fills
from boardgen.readback.model import SAME, FabLayer, Fill, Kind, Role, Thing

MM = 1_000_000
PLATE = shapely.Polygon([(0, 0), (60 * MM, 0), (60 * MM, 40 * MM), (0, 40 * MM)])
HOLED = PLATE.difference(shapely.box(20 * MM, 10 * MM, 25 * MM, 15 * MM))


def layer(*areas):
    things = tuple(Thing(Kind.AREA, (Shape(area, 0.0),)) for area in areas)
    return FabLayer("x.GBL", Role.COPPER, Side.BOTTOM, things)


def corner_moved(by_x, by_y, ring=PLATE):
    corners = list(ring.exterior.coords[:-1])
    which = corners.index((60 * MM, 40 * MM))
    corners[which] = (60 * MM + by_x, 40 * MM + by_y)
    return shapely.Polygon(corners, [hole.coords for hole in ring.interiors])


def test_the_same_outline_begun_at_another_corner_and_run_the_other_way_agrees():
    coords = list(HOLED.exterior.coords[:-1])
    turned = shapely.Polygon([*coords[2:], *coords[:2]][::-1], [h.coords[::-1] for h in HOLED.interiors])
    assert fills_apart(HOLED, turned) is None
    found, agreed = check_fills(layer(turned), [Fill(Side.BOTTOM, "GND", HOLED)], "board")
    assert (found, agreed) == ([], 1)


def test_a_corner_more_on_an_edge_is_no_difference():
    more = shapely.segmentize(HOLED, 3 * MM)
    assert fills_apart(HOLED, more) is None


@pytest.mark.parametrize("by", [(100_000, 100_000), (-1_000, -1_000), (0, 1_000)])
def test_a_corner_moved_is_told_where_it_stands(by):
    apart = fills_apart(HOLED, corner_moved(*by, HOLED))
    assert apart is not None
    assert shapely.Point(apart.at).distance(shapely.Point(60 * MM, 40 * MM)) <= 150_000
    assert 0.6 * max(map(abs, by)) <= apart.off <= 1.5 * max(map(abs, by))


def test_a_fault_that_leaves_the_area_as_it_was_is_told():
    moved = shapely.Polygon(PLATE.exterior.coords, [shapely.box(21 * MM, 10 * MM, 26 * MM, 15 * MM).exterior])
    assert moved.area == HOLED.area
    found, agreed = check_fills(layer(moved), [Fill(Side.BOTTOM, "GND", HOLED)], "board")
    assert agreed == 0
    assert [f.rule for f in found] == ["readback-copper"]
    assert "the pour of GND on the bottom copper has an outline 1.0000 mm off" in found[0].message
    assert "1 more place" in found[0].message


def test_pieces_of_one_size_are_known_by_their_place():
    squares = [shapely.box(x * MM, 0, (x + 2) * MM, 2 * MM) for x in (0, 10, 20)]
    pairs, missing, extra = pairs_of_fills(squares, squares[::-1])
    assert (pairs, missing, extra) == ([(0, 2), (1, 1), (2, 0)], [], [])


def test_a_piece_missing_and_one_too_many_are_told_apart():
    squares = [shapely.box(x * MM, 0, (x + 2) * MM, 2 * MM) for x in (0, 10, 20)]
    wanted = [Fill(Side.BOTTOM, "GND", s) for s in squares[:2]]
    found, agreed = check_fills(layer(squares[0], squares[2]), wanted, "board")
    assert agreed == 1
    assert sorted(f.message for f in found) == [
        "x.GBL: a filled area of 4.000 mm2 on the bottom copper that the board has not",
        "x.GBL: a pour of GND of 4.000 mm2 of the board is missing on the bottom copper",
    ]
    assert all(f.at is not None for f in found)


def test_strips_no_wider_than_rounding_pass():
    assert fills_apart(HOLED, corner_moved(3, 3, HOLED)) is None
    assert fills_apart(PLATE, shapely.box(0, 0, 60 * MM + SAME - 1, 40 * MM)) is None
    assert fills_apart(PLATE, shapely.box(0, 0, 60 * MM + SAME + 2, 40 * MM)) is not None


@given(st.integers(0, 5), st.integers(-200_000, 200_000), st.integers(-200_000, 200_000), st.integers(4, 40))
def test_told_just_where_the_outlines_part_by_more_than_rounding(which, dx, dy, sides):
    """Against an oracle of its own: how far the corner stands off the line, and back."""
    ring = shapely.Point(0, 0).buffer(20 * MM, quad_segs=sides).simplify(0)
    corners = [(round(x), round(y)) for x, y in ring.exterior.coords[:-1]]
    a = shapely.Polygon(corners)
    corners[which] = (corners[which][0] + dx, corners[which][1] + dy)
    b = shapely.Polygon(corners)
    off = float(shapely.hausdorff_distance(a.exterior, b.exterior))
    apart = fills_apart(a, b)
    if off > 3 * SAME:
        assert apart is not None
        assert apart.off == pytest.approx(off, rel=0.2, abs=SAME)
    elif off < SAME / 2:
        assert apart is None


def with_corner_moved(ending, pattern, new):
    def change(files):
        path = path_of(files, ending)
        text = files[path].decode()
        corner = re.compile(pattern).search(text)
        assert corner is not None
        start, end = corner.span(1)
        files[path] = (text[:start] + new(corner) + text[end:]).encode()

    return change


@pytest.mark.parametrize(
    ("ending", "pattern", "new"),
    [
        (".GBL", r"G36\*\n[^%]*?(X(\d+)Y(\d+)D01)", lambda m: f"X{int(m[2]) + 20_000}Y{m[3]}D01"),
        (
            ".kicad_pcb",
            r"\(filled_polygon[^()]*\(layer[^()]*\)\s*\(pts\s*(\(xy (\S+) (\S+)\))",
            lambda m: f"(xy {float(m[2]) - 0.02:.6f} {m[3]})",
        ),
    ],
)
def test_a_corner_in_a_file_that_stands_20_um_off_is_told(ending, pattern, new):
    assert examined("lecture-keypad").findings == ()
    found = examined("lecture-keypad", with_corner_moved(ending, pattern, new)).findings
    assert [f.rule for f in found] == ["readback-copper"]
    assert found[0].items[-1].endswith(ending)
    assert "has an outline 0.0" in found[0].message
    assert found[0].at is not None
