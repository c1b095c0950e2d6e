"""A drawing as a list of plain marks in mm (x right, y down), for any back end to paint."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import shapely
from shapely import LineString, MultiLineString, Polygon
from shapely.affinity import rotate
from shapely.geometry.base import BaseGeometry

from boardgen.palette import INK

XY = tuple[float, float]
CHORD = 0.01  # mm on paper; finer chords of a curve than this no eye can see


@dataclass(frozen=True, slots=True)
class PathMark:
    """Rings or polylines in one style; *fill* "" leaves them open, even-odd where rings nest."""

    lines: tuple[tuple[XY, ...], ...]
    stroke: str = INK
    width: float = 0.2
    fill: str = ""
    closed: bool = False
    dash: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class TextMark:
    """A line of text; *anchor* is "start", "middle" or "end"; *size* is the height in mm."""

    at: XY
    text: str
    size: float = 2.5
    anchor: str = "start"
    colour: str = INK
    turn: float = 0.0
    bold: bool = False


Mark = PathMark | TextMark


@dataclass(slots=True)
class Sheet:
    """A page being drawn; only the function that draws it holds it."""

    title: str
    width: float
    height: float
    marks: list[Mark] = field(default_factory=list)

    def line(self, *points: XY, stroke: str = INK, width: float = 0.2, dash: tuple[float, ...] = ()) -> None:
        """Draw a polyline."""
        self.marks.append(PathMark((points,), stroke, width, dash=dash))

    def ring(
        self, points: tuple[XY, ...], stroke: str = INK, width: float = 0.2, fill: str = "",
        dash: tuple[float, ...] = (),
    ) -> None:  # fmt: skip
        """Draw a closed outline."""
        self.marks.append(PathMark((points,), stroke, width, fill, closed=True, dash=dash))

    def box(self, x: float, y: float, w: float, h: float, stroke: str = INK, width: float = 0.2,
            fill: str = "") -> None:  # fmt: skip
        """Draw an upright rectangle."""
        self.ring(((x, y), (x + w, y), (x + w, y + h), (x, y + h)), stroke, width, fill)

    def disc(self, x: float, y: float, radius: float, stroke: str = INK, width: float = 0.2,
             fill: str = "") -> None:  # fmt: skip
        """Draw a circle, as a ring whose chords keep to CHORD."""
        count = max(12, math.ceil(math.pi * math.sqrt(max(radius, CHORD) / (2 * CHORD))))
        points = tuple(
            (x + radius * math.cos(math.tau * i / count), y + radius * math.sin(math.tau * i / count))
            for i in range(count)
        )
        self.ring(points, stroke, width, fill)

    def text(self, x: float, y: float, text: str, size: float = 2.5, anchor: str = "start",
             colour: str = INK, turn: float = 0.0, bold: bool = False) -> None:  # fmt: skip
        """Write one line; (x, y) is on its base line."""
        self.marks.append(TextMark((x, y), text, size, anchor, colour, turn, bold))

    def area(self, geometry: BaseGeometry, stroke: str = INK, width: float = 0.15, fill: str = "") -> None:
        """Draw every polygon of *geometry* (mm), holes left open."""
        for polygon in _polygons(geometry.simplify(CHORD)):
            rings = [polygon.exterior, *polygon.interiors]
            lines = tuple(tuple(map(tuple, shapely.get_coordinates(ring)[:-1].tolist())) for ring in rings)
            self.marks.append(PathMark(lines, stroke, width, fill, closed=True))

    def hatch(self, geometry: BaseGeometry, degrees: float, pitch: float, stroke: str,
              width: float = 0.12) -> None:  # fmt: skip
        """Fill *geometry* (mm) with parallel lines *pitch* mm apart."""
        lines = hatch_lines(geometry, degrees, pitch)
        if lines:
            self.marks.append(PathMark(lines, stroke, width))


def _polygons(geometry: BaseGeometry) -> list[Polygon]:
    if isinstance(geometry, Polygon):
        return [geometry] if not geometry.is_empty else []
    return [p for p in getattr(geometry, "geoms", ()) if isinstance(p, Polygon) and not p.is_empty]


def hatch_lines(geometry: BaseGeometry, degrees: float, pitch: float) -> tuple[tuple[XY, ...], ...]:
    """Return the lines that hatch *geometry*, on a lattice fixed to the page (so that neighbours match)."""
    if geometry.is_empty:
        return ()
    upright = rotate(geometry, degrees, origin=(0, 0))
    left, top, right, bottom = upright.bounds
    first, last = math.ceil(top / pitch), math.floor(bottom / pitch)
    rows = MultiLineString([[(left - 1, i * pitch), (right + 1, i * pitch)] for i in range(first, last + 1)])
    if rows.is_empty:
        return ()
    cut = rotate(shapely.intersection(upright, rows), -degrees, origin=(0, 0))
    pieces = [cut] if isinstance(cut, LineString) else list(getattr(cut, "geoms", ()))
    found = [
        tuple((round(x, 3), round(y, 3)) for x, y in piece.coords)
        for piece in pieces
        if isinstance(piece, LineString) and not piece.is_empty
    ]
    return tuple(sorted(found))
