"""Mounting holes stand in line where a small step inward does it, and never on a part for it."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from boardgen.design.model import HoleWish
from boardgen.floorplan.holes import corner_places, hole_fits
from boardgen.floorplan.region import Region
from boardgen.units import ZERO, Box, Size, mm

WISH = HoleWish(mm("3.2"))
BOARD = Size(mm(60), mm(50))


def region() -> Region:
    return Region(BOARD)


def test_a_hole_pushed_aside_takes_its_neighbour_along():
    body = Box(ZERO, mm(40), mm("1.8"), mm(50))  # pushes the lower left hole to the right
    places = corner_places(region(), WISH, [body])
    assert places is not None
    top_left, bottom_right, top_right, bottom_left = places
    assert top_left.x == bottom_left.x > mm(3.54)
    assert top_right.x == bottom_right.x
    assert top_left.y == top_right.y
    assert bottom_left.y == bottom_right.y


def test_a_hole_far_out_of_line_is_left_where_it_is():
    body = Box(ZERO, mm(40), mm(12), mm(50))
    places = corner_places(region(), WISH, [body])
    assert places is not None
    assert places[0].x < mm(4)


boxes = st.tuples(st.integers(0, 55), st.integers(0, 45), st.integers(1, 12), st.integers(1, 12)).map(
    lambda b: Box(mm(b[0]), mm(b[1]), mm(min(60, b[0] + b[2])), mm(min(50, b[1] + b[3])))
)


@given(st.lists(boxes, max_size=5))
def test_every_hole_keeps_clear_of_parts_and_of_the_others(taken):
    places = corner_places(region(), WISH, taken)
    for k, at in enumerate(places or ()):
        others = [*places[:k], *places[k + 1 :]]
        assert hole_fits(region(), WISH, at, taken, others)
