"""Gerber layers, read back by a reader that shares no code with the writer."""

from __future__ import annotations

import re

import pytest
import shapely
from fabkit import difference_area, flipped, odd_bundle, read_area

from boardgen.board.geometry import (
    hole_shape,
    outline_polygon,
    pad_shape,
    piece_polygon,
    sides_of,
    track_shape,
    via_shape,
)
from boardgen.board.model import Side
from boardgen.board.strokes import text_strokes
from boardgen.export.frame import attribute_text
from boardgen.export.gerber import gerber_files
from boardgen.footprint.model import PadKind

HEIGHT = 30.0


@pytest.fixture(scope="module")
def bundle():
    return odd_bundle()


@pytest.fixture(scope="module")
def layers(bundle):
    return {file.path.rsplit(".", 1)[1]: file.data for file in gerber_files(bundle)}


def model_copper(board, side):
    shapes = [piece_polygon(p) for q in board.pours if q.side is side for p in q.pieces]
    shapes += [track_shape(t).polygon() for t in board.tracks if t.side is side]
    shapes += [via_shape(v).polygon() for v in board.vias]
    for part in board.parts:
        for pad in part.footprint.pads:
            if side in sides_of(part, pad, board.copper):
                shapes.append(pad_shape(part, pad).polygon())
    return flipped(shapely.union_all(shapes), HEIGHT)


@pytest.mark.parametrize(("ending", "side"), [("GTL", Side.TOP), ("GBL", Side.BOTTOM)])
def test_copper_read_back_covers_what_the_model_covers(bundle, layers, ending, side):
    """Both areas agree but for the chords of circles."""
    ours = model_copper(bundle.board, side)
    assert ours.area > 20
    assert difference_area(read_area(layers[ending]), ours) < 1e-4


def test_a_missing_pad_would_be_noticed(bundle, layers):
    """The comparison above can fail: one flash less is far over its limit."""
    text = layers["GTL"].decode()
    cut = re.sub(r"X\d+Y\d+D03\*\n", "", text, count=1)
    assert cut != text
    assert difference_area(read_area(cut.encode()), model_copper(bundle.board, Side.TOP)) > 0.1


@pytest.mark.parametrize(("ending", "side"), [("GTS", Side.TOP), ("GBS", Side.BOTTOM)])
def test_mask_openings_are_pads_and_bare_holes_grown_by_the_margin(bundle, layers, ending, side):
    board, margin = bundle.board, bundle.bound.fab.mask_margin
    shapes = []
    for part in board.parts:
        for pad in part.footprint.pads:
            if pad.kind is PadKind.UNPLATED:
                shapes.append(hole_shape(part, pad).polygon(margin))
            elif side in sides_of(part, pad, board.copper):
                shapes.append(pad_shape(part, pad).polygon(margin))
    ours = flipped(shapely.union_all(shapes), HEIGHT)
    assert difference_area(read_area(layers[ending]), ours) < 1e-4


def test_paste_is_on_the_flat_pads_of_its_side_only(bundle, layers):
    board = bundle.board
    shapes = [
        pad_shape(part, pad).polygon()
        for part in board.parts
        for pad in part.footprint.pads
        if pad.kind is PadKind.SURFACE and Side.TOP in sides_of(part, pad, board.copper)
    ]
    assert len(shapes) == 5
    assert difference_area(read_area(layers["GTP"]), flipped(shapely.union_all(shapes), HEIGHT)) < 1e-4


def test_profile_is_one_closed_loop_on_the_outline(bundle, layers):
    read = read_area(layers["GKO"])
    outline = flipped(outline_polygon(bundle.board.outline, 100.0), HEIGHT)
    stroke = outline.exterior.buffer(0.05, quad_segs=32)
    assert difference_area(read, stroke) < 1e-4
    assert len(shapely.get_parts(read)) == 1
    assert read.boundary.geom_type == "MultiLineString"  # an outer and an inner edge: closed


def test_bottom_legend_is_mirrored(bundle, layers):
    text = bundle.board.legend[1]
    lines = text_strokes(text.text, text.at, text.height, text.stroke, text.rotation, True)
    ours = shapely.union_all([shapely.LineString(line).buffer(text.stroke / 2) for line in lines])
    assert difference_area(read_area(layers["GBO"]), flipped(ours, HEIGHT)) < 1e-4
    straight = text_strokes(text.text, text.at, text.height, text.stroke, text.rotation, False)
    wrong = shapely.union_all([shapely.LineString(line).buffer(text.stroke / 2) for line in straight])
    assert difference_area(read_area(layers["GBO"]), flipped(wrong, HEIGHT)) > 0.05


def test_x2_attributes_name_function_polarity_and_pads(layers):
    text = layers["GTL"].decode("ascii")
    assert "%TF.FileFunction,Copper,L1,Top*%" in text
    assert "%TF.FilePolarity,Positive*%" in text
    assert "%TF.FileFunction,Soldermask,Bot*%" in layers["GBS"].decode("ascii")
    assert "%TF.FilePolarity,Negative*%" in layers["GBS"].decode("ascii")
    assert "%TF.FileFunction,Profile,NP*%" in layers["GKO"].decode("ascii")
    assert "%TO.P,X1,2*%" in text
    assert "%TO.N,SIGNAL_WITH_A_LONG_NAME*%" in text
    assert "%TA.AperFunction,ViaPad*%" in text
    assert "CreationDate" not in text


def test_every_layer_shares_one_origin(layers):
    idents = {re.search(r"SameCoordinates,([0-9a-f]+)\*", d.decode()).group(1) for d in layers.values()}
    assert len(idents) == 1
    for data in layers.values():
        left, bottom, right, top = read_area(data).bounds
        assert left >= -0.06
        assert bottom >= -0.06
        assert right <= 40.06
        assert top <= HEIGHT + 0.06


def test_one_sided_board_has_no_top_layers():
    bundle = odd_bundle(copper=(Side.BOTTOM,), plated=False, tracks=(), vias=(), pours=(), legend=())
    endings = [file.path.rsplit(".", 1)[1] for file in gerber_files(bundle)]
    assert endings == ["GBL", "GBS", "GBP", "GKO"]
    first = gerber_files(bundle)[0].data.decode()
    assert "%TF.FileFunction,Copper,L1,Bot*%" in first


@pytest.mark.parametrize(
    ("raw", "written"),
    [
        ("plain", "plain"),
        ("50 %*", "50 \\u0025\\u002A"),
        ("a,b\\c", "a\\u002Cb\\u005Cc"),
        ("ohm Ω", "ohm \\u03A9"),
        ("\n%M02*", "\\u000A\\u0025M02\\u002A"),
    ],
)
def test_attribute_text_cannot_break_out_of_its_field(raw, written):
    assert attribute_text(raw) == written
