"""The panel's drawing: outline with sizes, score lines, tabs, holes, the places of the boards."""

from __future__ import annotations

import itertools

from boardgen.board.geometry import outline_polygon
from boardgen.board.model import Side
from boardgen.catalog.model import FabClass
from boardgen.export.board_view import (
    View,
    board_art,
    board_bounds,
    draw_bodies,
    draw_holes,
    draw_legend,
    draw_outline,
    fitted_view,
)
from boardgen.export.sheet import Sheet
from boardgen.order.panel.build import Panel
from boardgen.order.panel.marks import FIDUCIAL
from boardgen.order.panel.words import panel_lines
from boardgen.palette import FAINT, MARK, TOP
from boardgen.units import Nm, Point, format_mm

PAGE = (297.0, 210.0)
_ROOM = (32.0, 30.0, 160.0, 150.0)  # x, y, width, height of the drawing on the page, mm
_NOTES = 210.0


def panel_sheet(panel: Panel, fab: FabClass, panels: int, tool: str) -> Sheet:
    """Return the drawing of *panel*, of which *panels* are ordered."""
    board = panel.board
    sheet = Sheet(f"{board.name} revision {board.revision}: panel", *PAGE)
    sheet.text(10, 15, "Panel", 5.5, bold=True)
    sheet.text(PAGE[0] - 10, 12, f"{board.name}  rev {board.revision}", 4, "end", bold=True)
    sheet.text(PAGE[0] - 10, 17, board.title, 3, "end")
    sheet.line((10, 20), (PAGE[0] - 10, 20), width=0.4)
    view = fitted_view(board, *_ROOM, 2.0)
    art = board_art(board)
    draw_outline(sheet, view, art)
    draw_bodies(sheet, view, board, Side.TOP)
    draw_legend(sheet, view, board, Side.TOP)
    draw_holes(sheet, view, art)
    _fiducials(sheet, view, panel)
    _scores(sheet, view, panel)
    _places(sheet, view, panel)
    _sizes(sheet, view, panel)
    y = 30.0
    sheet.text(_NOTES, y, "Panel", 3.5, bold=True)
    for name, words in panel_lines(panel, fab, panels):
        y += 5.2
        sheet.text(_NOTES, y, name, 2.5, bold=True)
        for number, line in enumerate(_wrapped(words, 34)):
            y += 3.6 if number else 0.0
            sheet.text(_NOTES + 25, y, line, 2.5)
    sheet.line((10, PAGE[1] - 12.5), (PAGE[0] - 10, PAGE[1] - 12.5), stroke=FAINT)
    sheet.text(
        10, PAGE[1] - 8, "Dimensions in mm. Seen from the top. Dashed: score lines. Do not scale.", 2.6
    )
    sheet.text(PAGE[0] - 10, PAGE[1] - 8, tool, 2.6, "end", FAINT)
    return sheet


def _wrapped(words: str, width: int) -> list[str]:
    lines = [""]
    for word in words.split(" "):
        if lines[-1] and len(lines[-1]) + len(word) >= width:
            lines.append("")
        lines[-1] = f"{lines[-1]} {word}".strip()
    return lines


def _fiducials(sheet: Sheet, view: View, panel: Panel) -> None:
    for part in panel.board.parts:
        if part.value == FIDUCIAL and part.placement.side is Side.TOP:
            (pad,) = part.footprint.pads
            x, y = view.xy(part.placement.at)
            opening = pad.size.w / 2 + (pad.mask_margin or 0)
            sheet.disc(x, y, opening / 1e6 * view.scale, TOP, 0.1)
            sheet.disc(x, y, pad.size.w / 2e6 * view.scale, TOP, 0.1, TOP)


def _scores(sheet: Sheet, view: View, panel: Panel) -> None:
    for line in panel.board.scores:
        sheet.line(view.xy(line.start), view.xy(line.end), stroke=MARK, width=0.3, dash=(2.0, 1.0))


def _places(sheet: Sheet, view: View, panel: Panel) -> None:
    """Name the places; an arrow shows where the board's own top looks."""
    grid, unit = panel.grid, panel.unit
    for name, (row, column, turn) in zip(panel.places, grid.cells(), strict=True):
        x, y = grid.place(row, column)
        middle = view.xy((x + unit.width / 2, y + unit.height / 2))
        size = max(3.0, min(8.0, unit.height / 1e6 * view.scale / 4))
        sheet.text(middle[0], middle[1] + size * 0.36, name, size, "middle", TOP, bold=True)
        sign = -1 if turn == 0 else 1
        tip = (middle[0], middle[1] + sign * size * 1.5)
        sheet.line((middle[0], middle[1] + sign * size * 0.8), tip, stroke=TOP, width=0.4)
        back = tip[1] - sign * size * 0.3
        sheet.line((tip[0] - size * 0.2, back), tip, (tip[0] + size * 0.2, back), stroke=TOP, width=0.4)


def _dimension(sheet: Sheet, a: tuple[float, float], b: tuple[float, float], text: str) -> None:
    sheet.line(a, b, width=0.15)
    level = a[1] == b[1]
    for x, y in (a, b):
        sheet.line((x - 0.7, y + 0.7), (x + 0.7, y - 0.7), width=0.2)
    mx, my = (a[0] + b[0]) / 2, (a[1] + b[1]) / 2
    if level:
        sheet.text(mx, my - 0.8, text, 2.4, "middle")
    else:
        sheet.text(mx - 0.8, my, text, 2.4, "middle", turn=90)


def _sizes(sheet: Sheet, view: View, panel: Panel) -> None:
    """Give the panel's sizes, and along two sides where the first board and the second one begin."""
    left, top, right, bottom = (Nm(round(v)) for v in outline_polygon(panel.board.outline).bounds)
    x0, y0 = view.xy((left, top))
    x1, y1 = view.xy((right, bottom))
    bodies = board_bounds(panel.board)
    low, side = view.xy((bodies[0], bodies[3]))[1] + 4, view.xy((bodies[0], bodies[3]))[0] - 6
    _dimension(sheet, (x0, low + 6), (x1, low + 6), format_mm(right - left, 2))
    _dimension(sheet, (side - 8, y0), (side - 8, y1), format_mm(bottom - top, 2))
    grid, unit = panel.grid, panel.unit
    marks = [
        0,
        *(v for line in grid.columns[:-1] for v in (line.end, line.end + unit.width)),
        int(grid.width),
    ]
    for a, b in itertools.pairwise(marks):
        if b > a:
            here, there = view.xy(Point(Nm(a), bottom)), view.xy(Point(Nm(b), bottom))
            _dimension(sheet, (here[0], low), (there[0], low), _short(b - a, there[0] - here[0]))
    marks = [0, *(v for line in grid.rows[:-1] for v in (line.end, line.end + unit.height)), int(grid.height)]
    for a, b in itertools.pairwise(marks):
        if b > a:
            here, there = view.xy(Point(left, Nm(a))), view.xy(Point(left, Nm(b)))
            _dimension(sheet, (side, here[1]), (side, there[1]), _short(b - a, there[1] - here[1]))


def _short(length: int, paper: float) -> str:
    text = format_mm(length)
    return text if paper >= 1.0 + len(text) * 1.2 else ""
