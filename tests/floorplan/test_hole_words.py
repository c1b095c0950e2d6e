"""The report says how many mounting holes there are and why one stands off its corner."""

from __future__ import annotations

import floor_inputs as made
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boardgen.design.model import HoleWish, OutlineKind, OutlineWish
from boardgen.floorplan.frame import Turn
from boardgen.floorplan.holes import corner_places
from boardgen.floorplan.holewords import corners_of, hole_words
from boardgen.floorplan.plan import plan_floor
from boardgen.floorplan.region import Region
from boardgen.units import Box, Point, Size, mm

BOARD = Size(mm(60), mm(50))


def words(count: int, parts=(), quarters: int = 0, at=None) -> str:
    wish = HoleWish(mm("3.2"), at, count)
    region = Region(BOARD)
    places = at or corner_places(region, wish, [box for _, box in parts])
    assert places is not None
    return hole_words(region, Turn(quarters, BOARD), wish, places, parts)


@pytest.mark.parametrize(
    ("count", "said"),
    [
        (1, "One mounting hole of 3.2 mm, as many as the design asks for (4 are usual), stands in a corner."),
        (
            2,
            "Two mounting holes of 3.2 mm, as many as the design asks for (4 are usual), "
            "stand in opposite corners.",
        ),
        (
            3,
            "Three mounting holes of 3.2 mm, as many as the design asks for (4 are usual), stand in corners.",
        ),
        (4, "Four mounting holes of 3.2 mm stand in the corners."),
    ],
)
def test_fewer_than_four_are_what_the_design_asks_for(count, said):
    assert words(count) == said


def test_places_of_the_design_s_own_need_no_reason():
    at = (Point(mm(20), mm(20)), Point(mm(30), mm(20)))
    assert words(2, at=at) == "Two mounting holes of 3.2 mm stand where the design puts them."


@pytest.mark.parametrize(
    ("quarters", "corner"), [(0, "bottom right"), (1, "top right"), (2, "top left"), (3, "bottom left")]
)
def test_what_takes_a_corner_is_named(quarters, corner):
    parts = [
        ("module", Box(mm(20), mm(5), mm(40), mm(25))),
        ("connector", Box(mm(45), mm(35), mm(60), mm(50))),
    ]
    # the head of 6.08 mm stands left of the connector: 45 - 3.04, up to 0.5 mm more for the step
    assert words(4, parts, quarters).startswith("Four mounting holes of 3.2 mm stand in the corners; ")
    assert words(4, parts, quarters).endswith(
        f"the one at the {corner} is 14.5 mm along the edge, since the connector takes its corner."
    )


@given(st.integers(0, 3), st.integers(0, 59), st.integers(0, 49), st.integers(1, 15), st.integers(1, 15))
def test_a_hole_is_said_to_be_off_where_it_is(quarters, x, y, w, h):
    box = Box(mm(x), mm(y), mm(min(60, x + w)), mm(min(50, y + h)))
    wish, region = HoleWish(mm("3.2")), Region(BOARD)
    places = corner_places(region, wish, [box])
    if places is None:
        return
    text = hole_words(region, Turn(quarters, BOARD), wish, places, [("module", box)])
    inset = int(mm("3.04") + mm("0.5"))
    ends = ((inset, inset), (60_000_000 - inset, 50_000_000 - inset), (60_000_000 - inset, inset),
            (inset, 50_000_000 - inset))  # fmt: skip
    off = [abs(p.x - a) + abs(p.y - b) for p, (a, b) in zip(places, ends, strict=True)]
    assert text.count("the one at the") == sum(d > 2_000_000 for d in off)
    assert [(int(p.x), int(p.y)) for p in corners_of(region, wish)] == list(ends)


def test_the_floorplan_s_words_tell_of_the_holes():
    module, module_print = made.row_module()
    connector, connector_print = made.d_connector()
    wish = HoleWish(mm("3.2"), count=2)
    size = OutlineWish(OutlineKind.SIZE, mm(90), mm(70))
    bound = made.bound_of(module, connector, outline=size, holes=wish)
    found = plan_floor(bound, made.plan_of(connector), made.prints_of(module_print, connector_print))
    assert found
    assert all("Two mounting holes of 3.2 mm, as many as the design asks for" in p.words for p in found)
