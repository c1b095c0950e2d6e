"""One net's copper as it conducts: sheets on each side, contacts on them, and what joins contacts.

Tracks, pours and the rings of vias are sheet; a pad is soldered all over, so it
is one potential, and so is the plating at a via's rim. Everything is taken from
the finished board; touching copper of the net is joined, whatever drew it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from boardgen.board.geometry import (
    Shape,
    pad_shape,
    piece_polygon,
    polygons_of,
    sides_of,
    track_shape,
    via_hole_shape,
    via_shape,
)
from boardgen.board.model import Board, Part, PartKind, Side
from boardgen.footprint.model import Face, PadKind
from boardgen.measure.material import BOARD_C, barrel_ohms, wire_ohms

LINK_WIRE = 600_000.0  # nm; the catalogue's wire link is bare copper wire of this diameter
SMOOTH = 5_000.0  # nm; how far a round edge may be cut off by a chord
_GRID = 100.0  # nm; corners are put on it, so that hair-thin remains of the union vanish


@dataclass(frozen=True, slots=True)
class Contact:
    """Copper of one potential on one side."""

    side: Side
    shape: Shape


@dataclass(frozen=True, slots=True)
class Sheet:
    """One connected area of copper outside the contacts."""

    side: Side
    polygon: Polygon


@dataclass(frozen=True, slots=True)
class NetCopper:
    """A net's copper. *joins* are (contact, contact, ohms), 0 for one potential.

    *terminals* maps (ref, pad number) to the contact where that pin is soldered.
    """

    contacts: tuple[Contact, ...]
    sheets: tuple[Sheet, ...]
    joins: tuple[tuple[int, int, float], ...]
    terminals: dict[tuple[str, str], int]


@dataclass(slots=True)
class _Draft:
    board: Board
    celsius: float
    contacts: list[Contact]
    joins: list[tuple[int, int, float]]
    terminals: dict[tuple[str, str], int]

    def through(self, shape: Shape, sides: tuple[Side, ...], hole: float) -> dict[Side, int]:
        """Add one contact a side, the plating between them; returns their numbers."""
        found = {}
        for side in sides:
            found[side] = len(self.contacts)
            self.contacts.append(Contact(side, shape))
        if len(sides) == 2 and self.board.plated:
            ohms = barrel_ohms(hole, float(self.board.thickness), self.celsius)
            self.joins.append((found[sides[0]], found[sides[1]], ohms))
        return found

    def part(self, part: Part, net: str) -> None:
        ends: list[tuple[int, Shape]] = []
        for pad in part.footprint.pads:
            if pad.kind is PadKind.UNPLATED or part.net_of(pad.number) != net:
                continue
            sides = sides_of(part, pad, self.board.copper)
            if not sides:
                continue
            shape = pad_shape(part, pad)
            hole = 0.0 if pad.hole is None else float(min(pad.hole.w, pad.hole.h))
            found = self.through(shape, sides, hole)
            body = part.placement.side if pad.face is Face.NEAR else part.placement.side.other
            # A pin through the board is soldered on the side away from the body.
            soldered = found.get(body.other if pad.kind is PadKind.PLATED else body, found[sides[0]])
            first = self.terminals.setdefault((part.ref, pad.number), soldered)
            if first != soldered:
                self.joins.append((first, soldered, 0.0))
            ends.append((soldered, shape))
        if part.kind is PartKind.LINK and len(ends) == 2:
            (a, here), (b, there) = ends
            length = here.skeleton.distance(there.skeleton) + 2 * float(self.board.thickness)
            self.joins.append((a, b, wire_ohms(LINK_WIRE, length, self.celsius)))


def net_copper(board: Board, net: str, celsius: float = BOARD_C) -> NetCopper:
    """Return the copper of the net called *net*.

    Pads of a part with one number are one conductor; pads and holes that touch
    are one potential; a wire link joins its two pads.
    """
    draft = _Draft(board, celsius, [], [], {})
    for part in board.parts:
        draft.part(part, net)
    for via in board.vias:
        if via.net == net:
            draft.through(via_hole_shape(via), board.copper, float(via.hole))
    sheets: list[Sheet] = []
    for side in board.copper:
        numbers = [i for i, contact in enumerate(draft.contacts) if contact.side is side]
        draft.joins += _touching(draft.contacts, numbers)
        sheets += _sheets(board, net, side, [draft.contacts[i].shape for i in numbers])
    return NetCopper(tuple(draft.contacts), tuple(sheets), tuple(draft.joins), draft.terminals)


def _touching(contacts: list[Contact], numbers: list[int]) -> list[tuple[int, int, float]]:
    if len(numbers) < 2:
        return []
    tree = shapely.STRtree([contacts[i].shape.skeleton for i in numbers])
    reach = max(contacts[i].shape.radius for i in numbers)
    found = []
    for i in numbers:
        shape = contacts[i].shape
        near = tree.query(shape.skeleton, predicate="dwithin", distance=shape.radius + reach)
        for k in sorted(near.tolist()):
            j = numbers[k]
            if j > i and shape.distance(contacts[j].shape) <= 0:
                found.append((i, j, 0.0))
    return found


def _sheets(board: Board, net: str, side: Side, contacts: list[Shape]) -> list[Sheet]:
    copper: list[BaseGeometry] = [
        piece_polygon(piece)
        for pour in board.pours
        if pour.net == net and pour.side is side
        for piece in pour.pieces
    ]
    shapes = [track_shape(t) for t in board.tracks if t.net == net and t.side is side]
    shapes += [via_shape(v) for v in board.vias if v.net == net]
    # Chords inside the curve keep straight flanks where they are.
    copper += [shape.polygon(outside=False) for shape in shapes]
    if not copper:
        return []
    area = shapely.union_all(copper)
    if contacts:
        area = area.difference(shapely.union_all([shape.polygon(outside=False) for shape in contacts]))
    area = shapely.set_precision(area.simplify(SMOOTH), _GRID)
    return [Sheet(side, polygon) for polygon in polygons_of(area)]


def on_contacts(copper: NetCopper, side: Side, points: np.ndarray) -> np.ndarray:
    """Return the number of the contact of *side* each of *points* (n, 2) lies on, -1 for none."""
    result = np.full(len(points), -1, dtype=np.int64)
    for number, contact in enumerate(copper.contacts):
        if contact.side is not side:
            continue
        left, top, right, bottom = contact.shape.bounds
        slack = 2 * SMOOTH
        near = np.flatnonzero(
            (points[:, 0] > left - slack)
            & (points[:, 0] < right + slack)
            & (points[:, 1] > top - slack)
            & (points[:, 1] < bottom + slack)
        )
        if len(near):
            gap = shapely.distance(contact.shape.skeleton, shapely.points(points[near]))
            result[near[gap <= contact.shape.radius + slack]] = number
    return result
