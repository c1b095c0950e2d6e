"""The pictures of the page: the finished board, and the board step by step."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence

import shapely
from shapely.geometry.base import BaseGeometry

from boardgen.board.geometry import pad_centre, pad_shape
from boardgen.board.model import Board, LegendText, Part, PartKind, Side
from boardgen.export.board_view import (
    FINE,
    BoardArt,
    View,
    board_art,
    board_bounds,
    body_polygon,
    draw_bodies,
    draw_legend,
    draw_outline,
    draw_pads,
)
from boardgen.export.sheet import XY, Sheet
from boardgen.export.sheet_svg import sheet_svg
from boardgen.footprint.model import PadKind
from boardgen.palette import BODY, FITTED, INK, MARK
from boardgen.publish.model import Step

WIDTH, MARGIN, HEAD = 120.0, 4.0, 9.0  # mm on paper; small, so that words stay legible on a narrow screen
MOST_HEIGHT = 130.0
LARGEST = 4.0  # paper mm a mm
SOCKET_HALF = 1_270_000.0  # nm, half a socket strip's width


def _page(board: Board, title: str, below: bool) -> tuple[Sheet, View]:
    """Return a sheet just as high as *board* needs, and the view that fits it in."""
    left, top, right, bottom = board_bounds(board)
    wide, high = (right - left) / 1e6, (bottom - top) / 1e6
    scale = round(min((WIDTH - 2 * MARGIN) / wide, MOST_HEIGHT / high, LARGEST), 3)
    sheet = Sheet(title, WIDTH, round(high * scale + HEAD + MARGIN, 2))
    mid = (left + right) / 2
    view = View((WIDTH / 2 - mid * scale / 1e6, HEAD - top * scale / 1e6), scale, below, mid)
    words = "seen from below" if below else "seen from above"
    sheet.text(MARGIN, 5.6, words, 3.2)
    return sheet, view


def finished_pictures(art: BoardArt) -> tuple[tuple[str, str], ...]:
    """Return (caption, SVG) of the board with everything on it, from above and from below."""
    board = art.board
    pictures = []
    printed = {item.text for item in board.legend if isinstance(item, LegendText)}
    printed |= {ref for ref, _text in board.references}
    for below in (False, True):
        side = Side.BOTTOM if below else Side.TOP
        words = "from below" if below else "from above"
        sheet, view = _page(board, f"{board.name} revision {board.revision} {words}", below)
        draw_outline(sheet, view, art)
        draw_pads(sheet, view, art, side)
        draw_bodies(sheet, view, board, side)
        draw_legend(sheet, view, board, side)
        # module and connector bear print of their own in the middle: their names stand where none is printed
        named = [
            p
            for p in board.parts
            if p.placement.side is side and (p.kind is PartKind.COMPONENT or p.ref not in printed)
        ]
        _name(sheet, view, named, MARK)
        caption = "The board from below, with what is printed there." if below else "The board from above."
        pictures.append((caption, sheet_svg(sheet, whole=False)))
    return tuple(pictures)


def step_picture(art: BoardArt, step: Step, number: int, before: Collection[str]) -> str:
    """Return the picture of *step*: what is fitted now filled and named, what stands (*before*) plain.

    Both are drawn from the step's own side.
    """
    board = art.board
    below = step.side is Side.BOTTOM
    sheet, view = _page(board, f"Step {number}: {step.title}", below)
    draw_outline(sheet, view, art)
    draw_pads(sheet, view, art, step.side)
    parts = [p for p in board.parts if p.placement.side is step.side and p.kind is not PartKind.HOLE]
    for part in parts:
        if part.ref in before and part.ref not in step.refs:
            _area(sheet, view, body_polygon(part), 0.12, BODY)
    now = [part for part in parts if part.ref in step.refs]
    for part in now:
        shape = _strips(part) if step.sockets else _body(part)
        _area(sheet, view, shape, 0.45, FITTED)
        _joints(sheet, view, part)
    for ref, number_ in step.marks:
        _mark(sheet, view, now, ref, number_)
    if step.sockets:
        return sheet_svg(sheet, whole=False)
    _name(sheet, view, now, INK)
    return sheet_svg(sheet, whole=False)


def pictures_art(board: Board) -> BoardArt:
    """Return the areas that every picture of *board* shares."""
    return board_art(board)


def _area(sheet: Sheet, view: View, shape: BaseGeometry, width: float, fill: str) -> None:
    if not shape.is_empty:
        sheet.area(view.geometry(shape.simplify(FINE)), INK, width, fill)


def _pads(part: Part) -> list[BaseGeometry]:
    return [pad_shape(part, p).polygon() for p in part.footprint.pads if p.kind is not PadKind.UNPLATED]


def _body(part: Part) -> BaseGeometry:
    """Return the part's body; where its footprint draws none, what its pads span."""
    body = body_polygon(part)
    return shapely.union_all(_pads(part)).envelope if body.is_empty else body


