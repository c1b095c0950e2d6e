"""The pictures of findings: well-formed, safe, and showing both items."""

from __future__ import annotations

from xml.etree import ElementTree as ET

from boardkit import FAB, board, one_pad, track

from boardgen.board.model import LegendText, Side
from boardgen.errors import Finding, Severity
from boardgen.rules.check import check_board
from boardgen.rules.spot import BOTTOM, MARK, TOP, spot_svg
from boardgen.units import mm, point_mm

SVG = "{http://www.w3.org/2000/svg}"


def clash():
    made = board(one_pad("J1", 10, 10, "A"), tracks=(track("B", 5, "11.1", 15, "11.1"),))
    return made, check_board(made, None, FAB).of("spacing")[0]


def test_both_items_are_strong_and_the_gap_is_drawn():
    made, found = clash()
    root = ET.fromstring(spot_svg(made, found))
    strong = [p for p in root.iter(f"{SVG}path") if p.get("stroke-width") == "0.06"]
    assert len(strong) == 2
    assert any(p.get("stroke") == MARK for p in root.iter(f"{SVG}path"))
    colours = {g.get("stroke") for g in root.iter(f"{SVG}g")}
    assert colours == {TOP, BOTTOM}
    text = root.find(f"{SVG}text")
    assert text is not None
    assert text.text == "measured 0.125 mm, limit 0.150 mm"


def test_text_is_escaped():
    made, _ = clash()
    nasty = Finding("short", Severity.ERROR, "</title><script>", point_mm(10, 10), "top copper", ("<", "&"))
    picture = spot_svg(made, nasty)
    assert "<script>" not in picture
    assert ET.fromstring(picture)[0].text == "</title><script>"


def test_without_a_place_there_is_no_picture():
    made, _ = clash()
    assert spot_svg(made, Finding("short", Severity.ERROR, "x")) == ""


def test_printing_shows_on_legend_findings():
    text = LegendText(Side.TOP, "R1", point_mm(10, 10), mm(1), mm("0.15"))
    made = board(one_pad("J1", 10, 10, "A"), legend=(text,))
    found = check_board(made, None, FAB).of("legend-clear")[0]
    assert spot_svg(made, found).count("stroke-opacity") >= 2


def test_the_same_finding_gives_the_same_picture():
    made, found = clash()
    assert spot_svg(made, found) == spot_svg(made, found)
