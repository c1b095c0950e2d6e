"""Modular jacks: 8P8C lying on the board (Amphenol 54602 series land pattern)."""

from __future__ import annotations

from boardgen.footprint.families import mating
from boardgen.footprint.families.params import Params
from boardgen.footprint.families.sketch import CONNECTOR_MARGIN, OUTLINE_GAP, Drawn, Sketch
from boardgen.units import ZERO, Box, Point, mm, point_mm

PITCH = mm("1.27")  # of the pads, both rows together
CONTACT_PITCH = mm("1.02")  # of the contacts in the jack


def jack_face() -> mating.Face:
    """Return the face of the jack with its latch down: 1 at the left."""
    left = -CONTACT_PITCH * 7 // 2
    return tuple((str(i + 1), Point(left + CONTACT_PITCH * i, ZERO)) for i in range(8))


def build(p: Params, name: str) -> Drawn:
    """Draw an 8P8C jack: two staggered rows 2.54 mm apart, pegs 3.2 mm, 11.43 mm apart."""
    p.choice("gender", ("socket",), "socket")
    p.done()
    face = jack_face()
    left = -PITCH * 7 // 2
    sites = tuple(Point(left + PITCH * i, ZERO if i % 2 == 0 else -mm("2.54")) for i in range(8))
    edge = mm("13.5")
    sketch = Sketch(edge)
    pads = mating.land(face, (sites,))
    for number, at in pads:
        sketch.plated(number, at, mm("0.9"), mm("1.5"), number == "1")
    for x in ("-5.715", "5.715"):
        sketch.peg(point_mm(x, "6.35"), mm("3.2"))
    body = Box(mm("-7.65"), mm("-3.77"), mm("7.65"), mm("13.97"))
    sketch.pin_one(dict(pads)["1"], body)
    sketch.label("1", Point(left - mm("1.6"), ZERO))
    sketch.label("8", Point(-left + mm("1.6"), -mm("2.54")))
    sketch.outline(body.grown(OUTLINE_GAP).corners())
    sketch.drawing(body.corners())
    sketch.courtyard(sketch.extent(body).grown(CONNECTOR_MARGIN).corners())
    return Drawn(sketch.finish(name, "modular jack 8P8C, right-angle", body, ("8P8C",)), face, (), edge, body)
