"""Outlines from DXF drawings, made with ezdxf and read back."""
# ruff: noqa: E501 - messages are held whole

from __future__ import annotations

import io
import math
import re
from collections.abc import Callable
from dataclasses import replace

import ezdxf
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from shapely import Polygon

from boardgen.board.model import Outline, OutlineArc, OutlineLine, rectangle_outline
from boardgen.design.dxf import outline_from_dxf
from boardgen.design.outline import loop_points, moved_home, outline_box, outline_fault
from boardgen.errors import InputError
from boardgen.units import ZERO, Box, mm, point_mm


def drawing(draw: Callable[[object], None], units: int = 4) -> bytes:
    document = ezdxf.new(units=units)
    draw(document.modelspace())
    text = io.StringIO()
    document.write(text)
    return text.getvalue().encode()


def area_mm2(outline: Outline) -> float:
    return Polygon([(p.x.mm, p.y.mm) for p in loop_points(outline.outer)]).area


def clockwise(outline: Outline) -> bool:
    points = loop_points(outline.outer)
    pairs = zip(points, points[1:] + points[:1], strict=True)
    return sum(int(a.x) * int(b.y) - int(b.x) * int(a.y) for a, b in pairs) > 0


def follows(outline: Outline) -> bool:
    loops = (outline.outer, *outline.cutouts)
    return all(a.end == b.start for loop in loops for a, b in zip(loop, loop[1:] + loop[:1], strict=True))


def test_shuffled_lines_with_an_arc_become_one_loop() -> None:
    def draw(space) -> None:  # type: ignore[no-untyped-def]
        space.add_line((40, 0), (0, 0))
        space.add_line((0, 30), (30, 30.000004))
        space.add_line((0, 30), (0, 0))
        space.add_arc((30, 20), 10, 0, 90)
        space.add_line((40, 20), (40, 0))

    outline = moved_home(outline_from_dxf(drawing(draw), "a.dxf"))
    assert follows(outline)
    assert clockwise(outline)
    assert len(outline.outer) == 5
    box = outline_box(outline)
    assert (box.left, box.top) == (0, 0)
    assert box.width == mm(40)
    assert abs(box.height - mm(30)) <= 10
    (arc,) = (piece for piece in outline.outer if isinstance(piece, OutlineArc))
    # the rounded corner is the upper right one: y runs down, so it is near the top
    assert arc.mid.x.mm == pytest.approx(30 + 10 * math.sqrt(0.5), abs=1e-5)
    assert arc.mid.y.mm == pytest.approx(10 - 10 * math.sqrt(0.5), abs=1e-5)


def test_polyline_bulge_bends_as_the_drawing_program_bends_it() -> None:
    # a half circle of radius 10 to the right of the edge that runs up: bulge 1
    def draw(space) -> None:  # type: ignore[no-untyped-def]
        space.add_lwpolyline([(0, 0, 0), (30, 0, 1), (30, 20, 0), (0, 20, 0)], format="xyb", close=True)

    outline = outline_from_dxf(drawing(draw), "a.dxf")
    (arc,) = (piece for piece in outline.outer if isinstance(piece, OutlineArc))
    assert arc.mid == point_mm(40, -10)
    assert {arc.start, arc.end} == {point_mm(30, 0), point_mm(30, -20)}


def test_circles_are_cut_outs() -> None:
    def draw(space) -> None:  # type: ignore[no-untyped-def]
        space.add_circle((10, 10), 3)
        space.add_lwpolyline([(0, 0), (50, 0), (50, 40), (0, 40)], close=True)
        space.add_text("a note")

    outline = outline_from_dxf(drawing(draw, units=0), "a.dxf")
    assert len(outline.cutouts) == 1
    assert follows(outline)
    assert outline_fault(outline) == ""
    assert area_mm2(outline) == pytest.approx(2000)


