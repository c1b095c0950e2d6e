"""The stroke font: every character, inside the room it claims, and turned the right way."""

from __future__ import annotations

import string

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from boardgen.board.glyphs import ADVANCE, GLYPHS
from boardgen.board.strokes import text_ring, text_strokes, text_width
from boardgen.units import ORIGIN, mm, point_mm

PRINTABLE = string.ascii_letters + string.digits + string.punctuation + " "

# Longest advances met in the stroke font CAD programs share, in mm at a height of 1 mm,
# measured on rows of eleven letters.
MEASURED = {
    "A": 0.857, "B": 1.0, "E": 0.905, "G": 1.0, "H": 1.048, "I": 0.476, "J": 0.762, "M": 1.143,
    "O": 1.048, "S": 0.952, "T": 0.762, "W": 1.143, "m": 1.333, "w": 1.048, "a": 0.905, "l": 0.524,
    "0": 0.952, "1": 0.952, "-": 1.238, "+": 1.238, ".": 0.476, "/": 1.048, " ": 0.762, "@": 1.286,
}  # fmt: skip


@pytest.mark.parametrize("character", PRINTABLE)
def test_every_printable_character_is_drawn(character):
    assert character in GLYPHS
    assert character in ADVANCE
    strokes = text_strokes(character, ORIGIN, mm(1), mm("0.15"))
    assert (len(strokes) == 0) == (character == " ")
    assert all(len(path) >= 2 and len(set(path)) >= 2 for path in strokes)


def test_no_two_characters_look_alike():
    drawn = [words for character, words in GLYPHS.items() if character not in " -–,'`"]
    assert len(drawn) == len(set(drawn))


@pytest.mark.parametrize("character", sorted(MEASURED))
def test_room_holds_the_other_font_too(character):
    assert ADVANCE[character] / 100 >= MEASURED[character]


def test_an_unknown_character_is_a_box():
    (box,) = text_strokes("\u4e2d", ORIGIN, mm(1), mm("0.15"))
    assert box[0] == box[-1]
    assert len(box) == 5


@given(
    st.text(st.sampled_from(PRINTABLE), min_size=1, max_size=12),
    st.integers(600_000, 3_000_000),
    st.sampled_from([0.0, 45.0, 90.0, 180.0, 270.0]),
    st.booleans(),
)
def test_ink_stays_in_the_ring(text, height, rotation, mirrored):
    stroke = height * 15 // 100
    at = point_mm(7, -3)
    ring = shapely.Polygon(text_ring(text, at, mm(0) + height, mm(0) + stroke, rotation, mirrored))
    for path in text_strokes(text, at, mm(0) + height, mm(0) + stroke, rotation, mirrored):
        assert ring.buffer(10).covers(shapely.LineString(path).buffer(stroke / 2))


def test_capitals_are_as_high_as_asked_and_centred():
    points = [p for path in text_strokes("H", point_mm(5, 5), mm(2), mm("0.3")) for p in path]
    assert max(p.y for p in points) == mm(6)
    assert min(p.y for p in points) == mm(4)
    assert max(p.x for p in points) + min(p.x for p in points) == 2 * mm(5)


def test_mirrored_text_is_turned_over_its_upright_axis():
    plain = text_strokes("F1", ORIGIN, mm(1), mm("0.15"))
    over = text_strokes("F1", ORIGIN, mm(1), mm("0.15"), mirrored=True)
    assert [[(-p.x, p.y) for p in path] for path in plain] == [[tuple(p) for p in path] for path in over]


def test_turned_text_reads_upwards():
    level = text_strokes("L", ORIGIN, mm(1), mm("0.15"))[0]
    turned = text_strokes("L", ORIGIN, mm(1), mm("0.15"), 90.0)[0]
    # The foot of L points right; a quarter turn counter-clockwise makes it point up (y down).
    assert level[-1].x > level[-2].x
    assert turned[-1].y < turned[-2].y


def test_width_grows_with_the_text():
    assert text_width("", mm(1), mm("0.15")) == mm("0.15")
    assert text_width("AB", mm(1), mm(0)) == text_width("A", mm(1), mm(0)) + text_width("B", mm(1), mm(0))
