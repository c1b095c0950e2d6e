"""Small parts with leads and on the surface: resistors, capacitors, diodes, transistors, fuses, links.

Finished holes are at least the lead plus 0.2 mm; pads are wide enough to solder
by hand. Polarity is printed so that it is still seen with the part in place.
"""

from __future__ import annotations

from boardgen.footprint.families.params import Params
from boardgen.footprint.families.sketch import (
    OUTLINE_GAP,
    PAD_GAP,
    PART_MARGIN,
    STROKE,
    Drawn,
    Sketch,
)
from boardgen.footprint.model import Circle, Face, PartLayer
from boardgen.units import ZERO, Box, Nm, Point, Size, mm

PAD_OVER_HOLE = mm("0.8")  # copper diameter beyond the hole: a ring of 0.4 mm
LIP = mm("0.175")  # outline's middle to body, plus half its stroke


def _close(sketch: Sketch, p: Params, name: str, what: str, body: Box, legend: Box | None = None) -> Drawn:
    """Check the keys, add drawing and courtyard (round *legend* where it is larger), and finish."""
    p.done()
    sketch.drawing(body.corners())
    legend = legend or body.grown(LIP + mm("0.05"))
    room = sketch.extent(body).grown(PART_MARGIN)
    room = Box.around([*room.corners(), *legend.corners()])
    sketch.courtyard(room.corners())
    return Drawn(sketch.finish(name, what, body), body=body)


