"""Where the pour may be: the board's area less everything it must keep away from.

Lengths are floats in nm. Round things are drawn with their chords outside the
true curve and :data:`SLACK` is added, so that neither drawing, opening, thinning
nor rounding of the fill can bring it nearer than was asked.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely import LinearRing, Polygon
from shapely.geometry.base import BaseGeometry

from boardgen.board.geometry import (
    Copper,
    copper_items,
    hole_shape,
    outline_polygon,
    polygons_of,
    via_hole_shape,
)
from boardgen.board.model import Board, Net, NetKind, Side
from boardgen.catalog.model import FabClass
from boardgen.footprint.model import PadKind
from boardgen.units import Nm, Point

SLACK = 5_000.0  # nm added to every spacing
EDGE_SLACK = 10_000.0  # nm added to the distance from the profile
THINNING = 1_500.0  # nm; how far dropping a vertex may move the outline of the fill

Geometries = npt.NDArray[np.object_]


@dataclass(frozen=True, slots=True)
class Node:
    """One ground pad, via or track with its copper on each side it lies on."""

    copper: tuple[Copper, ...]

    @property
    def first(self) -> Copper:
        """The copper on the first side."""
        return self.copper[0]

    @property
    def is_pad(self) -> bool:
        """Whether it is a part's pad."""
        return bool(self.first.ref)


@dataclass(frozen=True, slots=True)
class Field:
    """One side: *area* inside the profile, *obstacles* grown by their spacing."""

    side: Side
    area: BaseGeometry
    obstacles: Geometries


def ground_net(board: Board) -> Net | None:
    """Return the ground net with the most pads (the first of equals), or None."""
    grounds = [net for net in board.nets if net.kind is NetKind.GROUND]
    if not grounds:
        return None
    count = dict.fromkeys((net.name for net in grounds), 0)
    for part in board.parts:
        for _, name in part.nets:
            if name in count:
                count[name] += 1
    return max(grounds, key=lambda net: count[net.name])


def outside(skeletons: Geometries, distances: npt.NDArray[np.float64]) -> Geometries:
    """Return each skeleton grown by its distance, chords outside the true curve."""
    result = np.empty(len(skeletons), dtype=object)
    for large in (False, True):
        quarter = 16 if large else 8
        chosen = (distances >= 1.5e6) == large
        if chosen.any():
            grown = distances[chosen] / math.cos(math.pi / (4 * quarter))
            result[chosen] = shapely.buffer(skeletons[chosen], grown, quad_segs=quarter)
    return result


def geometries(items: Sequence[BaseGeometry]) -> Geometries:
    """Return a one-dimensional object array of *items*."""
    result = np.empty(len(items), dtype=object)
    result[:] = list(items)
    return result


def board_area(board: Board, fab: FabClass) -> BaseGeometry:
    """Return the room for copper: the profile less the edge distance."""
    inset = float(fab.edge_copper_min) + EDGE_SLACK
    return outline_polygon(board.outline).buffer(-inset, quad_segs=32)


def ground_nodes(items: list[Copper], net: str) -> list[Node]:
    """Return the pads, vias and tracks of *net*, copper of both sides gathered."""
    nodes: list[list[Copper]] = []
    for item in items:
        if item.net != net:
            continue
        if nodes and nodes[-1][0].shape is item.shape:
            nodes[-1].append(item)
        else:
            nodes.append([item])
    return [Node(tuple(copper)) for copper in nodes]


def make_field(
    board: Board, fab: FabClass, net: str, side: Side, items: list[Copper], area: BaseGeometry
) -> Field:
    """Return the room and the obstacles for a pour of *net* on *side*."""
    skeletons: list[BaseGeometry] = []
    distances: list[float] = []
    for item in items:
        if item.side is side and item.net != net:
            skeletons.append(item.shape.skeleton)
            distances.append(item.shape.radius + float(fab.pour_gap) + SLACK)
    for part in board.parts:
        for pad in part.footprint.pads:
            if pad.kind is PadKind.UNPLATED and pad.hole is not None:
                shape = hole_shape(part, pad)
                skeletons.append(shape.skeleton)
                distances.append(shape.radius + float(fab.npth_copper_min) + SLACK)
    grown = outside(geometries(skeletons), np.array(distances, dtype=float))
    kept = [Polygon(keepout.ring).buffer(SLACK, join_style="mitre") for keepout in board.keepouts]
    return Field(side, area, np.concatenate([grown, geometries(list(kept))]))


def opened(fill: BaseGeometry, width: float) -> BaseGeometry:
    """Return *fill* without the places a disc of diameter *width* does not reach."""
    # Sharp corners when shrinking take a little more than the disc would; round ones
    # when growing give no more back than it reaches.
    less = fill.buffer(-width / 2, join_style="mitre", mitre_limit=2.0)
    return less.buffer(width / 2, quad_segs=4)


def all_holes(board: Board) -> tuple[Geometries, npt.NDArray[np.float64]]:
    """Return skeletons and radii of every hole, plated or not, vias included."""
    shapes = [
        hole_shape(part, pad) for part in board.parts for pad in part.footprint.pads if pad.hole is not None
    ]
    shapes.extend(via_hole_shape(via) for via in board.vias)
    return geometries([s.skeleton for s in shapes]), np.array([s.radius for s in shapes], dtype=float)


def thinned(fill: BaseGeometry) -> list[Polygon]:
    """Return *fill* in few vertices on whole nanometres, as valid polygons in a stable order."""
    less = shapely.transform(fill.simplify(THINNING), np.rint)
    if not less.is_valid:  # rounding made rings touch or cross
        less = shapely.set_precision(shapely.make_valid(less), 1.0)
    return [polygon for polygon in polygons_of(less) if polygon.area > 0]


def ring_points(ring: LinearRing) -> tuple[Point, ...]:
    """Return the whole-nm vertices of *ring*, the first not repeated."""
    rows = shapely.get_coordinates(ring)[:-1].astype(np.int64).tolist()
    return tuple(Point(Nm(x), Nm(y)) for x, y in rows)


__all__ = [
    "SLACK",
    "Copper",
    "Field",
    "Node",
    "all_holes",
    "board_area",
    "copper_items",
    "geometries",
    "ground_net",
    "ground_nodes",
    "make_field",
    "opened",
    "outside",
    "ring_points",
    "thinned",
]
