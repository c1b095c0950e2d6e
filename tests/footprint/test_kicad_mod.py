import math
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgen.errors import InputError
from boardgen.footprint import library
from boardgen.footprint.kicad_mod import attr_node, footprint_nodes, read_footprint, write_footprint
from boardgen.footprint.model import (
    Arc,
    Circle,
    Face,
    Footprint,
    Line,
    Pad,
    PadKind,
    PadShape,
    PartLayer,
    Polygon,
    Text,
)
from boardgen.footprint.pad_outline import reach_of
from boardgen.footprint.sexpr import head
from boardgen.units import ZERO, Nm, Point, Size, mm, point_mm

SPOT = st.integers(-(10**8), 10**8).map(Nm)
POINT = st.builds(Point, SPOT, SPOT)
WIDE = st.integers(100_000, 10**7).map(Nm)
SIZE = st.builds(Size, WIDE, WIDE)
TURN = st.integers(-3599, 3599).map(lambda tenth: tenth / 10)
LAYER = st.sampled_from(PartLayer)
FACE = st.sampled_from(Face)
WORDS = st.text(st.characters(codec="utf-8", exclude_categories=("Z", "C")), min_size=1, max_size=8)


@st.composite
def free_pads(draw, number, kind, at, turn):
    """A point, a segment, or a ring round the pad's place."""
    count = draw(st.sampled_from([1, 2, 3, 4, 7]))
    radius = Nm(draw(st.integers(100_000, 10**6)))
    if count > 2:
        spokes = draw(st.lists(st.integers(200_000, 10**7), min_size=count, max_size=count))
        turns = [2 * math.pi * i / count for i in range(count)]
        ring = [
            Point(Nm(round(r * math.cos(t))), Nm(round(r * math.sin(t))))
            for r, t in zip(spokes, turns, strict=True)
        ]
        radius = draw(st.sampled_from([ZERO, radius]))
    else:
        ring = [Point(Nm(draw(st.integers(-99_000, 99_000)) * 10**k), ZERO) for k in range(0, 2 * count, 2)]
        ring = ring if len(set(ring)) == count else ring[:1]
        if abs(ring[0].x) + 1000 > radius:
            ring[0] = Point(ZERO, ZERO)
            ring = list(dict.fromkeys(ring))
    outline = tuple(ring)
    size = reach_of(outline, radius)
    face = draw(FACE) if kind is PadKind.SURFACE else Face.NEAR
    hole = None if kind is PadKind.SURFACE else Size(Nm(60_000), Nm(50_000))
    return Pad(number, kind, PadShape.CUSTOM, at, size, hole, turn, radius, face, outline)