def test_a_cut_out_outside_is_a_fault() -> None:
    def draw(space) -> None:  # type: ignore[no-untyped-def]
        space.add_circle((90, 10), 3)
        space.add_lwpolyline([(0, 0), (50, 0), (50, 40), (0, 40)], close=True)

    outline = outline_from_dxf(drawing(draw), "a.dxf")
    assert outline_fault(outline) == "cut-out 1 does not lie inside the outline"


def open_loop(space) -> None:  # type: ignore[no-untyped-def]
    space.add_lwpolyline([(0, 0), (50, 0), (50, 40)])


def branch(space) -> None:  # type: ignore[no-untyped-def]
    space.add_lwpolyline([(0, 0), (50, 0), (50, 40), (0, 40)], close=True)
    space.add_line((50, 0), (90, 0))


def spline(space) -> None:  # type: ignore[no-untyped-def]
    space.add_spline([(0, 0), (50, 0), (50, 40)])


def far(space) -> None:  # type: ignore[no-untyped-def]
    space.add_line((0, 0), (1e9, 0))


@pytest.mark.parametrize(
    ("raw", "message"),
    [
        (b"no drawing", "a.dxf: this is not a DXF drawing that can be read"),
        (b"\x00\xff" * 50, "a.dxf: this is not a DXF drawing that can be read"),
        (
            drawing(lambda space: None),
            "a.dxf: the drawing has no lines; allowed: LINE, ARC, LWPOLYLINE, CIRCLE",
        ),
        (
            drawing(open_loop, units=1),
            "a.dxf: $INSUNITS: the drawing's units must be mm; found inches",
        ),
        (drawing(open_loop), "a.dxf: the outline is open at (50.000, 40.000) mm"),
        (drawing(branch), "a.dxf: the outline branches at (50.000, 0.000) mm"),
        (
            drawing(spline),
            "a.dxf: the outline cannot hold this entity; found SPLINE; allowed: LINE, ARC, LWPOLYLINE, CIRCLE",
        ),
        (drawing(far), "a.dxf: a LINE has a size or place that is not possible"),
    ],
)
def test_what_is_wrong_is_said(raw: bytes, message: str) -> None:
    with pytest.raises(InputError) as caught:
        outline_from_dxf(raw, "a.dxf")
    assert str(caught.value) == message


def square(space) -> None:  # type: ignore[no-untyped-def]
    space.add_lwpolyline([(0, 0), (50, 0), (50, 40), (0, 40)], close=True)


GOOD = drawing(square)


@given(st.integers(0, len(GOOD) - 1), st.binary(min_size=1, max_size=8))
@settings(max_examples=60, deadline=None)
@example(12740, b"\x9b0\xef)\n")  # an assertion inside the reader
@example(12695, b"0#")
def test_a_damaged_drawing_gives_an_outline_or_an_input_error(at: int, patch: bytes) -> None:
    raw = GOOD[:at] + patch + GOOD[at + len(patch) :]
    try:
        outline, text = outline_from_dxf(raw, "a.dxf"), ""
    except InputError as error:
        outline, text = None, str(error)
    if outline is None:
        assert re.match(r"a\.dxf: ", text)
    else:
        assert follows(outline)


def test_a_loop_there_and_back_encloses_nothing():
    """Two lines over each other close, and make no area: of the outline as of a cut-out."""
    a, b = point_mm(0, 0), point_mm(50, 40)
    outline = Outline((OutlineLine(a, b), OutlineLine(b, a)))
    assert outline_fault(outline) == "the outline goes there and back: it needs three corners"
    square = rectangle_outline(Box(ZERO, ZERO, mm(50), mm(40)))
    c, d = point_mm(10, 10), point_mm(20, 20)
    slit = (OutlineLine(c, d), OutlineLine(d, c))
    fault = outline_fault(replace(square, cutouts=(slit,)))
    assert fault == "cut-out 1 goes there and back: it needs three corners"
