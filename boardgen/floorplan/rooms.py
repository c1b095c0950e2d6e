"""What room module and connector take, in their own frames."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boardgen.board.geometry import courtyard_polygon
from boardgen.board.model import Placement, Side
from boardgen.catalog.model import Connector, Module, Mounting
from boardgen.floorplan.frame import union
from boardgen.footprint.model import Face, Footprint, PadKind
from boardgen.units import ZERO, Box, Nm, Point, mm

GRID = mm("0.254")  # the router's coarse grid; a tenth of the pitch most modules have
SOCKET_HEIGHT = mm("8.5")  # body of a 2.54 socket strip, which a soldered-down module saves
# How far a mating face may stand back from the board's edge where its pads would come too near to
# it: no more than the least tolerance of a routed profile, so nobody who fits a plug can tell.
SIT_BACK = mm("0.2")
MATE_DEPTH = mm(30)  # how far out a mating plug and its cable are kept free

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class PartRoom:
    """One big part: its footprint, the box it keeps free, and its board edge.

    *room* is the box round courtyard, body and pads. *edge* is the local y of
    the board's edge (None for a part that stands inside), *outward* +1 where
    the edge is at the +y end, -1 at the -y end.
    """

    footprint: Footprint
    room: Box
    edge: Nm | None
    outward: int

    def inside(self) -> Box:
        """The room without what hangs over the board's edge."""
        if self.edge is None:
            return self.room
        left, top, right, bottom = self.room
        if self.outward > 0:
            return Box(left, Nm(min(top, self.edge)), right, Nm(min(bottom, self.edge)))
        return Box(left, Nm(max(top, self.edge)), right, Nm(max(bottom, self.edge)))


