"""What the CAD board says: pads, nets, holes, tracks, fills and outline of a ``.kicad_pcb`` file."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

import numpy as np
import shapely
from shapely import LineString, Polygon
from shapely import Point as ShapelyPoint
from shapely.geometry.base import BaseGeometry

from boardgen.board.geometry import Shape, arc_points, pad_shape
from boardgen.board.model import Part, Placement, Side
from boardgen.errors import InputError
from boardgen.footprint.model import Footprint
from boardgen.footprint.pad_reader import read_pad
from boardgen.footprint.reading import Reader
from boardgen.footprint.sexpr import (
    MAX_ITEMS,
    Node,
    child,
    children,
    head,
    parse,
    to_degrees,
    to_length,
    words,
)
from boardgen.readback.model import CHORD, Fill, Pad, Stroke, Via, Wanted
from boardgen.readback.profile_in import area_of_paths
from boardgen.readback.tangles import is_tangled
from boardgen.units import NM_PER_MM, ORIGIN, Nm, Point

_COPPER = {"F.Cu": Side.TOP, "B.Cu": Side.BOTTOM}
_PLAIN = ("circle", "oval", "rect", "roundrect")
_OPEN = "unconnected-("
XY = tuple[float, float]


def _nm(text: object) -> float:
    return float(to_length(text))


def _at(node: Node, name: str, way: XY) -> XY:
    inner = child(node, name)
    if inner is None or len(inner) < 3:
        raise ValueError(f"a {head(node) or 'list'} without {name}")
    return _nm(inner[1]) + way[0], _nm(inner[2]) + way[1]


def _number(node: Node, name: str) -> float:
    inner = child(node, name)
    if inner is None or len(inner) < 2:
        raise ValueError(f"a {head(node) or 'list'} without {name}")
    return _nm(inner[1])


def plain_net(text: str) -> str | None:
    """Return a net as the design spells it: local marks off; None for one that joins nothing."""
    if not text or text.startswith(_OPEN):
        return None
    return text.removeprefix("/").replace("{slash}", "/")


def _turn(x: float, y: float, degrees: float) -> XY:
    """Turn counter-clockwise as seen from the top; x right, y down; exact for quarters."""
    turned = Point(Nm(round(x)), Nm(round(y))).turned(degrees)
    return float(turned.x), float(turned.y)


def _slot(w: float, h: float) -> BaseGeometry:
    if w == h:
        return ShapelyPoint(0, 0)
    reach = abs(w - h) / 2
    return LineString([(-reach, 0), (reach, 0)] if w > h else [(0, -reach), (0, reach)])


def _put(skeleton: BaseGeometry, radius: float, at: XY, degrees: float) -> Shape:
    if isinstance(skeleton, ShapelyPoint):
        return Shape(ShapelyPoint(at), radius)
    quarter, rest = divmod(degrees % 360.0, 90.0)
    c, s = ((1, 0), (0, 1), (-1, 0), (0, -1))[int(quarter)] if rest == 0 else (
        math.cos(math.radians(degrees)),
        math.sin(math.radians(degrees)),
    )  # fmt: skip
    move = np.array([[c, -s], [s, c]])
    return Shape(shapely.transform(skeleton, lambda rows: rows @ move + np.array(at)), radius)


def _copper_shape(pad: Node, at: XY, degrees: float) -> Shape | None:
    """Return the pad's copper, or None for a form that is not read."""
    if str(pad[3]) not in _PLAIN or child(pad, "chamfer") or child(child(pad, "drill") or [], "offset"):
        return _free_shape(pad, at, degrees)
    size = [_nm(value) for value in words(child(pad, "size"))]
    w, h = size[0], size[-1]
    form = str(pad[3])
    if form == "circle":
        return Shape(ShapelyPoint(at), w / 2)
    if form == "oval":
        return _put(_slot(w, h), min(w, h) / 2, at, degrees)
    radius = 0.0
    if form == "roundrect":
        ratio = words(child(pad, "roundrect_rratio")) or ["0.25"]
        radius = round(to_degrees(ratio[0]) * min(w, h))
    x, y = w / 2 - radius, h / 2 - radius
    if x <= 0 and y <= 0:
        return Shape(ShapelyPoint(at), radius)
    if x <= 0 or y <= 0:
        return _put(_slot(2 * (x + radius), 2 * (y + radius)), radius, at, degrees)
    return _put(shapely.box(-x, -y, x, y), radius, at, degrees)


