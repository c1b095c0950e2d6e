"""A board measured once for all rules: copper by side, holes, openings, profile.

Everything is taken from the board model anew; nothing an earlier stage noted
down is read. Lengths inside are floats in nm. Arcs of the profile are drawn
with chords within :data:`PROFILE_ERROR`; every other item is exact.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from boardgen.board.geometry import (
    Copper,
    Shape,
    copper_items,
    hole_shape,
    outline_polygon,
    piece_polygon,
    via_hole_shape,
    whole_loops,
)
from boardgen.board.model import Board, Side
from boardgen.catalog.model import FabClass
from boardgen.circuit.model import Netlist
from boardgen.errors import Finding, Severity
from boardgen.footprint.model import PadKind
from boardgen.units import Nm, Point, format_mm, nm

ROUNDING = 2.0  # nm; turned parts stand on whole nm, so two of them may each be 1 nm off
PROFILE_ERROR = 200.0  # nm

Geometries = npt.NDArray[np.object_]
Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one rule found, and how much it looked at to say so."""

    rule: str
    findings: tuple[Finding, ...]
    items: int
    pairs: int


@dataclass(frozen=True, slots=True)
class Hole:
    """One drilled hole or slot. *owner* numbers the pad or via it is in, -1 for a bare hole."""

    name: str
    shape: Shape
    plated: bool
    is_via: bool = False


@dataclass(frozen=True, slots=True)
class Layer:
    """One copper side: pads, tracks and vias first, then *pieces* of pours.

    *keys* holds a number per net; a pad without a net has a number of its own,
    shared by pads of the same part and contact. *owners* numbers the things
    themselves: a plated pad is one owner on both sides.
    """

    side: Side
    items: tuple[Copper, ...]
    skeletons: Geometries
    radii: Floats
    keys: Ints
    owners: Ints
    pieces: tuple[Copper, ...]
    piece_keys: Ints
    piece_owners: Ints

    @property
    def word(self) -> str:
        """The layer as findings name it."""
        return copper_word(self.side)


@dataclass(frozen=True, slots=True)
class Survey:
    """All a rule may look at. *owner_count* is one more than the highest owner."""

    board: Board
    netlist: Netlist | None
    fab: FabClass
    layers: tuple[Layer, ...]
    holes: tuple[Hole, ...]
    area: BaseGeometry
    profile: BaseGeometry
    owner_count: int


def copper_word(side: Side) -> str:
    """Return "top copper" or "bottom copper"."""
    return f"{side.value} copper"


def array_of(items: Sequence[BaseGeometry]) -> Geometries:
    """Return a one-dimensional object array of *items*."""
    result = np.empty(len(items), dtype=object)
    result[:] = list(items)
    return result


def _holes(board: Board) -> tuple[Hole, ...]:
    found = []
    for part in board.parts:
        for pad in part.footprint.pads:
            if pad.hole is None:
                continue
            bare = pad.kind is PadKind.UNPLATED
            name = f"hole of {part.ref}" if not pad.number else f"hole of {part.ref} pad {pad.number}"
            found.append(Hole(name, hole_shape(part, pad), not bare))
    found.extend(Hole(f"hole of via of {v.net}", via_hole_shape(v), True, True) for v in board.vias)
    return tuple(found)


def _key(copper: Copper) -> str:
    """Return what pads must share to count as one conductor by intent."""
    if copper.net is not None:
        return f"net {copper.net}"
    return f"pad {copper.ref} {copper.pad}" if copper.pad else f"pad {copper.ref} at {copper.shape.bounds}"


def _area(board: Board) -> BaseGeometry:
    """Return the board's area; of a broken outline what can be made of it (maybe nothing)."""
    outline = whole_loops(board.outline)
    if outline is None:
        return Polygon()
    area = outline_polygon(outline, PROFILE_ERROR)
    return area if area.is_valid else shapely.make_valid(area)


def take_survey(board: Board, netlist: Netlist | None, fab: FabClass) -> Survey:
    """Measure *board*."""
    numbers: dict[str, int] = {}
    rows: dict[Side, list[tuple[Copper, int, int]]] = {side: [] for side in board.copper}
    owner = -1
    before: Shape | None = None
    for item in copper_items(board):
        # The copper of one thing on several sides comes one after the other, with one shape.
        # Without plating its sides are not joined, so each is a thing of its own.
        if item.shape is not before or not board.plated:
            owner += 1
        before = item.shape
        rows[item.side].append((item, numbers.setdefault(_key(item), len(numbers)), owner))
    pieces: dict[Side, list[tuple[Copper, int, int]]] = {side: [] for side in board.copper}
    for pour in board.pours:
        for piece in pour.pieces:
            owner += 1
            shape = Shape(piece_polygon(piece), 0.0)
            copper = Copper(f"pour of {pour.net}", pour.net, pour.side, shape, piece)
            number = numbers.setdefault(_key(copper), len(numbers))
            pieces.setdefault(pour.side, []).append((copper, number, owner))
    layers = []
    for side in board.copper:
        row, filled = rows[side], pieces[side]
        layers.append(
            Layer(
                side=side,
                items=tuple(c for c, _, _ in row),
                skeletons=array_of([c.shape.skeleton for c, _, _ in row]),
                radii=np.array([c.shape.radius for c, _, _ in row], dtype=float),
                keys=np.array([k for _, k, _ in row], dtype=np.int64),
                owners=np.array([o for _, _, o in row], dtype=np.int64),
                pieces=tuple(c for c, _, _ in filled),
                piece_keys=np.array([k for _, k, _ in filled], dtype=np.int64),
                piece_owners=np.array([o for _, _, o in filled], dtype=np.int64),
            )
        )
        for c, _, _ in filled:
            shapely.prepare(c.shape.skeleton)
    area = _area(board)
    return Survey(board, netlist, fab, tuple(layers), _holes(board), area, area.boundary, owner + 1)