def pads_box(footprint: Footprint) -> Box:
    """Return the box round all pads and holes (each as if round with its longer side)."""
    boxes = []
    for pad in footprint.pads:
        reach = Nm(max(pad.size.w, pad.size.h, *(pad.hole or (ZERO, ZERO))) // 2)
        boxes.append(Box(pad.at.x, pad.at.y, pad.at.x, pad.at.y).grown(reach))
    return union(boxes) if boxes else Box(ZERO, ZERO, ZERO, ZERO)


def courtyard_box(footprint: Footprint) -> Box:
    """Return the box round the courtyards of both faces, or round the pads where none is drawn."""
    boxes = []
    for face in (Face.NEAR, Face.FAR):
        area = courtyard_polygon(footprint, face)
        if not area.is_empty:
            boxes.append(Box(*(Nm(round(v)) for v in area.bounds)))
    return union(boxes) if boxes else pads_box(footprint)


def module_room(module: Module, footprint: Footprint, copper_to_edge: Nm) -> PartRoom:
    """Return the module's room; its edge lets the jack stand flush or over.

    The board's edge runs with the module's own, or further out where the pads
    would come nearer than *copper_to_edge*: to the jack's mouth, and past it by
    SIT_BACK at the most (see :func:`pads_to_edge` for what is left then).
    """
    room = union([courtyard_box(footprint), module.body, pads_box(footprint)])
    if module.usb is None:
        return PartRoom(footprint, room, None, -1)
    mouth = module.body.top - module.usb.overhang
    flush = max(int(module.body.top), int(mouth))
    kept = max(int(pads_box(footprint).top - copper_to_edge), int(mouth - SIT_BACK))
    edge = Nm(min(flush, kept))
    room = Box(room.left, Nm(min(room.top, mouth, edge)), room.right, room.bottom)
    return PartRoom(footprint, room, edge, -1)


def edge_slack(module: Module, room: PartRoom) -> Nm:
    """Return how far the board's edge may still move out before the jack would sit back."""
    if module.usb is None or room.edge is None:
        return ZERO
    return Nm(max(0, room.edge - (module.body.top - module.usb.overhang)))


def connector_room(connector: Connector, footprint: Footprint, copper_to_edge: Nm) -> PartRoom:
    """Return the connector's room; a straight one keeps its mate's envelope free too.

    The edge before an edge connector is its own, moved out by SIT_BACK at the
    most where its pads would come nearer than *copper_to_edge*.
    """
    boxes = [courtyard_box(footprint), connector.body, pads_box(footprint)]
    if connector.mounting is Mounting.STRAIGHT:
        centre = connector.body.centre
        half = Point(connector.mate.w // 2, connector.mate.h // 2)
        boxes.append(Box(centre.x - half.x, centre.y - half.y, centre.x + half.x, centre.y + half.y))
        return PartRoom(footprint, union(boxes), None, 1)
    edge = connector.body.bottom if connector.edge is None else connector.edge
    if connector.mounting is not Mounting.STRADDLE:  # that one is pushed onto the edge
        wanted = int(pads_box(footprint).bottom + copper_to_edge)
        edge = Nm(min(max(int(edge), wanted), edge + SIT_BACK))
    return PartRoom(footprint, union(boxes), edge, 1)


def pads_to_edge(room: PartRoom) -> Nm | None:
    """Return the distance from the outermost pad to the edge the part stands at; None inside the board."""
    if room.edge is None:
        return None
    pads = pads_box(room.footprint)
    return Nm(room.edge - pads.bottom) if room.outward > 0 else Nm(pads.top - room.edge)


def mate_box(connector: Connector, room: PartRoom) -> Box | None:
    """Return the room in front of an edge connector that its mate needs, else None."""
    if room.edge is None:
        return None
    edge = room.edge
    half = max(int(connector.mate.w), int(connector.body.width)) // 2
    middle = connector.body.centre.x
    return Box(middle - half, edge, middle + half, edge + MATE_DEPTH)


def plug_box(module: Module, room: PartRoom) -> Box | None:
    """Return the room of a cable's plug in front of the jack, from its mouth outward; None without USB.

    Where the mouth stands back from the board's edge, from the edge outward.
    """
    if module.usb is None or room.edge is None:
        return None
    mouth = Nm(min(module.body.top - module.usb.overhang, room.edge))
    half = module.usb.plug.w // 2
    middle = module.body.centre.x
    return Box(middle - half, mouth - module.usb.plug_length, middle + half, mouth)


def module_height(module: Module, socketed: bool) -> Nm:
    """Return the height above the carrier; a soldered module saves its sockets."""
    if socketed:
        return module.height
    return Nm(max(int(module.height - SOCKET_HEIGHT), int(mm(3))))


def turned_pads(footprint: Footprint, rotation: float, side: Side) -> list[Point]:
    """Return the centres of the copper pads about the part's origin, turned and turned over."""
    frame = Placement(Point(ZERO, ZERO), rotation, side)
    return [frame.place(pad.at) for pad in footprint.pads if pad.kind is not PadKind.UNPLATED]


def common_residue(values: Iterable[int], grid: int = GRID) -> int:
    """Return the remainder by *grid* that most *values* have (the least of equals)."""
    counts = Counter(int(value) % grid for value in values)
    if not counts:
        return 0
    return min(counts, key=lambda rest: (-counts[rest], rest))


def snapped(at: int, residue: int, origin: int, low: int | None = None, high: int | None = None) -> Nm:
    """Return the place nearest to *at*, within low..high, that puts the pads on the grid.

    *residue* is :func:`common_residue` of the pads, *origin* the grid's own
    zero. Where no grid place lies in the range, *at* itself is kept in it.
    """
    base = (origin - residue) % GRID
    steps = round((at - base) / GRID)
    best: int | None = None
    for step in (steps - 1, steps, steps + 1):
        value = base + step * GRID
        if (low is not None and value < low) or (high is not None and value > high):
            continue
        if best is None or (abs(value - at), value) < (abs(best - at), best):
            best = value
    if best is None:
        best = at
        best = best if low is None else max(best, low)
        best = best if high is None else min(best, high)
    return Nm(best)
