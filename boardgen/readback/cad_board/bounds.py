"""Refuse files whose things cross each other without end: checking them would take all memory."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from boardgen.board.model import Board
from boardgen.errors import InputError
from boardgen.units import Point

MOST_PAIRS = 20_000_000  # of things whose upright boxes meet
_SAMPLE = 200
_FEW = 300  # corners: all their crossings are soon found
_CROSSINGS = 25  # box pairs a corner; a fill with a thousand holes has some five


def _pairs(items: Sequence[BaseGeometry]) -> float:
    """Return about how many pairs of *items* have boxes that meet, from an even sample of them."""
    if not items:
        return 0.0
    tree = shapely.STRtree(items)
    count = min(_SAMPLE, len(items))
    chosen = [items[i] for i in np.linspace(0, len(items) - 1, count).astype(int).tolist()]
    met = sum(len(tree.query(item)) for item in chosen)
    return met / count * len(items) / 2


def is_tangled(ring: Sequence[Point]) -> bool:
    """Return whether a ring crosses itself so often that it is no outline of anything."""
    if len(ring) < _FEW:
        return False
    corners = np.array(ring, dtype=float)
    lines = np.asarray(shapely.linestrings(np.stack([corners, np.roll(corners, -1, axis=0)], axis=1)))
    return _pairs(lines.tolist()) > _CROSSINGS * len(ring)


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
        if _pairs(items) > MOST_PAIRS:
            raise InputError(f"too much {what} lies in one place to be checked", where)
