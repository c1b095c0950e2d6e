"""Ground poured on every copper side: reliefs, islands, and one body in the end."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from boardgen.board.geometry import Copper, copper_items, polygons_of, ring_of
from boardgen.board.model import Board, Part, Pour, PourPiece, Side
from boardgen.catalog.model import FabClass
from boardgen.footprint.model import Pad
from boardgen.layout.pour_field import (
    Field,
    Node,
    board_area,
    geometries,
    ground_net,
    ground_nodes,
    make_field,
    opened,
    ring_points,
    thinned,
)
from boardgen.layout.pour_join import join_ground
from boardgen.layout.pour_thermal import Spokes, choose_spokes, crossings, relief_areas


@dataclass(slots=True)
class _Side:
    """One side in the making."""

    field: Field
    pads: list[Copper]
    nodes: list[Node]  # the node of each pad
    reliefs: list[BaseGeometry]
    fill: BaseGeometry  # with every relief cut out
    spokes: list[Spokes]


def _turn(parts: dict[str, Part], pad: Copper) -> float:
    """Return the pad's turn on the board, degrees counter-clockwise."""
    source = pad.source
    own = source.rotation if isinstance(source, Pad) else 0.0
    placement = parts[pad.ref].placement
    return placement.rotation + (-own if placement.side is Side.BOTTOM else own)


def _start(board: Board, fab: FabClass, field: Field, nodes: list[Node]) -> _Side:
    side = field.side
    pairs = [(c, node) for node in nodes if node.is_pad for c in node.copper if c.side is side]
    pads = [copper for copper, _ in pairs]
    reliefs = relief_areas(pads, float(fab.thermal_gap))
    taken = shapely.union_all(np.concatenate([field.obstacles, reliefs]))
    fill = opened(field.area.difference(taken), float(fab.pour_min_width))
    parts = {part.ref: part for part in board.parts}
    turns = [_turn(parts, pad) for pad in pads]
    spokes = choose_spokes(field, fill, pads, reliefs, turns, float(fab.thermal_spoke))
    return _Side(field, pads, [node for _, node in pairs], list(reliefs), fill, spokes)


def _solid_pads(sides: list[_Side]) -> set[int]:
    """Return the nodes (by identity) no side joins by spokes: these are filled over."""
    joined = {id(n) for s in sides for n, spokes in zip(s.nodes, s.spokes, strict=True) if spokes.joins}
    return {id(node) for s in sides for node in s.nodes} - joined


def _finish(side: _Side, solid: set[int], width: float) -> BaseGeometry:
    """Return the fill with the spokes that join, and solid pads filled over."""
    added: list[BaseGeometry] = []
    tree = shapely.STRtree(side.field.obstacles)
    for node, spokes, relief in zip(side.nodes, side.spokes, side.reliefs, strict=True):
        if id(node) in solid:
            # As far as the fill may reach over the pad; a little beyond the relief, to meet the fill.
            patch = relief.buffer(2 * width).intersection(side.field.area)
            near = side.field.obstacles[tree.query(patch)]
            added.append(opened(patch.difference(shapely.union_all(near)), width))
        elif spokes.joins:
            added.extend(spokes.polygons)
    # The small areas first: the fill is large, and is then gone through only once.
    return side.fill.union(shapely.union_all(geometries(added))) if added else side.fill


def _lone(side: _Side, fill: BaseGeometry, solid: set[int]) -> set[int]:
    """Return the pads whose outline one single arm of the fill crosses after all."""
    return {
        id(node)
        for node, pad, spokes in zip(side.nodes, side.pads, side.spokes, strict=True)
        # A neighbour's spoke can be alone on a pad without its own, and two of its own can run together.
        if id(node) not in solid and len(spokes.polygons) <= 2 and crossings(fill, pad) == 1
    }


def _pieces(polygons: list[Polygon]) -> tuple[PourPiece, ...]:
    return tuple(
        PourPiece(ring_points(p.exterior), tuple(sorted(ring_points(hole) for hole in p.interiors)))
        for p in polygons
    )


def pour(board: Board, fab: FabClass) -> Board:
    """Return *board* with its ground poured on every copper side, in place of earlier pours.

    The fill keeps ``pour_gap`` from foreign copper, ``npth_copper_min`` from bare
    holes and ``edge_copper_min`` from the profile (all a few um more), leaves
    keepouts free and has no place narrower than ``pour_min_width``. Pieces that
    reach no ground pad are left out. Where the ground is not one body, vias, then
    short tracks are added; what cannot be joined is left for the rule check.
    A board without a net of kind GROUND comes back without pours.
    """
    net = ground_net(board)
    if net is None:
        return board.with_copper(pours=())
    items = list(copper_items(board))
    nodes = ground_nodes(items, net.name)
    room = board_area(board, fab)
    fields = [make_field(board, fab, net.name, side, items, room) for side in board.copper]
    sides = [_start(board, fab, field, nodes) for field in fields]
    width = float(fab.pour_min_width)
    solid = _solid_pads(sides)
    fills = [_finish(side, solid, width) for side in sides]
    lone = {found for side, fill in zip(sides, fills, strict=True) for found in _lone(side, fill, solid)}
    if lone:
        solid |= lone
        fills = [_finish(side, solid, width) for side in sides]
    polygons = [thinned(fill) for fill in fills]
    joined = join_ground(board, fab, net.name, items, nodes, fields, polygons)
    area = ring_of(polygons_of(room.simplify(1000.0))[-1])
    named = sorted({(n.first.ref, n.first.pad) for s in sides for n in s.nodes if id(n) in solid})
    pours = tuple(
        Pour(
            net=net.name,
            side=side.field.side,
            area=area,
            pieces=_pieces(kept),
            spacing=fab.pour_gap,
            min_width=fab.pour_min_width,
            thermal_gap=fab.thermal_gap,
            spoke_width=fab.thermal_spoke,
            solid_pads=tuple(named),
        )
        for side, kept in zip(sides, joined.pieces, strict=True)
    )
    return replace(board, tracks=board.tracks + joined.tracks, vias=board.vias + joined.vias, pours=pours)
