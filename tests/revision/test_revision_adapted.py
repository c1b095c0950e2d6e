"""The words of what could only be adapted: cut-back tracks, another outline, other holes, barred areas."""

from __future__ import annotations

from dataclasses import replace

import pytest
import revision_kit as kit

from boardgen.board.model import Keepout, Side, Track, rectangle_outline
from boardgen.catalog.load import load_catalog
from boardgen.design.load import load_design
from boardgen.design.model import LockedTrack, Stays
from boardgen.layout.history import carried_keepouts, carried_outline, carried_tracks
from boardgen.pipeline import build, choose_module
from boardgen.units import ZERO, Box, Point, mm


def _at(x, y):
    return Point(mm(x), mm(y))


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    catalog = load_catalog(())
    folder = kit.write_design(tmp_path_factory.mktemp("adapted"))
    return build(choose_module(load_design(folder), catalog), catalog)


def _asked(built, **said):
    bound = built.bundle.bound
    return replace(bound, design=replace(bound.design, **said)), built.bundle.board


def test_a_track_cut_back_says_how_much_of_it_stays(built):
    wish = LockedTrack("CUT", Side.TOP, mm(0.25), (_at(20, 10), _at(24, 10), _at(24, 13)))
    bound, board = _asked(built, tracks=(wish,))
    legs = (Track("CUT", Side.TOP, _at(20, 10), _at(24, 10), mm(0.25)),)
    cut = (*legs, Track("CUT", Side.TOP, _at(24, 10), _at(24, 11), mm(0.25)))
    for tracks, left in ((legs, "4.00"), (cut, "5.00")):
        (row,) = carried_tracks(bound, board.with_copper(tracks=tracks))
        assert (row.verdict, row.reason) == (
            "adapted",
            f"{left} of 7.00 mm stay: the rest would end in nothing",
        )


def test_an_outline_that_did_not_come_out_clean_says_what_was_wrong(built):
    small = rectangle_outline(Box(ZERO, ZERO, mm(20), mm(20)))
    bound, board = _asked(built, stays=Stays("A", small))
    (row,) = carried_outline(bound, board, "U1 and J1 overlap by 1 mm")
    assert (row.thing, row.verdict) == ("outline", "adapted")
    assert row.reason == "no board of that outline came out clean: U1 and J1 overlap by 1 mm"
    bound, board = _asked(built, stays=Stays("A", board.outline))
    (row,) = carried_outline(bound, board)
    assert (row.verdict, row.reason) == ("kept", "")


def test_holes_are_held_to_place_and_width(built):
    holes = tuple(part.placement.at for part in built.bundle.board.parts if part.ref.startswith("H"))
    assert holes
    for widths, verdict in (
        ((), "kept"),
        ((mm(3.2),) * len(holes), "kept"),
        ((mm(4),) * len(holes), "adapted"),
    ):
        bound, board = _asked(built, stays=Stays("A", None, holes, hole_diameters=widths))
        (row,) = carried_outline(bound, board)
        assert row.verdict == verdict
    bound, board = _asked(built, stays=Stays("A", None, (_at(1, 1),)), holes=None)
    (row,) = carried_outline(bound, board)
    assert row.reason == "no board with holes at 1.000, 1.000 mm came out clean"


def test_an_area_that_is_not_left_free_is_impossible(built):
    area = Keepout((_at(1, 1), _at(2, 1), _at(2, 2)), "antenna wire")
    bound, board = _asked(built, keepouts=(area,))
    (row,) = carried_keepouts(bound, board, "a track is there")
    assert (row.verdict, row.reason) == (
        "impossible",
        "no board that leaves it free came out clean: a track is there",
    )
    (row,) = carried_keepouts(bound, replace(board, keepouts=(area,)))
    assert row.verdict == "kept"