def _strips(part: Part) -> BaseGeometry:
    """Return the area of the module's socket strips: squares about its plated pads, joined along the rows."""
    plated = [pad_centre(part, p) for p in part.footprint.pads if p.kind is PadKind.PLATED]
    squares = [
        shapely.box(at.x - SOCKET_HALF, at.y - SOCKET_HALF, at.x + SOCKET_HALF, at.y + SOCKET_HALF)
        for at in plated
    ]
    # a hair closed, so that rows off the grid by rounding are still one strip
    return (
        shapely.union_all(squares).buffer(20_000.0, join_style="mitre").buffer(-20_000.0, join_style="mitre")
    )


def _joints(sheet: Sheet, view: View, part: Part) -> None:
    pads = _pads(part)
    if pads:
        sheet.area(view.geometry(shapely.union_all(pads).simplify(FINE)), INK, 0.15, "#ffffff")


def _mark(sheet: Sheet, view: View, parts: Sequence[Part], ref: str, number: str) -> None:
    part = next((p for p in parts if p.ref == ref), None)
    if part is None:
        return
    for pad in part.footprint.numbered(number)[:1]:
        x, y = view.xy(pad_centre(part, pad))
        sheet.disc(x, y, max(0.7, min(1.2, 0.55 * view.scale)), MARK, 0.2, MARK)


def _name(sheet: Sheet, view: View, parts: Sequence[Part], colour: str) -> None:
    """Write each part's reference on the middle of its body, along its longer side."""
    for part in parts:
        if part.kind is PartKind.HOLE:
            continue
        left, top, right, bottom = view.geometry(_body(part)).bounds
        wide, high = right - left, bottom - top
        turned = high > wide * 1.3
        long, short = (high, wide) if turned else (wide, high)
        size = max(1.7, min(3.4, short * 0.6, long / (0.72 * max(len(part.ref), 2))))
        pads = [view.xy(pad_centre(part, pad)) for pad in part.footprint.pads]
        x, y = _free_spot((left, top, right, bottom), pads, size)
        if turned:
            sheet.text(x + size * 0.36, y, part.ref, size, "middle", colour, 90, bold=True)
        else:
            sheet.text(x, y + size * 0.36, part.ref, size, "middle", colour, bold=True)


def _free_spot(box: tuple[float, float, float, float], pads: Sequence[XY], size: float) -> XY:
    """Return where in *box* (paper mm) a name is read best: its middle, else away from the pads."""
    left, top, right, bottom = box
    spots = [
        (left + (right - left) * across, top + (bottom - top) * down)
        for across, down in ((0.5, 0.5), (0.5, 0.14), (0.5, 0.86), (0.1, 0.5), (0.9, 0.5))
    ]
    rooms = [min((math.dist(spot, pad) for pad in pads), default=size * 2) for spot in spots]
    if rooms[0] >= size:
        return spots[0]
    return spots[max(range(len(spots)), key=lambda place: (round(rooms[place], 3), -place))]
