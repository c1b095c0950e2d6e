"""Round connectors: DIN (IEC 60130-9) and mini-DIN sockets lying on the board.

A DIN face has its contacts on a 7.0 mm circle, the key up; contacts of a socket
are given as seen looking into it. The land patterns are those of the named
parts, in rows as the face has them (top row first), without numbers.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from boardgen.footprint.families import mating
from boardgen.footprint.families.params import Params
from boardgen.footprint.families.sketch import (
    CONNECTOR_MARGIN,
    OUTLINE_GAP,
    Drawn,
    Sketch,
    pad_box,
)
from boardgen.units import ZERO, Box, Nm, Point, Size, mm, nm, point_mm

SHELL = "SH"
CIRCLE = mm("3.5")  # radius on which the contacts stand

# contact: degrees from the bottom of the socket's face, counter-clockwise (to the right); None is the middle
_SOCKETS: dict[str, dict[str, float | None]] = {
    "5-180": {"1": 90, "4": 45, "2": 0, "5": -45, "3": -90},
    "6": {"1": 120, "2": 60, "3": 0, "4": -60, "5": -120, "6": None},
    "8-262": {"1": 90, "4": 45, "2": 0, "5": -45, "3": -90, "7": 131, "8": -131, "6": None},
}


def _row(*places: tuple[str, str]) -> tuple[Point, ...]:
    return tuple(point_mm(x, y) for x, y in places)


# Hirschmann MAB 5 SH, MAB 6 H and MAB 8 SH: 2.5 mm grid, pegs on y = 0
_LANDS: dict[str, mating.Sites] = {
    "5-180": (
        _row(("-7.5", "-5"), ("7.5", "-5")),
        _row(("-5", "-7.5"), ("5", "-7.5")),
        _row(("0", "-5")),
    ),
    "6": (
        _row(("-7.5", "-5"), ("7.5", "-5")),
        _row(("0", "-10")),
        _row(("-5", "-7.5"), ("5", "-7.5")),
        _row(("0", "-5")),
    ),
    "8-262": (
        _row(("-7.5", "-7.5"), ("7.5", "-7.5")),
        _row(("-5", "-5"), ("0", "-10"), ("5", "-5")),
        _row(("-2.5", "-7.5"), ("2.5", "-7.5")),
        _row(("0", "-5")),
    ),
}


@dataclass(frozen=True, slots=True)
class _Case:
    """The parts of a land pattern besides the contacts, all lengths in the footprint's frame."""

    body: Box
    edge: Nm
    shell: tuple[Point, ...]
    shell_hole: Nm
    shell_pad: Size
    pegs: tuple[Point, ...] = ()
    peg_hole: Nm = ZERO


def socket_face(kind: str) -> mating.Face:
    """Return the face of a DIN socket by its *kind* ("5-180", "6", "8-262"), key up."""
    found: list[mating.Contact] = []
    for number, turn in sorted(_SOCKETS[kind].items()):
        if turn is None:
            found.append((number, Point(ZERO, ZERO)))
            continue
        angle = math.radians(turn)
        x, y = (nm(round(CIRCLE * f(angle) / 1e4) * 1e4) for f in (math.sin, math.cos))
        found.append((number, Point(x, y)))
    return tuple(found)


def din(p: Params, name: str) -> Drawn:
    """Draw a DIN socket lying on the board, by ``kind``."""
    kind = p.choice("kind", _SOCKETS)
    p.choice("gender", ("socket",), "socket")
    p.done()
    back = mm("-8.7") if kind == "5-180" else mm("-11.4")
    case = _Case(
        body=Box(mm("-10.6"), back, mm("10.6"), mm("7.5")),
        edge=mm("7.0"),
        shell=(point_mm("-2.5", 5), point_mm("2.5", 5)),
        shell_hole=mm("1.3"),
        shell_pad=Size(mm("2.4"), mm("2.0")),
        pegs=(point_mm("-7.5", 0), point_mm("7.5", 0)),
        peg_hole=mm("2.3"),
    )
    face = socket_face(kind)
    pads = mating.land(face, _LANDS[kind])
    return _draw(name, f"DIN socket {kind}, right-angle", face, pads, mm("1.3"), mm("2.2"), case)


def mini_face() -> mating.Face:
    """Return the face of a 6-way mini-DIN socket, key up: 1 at the bottom right, leftward, then up."""
    places = (("1", "1.3", "2.0"), ("2", "-1.3", "2.0"), ("3", "3.4", "0"), ("4", "-3.4", "0"))
    upper = (("5", "2.4", "-2.0"), ("6", "-2.4", "-2.0"))
    return tuple((number, point_mm(x, y)) for number, x, y in (*places, *upper))


def mini_din_6(p: Params, name: str) -> Drawn:
    """Draw a 6-way mini-DIN socket lying on the board (CUI MD-60S land pattern)."""
    p.choice("gender", ("socket",), "socket")
    p.done()
    case = _Case(
        body=Box(mm("-7.0"), mm("-3.9"), mm("7.0"), mm("8.5")),
        edge=mm("8.0"),
        shell=(point_mm("-6.75", 3), point_mm(0, "3.8"), point_mm("6.75", 3)),
        shell_hole=mm("2.3"),
        shell_pad=Size(mm("3.4"), mm("3.4")),
    )
    face = mini_face()
    sites = (
        _row(("-3.4", "-2.5"), ("3.4", "-2.5")),
        _row(("-3.4", "0"), ("3.4", "0")),
        _row(("-1.3", "0"), ("1.3", "0")),
    )
    pads = mating.land(face, sites)
    return _draw(name, "mini-DIN 6-way socket, right-angle", face, pads, mm("0.9"), mm("1.6"), case)


def _draw(
    name: str, what: str, face: mating.Face, pads: mating.Face, hole: Nm, size: Nm, case: _Case
) -> Drawn:
    sketch = Sketch(case.edge)
    for number, at in pads:
        sketch.plated(number, at, hole, size, number == "1")
    for at in case.shell:
        sketch.plated(SHELL, at, case.shell_hole, case.shell_pad)
    for at in case.pegs:
        sketch.peg(at, case.peg_hole)
    pad_one = next(pad_box(pad) for pad in sketch.pads if pad.number == "1")
    inside = case.body.grown(-mm("0.2"))
    sketch.pin_one(dict(pads)["1"], case.body)
    for dx, dy in ((1, 0), (0, -1), (0, 1), (-1, 0)):
        reach = (pad_one.width // 2) + mm("0.95")
        at = Point(pad_one.centre.x + dx * reach, pad_one.centre.y + dy * reach)
        if sketch.label("1", at, within=inside):
            break
    sketch.outline(case.body.grown(OUTLINE_GAP).corners())
    sketch.drawing(case.body.corners())
    sketch.courtyard(sketch.extent(case.body).grown(CONNECTOR_MARGIN).corners())
    return Drawn(sketch.finish(name, what, case.body, ("DIN",)), face, (SHELL,), case.edge, case.body)
