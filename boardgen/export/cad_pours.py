"""Write pours with their fills, and areas that are kept free, as the board file's zones."""

from __future__ import annotations

from collections.abc import Sequence

from shapely import Polygon, dwithin

from boardgen.board.geometry import pad_shape, part_courtyard
from boardgen.board.model import Board, Keepout, Pour, PourPiece, Side
from boardgen.export.cad_nodes import node, stamp, word, xy
from boardgen.footprint.sexpr import Node, Sym, length
from boardgen.units import Nm, Point, mm

_HATCH = mm("0.5")  # the program's usual edge hatch


def _points(name: str, points: Sequence[Point]) -> Node:
    return node(name, node("pts", *(xy("xy", p) for p in points)))


def keyhole(piece: PourPiece) -> list[Point]:
    """Return outer ring and holes as one ring, each hole joined by a bridge of no width.

    Holes are taken from the right; from its rightmost corner each looks along +x
    for the nearest edge of the ring made so far and is tied to the point it meets
    there, so no bridge crosses another.
    """
    ring = list(piece.outer)
    onward = _twice_area(ring) > 0
    order = sorted(piece.holes, key=lambda hole: (-max(p.x for p in hole), hole))
    for found in order:
        # a hole runs against the ring, so that the one outline winds round copper alone
        hole = found if (_twice_area(found) > 0) != onward else found[::-1]
        start = max(range(len(hole)), key=lambda i: (hole[i].x, hole[i].y))
        tip = hole[start]
        place, meet = _edge_right_of(ring, tip)
        turned = [*hole[start:], *hole[:start], tip]
        ring[place + 1 : place + 1] = [meet, *turned, meet]
    return [p for i, p in enumerate(ring) if p != ring[i - 1]]


def _twice_area(ring: Sequence[Point]) -> int:
    return sum(
        int(a.x) * int(b.y) - int(b.x) * int(a.y) for a, b in zip(ring, (*ring[1:], ring[0]), strict=True)
    )


def _edge_right_of(ring: list[Point], tip: Point) -> tuple[int, Point]:
    """Return the index of the ring's edge that a ray from *tip* along +x meets first, and where."""
    best: tuple[float, int, Point] | None = None
    for i, a in enumerate(ring):
        b = ring[(i + 1) % len(ring)]
        if a.y == b.y:
            if a.y != tip.y:
                continue
            x = float(min(v for v in (a.x, b.x)) if min(a.x, b.x) >= tip.x else max(a.x, b.x))
        elif min(a.y, b.y) <= tip.y <= max(a.y, b.y):
            x = a.x + (tip.y - a.y) * (b.x - a.x) / (b.y - a.y)
        else:
            continue
        if x >= tip.x and (best is None or x < best[0]):
            best = (x, i, Point(Nm(round(x)), tip.y))
    if best is None:
        raise ValueError("a hole of a pour lies outside its outer ring")
    return best[1], best[2]


def pour_node(board: Board, pour: Pour, rank: int, code: int, net: str) -> Node:
    """Return *pour* as a zone with its own fill; *rank* is its place among the board's pours,
    *code* and *net* its net as the file numbers and spells it.
    """
    layer = "F.Cu" if pour.side is Side.TOP else "B.Cu"
    made = node(
        "zone",
        node("net", code),
        node("net_name", net),
        node("layer", layer),
        node("tstamp", word(stamp(board.name, "pour", str(rank)))),
        node("hatch", word("edge"), length(_HATCH)),
    )
    above = sum(1 for other in board.pours[rank + 1 :] if other.side is pour.side)
    if above:
        made.append(node("priority", above))
    made += [
        node("connect_pads", node("clearance", length(pour.spacing))),
        node("min_thickness", length(pour.min_width)),
        node("filled_areas_thickness", word("no")),
        node(
            "fill",
            word("yes"),
            node("thermal_gap", length(pour.thermal_gap)),
            node("thermal_bridge_width", length(pour.spoke_width)),
        ),
        _points("polygon", pour.area),
    ]
    for piece in pour.pieces:
        points = node("pts", *(xy("xy", p) for p in keyhole(piece)))
        made.append(node("filled_polygon", node("layer", layer), points))
    return made


def keepout_node(board: Board, area: Keepout, rank: int) -> Node:
    """Return a kept-free area as a rule area.

    Pads and parts that stand in it on purpose (a module under its own antenna)
    would be complaints without end: those two are forbidden only where none is there.
    """
    ring = Polygon(area.ring)
    placed = [pad_shape(part, pad) for part in board.parts for pad in part.footprint.pads]
    pads = any(dwithin(shape.skeleton, ring, shape.radius) for shape in placed)
    parts = area.parts_too and any(
        part_courtyard(part, side).intersects(ring) for part in board.parts for side in Side
    )
    barred, allowed = word("not_allowed"), word("allowed")
    return node(
        "zone",
        node("net", 0),
        node("net_name", ""),
        node("layers", "F.Cu", "B.Cu"),
        node("tstamp", word(stamp(board.name, "keepout", str(rank)))),
        node("name", area.reason),
        node("hatch", word("edge"), length(_HATCH)),
        node("connect_pads", node("clearance", Sym("0"))),
        node("min_thickness", length(mm("0.25"))),
        node("filled_areas_thickness", word("no")),
        node(
            "keepout",
            node("tracks", barred),
            node("vias", barred),
            node("pads", allowed if pads else barred),
            node("copperpour", barred),
            node("footprints", barred if area.parts_too and not parts else allowed),
        ),
        node("fill", node("thermal_gap", length(_HATCH)), node("thermal_bridge_width", length(_HATCH))),
        _points("polygon", area.ring),
    )
