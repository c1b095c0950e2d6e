"""Areas of copper cut into triangles: exact outlines, refined where it is asked for."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

ROUND = 10.0  # nm; corners of neighbouring cells nearer than this are one
_SAME_AREA = 1e-12
_LINE = 3 / 7  # of a pitch: where the first grid line stands, so that round figures do not fall on lines


@dataclass(frozen=True, slots=True)
class Triangles:
    """A conforming triangulation. *points* (n, 2) in nm; *corners* (m, 3) numbers of points.

    *owner* (m,) says which polygon a triangle belongs to; polygons share no points.
    *contact* (n,) numbers the contact a point lies on, -1 where on none.
    """

    points: Floats
    corners: Ints
    owner: Ints
    contact: Ints


@dataclass(frozen=True, slots=True)
class Edges:
    """Edges of a triangulation: ends *low* < *high*, and how many triangles lie on its *sides* (1 at a rim).

    *of* (m, 3): the edges of each triangle, edge k from corner k to corner k + 1.
    """

    low: Ints
    high: Ints
    of: Ints
    sides: Ints


def triangulate(polygons: list[Polygon], pitch: float) -> Triangles:
    """Return *polygons* (nm) cut by a square grid of *pitch* nm and then into triangles.

    Each cell's part gets a constrained Delaunay triangulation on its own corners,
    so every outline is kept exactly and no edge is longer than a cell's diagonal.
    All points are on no contact.
    """
    cells = [_cells(polygon, pitch) for polygon in polygons]
    count = np.array([len(row) for row in cells], dtype=np.int64)
    if not count.sum():
        none = np.zeros(0, dtype=np.int64)
        return Triangles(np.zeros((0, 2)), np.zeros((0, 3), dtype=np.int64), none, none)
    parts, cell = _parts(np.concatenate(cells))
    owner = np.repeat(np.arange(len(polygons)), count)[cell]
    # Rings of four, the first corner repeated.
    rings = np.rint(shapely.get_coordinates(parts).reshape(-1, 4, 2)[:, :3] / ROUND).reshape(-1, 2)
    keys = np.column_stack([np.repeat(owner, 3), rings]).astype(np.int64)
    order = np.lexsort(keys.T)
    fresh = np.ones(len(order), dtype=bool)
    fresh[1:] = (keys[order[1:]] != keys[order[:-1]]).any(axis=1)
    numbers = np.empty(len(order), dtype=np.int64)
    numbers[order] = np.cumsum(fresh) - 1
    points = keys[order[fresh], 1:].astype(np.float64) * ROUND
    corners = numbers.reshape(-1, 3)
    area = doubled_area(points, corners)
    corners[area < 0] = corners[area < 0][:, ::-1]
    whole = area != 0
    return Triangles(points, corners[whole], owner[whole], np.full(len(points), -1, dtype=np.int64))


def _parts(cells: NDArray[np.object_]) -> tuple[NDArray[np.object_], Ints]:
    """Return the triangles of *cells*, and the number of the cell each is in."""
    try:
        return shapely.get_parts(shapely.constrained_delaunay_triangles(cells), return_index=True)
    except shapely.errors.GEOSException:
        # One cell is too odd for the library: take them one by one, and that one by its corners alone.
        found = [_lone_cell(cell) for cell in cells]
        return np.concatenate(found), np.repeat(np.arange(len(cells)), [len(row) for row in found])


def _lone_cell(cell: BaseGeometry) -> NDArray[np.object_]:
    try:
        return shapely.get_parts(shapely.constrained_delaunay_triangles(cell))
    except shapely.errors.GEOSException:
        parts = shapely.get_parts(shapely.delaunay_triangles(cell))
        return np.asarray(parts[shapely.contains(cell, shapely.centroid(parts))], dtype=object)


def _cells(polygon: Polygon, pitch: float) -> NDArray[np.object_]:
    """Return the parts of *polygon* in the cells of the grid."""
    left, top, right, bottom = polygon.bounds
    xs = np.arange(left - _LINE * pitch, right + pitch, pitch).tolist()
    ys = np.arange(top - _LINE * pitch, bottom + pitch, pitch).tolist()
    rows = _clipped(polygon, [(left - 1, y, right + 1, below) for y, below in itertools.pairwise(ys)])
    found = [
        _clipped(row, [(x, y, beside, below) for x, beside in itertools.pairwise(xs)])
        for row, (y, below) in zip(rows.tolist(), itertools.pairwise(ys), strict=True)
        if not row.is_empty
    ]
    pieces = shapely.get_parts(np.concatenate(found)) if found else np.zeros(0, dtype=object)
    areal = (shapely.get_type_id(pieces) == shapely.GeometryType.POLYGON) & (shapely.area(pieces) > 0)
    return np.asarray(pieces[areal], dtype=object)


def _clipped(shape: BaseGeometry, boxes: list[tuple[float, float, float, float]]) -> NDArray[np.object_]:
    """Return the parts of *shape* in *boxes* that cover it side by side."""
    # Clipping by a rectangle is many times faster than the general way, and goes wrong once in a while.
    parts = np.empty(len(boxes), dtype=object)
    parts[:] = [shapely.clip_by_rect(shape, *box) for box in boxes]
    whole = abs(float(shapely.area(parts).sum()) - shape.area) <= _SAME_AREA * shape.area
    if whole and shapely.is_valid(parts).all():
        return parts
    return np.asarray(shapely.intersection(shape, shapely.box(*np.array(boxes).T)), dtype=object)


def doubled_area(points: Floats, corners: Ints) -> Floats:
    """Return twice each triangle's area, negative where its corners run the other way round."""
    a, b, c = (points[corners[:, k]] for k in range(3))
    u, v = b - a, c - a
    return np.asarray(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])


