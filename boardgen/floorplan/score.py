"""What an arrangement is worth, in mm-equivalents: smaller is better.

The weights say how many mm of track a practitioner would give for a thing.
"""

from __future__ import annotations

from dataclasses import dataclass

from boardgen.floorplan.frame import OPPOSITE, placed_box
from boardgen.floorplan.packing import SmallParts, free_strips, left_over
from boardgen.floorplan.search import Arrangement, Pair
from boardgen.floorplan.wires import WireModel, wire_estimate
from boardgen.units import NM_PER_MM, Box, mm

CROSSING = 4.0  # a crossing costs a detour or a change of side
AREA = 0.1  # per mm2: 10 cm2 of board for 100 mm of track
USB_SIDE = 4.0  # the cable leaves at a right angle to the connector's
USB_SAME = 25.0  # both cables on one side, within reach of each other's plugs
OFF_CENTRE = 0.15  # per mm the connector stands off the board's middle
HOLE_SLIDE = 0.8  # per mm a hole stands off its corner
ANTENNA = 1.0  # per mm of board between an antenna and the nearest edge
CROWD = 0.6  # per mm2 of small parts without a shelf
BOTTOM_SIDE = 60.0  # a module under the board hides its USB jack and its pin names
BORDER = mm(1)


@dataclass(frozen=True, slots=True)
class Scored:
    """An arrangement with its score and the terms it is the sum of."""

    made: Arrangement
    score: float
    terms: tuple[tuple[str, float], ...]
    crossings: int


def crowding(pair: Pair, parts: SmallParts, made: Arrangement) -> float:
    """Return the area of small parts without a shelf, mm2."""
    if not parts.sizes:
        return 0.0
    board = made.region.box.grown(-BORDER)
    module = placed_box(pair.module_room.room, made.module)
    connector = placed_box(pair.connector_room.room, made.connector)
    return left_over(parts, free_strips(board, module, connector)) / 1e12


def free_area(pair: Pair, made: Arrangement) -> float:
    """Return the board's area (nm2) that neither big part covers."""
    covered = (
        placed_box(pair.module_room.inside(), made.module),
        placed_box(pair.connector_room.inside(), made.connector),
    )
    return made.region.area - sum(float(box.width) * float(box.height) for box in covered)


def _edge_gap(box: Box, whole: Box) -> float:
    gaps = (box.left - whole.left, box.top - whole.top, whole.right - box.right, whole.bottom - box.bottom)
    return max(0.0, min(float(gap) for gap in gaps))


def _slide(made: Arrangement) -> float:
    """Sum over the holes of the way to the nearest corner, beyond the least there is, mm."""
    if not made.holes:
        return 0.0
    corners = made.region.box.corners()
    ways = [min(hole.distance(corner) for corner in corners) for hole in made.holes]
    return sum(way - min(ways) for way in ways) / NM_PER_MM


def score(made: Arrangement, pair: Pair, wires: WireModel, parts: SmallParts) -> Scored:
    """Return the arrangement with its score."""
    length, crossed = wire_estimate(wires, made.module, made.connector)
    usb = 0.0
    if pair.has_jack and pair.connector_edge:
        usb = {"bottom": USB_SAME, OPPOSITE["bottom"]: 0.0}.get(made.front, USB_SIDE)
    antenna = sum(
        _edge_gap(placed_box(area.box, made.module), made.region.box) for area in pair.module.antenna
    )
    middle = placed_box(pair.connector.body, made.connector).centre.x
    terms = (
        ("wire", length),
        ("crossings", CROSSING * crossed),
        ("area", AREA * made.region.area / 1e12),
        ("usb", usb),
        ("off-centre", OFF_CENTRE * abs(int(middle - made.region.box.centre.x)) / NM_PER_MM),
        ("holes", HOLE_SLIDE * _slide(made)),
        ("antenna", ANTENNA * antenna / NM_PER_MM),
        ("crowding", CROWD * crowding(pair, parts, made)),
        ("side", 0.0 if pair.side.value == "top" else BOTTOM_SIDE),
    )
    kept = tuple((name, round(value, 6)) for name, value in terms if value)
    return Scored(made, round(sum(value for _, value in kept), 6), kept, crossed)