def _free_shape(pad: Node, at: XY, degrees: float) -> Shape | None:
    """Return the copper of a pad of free form, read as a footprint's is."""
    try:
        read = read_pad(Reader(""), pad, 1)
    except InputError:
        return None
    if read is None:
        return None
    # without a hole the copper's own middle is its place
    off = read.at.minus(Point(*(to_length(value) for value in words(child(pad, "at"))[:2])))
    spot = Point(Nm(round(at[0])), Nm(round(at[1])))
    own = replace(read, at=spot.plus(off), rotation=degrees)
    return pad_shape(Part("", "", Footprint("", (own,)), Placement(ORIGIN)), own)


def _hole(pad: Node, at: XY, degrees: float) -> Shape | None:
    drill = child(pad, "drill")
    if drill is None:
        return None
    values = [_nm(item) for item in drill[1:] if not isinstance(item, list) and str(item) != "oval"]
    if not values:
        return None
    return _put(_slot(values[0], values[-1]), min(values) / 2, at, degrees)


def _sides(pad: Node, copper: tuple[Side, ...]) -> tuple[Side, ...]:
    layers = words(child(pad, "layers"))
    if "*.Cu" in layers:
        return copper
    named = {_COPPER[layer] for layer in layers if layer in _COPPER}
    return tuple(side for side in copper if side in named)


def _reference(footprint: Node) -> str:
    for name in ("fp_text", "property"):
        for item in children(footprint, name):
            if len(item) > 2 and str(item[1]).casefold() == "reference":
                return str(item[2])
    return ""


def _ring_area(points: Iterable[Node], way: XY) -> BaseGeometry:
    """Return the area of a fill's ring; holes tied to it by bridges of no width come out as holes."""
    # Thousands of corners: taken as floats, which hold a nm on any board.
    rows = np.array([[float(str(p[1])), float(str(p[2]))] for p in points]) * NM_PER_MM
    if len(rows) < 3:
        return Polygon()
    if not np.isfinite(rows).all():
        raise ValueError("a filled area with a corner that is no number")
    if is_tangled(rows):
        raise ValueError("a filled area that crosses itself all over")
    ring = Polygon(np.rint(rows) + np.array(way))
    return ring if ring.is_valid else ring.buffer(0)


def _point(xy: XY) -> Point:
    return Point(Nm(round(xy[0])), Nm(round(xy[1])))


def _outline(board: Node, way: XY) -> BaseGeometry:
    paths: list[list[XY]] = []
    for item in board:
        if not isinstance(item, list) or words(child(item, "layer")) != ["Edge.Cuts"]:
            continue
        if head(item) == "gr_line":
            paths.append([_at(item, "start", way), _at(item, "end", way)])
        elif head(item) == "gr_arc":
            ends = [_point(_at(item, name, way)) for name in ("start", "mid", "end")]
            paths.append([(float(p.x), float(p.y)) for p in arc_points(ends[0], ends[1], ends[2], CHORD)])
        else:
            raise ValueError(f"a {head(item)} in the profile, which is not read")
    loops, _open = area_of_paths(paths)
    return loops


def _fills(board: Node, way: XY) -> list[Fill]:
    fills = []
    for zone in children(board, "zone"):
        net = plain_net(" ".join(words(child(zone, "net_name"))))
        for filled in children(zone, "filled_polygon"):
            side = _COPPER.get(" ".join(words(child(filled, "layer"))))
            points = child(filled, "pts")
            if side is not None and points is not None:
                fills.append(Fill(side, net, _ring_area(children(points, "xy"), way)))
    return fills


