"""Drawings say what the board is: views, figures, charts; and any text is safe in them."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest
from demos import DEMOS
from shapely import Polygon, box
from shapely.geometry import LineString

from boardgen.board.geometry import outline_polygon
from boardgen.export.board_view import board_art
from boardgen.export.bringup import continuity_sheet, neighbour_pairs
from boardgen.export.connector_views import connector_sheet
from boardgen.export.drawings import drawing_files, drawing_sheets, fabrication_sheet
from boardgen.export.holes import board_holes
from boardgen.export.report import report_file
from boardgen.export.sheet import Sheet, TextMark, hatch_lines
from boardgen.export.sheet_pdf import sheets_pdf
from boardgen.export.sheet_svg import sheet_svg
from boardgen.units import format_mm


def texts(sheet):
    return [mark for mark in sheet.marks if isinstance(mark, TextMark)]


def view_of(sheet, title, numbers):
    """Places of the contact numbers below the heading that starts with *title*."""
    heads = sorted((t.at[1], t.text) for t in texts(sheet) if t.text.isupper() or "(" in t.text)
    top = next(y for y, text in heads if text.startswith(title))
    below = [y for y, text in heads if y > top and text.split(" ")[0] in ("COMPONENT", "SOLDER")]
    end = min(below, default=190.0)
    return {
        t.text: t.at
        for t in texts(sheet)
        if t.anchor == "middle" and t.text in numbers and top < t.at[1] < end and t.at[0] < 195
    }


@pytest.mark.parametrize("name", DEMOS)
def test_solder_side_mirrors_the_component_side(built, name):
    bundle = built(name).bundle
    sheet = connector_sheet(bundle)
    numbers = set(bundle.bound.connector.numbers())
    component, solder = view_of(sheet, "COMPONENT", numbers), view_of(sheet, "SOLDER", numbers)
    assert set(component) == set(solder) == numbers
    middle = {round(component[n][0] + solder[n][0], 6) for n in numbers}
    assert len(middle) == 1
    gap = {round(solder[n][1] - component[n][1], 6) for n in numbers}
    assert len(gap) == 1


def test_mating_face_of_the_25_way_socket_is_as_in_the_standard(built):
    """Contact 1 top right, numbers falling to the left; 14 to 25 below (DIN 41652, socket)."""
    bundle = built("lecture-keypad").bundle
    face = view_of(connector_sheet(bundle), "MATING", set(bundle.bound.connector.numbers()))
    top = sorted((face[str(n)] for n in range(1, 14)), reverse=True)
    assert [face[str(n)] for n in range(1, 14)] == top
    assert len({y for _x, y in top}) == 1
    low = [face[str(n)] for n in range(14, 26)]
    assert low == sorted(low, reverse=True)
    assert low[0][1] > top[0][1]
    assert top[1][0] < low[0][0] < top[0][0]


@pytest.mark.parametrize("name", DEMOS)
def test_fabrication_drawing_gives_size_and_every_hole(built, name):
    bundle = built(name).bundle
    written = [t.text for t in texts(fabrication_sheet(bundle, board_art(bundle.board)))]
    left, top, right, bottom = (round(v) for v in outline_polygon(bundle.board.outline).bounds)
    assert format_mm(right - left, 2) in written
    assert format_mm(bottom - top, 2) in written
    counts = [int(t.split(" ")[0]) for t in written if t.endswith(" off")]
    assert sum(counts) == len(board_holes(bundle.board))
    assert "datum 0, 0" in written


@pytest.mark.parametrize("name", DEMOS)
def test_no_text_leaves_the_page(built, name):
    for stem, sheet in drawing_sheets(built(name).bundle):
        for mark in texts(sheet):
            wide = 0.62 * mark.size * len(mark.text)
            start = {"start": 0.0, "middle": wide / 2, "end": wide}[mark.anchor]
            if not mark.turn:
                assert mark.at[0] - start >= 0, (stem, mark.text)
                assert mark.at[0] - start + wide <= sheet.width + 6, (stem, mark.text)
            assert 0 <= mark.at[1] <= sheet.height, (stem, mark.text)


def test_each_drawing_is_well_formed_and_the_pdf_has_a_page_for_each(built):
    bundle = built("pointer-handset").bundle
    sheets = drawing_sheets(bundle)
    files = {f.path: f.data for f in drawing_files(bundle, sheets)}
    for path, data in files.items():
        if path.endswith(".svg"):
            assert ET.fromstring(data).tag.endswith("svg")
    assert files["assembly/drawings.pdf"].count(b"/Type /Page\n") == len(sheets) - 1
    again = {f.path: f.data for f in drawing_files(bundle, drawing_sheets(bundle))}
    assert again == files


HOSTILE = '<script>alert("x")</script> & ]]> \u202e end'


def test_words_of_a_file_stay_words_in_every_page(built):
    done = built("lecture-keypad")
    bundle = replace(done.bundle, board=replace(done.bundle.board, title=HOSTILE))
    sheets = drawing_sheets(bundle)
    page = report_file(bundle, done.routing, done.checks, sheets, [("Note",), (HOSTILE,)]).data.decode()
    assert "<script>" not in page
    assert "&lt;script&gt;" in page
    for _stem, sheet in sheets:
        tree = ET.fromstring(sheet_svg(sheet))
        assert not [e for e in tree.iter() if e.tag.endswith("script")]


def test_hatch_stays_inside_and_fills():
    area = Polygon([(0, 0), (20, 0), (20, 10), (0, 10)], [[(5, 2), (15, 2), (15, 8), (5, 8)]])
    lines = hatch_lines(area, 45, 1.0)
    assert len(lines) > 20
    for line in lines:
        assert area.buffer(0.01).covers(LineString(line))
    total = sum(LineString(line).length for line in lines)
    assert total == pytest.approx(area.area / 1.0, rel=0.05)
    assert hatch_lines(Polygon(), 45, 1.0) == ()
    assert hatch_lines(box(0, 0, 1e-3, 1e-3), 45, 1.0) in ((), hatch_lines(box(0, 0, 1e-3, 1e-3), 45, 1.0))


def test_a_page_with_one_point_and_odd_letters_prints():
    sheet = Sheet("odd", 50, 50)
    sheet.line((10, 10), stroke="#000000", width=1)
    sheet.text(5, 20, "ohm \u03a9 \u202e (\\)", 3)
    assert sheets_pdf([sheet], "odd").startswith(b"%PDF-")
    assert ET.fromstring(sheet_svg(sheet)) is not None


def test_continuity_sheet_walks_every_contact_once_and_pairs_neighbours(built):
    bundle = built("lecture-keypad").bundle
    text = continuity_sheet(bundle)
    rows = [line.split() for line in text.splitlines() if line.endswith("[ ]") and line[0].isdigit()]
    assert [row[0] for row in rows] == list(bundle.bound.connector.numbers())
    said = {row[1]: row for row in rows}
    for choice in bundle.pinmap.choices:
        assert choice.pin_name in said[choice.request.signal]
    pairs = neighbour_pairs(bundle)
    assert ("1", "2") in pairs
    assert ("1", "14") in pairs
    assert ("1", "3") not in pairs
    assert ("13", "25") not in pairs  # both are ground
