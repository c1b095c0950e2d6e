"""Wire links: short bare wires that carry a net over what one copper side cannot cross."""

from __future__ import annotations

import math

from shapely import LineString

from boardgen.board.geometry import part_courtyard
from boardgen.board.model import Board, Part, PartKind, Placement, Side
from boardgen.footprint.model import Footprint, Line, Pad, PadKind, PadShape, PartLayer, Polygon
from boardgen.units import ORIGIN, ZERO, Nm, Point, Size, format_mm, mm, nm

COURTYARD = mm("0.25")  # room beyond the pads, toward other parts
WIRE = mm("0.6")  # a bare wire's usual diameter
WIRE_ROOM = mm("0.4")  # half the strip a wire may wander in
END_ROOM = mm("0.6")  # about its holes, where it bends; its pads are on the other side
ROUND = 16  # corners of a pad's room
STROKE = mm("0.15")
# A body this high over the board leaves room for wire links under it: a bare wire lies within
# 1 mm of the board, and as much again and more keeps it from the solder joints above.
UNDER = mm(3)
STRIP = mm("1.5")  # half a socket strip (2.54 wide) and its tolerance, from the middle of its pads


def is_raised(part: Part) -> bool:
    """Whether wire links may lie under the body of *part*, between its sockets."""
    return part.kind is PartKind.MODULE and part.placement.side is Side.TOP and part.standoff >= UNDER


def link_footprint(span: Nm, pad: Nm, hole: Nm, courtyard: bool = True) -> Footprint:
    """Return two round pads *span* nm apart along x, the first at the origin, with a wire drawn between.

    One without *courtyard* is for links under another part's body.
    """
    r = Nm(pad // 2)
    size = Size(pad, pad)
    top, bottom = -r - COURTYARD, r + COURTYARD
    start, end = Point(r + COURTYARD, ZERO), Point(Nm(span - r - COURTYARD), ZERO)
    ring = _dumbbell(span, END_ROOM)
    room = (Polygon(PartLayer.COURTYARD, ring, mm("0.05")),) if courtyard else ()
    return Footprint(
        name=f"Link_{format_mm(span)}mm" + ("" if courtyard else "_under"),
        pads=tuple(
            Pad(number, PadKind.PLATED, PadShape.CIRCLE, Point(x, ZERO), size, Size(hole, hole))
            for number, x in (("1", ZERO), ("2", span))
        ),
        graphics=(
            Line(PartLayer.LEGEND, start, end, STROKE),
            Line(PartLayer.DRAWING, ORIGIN, Point(span, ZERO), STROKE),
            *room,
        ),
        description=f"wire link, {format_mm(span)} mm between holes",
        reference_at=Point(Nm(span // 2), Nm(top - mm("0.7"))),
        value_at=Point(Nm(span // 2), Nm(bottom + mm("0.7"))),
    )


def around(reach: float) -> float:
    """Return how far the corners stand out whose chords keep outside a circle of *reach*."""
    return reach / math.cos(math.pi / ROUND)


def _dumbbell(span: Nm, reach: Nm) -> tuple[Point, ...]:
    """Return the room of a link: *reach* round each pad, and a strip along the wire between them.

    Links may lie side by side as close as one's wire keeps off the other's pads.
    """
    wide = around(float(reach))
    first = math.asin(WIRE_ROOM / wide)
    turns = [first + (math.tau - 2 * first) * k / (ROUND - 1) for k in range(ROUND)]
    left = [Point(nm(wide * math.cos(t)), nm(wide * math.sin(t))) for t in turns]
    right = [Point(Nm(span - at.x), -at.y) for at in left]
    return (*left, *right)


def link_parts(board: Board, jumps: list[tuple[str, Point, Point]], pad: Nm, hole: Nm) -> tuple[Part, ...]:
    """Return the links for *jumps* (net, one end, other end) as parts W1, W2, ... beyond those present."""
    used = {part.ref for part in board.parts}
    bodies = [part_courtyard(part, Side.TOP) for part in board.parts if is_raised(part)]
    parts: list[Part] = []
    number = 0
    for net, a, b in jumps:
        number += 1
        while f"W{number}" in used:
            number += 1
        dx, dy = b.x - a.x, b.y - a.y
        span = Nm(max(abs(dx), abs(dy)))
        turn = 0.0 if dx > 0 else 180.0 if dx < 0 else 270.0 if dy > 0 else 90.0
        placement = Placement(a, turn, Side.TOP)
        wire = LineString([a, b]).buffer(around(float(END_ROOM)))
        apart = not any(body.intersects(wire) for body in bodies)
        parts.append(
            Part(
                ref=f"W{number}",
                value=f"{format_mm(span)} mm",
                footprint=link_footprint(span, pad, hole, apart),
                placement=placement,
                kind=PartKind.LINK,
                nets=(("1", net), ("2", net)),
            )
        )
    return tuple(parts)