def reaches(geometry: BaseGeometry, others: Geometries, distances: Floats | float) -> npt.NDArray[np.bool_]:
    """Return which of *others* lie within the *distances* (one each, or one for all) of *geometry*."""
    # shapely takes an array of distances; its type stubs only know a single one.
    return np.asarray(shapely.dwithin(geometry, others, distances))  # type: ignore[arg-type]


def near_pieces(layer: Layer, skeletons: Geometries, radii: Floats, reach: float) -> list[Ints]:
    """Return for each piece of a pour on *layer* which of the shapes lie within *reach* of it, in order.

    n log n for pieces spread over a board; a piece over the whole board costs one look at each shape, at
    the piece's own index of its edges.
    """
    if not layer.pieces or not len(skeletons):
        return [np.zeros(0, dtype=np.int64) for _ in layer.pieces]
    tree = shapely.STRtree(skeletons)
    most = float(radii.max()) + max(reach, 0.0)
    found = []
    for piece in layer.pieces:
        left, top, right, bottom = piece.shape.bounds
        around = shapely.box(left - most, top - most, right + most, bottom + most)
        maybe = np.sort(tree.query(around)).astype(np.int64)
        near = reaches(piece.shape.skeleton, skeletons[maybe], radii[maybe] + reach)
        found.append(maybe[near])
    return found


def pairs_of_pieces(layer: Layer, reach: float) -> list[tuple[int, int]]:
    """Return the pairs i < j of pieces whose boxes are within *reach*, in order."""
    if len(layer.pieces) < 2:
        return []
    skeletons = array_of([piece.shape.skeleton for piece in layer.pieces])
    left, top, right, bottom = shapely.bounds(skeletons).T
    grown = shapely.box(left - reach, top - reach, right + reach, bottom + reach)
    a, b = shapely.STRtree(skeletons).query(grown)
    return sorted((int(i), int(j)) for i, j in zip(a, b, strict=True) if i < j)


def near_pairs(skeletons: Geometries, radii: Floats, limit: float) -> tuple[Ints, Ints, Floats]:
    """Return each pair i < j of shapes nearer than *limit*, with its gap (negative: overlap).

    n log n for things spread over a board; in a stable order.
    """
    if len(skeletons) < 2:
        none = np.zeros(0, dtype=np.int64)
        return none, none, np.zeros(0)
    tree = shapely.STRtree(skeletons)
    a, b = tree.query(skeletons, predicate="dwithin", distance=radii + (radii.max() + limit))
    a, b = a[a < b], b[a < b]
    gaps = shapely.distance(skeletons[a], skeletons[b]) - radii[a] - radii[b]
    chosen = gaps < limit
    a, b, gaps = a[chosen], b[chosen], gaps[chosen]
    order = np.lexsort((b, a))
    return a[order], b[order], gaps[order]


def cross_pairs(
    first: tuple[Geometries, Floats], second: tuple[Geometries, Floats], limit: float
) -> tuple[Ints, Ints, Floats]:
    """Return each pair (i of *first*, j of *second*) nearer than *limit*, with its gap."""
    none = np.zeros(0, dtype=np.int64)
    if not len(first[0]) or not len(second[0]):
        return none, none, np.zeros(0)
    tree = shapely.STRtree(second[0])
    a, b = tree.query(first[0], predicate="dwithin", distance=first[1] + (second[1].max() + limit))
    gaps = shapely.distance(first[0][a], second[0][b]) - first[1][a] - second[1][b]
    chosen = gaps < limit
    a, b, gaps = a[chosen], b[chosen], gaps[chosen]
    order = np.lexsort((b, a))
    return a[order], b[order], gaps[order]


def between(a: Shape, b: Shape) -> Point:
    """Return the middle of the shortest way between two shapes, on whole nm."""
    line = shapely.shortest_line(a.skeleton, b.skeleton)
    (x1, y1), (x2, y2) = shapely.get_coordinates(line).tolist()
    length = float(np.hypot(x2 - x1, y2 - y1))
    if length == 0.0:
        return Point(nm(x1), nm(y1))
    middle = (a.radius + (length - b.radius)) / 2 / length
    middle = min(1.0, max(0.0, middle))
    return Point(nm(x1 + (x2 - x1) * middle), nm(y1 + (y2 - y1) * middle))


def below(value: float, limit: int) -> str:
    """Return *value* nm in mm to the um, or to the nm where that would read as the *limit* it misses."""
    words = format_mm(nm(value), 3)
    return format_mm(nm(value)) if words == format_mm(limit, 3) else words


def finding(
    rule: str,
    message: str,
    at: Point | None,
    layer: str,
    items: tuple[str, ...],
    measured: float | None = None,
    limit: int | None = None,
    severity: Severity = Severity.ERROR,
) -> Finding:
    """Return a finding with its lengths as whole nm."""
    return Finding(
        rule,
        severity,
        message,
        at,
        layer,
        items,
        None if measured is None else nm(measured),
        None if limit is None else Nm(limit),
    )
