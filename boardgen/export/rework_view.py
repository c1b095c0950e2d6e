"""The picture of a rework: the board with its tracks, what to cut and what to wire."""

from __future__ import annotations

import shapely
from shapely import Point as ShapelyPoint

from boardgen.board.geometry import Shape, outline_polygon, pad_shape, track_shape
from boardgen.board.model import Board, Side
from boardgen.design.model import Erratum
from boardgen.export.sheet import Sheet
from boardgen.export.sheet_svg import sheet_svg
from boardgen.footprint.model import PadKind
from boardgen.palette import BOARD, BODY, BOTTOM, INK, MARK, PAPER, TOP
from boardgen.units import NM_PER_MM, Point

_SCALE, _MARGIN = 2.0, 6.0
_CROSS = 1.6  # mm on paper, half a cross


def pad_place(board: Board, ref: str, number: str) -> Point | None:
    """Return where a pad stands, None where the board has none of that name."""
    for part in board.parts:
        if part.ref == ref:
            for pad in part.footprint.numbered(number):
                return part.placement.place(pad.at)
    return None


def rework_svg(board: Board, erratum: Erratum) -> str:
    """Return the drawing, from the top ("" where there is no rework); pads that do not exist are left out."""
    if not erratum.cuts and not erratum.wires:
        return ""
    area = outline_polygon(board.outline)
    left, top, right, bottom = area.bounds
    width, height = ((b - a) / NM_PER_MM * _SCALE for a, b in ((left, right), (top, bottom)))
    sheet = Sheet(
        f"{board.name} revision {board.revision}: rework", width + 2 * _MARGIN, height + 2 * _MARGIN + 8
    )

    def at(x: float, y: float) -> tuple[float, float]:
        return (x - left) / NM_PER_MM * _SCALE + _MARGIN, (y - top) / NM_PER_MM * _SCALE + _MARGIN + 8

    def moved(shape: Shape) -> shapely.geometry.base.BaseGeometry:
        area = shape.polygon()
        return shapely.transform(
            area,
            lambda rows: (
                (rows - (left, top)) / NM_PER_MM * _SCALE
                + (
                    _MARGIN,
                    _MARGIN + 8,
                )
            ),
        )

    sheet.text(_MARGIN, 8, f"{erratum.symptom}", 3.2, bold=True)
    sheet.area(moved(Shape(area, 0.0)), INK, 0.3, BOARD)
    for side, colour in ((Side.BOTTOM, BOTTOM), (Side.TOP, TOP)):
        for track in board.tracks:
            if track.side is side:
                sheet.area(moved(track_shape(track)), colour, 0.15, BODY)
    for part in board.parts:
        for pad in part.footprint.pads:
            if pad.kind is not PadKind.UNPLATED:
                sheet.area(moved(pad_shape(part, pad)), INK, 0.15, PAPER)
    for cut in erratum.cuts:
        x, y = at(float(cut.at.x), float(cut.at.y))
        sheet.area(ShapelyPoint(x, y).buffer(_CROSS * 1.6), MARK, 0.5)
        for sign in (1, -1):
            sheet.line(
                (x - _CROSS, y - sign * _CROSS), (x + _CROSS, y + sign * _CROSS), stroke=MARK, width=0.7
            )
        sheet.text(x + 3, y - 2, f"cut {cut.net}, {cut.side.value}", 3, colour=MARK, bold=True)
    for a, b in erratum.wires:
        ends = [pad_place(board, *a), pad_place(board, *b)]
        spots = [at(float(end.x), float(end.y)) for end in ends if end is not None]
        if len(spots) == 2:
            sheet.line(*spots, stroke=MARK, width=0.7, dash=(2.0, 1.0))
            for (x, y), (ref, number) in zip(spots, (a, b), strict=True):
                sheet.disc(x, y, 1.0, stroke=MARK, fill=MARK)
                sheet.text(x + 1.6, y - 1.4, f"{ref}.{number}", 3, colour=MARK, bold=True)
    return sheet_svg(sheet, whole=False)
