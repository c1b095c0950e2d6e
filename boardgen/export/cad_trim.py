"""Cut the parts' own printing where it may not be: over pads and holes, and at the board's edge.

A part's outline in the library knows nothing of the board it comes to: a module
that stands flush with the edge has its outline there. What is cut goes into the
project's library too, so that library and board agree.
"""

from __future__ import annotations

import itertools
from dataclasses import replace

import shapely
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from boardgen.board.geometry import (
    Shape,
    arc_points,
    hole_shape,
    outline_polygon,
    pad_shape,
    placed,
    sides_of,
)
from boardgen.board.model import Board, Part, Side
from boardgen.board.strokes import text_ring
from boardgen.catalog.model import FabClass
from boardgen.footprint.model import Arc, Circle, Face, Footprint, Graphic, Line, PartLayer, Polygon, Text
from boardgen.units import Nm, Point, mm

_QUARTER = 16  # chords a quarter circle: a 1 mm radius is off by 1.2 um
_SLACK = mm("0.01")  # beyond the limit, since the CAD program draws circles with chords
_SHORTEST = mm("0.2")  # a shorter remainder of a stroke is left out


def barred_areas(board: Board, fab: FabClass) -> dict[Side, BaseGeometry]:
    """Return, for each side, where no ink may be: nm, the fab's legend clearance included."""
    keep = float(fab.legend_pad_gap_min + _SLACK)
    outline = outline_polygon(board.outline)
    left, top, right, bottom = outline.bounds
    wide = shapely.box(left, top, right, bottom).buffer(float(mm(200)))
    off_board = wide.difference(outline.buffer(-keep))
    found: dict[Side, BaseGeometry] = {}
    for side in Side:
        shapes: list[Shape] = []
        margins: list[float] = []
        for part in board.parts:
            for pad in part.footprint.pads:
                if side in sides_of(part, pad, (Side.TOP, Side.BOTTOM)):
                    shapes.append(pad_shape(part, pad))
                    margins.append(keep + float(fab.mask_margin))
                elif pad.hole is not None:
                    shapes.append(hole_shape(part, pad))
                    margins.append(keep)
        radii = [shape.radius + margin for shape, margin in zip(shapes, margins, strict=True)]
        areas = shapely.buffer([shape.skeleton for shape in shapes], radii, quad_segs=_QUARTER)
        found[side] = shapely.union_all([off_board, *areas])
        shapely.prepare(found[side])
    return found


def trimmed(part: Part, barred: dict[Side, BaseGeometry]) -> Footprint:
    """Return the part's footprint with the printing that *barred* leaves."""
    graphics: list[Graphic] = []
    for item in part.footprint.graphics:
        if item.layer is PartLayer.LEGEND:
            graphics += _clear(item, part, barred)
        else:
            graphics.append(item)
    if tuple(graphics) == part.footprint.graphics:
        return part.footprint
    return replace(part.footprint, graphics=tuple(graphics))


def _clear(item: Graphic, part: Part, barred: dict[Side, BaseGeometry]) -> list[Graphic]:
    side = part.placement.side if item.face is Face.NEAR else part.placement.side.other
    area = barred[side]
    path = _path(item)
    here = placed(path, part.placement)
    if not shapely.dwithin(area, here, 0.0 if isinstance(item, Text) else float(item.width) / 2):
        return [item]
    if isinstance(item, Text) or (isinstance(item, Circle | Polygon) and item.filled):
        return []
    # the stroke's middle line may go wherever its ink stays clear
    grown = area.buffer(float(item.width) / 2)
    rest = here.difference(grown)
    pieces = [g for g in shapely.get_parts(rest) if isinstance(g, LineString)]
    return [
        Line(PartLayer.LEGEND, _local(part, *a), _local(part, *b), item.width, item.face)
        for piece in sorted(pieces, key=lambda g: g.bounds)
        if piece.length >= float(_SHORTEST)
        for a, b in itertools.pairwise(piece.coords)
    ]


def _path(item: Graphic) -> BaseGeometry:
    """Return the middle line of a stroke, or the room of a text or of a filled area."""
    if isinstance(item, Line):
        return LineString([item.start, item.end])
    if isinstance(item, Arc):
        return LineString(arc_points(item.start, item.mid, item.end))
    if isinstance(item, Circle):
        disc = shapely.Point(item.centre).buffer(float(item.radius), quad_segs=16)
        return disc if item.filled else disc.exterior
    if isinstance(item, Polygon):
        area = shapely.Polygon(item.points)
        return area if item.filled else LineString([*item.points, item.points[0]])
    mirrored = item.face is Face.FAR
    return shapely.Polygon(text_ring(item.text, item.at, item.height, item.stroke, item.rotation, mirrored))


def _local(part: Part, x: float, y: float) -> Point:
    """Return a board position in the part's own frame."""
    turned = Point(Nm(round(x)), Nm(round(y))).minus(part.placement.at).turned(-part.placement.rotation)
    return Point(turned.x, -turned.y) if part.placement.side is Side.BOTTOM else turned
