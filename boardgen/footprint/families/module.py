"""Microcontroller modules on two rows of holes, the USB end toward -y."""

from __future__ import annotations

from boardgen.footprint.families.params import Params
from boardgen.footprint.families.sketch import (
    CONNECTOR_MARGIN,
    OUTLINE_GAP,
    PAD_GAP,
    TEXT_HEIGHT,
    Drawn,
    Sketch,
    text_box,
)
from boardgen.units import Nm, Point, mm


def build(p: Params, name: str) -> Drawn:
    """Draw a module: ``left`` and ``right`` list pad numbers from the USB end down ("" for no pin).

    The legend shows the module's outline, where its USB jack points, its title,
    and the numbers of the corner pins; pad 1 is square.
    """
    pitch = p.length("pitch_mm", 1, 10)
    hole = p.length("hole_mm", 0.5, 3)
    size = p.length("pad_mm", 0.8, 5)
    body = p.box("body_mm")
    usb = p.length("usb_width_mm", 0, 30, "0")
    title = p.text("title")
    sides: list[tuple[tuple[str, ...], Nm, Nm]] = []
    for side in ("left", "right"):
        numbers = p.numbers(side)
        x = p.length(f"{side}_x_mm", -60, 60)
        y = p.length(f"{side}_first_y_mm", -120, 120)
        sides.append((numbers, x, y))
    p.done()
    if sides[0][1] >= sides[1][1]:
        raise p.fail("right_x_mm", "the right row must lie right of the left row")
    used = [number for numbers, _, _ in sides for number in numbers if number]
    twice = sorted({number for number in used if used.count(number) > 1})
    if twice or not used:
        raise p.fail("left", "each pad number must be there once", ", ".join(twice))
    sketch = Sketch()
    for numbers, x, first in sides:
        for i, number in enumerate(numbers):
            if number:
                sketch.plated(number, Point(x, first + pitch * i), hole, size, number == "1")
    outline = body.grown(OUTLINE_GAP)
    sketch.outline(outline.corners())
    _arrow(sketch, body.centre.x, body.top, usb)
    sketch.label(title, body.centre, mm("1.5"), turned=True)
    for numbers, x, first in sides:
        rows = [i for i, number in enumerate(numbers) if number]
        for i in sorted({rows[0], rows[-1]} if rows else set()):
            width = text_box(numbers[i], Point(x, first), TEXT_HEIGHT).width
            inward = 1 if x < body.centre.x else -1
            beside = x + inward * (size // 2 + PAD_GAP + width // 2 + mm("0.05"))
            sketch.label(numbers[i], Point(beside, first + pitch * i))
    sketch.drawing(body.corners())
    if usb:
        half, depth = usb // 2, mm(5)
        jack = (
            Point(body.centre.x - half, body.top),
            Point(body.centre.x + half, body.top),
            Point(body.centre.x + half, body.top + depth),
            Point(body.centre.x - half, body.top + depth),
        )
        sketch.drawing(jack)
    sketch.courtyard(sketch.extent(body).grown(CONNECTOR_MARGIN).corners())
    return Drawn(sketch.finish(name, f"Module {title}, USB end up".strip(), body, ("module",)), body=body)


def _arrow(sketch: Sketch, x: Nm, top: Nm, usb: Nm) -> None:
    """Print an arrow to the USB end with the word under it."""
    if not usb:
        return
    tip, half, deep = top + mm("0.8"), mm("1.2"), mm("1.6")
    sketch.patch((Point(x, tip), Point(x + half, tip + deep), Point(x - half, tip + deep)))
    sketch.label("USB", Point(x, tip + deep + mm("1.2")))
