"""D-sub connectors with two rows (9, 15, 25, 37 contacts) and the 15-way with three rows.

Contact pattern and shells: DIN 41652; pitch 2.77 mm, rows 2.84 mm apart.
Row spacing on the board, pin to edge and locks differ between makers, so a
right-angle entry gives them from its own drawing.
"""

from __future__ import annotations

from boardgen.footprint.families import mating
from boardgen.footprint.families.params import Params
from boardgen.footprint.families.sketch import (
    CONNECTOR_MARGIN,
    OUTLINE_GAP,
    PAD_GAP,
    TEXT_HEIGHT,
    Drawn,
    Sketch,
    tee,
    text_box,
)
from boardgen.footprint.model import Face
from boardgen.units import ZERO, Box, Nm, Point, Size, mm

PITCH = mm("2.77")
ROW_GAP = mm("2.84")
HD_PITCH = mm("2.29")
HD_ROW_GAP = mm("1.98")
WIDE_ROW = {9: 5, 15: 8, 25: 13, 37: 19}
SCREWS = {9: mm("25.0"), 15: mm("33.3"), 25: mm("47.1"), 37: mm("63.5")}
FLANGE = {9: mm("30.8"), 15: mm("39.2"), 25: mm("53.04"), 37: mm("69.32")}
FLANGE_HEIGHT = mm("12.55")
SHELL = "SH"
HOUSING_SIDE = mm("2.83")  # outermost contact of the wide row to the side of the housing
LOCK_PAD = mm("5.0")


