"""Wire links: short bare wires that carry a net over what one copper side cannot cross."""

from __future__ import annotations

from boardgen.board.model import Board, Part, PartKind, Placement, Side
from boardgen.footprint.model import Footprint, Line, Pad, PadKind, PadShape, PartLayer, Polygon
from boardgen.units import ORIGIN, ZERO, Nm, Point, Size, format_mm, mm

COURTYARD = mm("0.25")  # room beyond the pads
STROKE = mm("0.15")


def link_footprint(span: Nm, pad: Nm, hole: Nm) -> Footprint:
    """Return two round pads *span* nm apart along x, the first at the origin, with a wire drawn between."""
    r = Nm(pad // 2)
    size = Size(pad, pad)
    left, right = -r - COURTYARD, Nm(span + r + COURTYARD)
    top, bottom = -r - COURTYARD, r + COURTYARD
    ring = (Point(left, top), Point(right, top), Point(right, bottom), Point(left, bottom))
    start, end = Point(r + COURTYARD, ZERO), Point(Nm(span - r - COURTYARD), ZERO)
    return Footprint(
        name=f"Link_{format_mm(span)}mm",
        pads=tuple(
            Pad(number, PadKind.PLATED, PadShape.CIRCLE, Point(x, ZERO), size, Size(hole, hole))
            for number, x in (("1", ZERO), ("2", span))
        ),
        graphics=(
            Line(PartLayer.LEGEND, start, end, STROKE),
            Line(PartLayer.DRAWING, ORIGIN, Point(span, ZERO), STROKE),
            Polygon(PartLayer.COURTYARD, ring, mm("0.05")),
        ),
        description=f"wire link, {format_mm(span)} mm between holes",
        reference_at=Point(Nm(span // 2), Nm(top - mm("0.7"))),
        value_at=Point(Nm(span // 2), Nm(bottom + mm("0.7"))),
    )


def link_parts(board: Board, jumps: list[tuple[str, Point, Point]], pad: Nm, hole: Nm) -> tuple[Part, ...]:
    """Return the links for *jumps* (net, one end, other end) as parts W1, W2, ... beyond those present."""
    used = {part.ref for part in board.parts}
    parts: list[Part] = []
    number = 0
    for net, a, b in jumps:
        number += 1
        while f"W{number}" in used:
            number += 1
        dx, dy = b.x - a.x, b.y - a.y
        span = Nm(max(abs(dx), abs(dy)))
        turn = 0.0 if dx > 0 else 180.0 if dx < 0 else 270.0 if dy > 0 else 90.0
        parts.append(
            Part(
                ref=f"W{number}",
                value=f"{format_mm(span)} mm",
                footprint=link_footprint(span, pad, hole),
                placement=Placement(a, turn, Side.TOP),
                kind=PartKind.LINK,
                nets=(("1", net), ("2", net)),
            )
        )
    return tuple(parts)