def origin_of(board: Node) -> XY:
    """Return the file's auxiliary origin (nm, sheet axes): the corner fabrication files count from."""
    setup = child(board, "setup")
    if setup is None:
        raise ValueError("no setup with the auxiliary origin")
    return _at(setup, "aux_axis_origin", (0.0, 0.0))


def tree_of(data: bytes, path: str, most: int = MAX_ITEMS) -> Node:
    """Return the file as nested lists. Raises InputError or UnicodeDecodeError where it is damaged."""
    return parse(data.decode("utf-8"), path, most)


def wanted_by_cad(board: Node, path: str, left: float, bottom: float, copper: tuple[Side, ...]) -> Wanted:
    """Return what the CAD board says, moved to the board's axes: its origin falls on (*left*, *bottom*).

    *copper* names the copper sides the board is made with; on one side, lines on the other are wire links.
    Raises ValueError for a list that lacks what it needs.
    """
    origin = origin_of(board)
    way = (left - origin[0], bottom - origin[1])
    plated = len(copper) > 1
    nets = {words(net)[0]: plain_net(str(net[2])) for net in children(board, "net") if len(net) > 2}
    pads: list[Pad] = []
    bare: list[tuple[str, Shape]] = []
    for footprint in children(board, "footprint"):
        at = child(footprint, "at") or []
        place = _at(footprint, "at", way)
        turn = to_degrees(at[3]) if len(at) > 3 else 0.0
        ref = _reference(footprint)
        for pad in children(footprint, "pad"):
            if len(pad) < 4:
                raise ValueError(f"a pad of {ref or 'a footprint'} without kind and shape")
            local = _at(pad, "at", (0.0, 0.0))
            own = child(pad, "at") or []
            angle = to_degrees(own[3]) if len(own) > 3 else 0.0
            dx, dy = _turn(*local, turn)
            centre = (place[0] + dx, place[1] + dy)
            hole = _hole(pad, centre, angle)
            if str(pad[2]) == "np_thru_hole":
                if hole is not None:
                    bare.append((f"hole of {ref}", hole))
                continue
            sides = _sides(pad, copper)
            net_node = child(pad, "net")
            net = plain_net(str(net_node[-1])) if net_node is not None and len(net_node) > 1 else None
            shape = _copper_shape(pad, centre, angle)
            pads.append(Pad(ref, str(pad[1]), net, centre, sides, shape, hole, hole is not None and plated))
    tracks: list[Stroke] = []
    wires: list[tuple[XY, XY]] = []
    for item in children(board, "segment"):
        side = _COPPER.get(" ".join(words(child(item, "layer"))))
        ends = _at(item, "start", way), _at(item, "end", way)
        if side not in copper or side is None:
            wires.append(ends)
            continue
        net = nets.get(" ".join(words(child(item, "net"))))
        tracks.append(Stroke(side, *ends, _number(item, "width"), net))
    if children(board, "arc"):
        raise ValueError("a track that is an arc, which is not read")
    vias = [
        Via(
            nets.get(" ".join(words(child(item, "net")))),
            _at(item, "at", way),
            _number(item, "size"),
            _number(item, "drill"),
        )
        for item in children(board, "via")
    ]
    setup = child(board, "setup")
    margin = child(setup, "pad_to_mask_clearance") if setup is not None else None
    return Wanted(
        name=path,
        grid=0.0,
        pads=tuple(pads),
        vias=tuple(vias),
        copper=copper,
        plated=plated,
        bare=tuple(bare),
        tracks=tuple(tracks),
        fills=tuple(_fills(board, way)),
        outline=_outline(board, way),
        links=_links(wires, pads),
        mask_margin=_nm(margin[1]) if margin is not None and len(margin) > 1 else None,
    )


def _links(wires: list[tuple[XY, XY]], pads: list[Pad]) -> tuple[tuple[str, str, str], ...]:
    """Return which pads each wire joins, by where its ends stand."""
    places = {pad.at: pad for pad in pads}
    joined = []
    for start, end in wires:
        a, b = places.get(start), places.get(end)
        if a is not None and b is not None and a.ref == b.ref:
            joined.append((a.ref, a.number, b.number))
    return tuple(joined)
