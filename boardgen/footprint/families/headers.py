"""Straight pin rows, box headers, 3.96 mm headers and screw terminals.

A straight part's pads lie as on its mating face, seen from the component side.
"""

from __future__ import annotations

from boardgen.footprint.families import mating
from boardgen.footprint.families.params import Params
from boardgen.footprint.families.sketch import CONNECTOR_MARGIN, OUTLINE_GAP, Drawn, Sketch
from boardgen.units import ZERO, Box, Nm, Point, Size, mm

PITCH = mm("2.54")
HOLE = mm("1.0")  # 0.64 mm square pins: diagonal 0.905
PAD = mm("1.7")
SLOT = mm("4.1")
BOX_WAYS = (10, 14, 16, 20, 26, 34, 40, 50)


def single_face(ways: int, pitch: Nm) -> mating.Face:
    """Return one row, 1 at the left."""
    left = -pitch * (ways - 1) // 2
    return tuple((str(i + 1), Point(left + pitch * i, ZERO)) for i in range(ways))


def double_face(ways: int) -> mating.Face:
    """Return two rows seen on the pins, the odd row on top: 1 at the top right, 2 below it, then leftward."""
    columns = ways // 2
    right = PITCH * (columns - 1) // 2
    half = PITCH // 2
    return tuple(
        (str(i + 1), Point(right - PITCH * (i // 2), -half if i % 2 == 0 else half)) for i in range(ways)
    )


def _contacts(sketch: Sketch, face: mating.Face, hole: Nm, pad: Nm | Size) -> None:
    for number, at in mating.land(face):
        sketch.plated(number, at, hole, pad, number == "1")


def _end(sketch: Sketch, name: str, what: str, face: mating.Face, body: Box, edge: Nm | None = None) -> Drawn:
    sketch.pin_one(dict(face)["1"], body)
    sketch.outline(body.grown(OUTLINE_GAP).corners())
    sketch.drawing(body.corners())
    sketch.courtyard(sketch.extent(body).grown(CONNECTOR_MARGIN).corners())
    return Drawn(sketch.finish(name, what, body, ("connector",)), face, (), edge, body)


def pin_row(p: Params, name: str) -> Drawn:
    """Draw a pin row of 2.54 mm pitch, one row of 1 to 40 or two rows (``rows = 2``)."""
    ways = p.count("contacts", 1, 80)
    count = p.number_choice("rows", (1, 2)) if p.has("rows") else 1
    p.done()
    if count == 2 and ways % 2:
        raise p.fail("contacts", "two rows need an even number of contacts", ways)
    if count == 1 and ways > 40:
        raise p.fail("contacts", "one row has at most 40 contacts", ways)
    face = single_face(ways, PITCH) if count == 1 else double_face(ways)
    sketch = Sketch()
    _contacts(sketch, face, HOLE, PAD)
    columns = ways // count
    body = Box(-PITCH * columns // 2, -PITCH * count // 2, PITCH * columns // 2, PITCH * count // 2)
    return _end(sketch, name, f"pin row {count}x{columns}, 2.54 mm", face, body)


def box_header(p: Params, name: str) -> Drawn:
    """Draw a box header of 2.54 mm pitch: the key slot at the top, the odd row beside it.

    Body: 2.54 (n - 1) + 10.2 by 8.9 mm for n columns, slot about 4.1 mm (PRACTICE.md 5).
    """
    ways = p.number_choice("contacts", BOX_WAYS)
    p.done()
    face = double_face(ways)
    sketch = Sketch()
    _contacts(sketch, face, HOLE, PAD)
    long, deep = PITCH * (ways // 2 - 1) + mm("10.2"), mm("8.9")
    body = Box(-long // 2, -deep // 2, long // 2, deep // 2)
    line = body.grown(OUTLINE_GAP)
    half, wall = SLOT // 2, mm("1.2")
    for side in (-1, 1):
        sketch.line(Point(half * side, line.top), Point(half * side, line.top + wall))
    _slotted(sketch, line, half)
    sketch.pin_one(dict(face)["1"], body)
    sketch.drawing(body.corners())
    sketch.courtyard(sketch.extent(body).grown(CONNECTOR_MARGIN).corners())
    what = f"box header 2x{ways // 2}, 2.54 mm, key slot beside the odd row"
    return Drawn(sketch.finish(name, what, body, ("connector",)), face, (), None, body)


def _slotted(sketch: Sketch, line: Box, half: Nm) -> None:
    """Draw the outline with a gap of twice *half* in the middle of its top."""
    sketch.line(Point(line.left, line.top), Point(-half, line.top))
    sketch.line(Point(half, line.top), Point(line.right, line.top))
    sketch.line(Point(line.right, line.top), Point(line.right, line.bottom))
    sketch.line(Point(line.right, line.bottom), Point(line.left, line.bottom))
    sketch.line(Point(line.left, line.bottom), Point(line.left, line.top))


def header_396(p: Params, name: str) -> Drawn:
    """Draw a straight header of 3.96 mm pitch with 1.14 mm square pins (diagonal 1.61), 1 at the left."""
    ways = p.count("contacts", 2, 24)
    p.done()
    pitch = mm("3.96")
    face = single_face(ways, pitch)
    sketch = Sketch()
    _contacts(sketch, face, mm("1.7"), Size(mm("3.16"), mm("4.1")))
    body = Box(-pitch * ways // 2, -mm("5.0"), pitch * ways // 2, mm("5.0"))
    # the friction lock's wall stands at the lower side
    sketch.line(Point(body.left, body.bottom - mm("1.4")), Point(body.right, body.bottom - mm("1.4")))
    return _end(sketch, name, f"header 1x{ways}, 3.96 mm, lock at the bottom", face, body)


def screw_terminal(p: Params, name: str) -> Drawn:
    """Draw a screw terminal of 5.08 mm pitch, the wires entering from +y, 1 at the left."""
    ways = p.count("contacts", 2, 12)
    p.done()
    pitch = mm("5.08")
    face = single_face(ways, pitch)
    front, back = mm("4.6"), mm("5.2")
    sketch = Sketch(front)
    _contacts(sketch, face, mm("1.3"), mm("2.6"))
    body = Box(-pitch * ways // 2, -back, pitch * ways // 2, front)
    return _end(sketch, name, f"screw terminal, {ways} ways, 5.08 mm", face, body, front)