def edges_of(mesh: Triangles) -> Edges:
    """Return the edges, each once."""
    count = len(mesh.points)
    start, end = mesh.corners, np.roll(mesh.corners, -1, axis=1)
    keys = np.minimum(start, end) * count + np.maximum(start, end)
    unique, of, sides = np.unique(keys, return_inverse=True, return_counts=True)
    return Edges(unique // count, unique % count, of.reshape(-1, 3).astype(np.int64), sides.astype(np.int64))


def halve(mesh: Triangles, edges: Edges, chosen: Bools) -> Triangles:
    """Return *mesh* with the *chosen* triangles (m,) halved across their longest edge.

    Neighbours are halved with them until all edges meet end to end (longest-edge
    bisection). The middle of a rim edge of a contact is on it.
    """
    points, corners, count = mesh.points, mesh.corners, len(mesh.points)
    low, high, of = edges.low, edges.high, edges.of
    length = np.hypot(*(points[low] - points[high]).T)
    # One order of edges for all triangles, ties included: this is what makes the halving end.
    place = np.empty(len(low), dtype=np.int64)
    place[np.lexsort((high, low, length))] = np.arange(len(low))
    longest = np.argmax(place[of], axis=1)
    rows = np.arange(len(corners))
    long_edge = of[rows, longest]
    marked = np.zeros(len(low), dtype=bool)
    marked[long_edge[chosen]] = True
    while (more := marked[of].any(axis=1) & ~marked[long_edge]).any():
        marked[long_edge[more]] = True
    cut = np.flatnonzero(marked)
    middle = np.full(len(low), -1, dtype=np.int64)
    middle[cut] = count + np.arange(len(cut))
    same = (mesh.contact[low[cut]] == mesh.contact[high[cut]]) & (edges.sides[cut] == 1)
    touched = marked[long_edge]
    turn = (longest[:, None] + np.arange(3)) % 3
    a, b, c = corners[rows[:, None], turn][touched].T
    m, right, left = middle[of[rows[:, None], turn][touched]].T  # of a-b (the longest), b-c, c-a
    own = mesh.owner[touched]
    whole_r, whole_l = right < 0, left < 0
    new = (
        (corners[~touched], mesh.owner[~touched]),
        (np.column_stack([m, b, c])[whole_r], own[whole_r]),
        (np.column_stack([m, b, right])[~whole_r], own[~whole_r]),
        (np.column_stack([m, right, c])[~whole_r], own[~whole_r]),
        (np.column_stack([a, m, c])[whole_l], own[whole_l]),
        (np.column_stack([a, m, left])[~whole_l], own[~whole_l]),
        (np.column_stack([left, m, c])[~whole_l], own[~whole_l]),
    )
    return Triangles(
        np.concatenate([points, (points[low[cut]] + points[high[cut]]) / 2]),
        np.concatenate([rows_ for rows_, _ in new]),
        np.concatenate([owners for _, owners in new]),
        np.concatenate([mesh.contact, np.where(same, mesh.contact[low[cut]], -1)]),
    )
