"""Draws a board onto a sheet at a place and scale: shared by every drawing that shows one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from boardgen.board.geometry import (
    hole_shape,
    outline_polygon,
    pad_shape,
    piece_polygon,
    placed,
    sides_of,
    track_shape,
    via_hole_shape,
    via_shape,
)
from boardgen.board.model import Board, LegendText, Part, PartKind, Side
from boardgen.board.strokes import text_strokes
from boardgen.export.sheet import XY, Sheet
from boardgen.footprint.model import Arc, Circle, Line, PadKind, PartLayer
from boardgen.footprint.model import Polygon as PartPolygon
from boardgen.palette import (
    BOARD,
    BODY,
    BOTTOM,
    BOTTOM_HATCH_DEGREES,
    HOLE,
    INK,
    LEGEND,
    TOP,
    TOP_HATCH_DEGREES,
)
from boardgen.units import Point

FINE = 4_000.0  # nm; how far a drawn curve may leave the true one


@dataclass(frozen=True, slots=True)
class View:
    """Turns board nm into sheet mm: *origin* is where the board's (0, 0) lands.

    *mirrored* shows the board from below (x reversed about the outline's middle).
    """

    origin: XY
    scale: float
    mirrored: bool = False
    middle_nm: float = 0.0

    def xy(self, at: Point | tuple[float, float]) -> XY:
        """Return a board point's place on the sheet."""
        x = 2 * self.middle_nm - at[0] if self.mirrored else at[0]
        return (
            round(self.origin[0] + x * self.scale / 1e6, 4),
            round(self.origin[1] + at[1] * self.scale / 1e6, 4),
        )

    def geometry(self, shape: BaseGeometry) -> BaseGeometry:
        """Return board geometry in sheet mm."""

        def move(rows: np.ndarray[tuple[int, int], np.dtype[np.float64]]) -> np.ndarray:
            x = 2 * self.middle_nm - rows[:, 0] if self.mirrored else rows[:, 0]
            k = self.scale / 1e6
            return np.column_stack((self.origin[0] + x * k, self.origin[1] + rows[:, 1] * k)).round(4)

        return shapely.transform(shape, move)


def board_bounds(board: Board) -> tuple[float, float, float, float]:
    """Left, top, right, bottom of outline and all parts' bodies, nm."""
    boxes = [outline_polygon(board.outline).bounds]
    for part in board.parts:
        body = body_polygon(part)
        if not body.is_empty:
            boxes.append(body.bounds)
    lefts, tops, rights, bottoms = zip(*boxes, strict=True)
    return min(lefts), min(tops), max(rights), max(bottoms)


def fitted_view(board: Board, x: float, y: float, w: float, h: float, largest: float = 4.0,
                below: bool = False) -> View:  # fmt: skip
    """Return the view that centres *board* in a box of the sheet, at the largest handy scale that fits."""
    left, top, right, bottom = board_bounds(board)
    wide, high = (right - left) / 1e6, (bottom - top) / 1e6
    scales = [s for s in (4.0, 3.0, 2.5, 2.0, 1.5, 1.0, 0.75, 0.5, 0.25) if s <= largest]
    scale = next((s for s in scales if wide * s <= w and high * s <= h), scales[-1])
    mid = (left + right) / 2
    ox = x + w / 2 - mid * scale / 1e6
    oy = y + h / 2 - (top + bottom) / 2e6 * scale
    return View((ox, oy), scale, below, mid)


def body_polygon(part: Part) -> BaseGeometry:
    """Return the part's body as its assembly-drawing graphics show it, on the board, nm."""
    areas: list[BaseGeometry] = []
    for item in part.footprint.graphics:
        if item.layer is not PartLayer.DRAWING:
            continue
        if isinstance(item, PartPolygon):
            areas.append(Polygon(item.points))
        elif isinstance(item, Circle):
            areas.append(shapely.Point(item.centre).buffer(float(item.radius)))
    strokes = [
        shapely.LineString([g.start, g.end])
        for g in part.footprint.graphics
        if isinstance(g, Line) and g.layer is PartLayer.DRAWING and g.start != g.end
    ]
    if strokes:
        areas.extend(shapely.polygonize(strokes).geoms)
    return placed(shapely.union_all(areas), part.placement) if areas else Polygon()


@dataclass(frozen=True, slots=True)
class BoardArt:
    """A board's areas, computed once for every picture of it; nm, curves within FINE."""

    board: Board
    outline: BaseGeometry
    pours: tuple[tuple[Side, BaseGeometry], ...]
    copper: tuple[tuple[Side, BaseGeometry], ...]
    holes: BaseGeometry


def board_art(board: Board) -> BoardArt:
    """Return the areas of *board*: outline, and per copper side pours and the rest; holes."""
    pours, copper = [], []
    for side in board.copper:
        pieces = [piece_polygon(p) for q in board.pours if q.side is side for p in q.pieces]
        pours.append((side, shapely.union_all(pieces).simplify(FINE)))
        items: list[BaseGeometry] = [track_shape(t).polygon() for t in board.tracks if t.side is side]
        items += [via_shape(v).polygon() for v in board.vias]
        items += [
            pad_shape(part, pad).polygon()
            for part in board.parts
            for pad in part.footprint.pads
            if side in sides_of(part, pad, board.copper)
        ]
        copper.append((side, shapely.union_all(items).simplify(FINE)))
    holes = [via_hole_shape(v).polygon() for v in board.vias]
    for part in board.parts:
        holes += [hole_shape(part, pad).polygon() for pad in part.footprint.pads if pad.hole is not None]
    return BoardArt(
        board,
        outline_polygon(board.outline),
        tuple(pours),
        tuple(copper),
        shapely.union_all(holes).simplify(FINE),
    )


def draw_outline(sheet: Sheet, view: View, art: BoardArt, fill: str = BOARD) -> None:
    """Draw the profile as a filled area."""
    sheet.area(view.geometry(art.outline), INK, 0.3, fill)


def draw_copper(sheet: Sheet, view: View, art: BoardArt, side: Side) -> None:
    """Draw the copper of *side*: pours hatched lightly, tracks and pads solid, holes open."""
    colour = TOP if side is Side.TOP else BOTTOM
    degrees = TOP_HATCH_DEGREES if side is Side.TOP else BOTTOM_HATCH_DEGREES
    pour = dict(art.pours)[side]
    if not pour.is_empty:
        area = view.geometry(pour)
        sheet.area(area, colour, 0.08)
        sheet.hatch(area, degrees, 0.9, colour, 0.07)
    sheet.area(view.geometry(dict(art.copper)[side]), colour, 0.05, colour)
    draw_holes(sheet, view, art)


def draw_holes(sheet: Sheet, view: View, art: BoardArt) -> None:
    """Draw every hole as an open spot."""
    sheet.area(view.geometry(art.holes), INK, 0.08, HOLE)


def draw_legend(sheet: Sheet, view: View, board: Board, side: Side) -> None:
    """Draw the printing of *side* as it will be printed."""
    texts = [text for _ref, text in board.references]
    for item in (*board.legend, *texts):
        if item.side is not side:
            continue
        width = item.stroke / 1e6 * view.scale
        if isinstance(item, LegendText):
            lines = text_strokes(item.text, item.at, item.height, item.stroke, item.rotation,
                                 side is Side.BOTTOM)  # fmt: skip
        else:
            lines = (item.points,)
        for points in lines:
            sheet.line(*(view.xy(p) for p in points), stroke=LEGEND, width=round(width, 3))


def draw_bodies(sheet: Sheet, view: View, board: Board, side: Side) -> None:
    """Draw the bodies of parts mounted on *side*, with their drawing-layer lines."""
    for part in board.parts:
        if part.placement.side is not side or part.kind is PartKind.HOLE:
            continue
        body = body_polygon(part)
        if not body.is_empty:
            sheet.area(view.geometry(body), INK, 0.15, BODY)
        for item in part.footprint.graphics:
            if item.layer is PartLayer.DRAWING and isinstance(item, Line | Arc):
                start, end = part.placement.place(item.start), part.placement.place(item.end)
                if isinstance(item, Arc):
                    sheet.line(
                        view.xy(start), view.xy(part.placement.place(item.mid)), view.xy(end), width=0.1
                    )
                else:
                    sheet.line(view.xy(start), view.xy(end), width=0.1)


def draw_pads(sheet: Sheet, view: View, art: BoardArt, side: Side) -> None:
    """Draw pads of *side* as open outlines, and holes."""
    board = art.board
    pads = [
        pad_shape(part, pad).polygon()
        for part in board.parts
        for pad in part.footprint.pads
        if pad.kind is not PadKind.UNPLATED and side in sides_of(part, pad, board.copper)
    ]
    sheet.area(view.geometry(shapely.union_all(pads).simplify(FINE)), INK, 0.1, HOLE)
    draw_holes(sheet, view, art)
