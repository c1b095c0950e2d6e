"""The area the parts must stand on: a rectangle, or any outline with straight edges."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from shapely import Polygon

from boardgen.board.geometry import outline_polygon
from boardgen.board.model import Outline, OutlineArc, OutlineLine, OutlinePiece
from boardgen.floorplan.frame import Turn, holds
from boardgen.units import ZERO, Box, Nm, Point, Size


@dataclass(frozen=True, slots=True)
class EdgeSpan:
    """A straight piece of the outline: its coordinate across, and its extent along."""

    at: Nm
    low: Nm
    high: Nm


class Region:
    """The board's area in the canonical frame, top left at 0,0.

    *polygon* is None for a rectangle, whose corners are rounded by *radius*.
    """

    def __init__(self, size: Size, polygon: Polygon | None = None, radius: Nm = ZERO) -> None:
        self.size = size
        self.radius = radius
        self.polygon = polygon
        if polygon is not None:
            shapely.prepare(polygon)

    @cached_property
    def box(self) -> Box:
        """The box round the area."""
        return Box(ZERO, ZERO, self.size.w, self.size.h)

    @cached_property
    def area(self) -> float:
        """The board's area in nm2 (a rectangle's rounding left out)."""
        if self.polygon is not None:
            return float(self.polygon.area)
        return float(self.size.w) * float(self.size.h)

    def edges(self, name: str) -> tuple[EdgeSpan, ...]:
        """Return the straight pieces that look out to *name*, the longest first."""
        box = self.box
        if self.polygon is None:
            spans = {
                "top": EdgeSpan(box.top, box.left, box.right),
                "bottom": EdgeSpan(box.bottom, box.left, box.right),
                "left": EdgeSpan(box.left, box.top, box.bottom),
                "right": EdgeSpan(box.right, box.top, box.bottom),
            }
            return (spans[name],)
        ring = shapely.get_coordinates(shapely.orient_polygons(self.polygon).exterior).round().astype(int)
        found = []
        # The ring is counter-clockwise in plain (x, y) numbers, so the area lies on the side
        # of greater y where x grows along a step: with y down, that step is a top edge.
        for (x0, y0), (x1, y1) in zip(ring[:-1].tolist(), ring[1:].tolist(), strict=True):
            way = ""
            if y0 == y1 and x0 != x1:
                way = "top" if x1 > x0 else "bottom"
            elif x0 == x1 and y0 != y1:
                way = "right" if y1 > y0 else "left"
            if way != name:
                continue
            low, high, at = (min(x0, x1), max(x0, x1), y0) if y0 == y1 else (min(y0, y1), max(y0, y1), x0)
            found.append(EdgeSpan(Nm(at), Nm(low), Nm(high)))
        return tuple(sorted(found, key=lambda s: (s.low - s.high, s.at, s.low)))

    def holds(self, box: Box) -> bool:
        """Whether *box* lies wholly on the board."""
        whole = self.box
        if not holds(whole, box):
            return False
        if self.radius > 0:
            # A corner of the box leaves the board only inside a rounding's square.
            across = (whole.left + self.radius - box.left, box.right - (whole.right - self.radius))
            down = (whole.top + self.radius - box.top, box.bottom - (whole.bottom - self.radius))
            for dx in across:
                for dy in down:
                    if dx > 0 and dy > 0 and math.hypot(dx, dy) > self.radius:
                        return False
        return self.polygon is None or bool(shapely.covers(self.polygon, shapely.box(*box)))

    def takes(self, inside: Box, edge: str, margin: int) -> bool:
        """Whether *inside* lies on the board with *margin* to its edges, save at the one it stands at."""
        if not self.holds(inside):
            return False
        if self.polygon is None:
            return holds(self.box, with_margin(inside, edge, margin))
        core = shapely.box(*with_margin(inside, edge, 0, margin))
        return float(shapely.distance(self.polygon.boundary, core)) >= margin - 1

    def clear_of(self, box: Box) -> bool:
        """Whether *box* lies wholly off the board (touching is allowed)."""
        whole = self.box
        if (
            box.right <= whole.left
            or box.left >= whole.right
            or box.bottom <= whole.top
            or box.top >= whole.bottom
        ):
            return True
        if self.polygon is None:
            return False
        return not bool(shapely.intersects(self.polygon, shapely.box(*box.grown(-1))))


def with_margin(inside: Box, edge: str, margin: int, pulled: int = 0) -> Box:
    """Return *inside* grown by *margin*, its side at *edge* pulled in by *pulled* instead."""
    grown = inside.grown(margin)
    return Box(
        inside.left + pulled if edge == "left" else grown.left,
        inside.top + pulled if edge == "top" else grown.top,
        inside.right - pulled if edge == "right" else grown.right,
        inside.bottom - pulled if edge == "bottom" else grown.bottom,
    )


def outline_at_origin(outline: Outline) -> Outline:
    """Return the outline moved so that the box round it has its top left at 0,0."""
    left, top, _, _ = outline_polygon(outline).bounds
    shift = Point(Nm(-round(left)), Nm(-round(top)))

    def moved(piece: OutlinePiece) -> OutlinePiece:
        if isinstance(piece, OutlineArc):
            return OutlineArc(piece.start.plus(shift), piece.mid.plus(shift), piece.end.plus(shift))
        return OutlineLine(piece.start.plus(shift), piece.end.plus(shift))

    return Outline(
        tuple(moved(piece) for piece in outline.outer),
        tuple(tuple(moved(piece) for piece in loop) for loop in outline.cutouts),
    )


def outline_size(outline: Outline) -> Size:
    """Return the size of the box round the outline."""
    left, top, right, bottom = outline_polygon(outline).bounds
    return Size(Nm(round(right - left)), Nm(round(bottom - top)))


def polygon_region(outline: Outline, turn: Turn) -> Region:
    """Return the region of an outline whose top left is at 0,0, seen in the canonical frame of *turn*."""
    polygon = outline_polygon(outline)

    def back(x: float, y: float) -> tuple[float, float]:
        at = turn.back(Point(Nm(round(x)), Nm(round(y))))
        return float(at.x), float(at.y)

    turned = shapely.transform(polygon, lambda rows: np.array([back(x, y) for x, y in rows], dtype=float))
    return Region(turn.size, turned)
