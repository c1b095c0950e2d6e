"""Write pours with their fills, and areas that are kept free, as the board file's zones."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
from shapely import Polygon, dwithin

from boardgen.board.geometry import pad_shape, part_courtyard
from boardgen.board.model import Board, Keepout, Pour, PourPiece, Side
from boardgen.export.cad_nodes import node, stamp, word, xy
from boardgen.footprint.model import PadKind
from boardgen.footprint.sexpr import Node, Sym, length
from boardgen.units import Nm, Point, mm

Ring = npt.NDArray[np.int64]  # corners as rows of x, y in nm
_HATCH = mm("0.5")  # the program's usual edge hatch


def _points(name: str, points: Sequence[Point]) -> Node:
    return node(name, node("pts", *(xy("xy", p) for p in points)))


def keyhole(piece: PourPiece) -> list[Point]:
    """Return outer ring and holes as one ring, each hole joined by a bridge of no width.

    Holes are taken from the right; from its rightmost corner each looks along +x
    for the nearest edge of the ring made so far and is tied to the point it meets
    there, so no bridge crosses another.
    """
    ring = np.array(piece.outer, dtype=np.int64)
    onward = _sense(ring) > 0
    for found in sorted(piece.holes, key=lambda hole: (-max(p.x for p in hole), hole)):
        hole = np.array(found, dtype=np.int64)
        # a hole runs against the ring, so that the one outline winds round copper alone
        if (_sense(hole) > 0) == onward:
            hole = hole[::-1]
        first = int(np.lexsort((hole[:, 1], hole[:, 0]))[-1])
        hole = np.roll(hole, -first, axis=0)
        place, x = _edge_right_of(ring, int(hole[0, 0]), int(hole[0, 1]))
        meet = np.array([[x, hole[0, 1]]])
        ring = np.concatenate([ring[: place + 1], meet, hole, hole[:1], meet, ring[place + 1 :]])
    kept = ring[np.any(ring != np.roll(ring, 1, axis=0), axis=1)]
    return [Point(Nm(x), Nm(y)) for x, y in kept.tolist()]


def _sense(ring: Ring) -> int:
    """Return the sign of the ring's area (coordinates of a board's size keep it exact enough)."""
    x, y = (ring - ring[0]).astype(np.float64).T
    return int(np.sign(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))))


def _edge_right_of(ring: Ring, x: int, y: int) -> tuple[int, int]:
    """Return the index of the ring's edge that a ray from (*x*, *y*) along +x meets first, and that x."""
    ends = np.roll(ring, -1, axis=0)
    low, high = np.minimum(ring[:, 1], ends[:, 1]), np.maximum(ring[:, 1], ends[:, 1])
    crossed = np.flatnonzero((low <= y) & (y <= high))
    (ax, ay), (bx, by) = ring[crossed].T, ends[crossed].T
    level = ay == by
    near, far = np.minimum(ax, bx), np.maximum(ax, bx)
    slanted = ax + (y - ay) * (bx - ax) / np.where(level, 1, by - ay)
    met = np.where(level, np.where(near >= x, near, far), slanted)
    best: tuple[float, int] | None = None
    for k in np.argsort(met, kind="stable").tolist():  # the nearest few exactly
        if met[k] < x - 1:
            continue
        if best is not None and met[k] > best[0] + 1:
            break
        i = int(crossed[k])
        (px, py), (qx, qy) = ring[i].tolist(), ends[i].tolist()
        if py == qy:
            meet = float(min(px, qx) if min(px, qx) >= x else max(px, qx))
        else:
            meet = px + (y - py) * (qx - px) / (qy - py)
        if meet >= x and (best is None or (meet, i) < best):
            best = (meet, i)
    if best is None:
        raise ValueError("a hole of a pour lies outside its outer ring")
    return best[1], round(best[0])


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
    placed = [
        pad_shape(part, pad)
        for part in board.parts
        for pad in part.footprint.pads
        if pad.hole is not None or pad.kind is not PadKind.UNPLATED
    ]
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
