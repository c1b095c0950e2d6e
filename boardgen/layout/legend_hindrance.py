"""What keeps a text that a person put on the legend from being printed there."""

from __future__ import annotations

from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from boardgen.board.geometry import hole_shape, pad_shape, sides_of
from boardgen.board.model import Board, LegendText, Side
from boardgen.board.strokes import text_ring
from boardgen.catalog.model import FabClass
from boardgen.design.model import LegendWish
from boardgen.layout.legend_room import printable


def print_hindrance(board: Board, fab: FabClass, wish: LegendWish) -> str:
    """Return what is in the way of *wish* on the finished *board*, in words."""
    if not fab.legend:
        return "the fab class does not print"
    area = _ring(LegendText(wish.side, wish.text, wish.at, wish.height, fab.legend_stroke_min, wish.rotation))
    found = area_hindrance(board, fab, wish.side, area)
    if found:
        return found
    for item in board.legend:
        if not isinstance(item, LegendText) or item.side is not wish.side or item.text == wish.text:
            continue
        if _ring(item).intersects(area):
            return f"the text {item.text!r} is there"
    return "printing of a part is there"


def area_hindrance(board: Board, fab: FabClass, side: Side, area: BaseGeometry) -> str:
    """Return what keeps *area* (nm) of *side* from being printed: the edge, a pad, a hole; "" for nothing."""
    if not printable(board, fab).contains(area):
        return "it would reach over the edge of the board"
    gap = float(fab.legend_pad_gap_min) + float(fab.mask_margin)
    for part in board.parts:
        for pad in part.footprint.pads:
            if side in sides_of(part, pad, board.copper):
                shape, what = pad_shape(part, pad), f"{part.ref} pad {pad.number}"
            elif pad.hole is not None:
                shape, what = hole_shape(part, pad), f"the hole of {part.ref}"
            else:
                continue
            if shape.skeleton.distance(area) - shape.radius < gap:
                return f"{what} is there"
    return ""


def _ring(item: LegendText) -> BaseGeometry:
    mirrored = item.side is Side.BOTTOM
    return Polygon(text_ring(item.text, item.at, item.height, item.stroke, item.rotation, mirrored))
