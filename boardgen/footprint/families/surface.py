"""Packages: chips, SOT-23, SOIC and DIP, with pads long enough to solder by hand.

Body sizes and lead places: IEC 60115-8 (0805, 1206), JEDEC TO-236, MS-012,
MS-013 and MS-001; the pads reach 0.4 mm and more past the leads' ends.
"""

from __future__ import annotations

from boardgen.footprint.families.params import Params
from boardgen.footprint.families.sketch import OUTLINE_GAP, PART_MARGIN, Drawn, Sketch
from boardgen.units import ZERO, Box, Point, Size, mm

# size: body, pad, distance of the pads' middles
CHIPS = {
    "0805": (Size(mm("2.0"), mm("1.25")), Size(mm("1.3"), mm("1.45")), mm("2.3")),
    "1206": (Size(mm("3.2"), mm("1.6")), Size(mm("1.4"), mm("1.8")), mm("3.3")),
}
# pins: body (w across, h along), distance of the rows' middles
SOICS = {
    14: (Size(mm("3.9"), mm("8.65")), mm("5.2")),
    16: (Size(mm("3.9"), mm("9.9")), mm("5.2")),
    20: (Size(mm("7.5"), mm("12.8")), mm("9.5")),
}
DIP_PITCH = mm("2.54")


def _box(size: Size) -> Box:
    return Box(-size.w // 2, -size.h // 2, size.w // 2, size.h // 2)


def _close(sketch: Sketch, p: Params, name: str, what: str, body: Box, legend: Box) -> Drawn:
    p.done()
    sketch.drawing(body.corners())
    room = sketch.extent(body).grown(PART_MARGIN)
    room = Box.around([*room.corners(), *legend.corners()])
    sketch.courtyard(room.corners())
    return Drawn(sketch.finish(name, what, body), body=body)


def chip(p: Params, name: str) -> Drawn:
    """Draw a two-pad chip; an LED's cathode is pad 1, shown by a bar at its end."""
    size = p.choice("size", CHIPS)
    kind = p.choice("kind", ("resistor", "capacitor", "led"))
    body_size, pad, between = CHIPS[size]
    sketch = Sketch()
    for number, side in (("1", -1), ("2", 1)):
        sketch.surface(number, Point(between // 2 * side, ZERO), pad)
    body = _box(body_size)
    reach = between // 2 + pad.w // 2
    rail = pad.h // 2 + mm("0.3")
    legend = Box(-reach, -rail, reach, rail)
    if kind == "led":
        end = -reach - mm("0.3")
        sketch.line(Point(end, -rail), Point(end, rail))
        sketch.line(Point(end, -rail), Point(reach, -rail))
        sketch.line(Point(end, rail), Point(reach, rail))
        legend = Box(end, -rail, reach, rail)
    else:
        inner = between // 2 - pad.w // 2
        rail = body.bottom + OUTLINE_GAP
        for side in (-1, 1):
            sketch.line(Point(-inner, rail * side), Point(inner, rail * side))
        legend = Box(-inner, -rail, inner, rail)
    return _close(sketch, p, name, f"{size} {kind}, soldered by hand", body, legend.grown(mm("0.125")))


def sot23(p: Params, name: str) -> Drawn:
    """Draw a SOT-23: pads 1 (top) and 2 on the left, 3 on the right, seen from above."""
    sketch = Sketch()
    pad = Size(mm("1.4"), mm("0.8"))
    for number, x, y in (("1", "-1.25", "-0.95"), ("2", "-1.25", "0.95"), ("3", "1.25", "0")):
        sketch.surface(number, Point(mm(x), mm(y)), pad)
    body = _box(Size(mm("1.3"), mm("2.9")))
    line = body.grown(OUTLINE_GAP)
    sketch.line(Point(line.left, line.top), Point(line.right, line.top))
    sketch.line(Point(line.left, line.bottom), Point(line.right, line.bottom))
    sketch.line(Point(line.right, line.top), Point(line.right, line.bottom))
    mark = _triangle_down(Point(mm("-1.5"), mm("-1.65")))
    sketch.patch(mark)
    legend = Box.around([*line.corners(), *mark]).grown(mm("0.125"))
    return _close(sketch, p, name, "SOT-23, soldered by hand", body, legend)


def _triangle_down(tip: Point) -> tuple[Point, ...]:
    half, tall = mm("0.35"), mm("0.4")
    return (tip, Point(tip.x - half, tip.y - tall), Point(tip.x + half, tip.y - tall))


def soic(p: Params, name: str) -> Drawn:
    """Draw a SOIC of 14, 16 (narrow) or 20 (wide) pins, pin 1 top left, counter-clockwise."""
    pins = p.number_choice("pins", SOICS)
    body_size, between = SOICS[pins]
    pitch, pad = mm("1.27"), Size(mm("2.1"), mm("0.65"))
    sketch = Sketch()
    rows = pins // 2
    top = -pitch * (rows - 1) // 2
    for i in range(pins):
        left = i < rows
        y = top + pitch * (i if left else pins - 1 - i)
        sketch.surface(str(i + 1), Point(between // 2 * (-1 if left else 1), y), pad)
    body = _box(body_size)
    line = body.grown(OUTLINE_GAP)
    sketch.line(Point(line.left, line.top), Point(line.right, line.top))
    sketch.line(Point(line.left, line.bottom), Point(line.right, line.bottom))
    tip = Point(-between // 2, top - pad.h // 2 - mm("0.3"))
    sketch.patch(_triangle_down(tip))
    legend = Box.around([*line.grown(mm("0.1")).corners(), *(_triangle_down(tip))]).grown(mm("0.1"))
    return _close(sketch, p, name, f"SOIC-{pins}, soldered by hand", body, legend)


def dip(p: Params, name: str) -> Drawn:
    """Draw a DIP: pin 1 top left and square, counter-clockwise; ``row_mm`` is the rows' distance."""
    pins = p.number_choice("pins", (8, 14, 16, 18, 20, 24, 28, 40))
    row = p.length("row_mm", 7, 16, "7.62")
    hole = p.length("hole_mm", 0.6, 1.2, "0.8")
    sketch = Sketch()
    count = pins // 2
    top = -DIP_PITCH * (count - 1) // 2
    for i in range(pins):
        left = i < count
        y = top + DIP_PITCH * (i if left else pins - 1 - i)
        at = Point(row // 2 * (-1 if left else 1), y)
        sketch.plated(str(i + 1), at, hole, mm("1.6"), i == 0)
    body = _box(Size(row - mm("1.27"), DIP_PITCH * count))
    line = body.grown(OUTLINE_GAP)
    inner = row // 2 - mm("1.1")
    shown = Box(-inner, line.top, inner, line.bottom)
    sketch.outline(shown.corners())
    sketch.ring(Point(ZERO, shown.top), mm("0.8"), 180, 180)
    return _close(sketch, p, name, f"DIP-{pins}, rows {row.mm:g} mm", body, line.grown(mm("0.1")))