def _pair(sketch: Sketch, pitch: Nm, hole: Nm, size: Nm, square: bool) -> None:
    sketch.plated("1", Point(-pitch // 2, ZERO), hole, size, square)
    sketch.plated("2", Point(pitch // 2, ZERO), hole, size)


def _box(w: Nm, h: Nm) -> Box:
    return Box(-w // 2, -h // 2, w // 2, h // 2)


def _plus(sketch: Sketch, at: Point) -> None:
    """Print a plus sign."""
    arm = mm("0.35")
    sketch.line(Point(at.x - arm, at.y), Point(at.x + arm, at.y))
    sketch.line(Point(at.x, at.y - arm), Point(at.x, at.y + arm))


def axial(p: Params, name: str) -> Drawn:
    """Draw a lying resistor or diode; a diode's cathode is pad 1, square, beside the band."""
    kind = p.choice("kind", ("resistor", "diode"))
    pitch = p.length("pitch_mm", 2.5, 60)
    size = p.size("body_mm", 0.5, 50)
    hole = p.length("hole_mm", 0.6, 2, "0.8")
    if size.w + hole > pitch:
        raise p.fail("pitch_mm", "the body does not fit between the holes", pitch.mm)
    sketch = Sketch()
    pad = hole + PAD_OVER_HOLE
    _pair(sketch, pitch, hole, pad, kind == "diode")
    body = _box(size.w, size.h)
    outline = body.grown(OUTLINE_GAP)
    sketch.outline(outline.corners())
    if kind == "diode":
        x = max(outline.left, -pitch // 2 + pad // 2 + PAD_GAP + STROKE // 2) + mm("0.35")
        for step in (ZERO, STROKE):
            sketch.line(Point(x + step, outline.top), Point(x + step, outline.bottom))
    for side, end in ((-1, outline.left), (1, outline.right)):
        sketch.line(Point(Nm(end), ZERO), Point(pitch // 2 * side, ZERO))
    return _close(sketch, p, name, f"{kind}, lying, {pitch.mm:g} mm between the holes", body)


def _two_leads(p: Params, name: str, what: str) -> Drawn:
    """Draw an upright part with two like leads and a box round its body."""
    pitch = p.length("pitch_mm", 2, 30)
    size = p.size("body_mm", 0.5, 40)
    hole = p.length("hole_mm", 0.6, 2, "0.8")
    sketch = Sketch()
    _pair(sketch, pitch, hole, hole + PAD_OVER_HOLE, False)
    body = _box(size.w, size.h)
    sketch.outline(body.grown(OUTLINE_GAP).corners())
    return _close(sketch, p, name, f"{what}, {pitch.mm:g} mm between the leads", body)


def disc(p: Params, name: str) -> Drawn:
    """Draw a disc or film capacitor without polarity."""
    return _two_leads(p, name, "disc capacitor")


def ptc(p: Params, name: str) -> Drawn:
    """Draw a resettable fuse with two leads."""
    return _two_leads(p, name, "resettable fuse")


def radial_polar(p: Params, name: str) -> Drawn:
    """Draw an upright electrolytic capacitor: pad 1 is positive, square, with a plus sign."""
    pitch = p.length("pitch_mm", 1.5, 15)
    across = p.length("diameter_mm", 3, 40)
    hole = p.length("hole_mm", 0.6, 2, "0.8")
    sketch = Sketch()
    pad = min(hole + PAD_OVER_HOLE, pitch - mm("0.6"))
    _pair(sketch, pitch, hole, pad, True)
    body = _box(across, across)
    sketch.ring(Point(ZERO, ZERO), across // 2 + OUTLINE_GAP)
    corner = Point(-across // 2 + mm("0.2"), -across // 2 + mm("0.2"))
    _plus(sketch, corner)
    return _close(sketch, p, name, f"electrolytic capacitor, {across.mm:g} mm, pad 1 positive", body)


def led_round(p: Params, name: str) -> Drawn:
    """Draw a round LED (3 or 5 mm): pad 1 is the cathode, square, at the flat side."""
    across = p.length("diameter_mm", 2, 12)
    hole = p.length("hole_mm", 0.6, 2, "1.0")
    pitch = mm("2.54")
    sketch = Sketch()
    _pair(sketch, pitch, hole, mm("1.7"), True)
    rim = across + mm("0.8")  # the collar
    body = _box(rim, rim)
    # the ring is open over 90 degrees at the cathode, where a bar stands for the flat
    sketch.ring(Point(ZERO, ZERO), rim // 2 + OUTLINE_GAP, 225, 270)
    flat = (rim // 2 + OUTLINE_GAP) * 707 // 1000
    bar, high = max(flat, pitch // 2 + mm("1.15")), min(flat, mm("1.2"))
    sketch.line(Point(-bar, -high), Point(-bar, high))
    legend = Box.around([*body.grown(LIP + mm("0.05")).corners(), Point(-bar - mm("0.125"), ZERO)])
    return _close(sketch, p, name, f"LED, {across.mm:g} mm, pad 1 cathode at the bar", body, legend)


def to92(p: Params, name: str) -> Drawn:
    """Draw a TO-92 with its leads in line, 1 to 3 from left to right, the flat toward +y."""
    pitch = p.length("pitch_mm", 1.27, 5.08)
    hole = p.length("hole_mm", 0.6, 1.2, "0.8")
    sketch = Sketch()
    across = min(hole + PAD_OVER_HOLE, pitch - mm("0.4"))
    for i in range(3):
        size = Size(across, max(across, mm("1.6")))
        sketch.plated(str(i + 1), Point(pitch * (i - 1), ZERO), hole, size, i == 0)
    # TO-92: 4.8 wide, 3.9 deep; the leads stand 1.6 behind the flat
    radius, flat = mm("2.4"), mm("1.6")
    body = Box(-radius, -radius, radius, flat)
    line = flat + OUTLINE_GAP
    sketch.line(Point(-mm("1.7"), line), Point(mm("1.7"), line))
    sketch.ring(Point(ZERO, ZERO), radius + OUTLINE_GAP, -40, 260)
    return _close(sketch, p, name, "TO-92, leads in line, flat down", body)


def link(p: Params, name: str) -> Drawn:
    """Draw a wire link."""
    pitch = p.length("pitch_mm", 2.5, 120)
    hole = p.length("hole_mm", 0.6, 1.5, "0.8")
    sketch = Sketch()
    _pair(sketch, pitch, hole, hole + PAD_OVER_HOLE, False)
    body = _box(pitch, mm("0.8"))
    sketch.line(Point(-pitch // 2, ZERO), Point(pitch // 2, ZERO))
    return _close(sketch, p, name, f"wire link, {pitch.mm:g} mm", body)


def hole(p: Params, name: str) -> Drawn:
    """Draw a bare mounting hole; the courtyard is the screw's head, on both faces."""
    across = p.length("diameter_mm", 1, 10)
    head = p.length("head_mm", 1, 25)
    p.done()
    if head <= across:
        raise p.fail("head_mm", "the head must be larger than the hole", head.mm)
    sketch = Sketch()
    middle = Point(ZERO, ZERO)
    sketch.peg(middle, across)
    sketch.graphics.append(Circle(PartLayer.DRAWING, middle, head // 2, mm("0.1")))
    body = _box(head, head)
    for face in (Face.NEAR, Face.FAR):
        sketch.graphics.append(Circle(PartLayer.COURTYARD, middle, head // 2, mm("0.05"), face=face))
    return Drawn(sketch.finish(name, f"mounting hole, {across.mm:g} mm, bare", body), body=body)
