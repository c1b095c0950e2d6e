"""Pours with their fills, and areas kept free, of a CAD board."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from boardgen.board.geometry import Shape, polygons_of
from boardgen.board.model import Keepout, Pour, PourPiece, Side
from boardgen.errors import InputError, Severity
from boardgen.footprint.arcs import chord_points
from boardgen.footprint.reading import Reader
from boardgen.footprint.sexpr import Node, child, children, head, words
from boardgen.readback.cad_board.footprints import is_locked
from boardgen.readback.cad_board.layers import COPPER, is_copper, layers_of
from boardgen.readback.cad_board.nets import NO_NET, Nets
from boardgen.readback.cad_board.notes import Notes
from boardgen.readback.tangles import is_tangled
from boardgen.units import ZERO, Nm, Point, format_mm

MOST_CORNERS = 2_000_000
_BARRED = ("tracks", "vias", "copperpour")


@dataclass(slots=True)
class Zones:
    """Pours and kept-free areas read so far."""

    pours: list[Pour] = field(default_factory=list)
    keepouts: list[Keepout] = field(default_factory=list)
    corners: int = 0


def read_zones(where: str, board: Node, nets: Nets, sides: tuple[Side, ...], notes: Notes) -> Zones:
    """Return the pours as they are filled in the file, and the kept-free areas.

    A fill's ring may hold holes tied to it by bridges of no width: these come out as holes. Fills of the old
    sort, whose stroke of the least width adds to them, are grown by half of it, chords outside.
    """
    found = Zones()
    for node in children(board, "zone"):
        reader = Reader(where)
        try:
            if child(node, "keepout") is not None:
                _keepout(reader, node, notes, found)
            else:
                _pour(reader, node, nets, sides, notes, found)
        except InputError as error:
            copper = bool(children(node, "filled_polygon"))
            notes.failed(f"an area on {' and '.join(layers_of(node)) or 'no layer'}", error, copper)
        if found.corners > MOST_CORNERS:
            raise InputError("the pours have too many corners", where, allowed=f"at most {MOST_CORNERS}")
    return found


def _ring(reader: Reader, node: Node | None) -> list[Point]:
    """Return the corners of a ring; arcs in it as chords on the curve."""
    points: list[Point] = []
    for item in (child(node, "pts") or [])[1:] if node is not None else []:
        if not isinstance(item, list):
            continue
        if head(item) == "xy" and len(item) > 2:
            points.append(Point(reader.length(item[1], ""), reader.length(item[2], "")))
        elif head(item) == "arc":
            ends = [reader.point(item, name, "") for name in ("start", "mid", "end")]
            points += chord_points(ends[0], ends[1], ends[2])
        else:
            raise reader.fail("a corner needs an x and a y", "")
    if len(points) < 3:
        raise reader.fail("a ring needs three corners", "", str(len(points)))
    return points


def _value(reader: Reader, node: Node | None, name: str) -> Nm:
    given = words(child(node or [], name))
    return reader.length(given[0], name) if given else ZERO


def pieces_of(ring: list[Point], grow: float) -> list[PourPiece]:
    """Return the areas a filled ring encloses, its holes as holes, grown by *grow* nm."""
    if is_tangled(ring):
        raise InputError("a fill that crosses itself all over")
    area: BaseGeometry = Polygon(ring)
    if not area.is_valid:
        area = shapely.make_valid(area)
    if grow > 0:
        area = shapely.union_all([Shape(p, 0.0).polygon(grow) for p in polygons_of(area)])
    pieces = []
    for polygon in polygons_of(area):
        whole = _on_grid(polygon)
        for part in polygons_of(whole):
            rings = [part.exterior, *part.interiors]
            outer, *holes = (
                tuple(Point(Nm(x), Nm(y)) for x, y in np.rint(r.coords[:-1]).astype(np.int64).tolist())
                for r in rings
            )
            pieces.append(PourPiece(outer, tuple(sorted(holes))))
    return pieces


def _on_grid(polygon: Polygon) -> BaseGeometry:
    """Return *polygon* with whole nm for corners, still valid."""
    rounded = shapely.transform(polygon, np.rint)
    return rounded if rounded.is_valid else shapely.set_precision(polygon, 1.0)


def _pour(
    reader: Reader, node: Node, nets: Nets, sides: tuple[Side, ...], notes: Notes, found: Zones
) -> None:
    net = nets.of(node, "an area of copper")
    if net is None and not words(child(node, "net")):
        net = nets.named(" ".join(words(child(node, "net_name"))))
    owner = net or NO_NET
    layers = [layer for layer in layers_of(node) if is_copper(layer)]
    fills = children(node, "filled_polygon")
    whole = words(child(node, "filled_areas_thickness")) == ["no"]
    least, asked = _value(reader, node, "min_thickness"), child(node, "fill")
    area = _ring(reader, child(node, "polygon"))
    connect = child(node, "connect_pads")
    where = format_mm(min(p.x for p in area), 2), format_mm(min(p.y for p in area), 2)
    if is_locked(node):
        notes.locked.append(f"pour of {owner} at {where[0]}, {where[1]} mm")
    filled: dict[str, list[PourPiece]] = {layer: [] for layer in layers}
    for fill in fills:
        ring = _ring(reader, fill)
        found.corners += len(ring)
        if found.corners > MOST_CORNERS:
            return
        layer = " ".join(words(child(fill, "layer"))) or (layers[0] if layers else "")
        filled.setdefault(layer, []).extend(pieces_of(ring, 0.0 if whole else least / 2))
    for layer, pieces in filled.items():
        side = COPPER.get(layer)
        if side is None or side not in sides:
            if pieces:
                message = f"a pour of {owner} is on {layer[:40]}, which the fab class does not make"
                notes.tell("cad-layer", Severity.ERROR, message, area[0], layer[:40])
            continue
        if not pieces:
            message = f"the area for {owner} has no fill: fill all areas in the CAD program and save"
            notes.tell("cad-fill", Severity.WARNING, message, area[0], f"{side.value} copper")
        found.pours.append(
            Pour(
                owner,
                side,
                tuple(area),
                tuple(pieces),
                _value(reader, connect, "clearance"),
                least,
                _value(reader, asked, "thermal_gap"),
                _value(reader, asked, "thermal_bridge_width"),
            )
        )


def _keepout(reader: Reader, node: Node, notes: Notes, found: Zones) -> None:
    ring = _ring(reader, child(node, "polygon"))
    found.corners += len(ring)
    barred = child(node, "keepout") or []
    reason = " ".join(words(child(node, "name"))) or "rule area"
    bars = {name: words(child(barred, name)) == ["not_allowed"] for name in (*_BARRED, "footprints")}
    layers = {layer for layer in layers_of(node) if is_copper(layer)}
    if not any(bars.values()):
        return
    if not all(bars[name] for name in _BARRED) or not layers >= {"F.Cu", "B.Cu"}:
        named = ", ".join(name for name, given in bars.items() if given)
        message = (
            f"the area {reason[:60]!r} bars {named} on {' and '.join(sorted(layers)) or 'no copper'} alone; "
        )
        notes.unread(message + "only areas that bar all copper on both sides are checked", False, ring[0])
        return
    if not Polygon(ring).is_valid:
        raise reader.fail("the outline of the kept-free area crosses itself", reason[:60])
    found.keepouts.append(Keepout(tuple(ring), reason, bars["footprints"]))