@st.composite
def pads(draw):
    kind = draw(st.sampled_from(PadKind))
    number = draw(st.sampled_from(["1", "2", "A1", "SH", ""]))
    at, turn = draw(POINT), draw(TURN)
    if kind is PadKind.UNPLATED:
        hole = draw(SIZE)
        shape = PadShape.CIRCLE if hole.w == hole.h else PadShape.OVAL
        return Pad("", kind, shape, at, hole, hole, turn)
    shape = draw(st.sampled_from(PadShape))
    if shape is PadShape.CUSTOM:
        return draw(free_pads(number, kind, at, turn))
    size = draw(SIZE)
    if shape is PadShape.CIRCLE:
        size = Size(size.w, size.w)
    least = min(size)
    radius = Nm(draw(st.integers(0, least // 2))) if shape is PadShape.ROUNDRECT else ZERO
    if kind is PadKind.SURFACE:
        return Pad(number, kind, shape, at, size, None, turn, radius, draw(FACE))
    hole = Size(Nm(draw(st.integers(50_000, size.w))), Nm(draw(st.integers(50_000, size.h))))
    return Pad(number, kind, shape, at, size, hole, turn, radius)


GRAPHICS = st.one_of(
    st.builds(Line, LAYER, POINT, POINT, WIDE, FACE),
    st.builds(Arc, LAYER, POINT, POINT, POINT, WIDE, FACE),
    st.builds(Circle, LAYER, POINT, WIDE, WIDE, st.booleans(), FACE),
    st.builds(Polygon, LAYER, st.lists(POINT, min_size=3, max_size=6).map(tuple), WIDE, st.booleans(), FACE),
    st.builds(Text, LAYER, WORDS.filter(lambda t: t not in ("%R", "%V")), POINT, WIDE, WIDE, TURN, FACE),
)
FOOTPRINTS = st.builds(
    Footprint,
    st.from_regex(r"[A-Za-z0-9_.-]{1,20}", fullmatch=True),
    st.lists(pads(), max_size=5).map(tuple),
    st.lists(GRAPHICS, max_size=6).map(tuple),
    st.text(st.characters(codec="utf-8", exclude_characters="\r\x00"), max_size=30),
    st.lists(WORDS, max_size=3).map(tuple),
    st.booleans(),
    POINT,
    POINT,
)


@settings(deadline=None, max_examples=150)
@given(FOOTPRINTS)
def test_reading_what_was_written_gives_the_same_footprint(footprint):
    text = write_footprint(footprint)
    assert read_footprint(text, "f") == footprint
    assert write_footprint(read_footprint(text, "f")) == text


def foreign(body, first="footprint"):
    return read_footprint(f'({first} "LIB:part" (layer "F.Cu") {body})', "f")


def test_the_nodes_are_the_files_content():
    footprint = foreign('(pad "1" thru_hole circle (at 0 0) (size 2 2) (drill 1) (layers "*.Cu" "*.Mask"))')
    assert [head(node) for node in footprint_nodes(footprint)] == [
        "layer",
        "attr",
        "fp_text",
        "fp_text",
        "pad",
    ]


def test_a_part_without_numbers_is_left_off_every_list():
    hole = foreign('(pad "" np_thru_hole circle (at 0 0) (size 3 3) (drill 3) (layers "*.Cu" "*.Mask"))')
    assert attr_node(hole) == [
        "attr",
        "through_hole",
        "board_only",
        "exclude_from_pos_files",
        "exclude_from_bom",
    ]


def test_the_oldest_generation_reads():
    footprint = read_footprint(
        """(module part (layer F.Cu) (tedit 5EAA5BED)
          (descr "an old part") (tags "one two")
          (fp_text reference REF** (at 1 -2) (layer F.SilkS) (effects (font (size 1 1) (thickness 0.15))))
          (fp_text user %R (at 0 0) (layer F.Fab))
          (fp_text user +V (at 3 0) (layer F.SilkS) (effects (font (size 1.2 1.2) (thickness 0.2))))
          (fp_line (start 0 0) (end 1 0) (layer F.SilkS) (width 0.12))
          (fp_arc (start 0 0) (end 2 0) (angle 90) (layer F.Fab) (width 0.1))
          (pad 1 thru_hole rect (at 0 0 90) (size 1.8 1.6) (drill 1.1) (layers *.Cu *.Mask))
          (model x.wrl (at (xyz 0 0 0))))""",
        "old",
    )
    assert footprint.name == "part"
    assert footprint.tags == ("one", "two")
    assert footprint.reference_at == point_mm(1, -2)
    assert footprint.warnings == ()
    text, line, arc = footprint.graphics
    assert text == Text(PartLayer.LEGEND, "+V", point_mm(3, 0), mm("1.2"), mm("0.2"))
    assert line == Line(PartLayer.LEGEND, point_mm(0, 0), point_mm(1, 0), mm("0.12"))
    # the old arc: a quarter circle clockwise as seen, from the right round to the bottom
    assert (arc.start, arc.end) == (point_mm(2, 0), point_mm(0, 2))
    assert arc.mid.distance(point_mm(2**0.5, 2**0.5)) < 2
    assert footprint.pads[0].rotation == 90.0


def test_the_newest_generation_reads():
    footprint = foreign(
        """(version 20241229) (generator "pcbnew") (generator_version "9.0")
        (property "Reference" "REF**" (at 1 2 0) (layer "F.SilkS") (uuid "u") (effects (font (size 1 1))))
        (property "Value" "part" (at 3 4 0) (layer "F.Fab") (uuid "u"))
        (property "Datasheet" "" (at 0 0 0) (layer "F.Fab") (hide yes))
        (attr smd)
        (fp_rect (start -1 -2) (end 1 2) (stroke (width 0.05) (type solid)) (fill no) (layer "B.CrtYd"))
        (fp_poly (pts (xy 0 0) (xy 1 0) (xy 1 1)) (stroke (width 0)) (fill yes) (layer "F.SilkS"))
        (fp_text user "${REFERENCE}" (at 0 0 0) (layer "F.Fab"))
        (pad "1" smd roundrect (at 0 0) (size 1 2) (layers "B.Cu" "B.Mask" "B.Paste")
          (roundrect_rratio 0.25) (thermal_bridge_angle 45) (uuid "u"))
        (embedded_fonts no)"""
    )
    rect, patch = footprint.graphics
    assert rect.points == (point_mm(-1, -2), point_mm(1, -2), point_mm(1, 2), point_mm(-1, 2))
    assert (rect.layer, rect.face, rect.filled) == (PartLayer.COURTYARD, Face.FAR, False)
    assert patch.filled
    assert (footprint.pads[0].face, footprint.pads[0].corner_radius) == (Face.FAR, mm("0.25"))
    assert (footprint.reference_at, footprint.value_at) == (point_mm(1, 2), point_mm(3, 4))
    assert not footprint.through_hole


def test_what_is_left_out_is_named():
    footprint = foreign(
        """(fp_line (start 0 0) (end 1 0) (layer "Edge.Cuts") (width 0.1))
        (fp_line (start 0 0) (end 1 0) (layer "Edge.Cuts") (width 0.1))
        (fp_line (start 0 0) (end 1 0) (layer "Dwgs.User") (width 0.1))
        (fp_circle (center 0 0) (end 1 0) (layer "F.Cu") (width 0.1))
        (zone (net 0))
        (pad "" smd rect (at 0 0) (size 1 1) (layers "F.Paste"))
        (pad "2" np_thru_hole circle (at 5 0) (size 2 2) (drill 1) (layers "*.Cu" "*.Mask"))"""
    )
    assert footprint.warnings == (
        "pad no. 1 has no copper (F.Paste); left out",
        "copper ring round the unplated hole pad '2' left out",
        "number of the unplated hole pad '2' left out",
        "1 circle item on F.Cu left out",
        "2 line items on Edge.Cuts left out",
        "1 zone item on this footprint left out",
    )
    assert footprint.pads[0].size == footprint.pads[0].hole == Size(mm(1), mm(1))


@pytest.mark.parametrize(
    ("pad", "message"),
    [
        (
            '"7" smd blob (at 0 0) (size 1 1) (layers "F.Cu")',
            "f: pad '7': a pad of this shape cannot be taken over exactly; found blob; "
            "allowed: circle, custom, oval, rect, roundrect, trapezoid; redraw the pad, or split it into "
            "pads of the same number",
        ),
        (
            '"7" thru_hole circle (at 0 0) (size 1 1) (layers "*.Cu")',
            "f: pad '7': a pad of this kind needs a drill",
        ),
        (
            '"7" smd custom (at 0 0) (size 1 1) (layers "F.Cu") (primitives (gr_curve (pts (xy 0 0))))',
            "f: pad '7': a piece of a pad that cannot be taken over; found gr_curve; allowed: polygon, ",
        ),
        (
            '"7" smd custom (at 0 0) (size 1 1) (layers "F.Cu") '
            "(primitives (gr_circle (center 5 0) (end 6 0)))",
            "f: pad '7': copper in more than one piece; allowed: one piece; ",
        ),
        (
            '"7" smd custom (at 1 0) (size 0.5 0.5) (layers "F.Cu") '
            "(primitives (gr_circle (center 0 0) (end 9 0) (width 1)))",
            "f: pad '7': copper in more than one piece; ",
        ),
        (
            '"7" thru_hole circle (at 0 0) (size 1 1) (drill 2) (layers "*.Cu")',
            "f: pad '7': the hole is larger than the pad",
        ),
        ('"7" glued circle (at 0 0)', "f: pad '7': unknown kind of pad; found glued; "),
        ('"7" smd rect (size 1 1) (layers "F.Cu")', "f: pad '7': 'at' needs an x and a y"),
        ('"7" smd rect (at nan 0) (size 1 1) (layers "F.Cu")', "f: pad '7': 'nan' is not a number; "),
        ('"7" smd rect (at 0 0) (size -1 1) (layers "F.Cu")', "f: pad '7': 'size' must be larger than 0; "),
        (
            '"7" smd rect (at 0 0) (size 1 1) (layers "F.Cu" "B.Cu")',
            "f: pad '7': a pad without a hole must have copper on one face; found F.Cu B.Cu; ",
        ),
    ],
)
def test_copper_that_cannot_be_taken_over_is_an_error_that_names_the_pad(pad, message):
    with pytest.raises(InputError, match=f"^{re.escape(message)}"):
        foreign(f"(pad {pad})")


@pytest.mark.parametrize("text", ["(kicad_pcb)", "(footprint)", "(footprint (a))", "()", "((a))"])
def test_a_file_that_is_no_footprint_is_refused(text):
    with pytest.raises(InputError, match=r"^f:1: this is not a footprint file; allowed: \(footprint NAME"):
        read_footprint(text, "f")


def test_the_users_folder_wins_and_the_file_gives_the_name(tmp_path):
    ours = library.load("link-10.16")
    (tmp_path / "footprints").mkdir()
    (tmp_path / "footprints" / "link-10.16.kicad_mod").write_text(
        '(footprint "other" (pad "1" smd rect (at 0 0) (size 1 1) (layers "F.Cu")))'
    )
    theirs = library.load("link-10.16", [tmp_path])
    assert theirs.name == ours.name == "link-10.16"
    assert (len(theirs.pads), len(ours.pads)) == (1, 2)
    assert library.names([tmp_path]) == library.names()


@pytest.mark.parametrize("name", ["dsub-25-socket-right-angel", "../x", "", "a/b", "/etc/passwd"])
def test_a_footprint_that_is_not_there_is_an_input_error(name):
    with pytest.raises(InputError, match="there is no footprint of this name"):
        library.load(name)


def test_a_near_miss_is_suggested():
    with pytest.raises(InputError, match="did you mean 'dsub-25-socket-right-angle'"):
        library.load("dsub-25-socket-right-angel")
