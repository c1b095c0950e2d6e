"""Room for texts: candidate places, best first, taken one by one.

A text's box keeps :data:`MARGIN` from other printing and texts, and stays off
openings, holes and the edge.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from boardgen.board.model import LegendText, Side
from boardgen.board.strokes import text_ring
from boardgen.layout.pour_field import Geometries, geometries
from boardgen.units import ORIGIN, Nm, Point, nm

MARGIN = 300_000.0  # nm between a text's box and other printing

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Wish:
    """A text and where its middle might be, best place first; the turn goes with the place."""

    text: str
    places: tuple[tuple[float, float, float], ...]  # x, y in nm, rotation in degrees
    heights: tuple[Nm, ...]  # tried in this order
    avoid: tuple[tuple[float, float, float, float], ...] = ()  # boxes it must not stand in


def text_extent(
    text: str, height: Nm, stroke: Nm, rotation: float, side: Side
) -> tuple[float, float, float, float]:
    """Return how far the text's box reaches left, up, right and down of its middle, in nm."""
    ring = text_ring(text, ORIGIN, height, stroke, rotation, side is Side.BOTTOM)
    xs, ys = [float(p.x) for p in ring], [float(p.y) for p in ring]
    return min(xs), min(ys), max(xs), max(ys)


def _apart(boxes: Floats, taken: Floats, margin: float) -> npt.NDArray[np.bool_]:
    """Return which of the *boxes* keep *margin* from every box of *taken*."""
    left, top, right, bottom = (boxes[:, None, k] for k in range(4))
    clear = (left >= taken[:, 2] + margin) | (right <= taken[:, 0] - margin)
    clear |= (top >= taken[:, 3] + margin) | (bottom <= taken[:, 1] - margin)
    apart: npt.NDArray[np.bool_] = np.logical_and.reduce(clear, axis=1)
    return apart


@dataclass(slots=True)
class Sheet:
    """One printed side being filled. *blocked* must not be touched, *inked* not come near."""

    side: Side
    room: BaseGeometry
    blocked: Geometries
    inked: Geometries
    stroke: Nm
    _texts: list[tuple[float, float, float, float]] = field(default_factory=list)
    _trees: list[shapely.STRtree] = field(default_factory=list)

    def __post_init__(self) -> None:
        shapely.prepare(self.room)
        self._trees = [shapely.STRtree(self.blocked), shapely.STRtree(self.inked)]

    def keep_off(self, areas: Sequence[BaseGeometry]) -> None:
        """Take note of printing that later texts must not come near."""
        if areas:
            self.inked = geometries([*self.inked, *areas])
            self._trees[1] = shapely.STRtree(self.inked)

    def _free(
        self, boxes: Floats, avoid: tuple[tuple[float, float, float, float], ...]
    ) -> npt.NDArray[np.bool_]:
        """Return which of the *boxes* (rows left, top, right, bottom) are free."""
        free = np.ones(len(boxes), dtype=bool)
        for taken, margin in ((self._texts, MARGIN), (avoid, 0.0)):
            if taken:
                free &= _apart(boxes, np.array(taken), margin)
        left = np.flatnonzero(free)
        if len(left):
            shapes = shapely.box(*boxes[left].T)
            free[left] = shapely.covers(self.room, shapes)
        for tree, margin in zip(self._trees, (0.0, MARGIN), strict=True):
            left = np.flatnonzero(free)
            if len(left) and len(tree):
                shapes = shapely.box(*boxes[left].T)
                hit = tree.query(shapes, predicate="dwithin", distance=margin)[0]
                free[left[np.unique(hit)]] = False
        return free

    def put(self, wish: Wish) -> LegendText | None:
        """Return *wish* in the first free place, which is then taken; None where there is none."""
        for height in wish.heights:
            stroke = max(self.stroke, nm(height * 0.15))
            extents = {
                turn: text_extent(wish.text, height, stroke, turn, self.side)
                for turn in dict.fromkeys(p[2] for p in wish.places)
            }
            # In batches: a free place is mostly among the first.
            for start in range(0, len(wish.places), 64):
                places = wish.places[start : start + 64]
                boxes = np.array(
                    [
                        (x + e[0], y + e[1], x + e[2], y + e[3])
                        for x, y, turn in places
                        for e in (extents[turn],)
                    ]
                )
                free = np.flatnonzero(self._free(boxes, wish.avoid))
                if len(free):
                    i = int(free[0])
                    left, top, right, bottom = boxes[i].tolist()
                    self._texts.append((left, top, right, bottom))
                    x, y, turn = places[i]
                    return LegendText(self.side, wish.text, Point(nm(x), nm(y)), height, stroke, turn)
        return None
