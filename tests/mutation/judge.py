"""What a planted fault stands beside, by brute force: no index, no code of the check.

Only the shapes of single items are taken from the board's geometry. All lengths are nm.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from boardgen.board.geometry import (
    Copper,
    Shape,
    copper_items,
    hole_shape,
    outline_polygon,
    part_courtyard,
    piece_polygon,
    via_hole_shape,
)
from boardgen.board.model import Board, LegendItem, LegendText, PartKind, Side
from boardgen.board.strokes import text_strokes
from boardgen.catalog.model import FabClass
from boardgen.footprint.model import Pad, PadKind

SLACK = 3_000.0  # all that is not meant to break stays this far above its limit
FAR = 1e12


def gaps_to(shape: Shape, others: list[Shape]) -> np.ndarray:
    """The distance from *shape* to each of *others*; negative where they overlap."""
    if not others:
        return np.zeros(0)
    skeletons = np.array([o.skeleton for o in others], dtype=object)
    return shapely.distance(shape.skeleton, skeletons) - np.array([o.radius for o in others]) - shape.radius


def least(shape: Shape, others: Iterable[Shape]) -> float:
    """The least distance from *shape* to any of *others*."""
    return float(min(gaps_to(shape, list(others)), default=FAR))


class Judge:
    """One board with everything on it as shapes."""

    def __init__(self, board: Board, fab: FabClass) -> None:
        self.board, self.fab = board, fab
        self.copper: list[Copper] = list(copper_items(board))
        for pour in board.pours:
            for piece in pour.pieces:
                shape = Shape(piece_polygon(piece), 0.0)
                self.copper.append(Copper(f"pour of {pour.net}", pour.net, pour.side, shape, piece))
        self.pads = [
            (part, number, pad) for part in board.parts for number, pad in enumerate(part.footprint.pads)
        ]
        drilled = [(p, pad) for p, _, pad in self.pads if pad.hole is not None]
        self.holes = [hole_shape(p, pad) for p, pad in drilled]
        self.bare = [hole_shape(p, pad) for p, pad in drilled if pad.kind is PadKind.UNPLATED]
        self.holes += [via_hole_shape(v) for v in board.vias]
        self.area = outline_polygon(board.outline, 100.0)
        self.edge = Shape(self.area.boundary, 0.0)
        self.keepouts = [Shape(shapely.Polygon(k.ring), 0.0) for k in board.keepouts]

    def foreign(self, net: str | None, side: Side, pad: Pad | None = None) -> list[Copper]:
        """Copper on *side* that is not of *net* (of no net: everything but *pad*)."""
        return [
            c
            for c in self.copper
            if c.side is side and (net is None or c.net != net) and (pad is None or c.source is not pad)
        ]

    def inside(self, shape: Shape, margin: float) -> bool:
        """Whether *shape* lies on the board and *margin* from its edge."""
        return bool(self.area.covers(shape.skeleton)) and shape.distance(self.edge) >= margin + SLACK

    def ground_free(self, shape: Shape) -> bool:
        """Whether copper of *shape* keeps its limits from edge, bare holes and keepouts."""
        return (
            self.inside(shape, self.fab.edge_copper_min)
            and least(shape, self.bare) >= self.fab.npth_copper_min + SLACK
            and least(shape, self.keepouts) >= SLACK
        )

    def copper_free(self, shape: Shape, net: str | None, sides: Iterable[Side]) -> bool:
        """Whether new copper of *shape* keeps every limit."""
        return self.ground_free(shape) and all(
            least(shape, (c.shape for c in self.foreign(net, side))) >= self.fab.gap_min + SLACK
            for side in sides
        )

    def hole_free(self, hole: Shape, but: Shape | None = None) -> bool:
        """Whether a new hole keeps its limits from other holes and the edge."""
        others = [h for h in self.holes if but is None or not h.skeleton.equals(but.skeleton)]
        return (
            least(hole, others) >= self.fab.hole_gap_min + SLACK
            and hole.distance(self.edge) >= self.fab.hole_gap_min
        )

    def openings(self, side: Side) -> list[tuple[Copper | None, Shape]]:
        """Mask openings on *side* (the copper they are over, None over bare holes)."""
        margin = float(self.fab.mask_margin)
        pads = [c for c in self.copper if c.side is side and c.ref]
        found: list[tuple[Copper | None, Shape]] = [
            (c, Shape(c.shape.skeleton, c.shape.radius + margin)) for c in pads
        ]
        holes = self.bare if pads else self.holes
        found += [(None, Shape(h.skeleton, h.radius + margin)) for h in holes]
        return found

    def rooms(self, side: Side) -> list[tuple[str, BaseGeometry]]:
        """Courtyards on *side* by reference."""
        found = [(p.ref, part_courtyard(p, side)) for p in self.board.parts]
        return [(ref, room) for ref, room in found if not room.is_empty]

    def ink_free(self, item: LegendItem) -> bool:
        """Whether printing keeps its distance from openings and edge."""
        limit = self.fab.legend_pad_gap_min
        opened = [shape for _, shape in self.openings(item.side)]
        return all(
            self.inside(stroke, limit) and least(stroke, opened) >= limit + SLACK for stroke in strokes(item)
        )

    def bodies(self, net: str, board: Board | None = None) -> int:
        """In how many pieces the pads of *net* are, every pair of things measured."""
        return bodies(self if board is None else Judge(board, self.fab), net)


def strokes(item: LegendItem) -> list[Shape]:
    """The strokes of a printed item."""
    if isinstance(item, LegendText):
        paths = text_strokes(
            item.text, item.at, item.height, item.stroke, item.rotation, item.side is Side.BOTTOM
        )
    else:
        paths = (item.points,)
    return [Shape(shapely.LineString(path), item.stroke / 2) for path in paths]


def bodies(judge: Judge, net: str) -> int:
    """How many bodies of copper hold the pads of *net*."""
    things = [c for c in judge.copper if c.net == net]
    leader = list(range(len(things)))
    links = {part.ref for part in judge.board.parts if part.kind is PartKind.LINK}

    def top(i: int) -> int:
        while leader[i] != i:
            i = leader[i]
        return i

    for i, one in enumerate(things):
        gaps = gaps_to(one.shape, [t.shape for t in things[:i]])
        for j, other in enumerate(things[:i]):
            through = judge.board.plated and one.shape is other.shape
            through = through or (one.ref in links and one.ref == other.ref)
            if through or (one.side is other.side and gaps[j] <= 0):
                leader[top(i)] = top(j)
    return len({top(i) for i, thing in enumerate(things) if thing.ref})
