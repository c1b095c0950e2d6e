"""The files' geometry turned to the board's axes, and moved where a whole layer stands wrong."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt
import shapely

from boardgen.board.geometry import Shape
from boardgen.readback.model import FabGeometry, FabHole, FabLayer, Thing

Rows = npt.NDArray[np.float64]


class Affine:
    """x' = a x + c, y' = b y + d, with a and b of one size (1 or a scale, negative: mirrored)."""

    def __init__(self, a: float = 1.0, b: float = 1.0, c: float = 0.0, d: float = 0.0) -> None:
        self.a, self.b, self.c, self.d = a, b, c, d

    def rows(self, rows: Rows) -> Rows:
        """Return the points moved, rounded to 1e-3 nm."""
        moved: Rows = rows * np.array([self.a, self.b]) + np.array([self.c, self.d])
        return moved.round(3)

    def point(self, at: tuple[float, float]) -> tuple[float, float]:
        """Return one point moved."""
        return round(at[0] * self.a + self.c, 3), round(at[1] * self.b + self.d, 3)

    @property
    def scale(self) -> float:
        """By how much lengths change."""
        return abs(self.a)


def _moved(shapes: list[Shape], way: Affine) -> list[Shape]:
    if not shapes:
        return []
    skeletons = np.empty(len(shapes), dtype=object)
    skeletons[:] = [shape.skeleton for shape in shapes]
    turned = shapely.transform(skeletons, way.rows)
    return [Shape(s, shape.radius * way.scale) for s, shape in zip(turned, shapes, strict=True)]


def moved_layer(layer: FabLayer, way: Affine) -> FabLayer:
    """Return *layer* with everything on it moved by *way*."""
    shapes = iter(_moved([shape for thing in layer.things for shape in thing.parts], way))
    things: list[Thing] = []
    for thing in layer.things:
        parts = tuple(next(shapes) for _ in thing.parts)
        ends = way.point(thing.start), way.point(thing.end)
        things.append(Thing(thing.kind, parts, *ends, thing.width * way.scale, thing.net, thing.pad))
    return replace(layer, things=tuple(things))


def moved_holes(holes: tuple[FabHole, ...], way: Affine) -> tuple[FabHole, ...]:
    """Return *holes* moved by *way*."""
    shapes = _moved([hole.shape for hole in holes], way)
    moved = []
    for hole, shape in zip(holes, shapes, strict=True):
        ends = sorted((way.point(hole.start), way.point(hole.end)))
        moved.append(FabHole(hole.path, hole.plated, hole.diameter * way.scale, ends[0], ends[1], shape))
    return tuple(moved)


def on_board(geometry: FabGeometry, left: float, bottom: float) -> FabGeometry:
    """Return *geometry* in the board's axes: its origin stands at (*left*, *bottom*), y runs down."""
    way = Affine(1.0, -1.0, left, bottom)
    return replace(
        geometry,
        layers=tuple(moved_layer(layer, way) for layer in geometry.layers),
        holes=moved_holes(geometry.holes, way),
    )