def plug_face(contacts: int) -> mating.Face:
    """Return the mating face of a plug: contact 1 top left, the wide row on top, then the next row."""
    wide = WIDE_ROW[contacts]
    left = -PITCH * (wide - 1) // 2
    top = -ROW_GAP // 2
    first = [(str(i + 1), Point(left + PITCH * i, top)) for i in range(wide)]
    second = [
        (str(wide + i + 1), Point(left + PITCH // 2 + PITCH * i, top + ROW_GAP)) for i in range(wide - 1)
    ]
    return tuple(first + second)


def hd_plug_face() -> mating.Face:
    """Return the mating face of the three-row 15-way plug: row 2 half a pitch toward contact 1."""
    found: list[mating.Contact] = []
    for row in range(3):
        shift = -HD_PITCH // 4 if row == 1 else HD_PITCH // 4
        for i in range(5):
            x = HD_PITCH * (i - 2) + shift
            found.append((str(row * 5 + i + 1), Point(x, HD_ROW_GAP * (row - 1))))
    return tuple(found)


def build(p: Params, name: str) -> Drawn:
    """Draw a D-sub of two rows, by ``contacts``, ``gender`` and ``mounting``."""
    contacts = p.number_choice("contacts", WIDE_ROW)
    gender = p.choice("gender", ("plug", "socket"))
    mounting = p.choice("mounting", ("straight", "right-angle", "straddle"))
    face = mating.by_gender(plug_face(contacts), gender)
    what = f"D-sub {contacts}-way {gender}, {mounting}"
    if mounting == "straight":
        return _straight(p, name, what, face, SCREWS[contacts], FLANGE[contacts])
    if mounting == "straddle":
        return _straddle(p, name, what, face, FLANGE[contacts])
    return _right_angle(p, name, what, face, ROW_GAP, SCREWS[contacts], FLANGE[contacts])


def build_hd(p: Params, name: str) -> Drawn:
    """Draw a three-row 15-way D-sub (shell of the 9-way), by ``gender`` and ``mounting``."""
    gender = p.choice("gender", ("plug", "socket"))
    mounting = p.choice("mounting", ("straight", "right-angle"))
    face = mating.by_gender(hd_plug_face(), gender)
    what = f"D-sub 15-way in three rows, {gender}, {mounting}"
    if mounting == "straight":
        return _straight(p, name, what, face, SCREWS[9], FLANGE[9])
    return _right_angle(p, name, what, face, HD_ROW_GAP, SCREWS[9], FLANGE[9])


def _contacts(sketch: Sketch, pads: mating.Face, hole: Nm, size: Nm) -> None:
    for number, at in pads:
        sketch.plated(number, at, hole, size, number == "1")


def _row_ends(sketch: Sketch, pads: mating.Face, size: Nm, within: Box, face: Face = Face.NEAR) -> None:
    """Print the numbers of the first and last contact of each row beside them, where there is room."""
    for row in mating.rows(pads):
        for (number, at), side in ((row[0], -1), (row[-1], 1)):
            width = text_box(number, at, TEXT_HEIGHT).width
            offset = size // 2 + PAD_GAP + mm("0.03") + width // 2
            sketch.label(number, Point(at.x + side * offset, at.y), TEXT_HEIGHT, face, within=within)


def _right_angle(
    p: Params, name: str, what: str, face: mating.Face, face_gap: Nm, screws: Nm, flange: Nm
) -> Drawn:
    """Lay the part down: the wide row inboard; figures count from the row nearest the edge, toward it.

    ``shift_mm`` moves the contacts along the edge against the locks, toward contact 1.
    """
    gap = p.length("row_gap_mm", 1, 4, str(face_gap.mm))
    edge_from = p.length("edge_mm", 1, 30)
    lock_from = p.length("lock_mm", -15, 25)
    bracket_from = p.length("bracket_mm", -15, 25)
    front_from = p.length("front_mm", 2, 40)
    back_from = p.length("back_mm", 0.5, 10)
    hole = p.length("hole_mm", 0.6, 1.5, "1.0")
    size = p.length("pad_mm", 1.0, 2.4, "1.6")
    lock_hole = p.length("lock_hole_mm", 1, 5, "3.2")
    shift = p.length("shift_mm", -2, 2, "0")
    p.done()
    count = len(mating.rows(face))
    heights = tuple(gap * i - gap * (count - 1) // 2 for i in range(count))
    last = heights[-1]
    edge = last + edge_from
    if front_from <= edge_from:
        raise p.fail("front_mm", "the mating end must lie past the board's edge", front_from.mm)
    sketch = Sketch(edge)
    pads = mating.land(face, mating.flat_sites(face, heights))
    if dict(face)["1"].x < 0:
        shift = -shift
    pads = tuple((number, Point(at.x + shift, at.y)) for number, at in pads)
    _contacts(sketch, pads, hole, size)
    for side in (-1, 1):
        sketch.plated(SHELL, Point(screws // 2 * side, last + lock_from), lock_hole, LOCK_PAD)
    half = max(abs(at.x) for _, at in pads) + HOUSING_SIDE
    housing = Box(-half, heights[0] - back_from, half, last + front_from)
    bracket = Box(-flange // 2, last + bracket_from, flange // 2, last + front_from)
    body = Box(bracket.left, housing.top, bracket.right, bracket.bottom)
    grown = tee(housing.grown(OUTLINE_GAP), bracket.grown(OUTLINE_GAP))
    sketch.outline(grown)
    one = dict(pads)["1"]
    sketch.pin_one(one, housing)
    _row_ends(sketch, pads, size, housing.grown(-mm("0.2")))
    sketch.drawing(tee(housing, bracket))
    locks = sketch.extent(bracket)
    upper = Box(housing.left, min(housing.top, sketch.extent(housing).top), housing.right, housing.bottom)
    lower = Box(locks.left, min(bracket.top, last + lock_from - LOCK_PAD // 2), locks.right, bracket.bottom)
    sketch.courtyard(tee(upper.grown(CONNECTOR_MARGIN), lower.grown(CONNECTOR_MARGIN)))
    return Drawn(sketch.finish(name, what, body, ("D-sub",)), face, (SHELL,), edge, body)


def _straight(p: Params, name: str, what: str, face: mating.Face, screws: Nm, flange: Nm) -> Drawn:
    """Stand the part up: the pads lie as on the mating face."""
    hole = p.length("hole_mm", 0.6, 1.5, "1.0")
    size = p.length("pad_mm", 1.0, 2.4, "1.6")
    lock_hole = p.length("lock_hole_mm", 1, 5, "3.2")
    p.done()
    sketch = Sketch()
    pads = mating.land(face)
    _contacts(sketch, pads, hole, size)
    for side in (-1, 1):
        sketch.plated(SHELL, Point(screws // 2 * side, ZERO), lock_hole, LOCK_PAD)
    body = Box(-flange // 2, -FLANGE_HEIGHT // 2, flange // 2, FLANGE_HEIGHT // 2)
    sketch.outline(body.grown(OUTLINE_GAP).corners())
    sketch.pin_one(dict(pads)["1"], body)
    _row_ends(sketch, pads, size, body)
    sketch.drawing(body.corners())
    sketch.courtyard(sketch.extent(body).grown(CONNECTOR_MARGIN).corners())
    return Drawn(sketch.finish(name, what, body, ("D-sub",)), face, (SHELL,), None, body)


def _straddle(p: Params, name: str, what: str, face: mating.Face, flange: Nm) -> Drawn:
    """Hold the board's edge between the rows: the upper row on the near face, the lower on the far face."""
    edge = p.length("edge_mm", 1, 10)
    front = p.length("front_mm", 2, 40)
    flange_from = p.length("flange_mm", 1, 30)
    width, tall = p.size("pad_mm", 0.5, 6)
    p.done()
    if front <= edge:
        raise p.fail("front_mm", "the mating end must lie past the board's edge", front.mm)
    if edge <= tall // 2:
        raise p.fail("edge_mm", "the board's edge must lie past the pads", edge.mm)
    sketch = Sketch(edge)
    pads = mating.land(face, mating.flat_sites(face, (ZERO, ZERO)))
    place = dict(pads)
    near, far = mating.rows(face)
    for row, side in ((near, Face.NEAR), (far, Face.FAR)):
        for number, _ in row:
            sketch.surface(number, place[number], Size(width, tall), side)
    half = max(abs(at.x) for _, at in pads) + width // 2 + mm("0.3")
    cups = Box(-half, -tall // 2, half, front)
    shell = Box(-flange // 2, flange_from, flange // 2, front)
    body = Box(shell.left, cups.top, shell.right, shell.bottom)
    frame = Box(-half - mm(2), cups.top - mm("0.3"), half + mm(2), front)  # with room for numbers
    _straddle_mark(sketch, place["1"], frame)
    for row, side in ((near, Face.NEAR), (far, Face.FAR)):
        _row_ends(sketch, tuple((n, place[n]) for n, _ in row), width, frame, side)
        sketch.outline(frame.corners(), side)
    sketch.drawing(tee(cups, shell))
    for side in (Face.NEAR, Face.FAR):
        sketch.courtyard(tee(frame.grown(mm("0.25")), shell.grown(CONNECTOR_MARGIN)), side)
    return Drawn(sketch.finish(name, what, body, ("D-sub",)), face, (), edge, body)


def _straddle_mark(sketch: Sketch, one: Point, box: Box) -> None:
    """Thicken the outline level with contact 1, which the line then leaves out."""
    half, top = mm("0.8"), box.top
    points = (
        Point(one.x - half, top - mm("0.12")),
        Point(one.x + half, top - mm("0.12")),
        Point(one.x + half, top + mm("0.05")),
        Point(one.x - half, top + mm("0.05")),
    )
    sketch.patch(points)
