"""One body of ground: who touches whom, and the vias and tracks that join the rest."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from boardgen.board.geometry import Copper, polygons_of
from boardgen.board.model import Board, PartKind, Side, Track, Via
from boardgen.catalog.model import FabClass
from boardgen.layout.pour_bridge import bridge
from boardgen.layout.pour_field import SLACK, Field, Node, all_holes, geometries, outside
from boardgen.units import Point, nm


@dataclass(frozen=True, slots=True)
class Joined:
    """The pieces kept on each side, and the copper added to join them."""

    pieces: list[list[Polygon]]
    vias: tuple[Via, ...] = ()
    tracks: tuple[Track, ...] = ()


class Bodies:
    """Disjoint sets over the numbers 0 to n-1."""

    def __init__(self, count: int) -> None:
        self._parent = list(range(count))

    def find(self, i: int) -> int:
        """Return the least-travelled name of the body *i* is in."""
        while self._parent[i] != i:
            self._parent[i] = self._parent[self._parent[i]]
            i = self._parent[i]
        return i

    def join(self, i: int, j: int) -> None:
        """Make one body of those of *i* and *j*, named by the smaller number."""
        a, b = self.find(i), self.find(j)
        if a != b:
            self._parent[max(a, b)] = min(a, b)


@dataclass(slots=True)
class _Ground:
    """Pieces (numbered first, side by side) and nodes as one graph."""

    pieces: list[tuple[int, Polygon]]  # (index of the side, polygon)
    nodes: list[Node]
    bodies: Bodies

    def with_pads(self) -> list[int]:
        """Return the bodies that hold a pad, in order."""
        first = len(self.pieces)
        return sorted({self.bodies.find(first + i) for i, n in enumerate(self.nodes) if n.is_pad})


def _touching(ground: _Ground, sides: tuple[Side, ...]) -> None:
    """Join what touches on each side."""
    first = len(ground.pieces)
    for index, side in enumerate(sides):
        owner = [i for i, n in enumerate(ground.nodes) for c in n.copper if c.side is side]
        copper = [c for n in ground.nodes for c in n.copper if c.side is side]
        if not copper:
            continue
        skeletons = geometries([c.shape.skeleton for c in copper])
        radii = np.array([c.shape.radius for c in copper])
        tree = shapely.STRtree(skeletons)
        a, b = tree.query(skeletons, predicate="dwithin", distance=radii + radii.max())
        near = shapely.distance(skeletons[a], skeletons[b]) <= radii[a] + radii[b]
        for i, j in zip(a[near], b[near], strict=True):
            ground.bodies.join(first + owner[i], first + owner[j])
        for number, (of_side, polygon) in enumerate(ground.pieces):
            if of_side != index:
                continue
            shapely.prepare(polygon)
            # shapely takes an array of distances; its type stubs only know a single one.
            met = shapely.dwithin(polygon, skeletons, radii)  # type: ignore[call-overload]
            for i in np.flatnonzero(met):
                ground.bodies.join(number, first + owner[i])


def _links(ground: _Ground, board: Board) -> None:
    """Join the ends of wire links."""
    links = {part.ref for part in board.parts if part.kind is PartKind.LINK}
    first = len(ground.pieces)
    seen: dict[str, int] = {}
    for i, node in enumerate(ground.nodes):
        ref = node.first.ref
        if ref in links:
            ground.bodies.join(seen.setdefault(ref, first + i), first + i)


def _via_room(board: Board, fab: FabClass, items: list[Copper]) -> BaseGeometry:
    """Return where a stitching via must not stand (its middle)."""
    skeletons, radii = all_holes(board)
    keep = [outside(skeletons, radii + float(fab.via_hole) / 2 + float(fab.hole_gap_min) + SLACK)]
    pads = [c for c in items if c.ref]
    distance = float(fab.via_diameter) / 2 + float(fab.mask_margin) + 100_000.0
    keep.append(
        outside(
            geometries([c.shape.skeleton for c in pads]), np.array([c.shape.radius + distance for c in pads])
        )
    )
    return shapely.union_all(np.concatenate(keep))


def _place_via(overlap: BaseGeometry, fab: FabClass, room: BaseGeometry) -> Point | None:
    """Return a place for a via well inside *overlap*, or None."""
    base: BaseGeometry = overlap.buffer(-(float(fab.via_diameter) / 2 + SLACK))
    if base.is_empty:
        return None
    base = base.difference(room)
    for more in (1_500_000.0, 600_000.0, 200_000.0, 20_000.0):
        inner = polygons_of(base.buffer(-more))
        if inner:
            largest = max(inner, key=lambda p: p.area)
            spot = largest.representative_point()
            return Point(nm(spot.x), nm(spot.y))
    return None


def _stitches(ground: _Ground, fab: FabClass, room: BaseGeometry) -> dict[tuple[int, int], Point]:
    """Return a via place for each pair of pieces of different bodies that can be joined."""
    found: dict[tuple[int, int], Point] = {}
    for i, (side_i, a) in enumerate(ground.pieces):
        for j, (side_j, b) in enumerate(ground.pieces):
            if side_i >= side_j or ground.bodies.find(i) == ground.bodies.find(j) or not a.intersects(b):
                continue
            spot = _place_via(a.intersection(b), fab, room)
            if spot is not None:
                found[i, j] = spot
    return found


def _path(ground: _Ground, stitches: dict[tuple[int, int], Point], goals: list[int]) -> list[tuple[int, int]]:
    """Return the fewest stitches that lead from one body with pads to another; empty if none do."""
    steps: dict[int, list[tuple[int, tuple[int, int]]]] = {}
    for pair in sorted(stitches):
        a, b = ground.bodies.find(pair[0]), ground.bodies.find(pair[1])
        steps.setdefault(a, []).append((b, pair))
        steps.setdefault(b, []).append((a, pair))
    for start in goals:
        came: dict[int, tuple[int, tuple[int, int]] | None] = {start: None}
        queue = deque([start])
        while queue:
            body = queue.popleft()
            if body in goals and body != start:
                path = []
                step = came[body]
                while step is not None:
                    path.append(step[1])
                    step = came[step[0]]
                return path
            for following, pair in steps.get(body, ()):
                if following not in came:
                    came[following] = (body, pair)
                    queue.append(following)
    return []


def join_ground(
    board: Board,
    fab: FabClass,
    net: str,
    items: list[Copper],
    nodes: list[Node],
    fields: list[Field],
    polygons: list[list[Polygon]],
) -> Joined:
    """Return the pieces that belong to ground, and what was added to make it one body."""
    pieces = [(side, p) for side, found in enumerate(polygons) for p in found]
    ground = _Ground(pieces, nodes, Bodies(len(pieces) + len(nodes)))
    _touching(ground, board.copper)
    _links(ground, board)
    vias: list[Via] = []
    tracks: list[Track] = []
    if len(ground.with_pads()) > 1 and len(board.copper) > 1 and board.plated:
        room = _via_room(board, fab, items)
        stitches = _stitches(ground, fab, room)
        while stitches and len(goals := ground.with_pads()) > 1:
            path = _path(ground, stitches, goals)
            if not path:
                break
            for pair in path:
                vias.append(Via(net, stitches.pop(pair), fab.via_diameter, fab.via_hole))
                ground.bodies.join(*pair)
    while len(bodies := ground.with_pads()) > 1:
        made = bridge(board, fab, net, items, fields, tuple(vias), _bodies_of(ground, board.copper, bodies))
        if made is None:
            break
        tracks.extend(made.tracks)
        vias.extend(made.vias)
        ground.bodies.join(made.start, made.end)
    kept_bodies = set(ground.with_pads())
    kept: list[list[Polygon]] = [[] for _ in polygons]
    for number, (side, polygon) in enumerate(pieces):
        if ground.bodies.find(number) in kept_bodies:
            kept[side].append(polygon)
    return Joined(kept, tuple(vias), tuple(tracks))


def _bodies_of(
    ground: _Ground, sides: tuple[Side, ...], bodies: list[int]
) -> dict[int, list[list[BaseGeometry]]]:
    """Return, for each body with pads, its copper as polygons on each side."""
    found: dict[int, list[list[BaseGeometry]]] = {body: [[] for _ in sides] for body in bodies}
    for number, (side, polygon) in enumerate(ground.pieces):
        body = ground.bodies.find(number)
        if body in found:
            found[body][side].append(polygon)
    first = len(ground.pieces)
    for i, node in enumerate(ground.nodes):
        body = ground.bodies.find(first + i)
        if body in found:
            for copper in node.copper:
                found[body][sides.index(copper.side)].append(copper.shape.polygon(outside=False))
    return found
