"""Rule ``courtyard`` for wire links under a raised body: no courtyard can speak for them there.

A link under a module on sockets has none, since the module's own covers that ground.
So its wire is measured against what does stand there: the socket strips, the other
links, and the courtyards of parts that lie flat on the board.
"""

from __future__ import annotations

from collections.abc import Iterator

import shapely
from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from boardgen.board.geometry import part_courtyard
from boardgen.board.model import Part, PartKind, Side
from boardgen.footprint.model import PadKind
from boardgen.rules.survey import Survey
from boardgen.units import Nm, Point, mm

RAISED = mm(3)  # a body at this height leaves room for a bare wire and for the joints above it
STRIP_HALF = mm("1.5")  # half a 2.54 mm socket strip, and its tolerance
WIRE_HALF = mm("0.4")  # a wire of 0.6 mm and what it may wander
END_HALF = mm("0.6")  # about its holes, where it bends
CHORDS = 16  # a quarter of a circle; 1 um at these radii


def is_under(link: Part) -> bool:
    """Whether *link* is one without a courtyard, for use under a raised body."""
    return link.kind is PartKind.LINK and part_courtyard(link, Side.TOP).is_empty


def link_room(link: Part) -> BaseGeometry:
    """Return what the wire of *link* takes up on the top: its strip and the bends at its holes."""
    ends = [link.placement.place(pad.at) for pad in link.footprint.pads]
    holes = shapely.MultiPoint([(p.x, p.y) for p in ends]).buffer(float(END_HALF), quad_segs=CHORDS)
    wire = LineString([(p.x, p.y) for p in ends]).buffer(float(WIRE_HALF), quad_segs=CHORDS)
    return shapely.union(wire, holes)


def socket_strips(module: Part) -> BaseGeometry:
    """Return the ground that the socket strips of *module* cover: a square about each pad, joined."""
    squares = []
    for pad in module.footprint.pads:
        if pad.kind is PadKind.UNPLATED:
            continue
        corners = [
            module.placement.place(Point(Nm(pad.at.x + sx * STRIP_HALF), Nm(pad.at.y + sy * STRIP_HALF)))
            for sx, sy in ((-1, -1), (1, -1), (1, 1), (-1, 1))
        ]
        squares.append(Polygon([(p.x, p.y) for p in corners]))
    return shapely.union_all(squares)


def under_pairs(survey: Survey) -> Iterator[tuple[tuple[str, BaseGeometry], tuple[str, BaseGeometry]]]:
    """Yield each link under a raised body with everything its wire has to keep off, names beside areas."""
    parts = survey.board.parts
    under = [part for part in parts if is_under(part)]
    if not under:
        return
    others: list[tuple[str, BaseGeometry]] = []
    for part in parts:
        if part.kind is PartKind.LINK:
            if not is_under(part):
                others.append((part.ref, link_room(part)))
        elif part.kind is PartKind.MODULE and part.placement.side is Side.TOP and part.standoff >= RAISED:
            others.append((f"socket strip of {part.ref}", socket_strips(part)))
        else:
            room = part_courtyard(part, Side.TOP)
            if not room.is_empty:
                others.append((part.ref, room))
    rooms = [(link.ref, link_room(link)) for link in under]
    for i, mine in enumerate(rooms):
        for other in (*others, *rooms[i + 1 :]):
            yield mine, other
