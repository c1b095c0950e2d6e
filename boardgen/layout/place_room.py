"""Where small parts may not stand: everything big, as upright boxes in whole nm."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from boardgen.board.geometry import outline_polygon, pad_shape, part_courtyard, polygons_of
from boardgen.board.model import Keepout, Outline, Part, Placement, Side
from boardgen.catalog.model import Mounting
from boardgen.design.model import BoundDesign
from boardgen.floorplan.model import Floorplan
from boardgen.floorplan.rooms import connector_room, mate_box, module_room, plug_box
from boardgen.units import Box, Nm

SLAB = 500_000  # nm; height of the strips a slanted or round area is cut into
BARE_COURTYARD = 250_000  # nm kept round the pads of a part that draws no courtyard

Rect = tuple[int, int, int, int]  # left, top, right, bottom


@dataclass(frozen=True, slots=True)
class Room:
    """The board as the placer sees it.

    *bounds* is the box round the area that parts may use, *hard* boxes that
    nothing may touch into, *big* boxes (module, connector) that are kept at
    a distance where there is room.
    """

    bounds: Rect
    hard: tuple[Rect, ...]
    big: tuple[Rect, ...]


def boxes_of(area: BaseGeometry) -> list[Rect]:
    """Return upright boxes that together cover *area*; exact for a rectangle.

    Anything else is cut into strips of at most 0.5 mm, each covered by the
    boxes round its pieces.
    """
    found: list[Rect] = []
    for polygon in polygons_of(area):
        left, top, right, bottom = polygon.bounds
        if abs(polygon.area - (right - left) * (bottom - top)) <= 1e-9 * polygon.area:
            found.append(_rect(polygon))
            continue
        count = max(1, math.ceil((bottom - top) / SLAB))
        step = (bottom - top) / count
        for i in range(count):
            strip = shapely.clip_by_rect(polygon, left, top + i * step, right, top + (i + 1) * step)
            found.extend(_rect(piece) for piece in polygons_of(strip))
    return found


def _rect(area: BaseGeometry) -> Rect:
    left, top, right, bottom = area.bounds
    return (math.floor(left), math.floor(top), math.ceil(right), math.ceil(bottom))


def part_area(part: Part) -> BaseGeometry:
    """Return the room *part* takes, either side counted: courtyards, or pads where none is drawn."""
    yards = [part_courtyard(part, side) for side in Side]
    pads = [pad_shape(part, pad).polygon() for pad in part.footprint.pads]
    if all(yard.is_empty for yard in yards):
        return shapely.union_all([pad.buffer(BARE_COURTYARD) for pad in pads])
    return shapely.union_all([*yards, *pads])


def _placed_box(box: Box, placement: Placement) -> Rect:
    corners = [placement.place(corner) for corner in box.corners()]
    xs, ys = [int(p.x) for p in corners], [int(p.y) for p in corners]
    return (min(xs), min(ys), max(xs), max(ys))


def usable(outline: Outline, edge: Nm) -> BaseGeometry:
    """Return the board's area less a border of *edge*."""
    area: Polygon = outline_polygon(outline)
    return area.buffer(-float(edge), join_style="mitre")


def make_room(bound: BoundDesign, floorplan: Floorplan, module: Part, connector: Part) -> Room:
    """Return the room that is left for small parts on *floorplan*.

    Parts keep the fab's copper-to-edge distance from the outline, and clear of
    keepouts, mounting holes, module, connector, the cable's plug and the mate.
    """
    area = usable(floorplan.outline, bound.fab.edge_copper_min)
    bounds = _inner(area)
    outside = shapely.difference(shapely.box(*bounds), area)
    hard = boxes_of(outside)
    for keepout in floorplan.keepouts:
        hard.extend(boxes_of(_ring(keepout)))
    for hole in floorplan.holes:
        hard.extend(boxes_of(part_area(hole)))
    edge = bound.fab.edge_copper_min
    plug = plug_box(bound.module, module_room(bound.module, module.footprint, edge))
    if plug is not None:
        hard.append(_placed_box(plug, module.placement))
    big = [*boxes_of(part_area(module)), _placed_box(bound.module.body, module.placement)]
    big += _connector_boxes(bound, connector)
    return Room(bounds, tuple(hard), tuple(dict.fromkeys(big)))


def with_parts(room: Room, parts: Sequence[Part], gap: int) -> Room:
    """Return *room* without the places of small *parts* that stand already, *gap* nm kept round each."""
    boxes = [
        (left - gap, top - gap, right + gap, bottom + gap)
        for part in parts
        for left, top, right, bottom in boxes_of(part_area(part))
    ]
    return replace(room, hard=(*room.hard, *boxes)) if boxes else room


def _connector_boxes(bound: BoundDesign, connector: Part) -> list[Rect]:
    kind = bound.connector
    room = connector_room(kind, connector.footprint, bound.fab.edge_copper_min)
    boxes = [*boxes_of(part_area(connector)), _placed_box(kind.body, connector.placement)]
    if kind.mounting is Mounting.STRAIGHT:
        boxes.append(_placed_box(room.room, connector.placement))
    mate = mate_box(kind, room)
    if mate is not None:
        boxes.append(_placed_box(mate, connector.placement))
    return boxes


def _ring(keepout: Keepout) -> Polygon:
    return Polygon(keepout.ring)


def _inner(area: BaseGeometry) -> Rect:
    if area.is_empty:
        return (0, 0, 0, 0)
    left, top, right, bottom = area.bounds
    return (math.ceil(left), math.ceil(top), math.floor(right), math.floor(bottom))
