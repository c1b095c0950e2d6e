"""Rule ``overhang``: an edge connector that is set back from the edge its mating face must reach."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from boardkit import FAB, board, footprint, outline, part, tht_pad
from hypothesis import given
from hypothesis import strategies as st

from boardgen.board.model import Front, PartKind, Placement, Side, outline_from_ring
from boardgen.catalog.load import load_catalog
from boardgen.catalog.model import Mounting
from boardgen.errors import Severity
from boardgen.floorplan.rooms import SIT_BACK
from boardgen.layout.fronts import front_of
from boardgen.rules.check import check_board
from boardgen.rules.fronts import SET_BACK
from boardgen.units import Nm, Point, mm, point_mm

JACK = footprint("JACK", tht_pad("1", -2, -3), tht_pad("2", 2, -3))
FRONT = Front(mm(4), mm(-6), mm(6))
UM = Nm(1000)
TURNS = ((0.0, 0, 1), (90.0, 1, 0), (180.0, 0, -1), (270.0, -1, 0))


def jack(at: Point, rotation: float = 0.0, side: Side = Side.TOP, front: Front | None = FRONT):
    made = part("J1", JACK, 0, 0, kind=PartKind.CONNECTOR)
    return replace(made, placement=Placement(at, rotation, side), front=front)


def told(made):
    return check_board(made, None, FAB).of("overhang")


def at_edge(back: int, rotation: float, ux: int, uy: int):
    """A board of 40 by 40 mm whose connector, in the middle of an edge, stands *back* nm too far in."""
    reach = mm(20) - int(FRONT.edge) - back
    return board(
        jack(Point(mm(20) + Nm(ux * reach), mm(20) + Nm(uy * reach)), rotation), shape=outline(40, 40)
    )


@pytest.mark.parametrize(("rotation", "ux", "uy"), TURNS)
def test_a_connector_is_told_from_one_um_beyond_the_limit(rotation, ux, uy):
    assert told(at_edge(0, rotation, ux, uy)) == ()
    assert told(at_edge(SET_BACK, rotation, ux, uy)) == ()
    assert told(at_edge(SET_BACK - UM, rotation, ux, uy)) == ()
    (found,) = told(at_edge(SET_BACK + UM, rotation, ux, uy))
    assert (found.severity, found.measured, found.limit) == (Severity.ERROR, SET_BACK + UM, SET_BACK)
    assert (found.items, found.layer) == (("J1", "board edge"), "profile")
    reach = mm(20) - SET_BACK - UM
    assert found.at == Point(mm(20) + Nm(ux * reach), mm(20) + Nm(uy * reach))
    assert found.message == (
        "J1 stands 0.201 mm back from the edge that its mating face must reach, more than 0.2 mm: "
        "the plug meets the board"
    )


def test_a_mating_face_past_the_edge_is_what_it_should_be():
    assert told(at_edge(-mm(3), 0.0, 0, 1)) == ()


def test_a_connector_below_the_board_looks_out_of_the_other_edge():
    """Turned over about its x axis, its front is up."""
    below = jack(Point(mm(20), mm(4)), 0.0, Side.BOTTOM)
    assert told(board(below, shape=outline(40, 40))) == ()
    back = jack(Point(mm(20), mm("4.201")), 0.0, Side.BOTTOM)
    assert [f.measured for f in told(board(back, shape=outline(40, 40)))] == [SET_BACK + UM]


def test_a_connector_the_wrong_way_round_looks_into_the_board():
    wrong = jack(Point(mm(20), mm(36)), 180.0)
    (found,) = told(board(wrong, shape=outline(40, 40)))
    assert found.measured == mm(30)  # no farther is looked


def test_board_beside_the_plug_does_not_count_and_board_before_it_does():
    def notched(left: float, right: float):
        """A board with two arms 20 mm long beside a notch from *left* to *right*."""
        corners = ((0, 0), (60, 0), (60, 60), (right, 60), (right, 40), (left, 40), (left, 60), (0, 60))
        return outline_from_ring(tuple(point_mm(x, y) for x, y in corners))

    here = jack(point_mm(30, 36))
    assert told(board(here, shape=notched(24, 36))) == ()
    (found,) = told(board(here, shape=notched("24.001", 36)))
    assert found.measured == mm(20)


def test_a_slanted_connector_is_measured_along_its_own_axis():
    """A square standing on its corner; the connector at the middle of a side."""
    half = 20 * math.sqrt(2)
    diamond = outline_from_ring(
        tuple(point_mm(x, y) for x, y in ((half, 0), (2 * half, half), (half, 2 * half), (0, half)))
    )
    for back, count in ((0.199, 0), (0.201, 1)):
        away = (20 - 4 - back) / math.sqrt(2)
        at = point_mm(round(half + away, 6), round(half + away, 6))
        found = told(board(jack(at, 45.0), shape=diamond))
        assert len(found) == count
        assert all(abs(f.measured - mm(str(back))) <= 3 for f in found)


def test_upright_connectors_and_panels_are_left_alone():
    inside = board(jack(point_mm(20, 20), front=None), shape=outline(40, 40))
    assert told(inside) == ()
    assert len(told(replace(inside, parts=(jack(point_mm(20, 20)),)))) == 1


@given(st.integers(-1_000, 3_000_000), st.sampled_from(TURNS), st.integers(100, 5_900), st.integers(-10, 10))
def test_how_far_is_measured_as_by_hand(back, turn, half_um, shift):
    rotation, ux, uy = turn
    front = Front(mm(4), Nm(-half_um * 1000 + shift * 1000), Nm(half_um * 1000 + shift * 1000))
    reach = mm(20) - int(front.edge) - back
    at = Point(mm(20) + Nm(ux * reach), mm(20) + Nm(uy * reach))
    found = told(board(jack(at, rotation, front=front), shape=outline(40, 40)))
    assert [f.measured for f in found] == ([back] if back > SET_BACK + 2 else [])


CONNECTORS = load_catalog().connectors


@pytest.mark.parametrize("name", sorted(CONNECTORS))
def test_every_edge_connector_of_the_catalogue_has_a_front_by_its_entry(name):
    entry = CONNECTORS[name]
    front = front_of(entry)
    if entry.mounting is Mounting.STRAIGHT:
        assert front is None
        return
    assert front is not None
    assert front.edge == entry.edge
    width = front.right - front.left
    assert max(entry.mate.w, entry.body.width) - 1 <= width <= max(entry.mate.w, entry.body.width)
    assert entry.body.bottom >= front.edge  # the body reaches the edge: a plug could go home


def test_the_floorplan_sits_back_no_farther_than_the_rule_allows():
    assert SIT_BACK <= SET_BACK
