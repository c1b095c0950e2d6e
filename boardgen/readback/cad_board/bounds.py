"""Refuse files whose things cross each other without end: checking them would take all memory."""

from __future__ import annotations

import shapely
from shapely.geometry.base import BaseGeometry

from boardgen.board.model import Board
from boardgen.errors import InputError
from boardgen.readback.tangles import box_pairs

MOST_PAIRS = 20_000_000  # of things whose upright boxes meet


def refuse_crowds(board: Board, where: str) -> None:
    """Raise InputError where copper or printing lies on itself beyond what can be checked."""
    copper: list[BaseGeometry] = [shapely.LineString((t.start, t.end)) for t in board.tracks]
    copper += [shapely.Point(via.at) for via in board.vias]
    copper += [
        shapely.Point(part.placement.place(pad.at)) for part in board.parts for pad in part.footprint.pads
    ]
    printed: list[BaseGeometry] = [
        shapely.LineString(item.points)
        for item in board.legend
        if hasattr(item, "points") and len(item.points) > 1
    ]
    for what, items in (("copper", copper), ("printing", printed)):
        if box_pairs(items) > MOST_PAIRS:
            raise InputError(f"too much {what} lies in one place to be checked", where)
