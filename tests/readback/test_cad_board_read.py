"""Each demo's exported board read back gives the board it was written from, and no finding."""

from __future__ import annotations

import math

import pytest
import shapely
from cad_kit import DEMOS, findings, intent, model_in_file, read

from boardgen.board.geometry import outline_polygon, pad_shape, piece_polygon


@pytest.mark.parametrize("name", DEMOS)
def test_no_finding_on_what_was_written(name):
    assert findings(name) == []


@pytest.mark.parametrize("name", DEMOS)
def test_copper_and_nets_are_the_models(name):
    board, model = read(name).board, model_in_file(name)
    assert board.tracks == model.tracks
    assert board.vias == model.vias
    joined = {net for part in model.parts for _, net in part.nets}
    assert {net.name for net in board.nets} == {net.name for net in model.nets} == joined
    assert board.outline == model.outline
    assert board.keepouts == model.keepouts
    assert board.copper == model.copper
    assert {net.name: net.kind for net in board.nets} == {net.name: net.kind for net in model.nets}


@pytest.mark.parametrize("name", DEMOS)
def test_parts_and_pads_are_the_models(name):
    board, model = read(name).board, model_in_file(name)
    assert sorted(p.ref for p in board.parts) == sorted(p.ref for p in model.parts)
    for wanted in model.parts:
        part = board.part(wanted.ref)
        assert (part.placement, part.value, part.kind) == (wanted.placement, wanted.value, wanted.kind)
        assert part.footprint.pads == wanted.footprint.pads
        assert part.nets == wanted.nets
        for own, other in zip(part.footprint.pads, wanted.footprint.pads, strict=True):
            assert pad_shape(part, own) == pad_shape(wanted, other)


@pytest.mark.parametrize("name", DEMOS)
def test_pours_enclose_the_same_copper(name):
    board, model = read(name).board, model_in_file(name)
    assert len(board.pours) == len(model.pours)
    for pour, wanted in zip(board.pours, model.pours, strict=True):
        assert (pour.net, pour.side, pour.area) == (wanted.net, wanted.side, wanted.area)
        assert (pour.spacing, pour.min_width) == (wanted.spacing, wanted.min_width)
        assert (pour.thermal_gap, pour.spoke_width) == (wanted.thermal_gap, wanted.spoke_width)
        assert len(pour.pieces) == len(wanted.pieces)
        have = shapely.union_all([piece_polygon(p) for p in pour.pieces])
        want = shapely.union_all([piece_polygon(p) for p in wanted.pieces])
        # bridges meet the rings on whole nm: a sliver of at most 1 nm along an edge
        assert have.symmetric_difference(want).area < 2.0 * want.length


@pytest.mark.parametrize("name", DEMOS)
def test_the_printing_is_where_the_model_has_it(name):
    board, model = read(name).board, model_in_file(name)
    assert dict(board.references) == dict(model.references)
    mine = {t for t in board.legend if t.origin == "board" and hasattr(t, "text")}
    assert mine == {t for t in model.legend if t.origin == "board" and hasattr(t, "text")}


@pytest.mark.parametrize("name", DEMOS)
def test_the_outline_stands_where_the_origin_says(name):
    read_board, wanted = read(name), intent(name)
    left, _top, _right, bottom = outline_polygon(read_board.board.outline).bounds
    assert read_board.origin is not None
    assert math.dist(read_board.origin, (left, bottom)) < 1
    assert read_board.locked == ()
    assert wanted.outline is not None
