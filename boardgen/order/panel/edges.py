"""What each side of a board lets a panel do there: mating ends, bodies that hang over, straight edges.

Coordinates: nm from the top left of the box round the outline, x right, y down. A side's places are
measured along it, from its left or its top.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import shapely
from shapely.geometry.base import BaseGeometry

from boardgen.board.geometry import copper_items, outline_polygon, part_courtyard, piece_polygon
from boardgen.board.model import Board, LegendText, OutlineLine, Part, Side
from boardgen.board.move import moved_board
from boardgen.board.strokes import text_strokes
from boardgen.catalog.model import Connector, Module, Mounting
from boardgen.circuit.build import CONNECTOR_REF, MODULE_REF
from boardgen.export.board_view import body_polygon
from boardgen.units import ORIGIN, ZERO, Box, Nm, Point, mm

Interval = tuple[int, int]

STRIP = mm("0.5")  # what a tab takes of a board, at the most
PLUG_LENGTH = mm(30)  # a plug's body with the bend of its cable, where a connector's entry does not tell


class Way(StrEnum):
    """A side of a board, by where it looks."""

    LEFT = "left"
    TOP = "top"
    RIGHT = "right"
    BOTTOM = "bottom"

    @property
    def opposite(self) -> Way:
        """The side across."""
        return _OPPOSITE[self]

    @property
    def upright(self) -> bool:
        """Whether the side runs up and down."""
        return self in (Way.LEFT, Way.RIGHT)


_OPPOSITE = {Way.LEFT: Way.RIGHT, Way.RIGHT: Way.LEFT, Way.TOP: Way.BOTTOM, Way.BOTTOM: Way.TOP}
_AHEAD = {  # from a quarter turn of "up" to the side it looks to
    (0, -1): Way.TOP,
    (-1, 0): Way.LEFT,
    (0, 1): Way.BOTTOM,
    (1, 0): Way.RIGHT,
}


@dataclass(frozen=True, slots=True)
class Edge:
    """One side: its length, how far bodies reach beyond it and where, where it is straight, what mates there.

    *reach* is 0 where nothing hangs over; *plug* is how far a plug reaches beyond the side (0: none mates);
    *crowded* is where courtyards come up to the side, so that no tab is broken off there.
    """

    length: int
    reach: int
    bodies: tuple[Interval, ...]
    straight: tuple[Interval, ...]
    plug: int
    crowded: tuple[Interval, ...] = ()

    @property
    def plain(self) -> bool:
        """Whether a neighbour may stand right at it."""
        return self.reach == 0 and self.plug == 0

    def turned(self) -> Edge:
        """Return the side as it lies after half a turn: its places run the other way."""

        def flip(rows: Sequence[Interval]) -> tuple[Interval, ...]:
            return tuple(sorted((self.length - b, self.length - a) for a, b in rows))

        return replace(
            self, bodies=flip(self.bodies), straight=flip(self.straight), crowded=flip(self.crowded)
        )


@dataclass(frozen=True, slots=True)
class Unit:
    """A board to be copied, with its top left at the origin, and its four sides.

    *square* says that the outline is the whole box, so that it can be scored; *copper* and *ink* are the
    least distances of copper and of printing from the box.
    """

    board: Board
    width: Nm
    height: Nm
    edges: tuple[tuple[Way, Edge], ...]
    square: bool
    copper: int
    ink: int
    bodies: BaseGeometry

    def edge(self, way: Way, turn: int) -> Edge:
        """Return the side that looks *way* when the board is turned by *turn* (0 or 180)."""
        known = dict(self.edges)
        return known[way] if turn == 0 else known[way.opposite].turned()


def unit_of(board: Board, module: Module | None = None, connector: Connector | None = None) -> Unit:
    """Return *board* as a panel sees it; *module* and *connector* are the entries of U1 and J1, if known."""
    left, top, _right, _bottom = (round(v) for v in outline_polygon(board.outline).bounds)
    board = moved_board(board, Point(Nm(-left), Nm(-top)))
    _, _, width, height = (round(v) for v in outline_polygon(board.outline).bounds)
    shapes = [body_polygon(part) for part in board.parts]
    plugs = dict.fromkeys(Way, 0)
    for part in board.parts:
        if part.ref == MODULE_REF and module is not None:
            shapes += _module(part, module, plugs, (width, height))
        if part.ref == CONNECTOR_REF and connector is not None:
            shapes += _connector(part, connector, plugs, (width, height))
    bodies = shapely.union_all([shape for shape in shapes if not shape.is_empty])
    edges = tuple((way, _edge(board, way, (width, height), shapes, plugs[way])) for way in Way)
    whole = len(board.outline.outer) == 4 and all(
        edge.straight == ((0, edge.length),) for _way, edge in edges
    )
    size = (width, height)
    return Unit(board, Nm(width), Nm(height), edges, whole, _copper(board, size), _ink(board, size), bodies)


def _boxed(part: Part, box: Box) -> BaseGeometry:
    return shapely.Polygon([part.placement.place(corner) for corner in box.corners()])


def _looks(part: Part, ahead: Point) -> Way | None:
    """Return the side that *ahead*, a unit vector of the part's frame, looks to; None off the quarters."""
    there = part.placement.place(ahead).minus(part.placement.place(ORIGIN))
    return _AHEAD.get((int(there.x), int(there.y)))


def _beyond(shape: BaseGeometry, way: Way, size: tuple[int, int]) -> int:
    left, top, right, bottom = shape.bounds
    out = {Way.LEFT: -left, Way.TOP: -top, Way.RIGHT: right - size[0], Way.BOTTOM: bottom - size[1]}[way]
    return max(0, round(out))


def _module(part: Part, module: Module, plugs: dict[Way, int], size: tuple[int, int]) -> list[BaseGeometry]:
    """Return the module's own board and its jack, and note how far its plug reaches."""
    shapes = [_boxed(part, module.body)]
    usb = module.usb
    if usb is None:
        return shapes
    middle = (module.body.left + module.body.right) // 2
    half = usb.plug.w // 2
    front = module.body.top - usb.overhang
    shapes.append(_boxed(part, Box(middle - half, front, middle + half, module.body.top)))
    way = _looks(part, Point(ZERO, Nm(-1)))
    if way is not None:
        plug = _boxed(part, Box(middle - half, front - usb.plug_length, middle + half, front))
        plugs[way] = max(plugs[way], _beyond(plug, way, size))
    return shapes


def _connector(
    part: Part, connector: Connector, plugs: dict[Way, int], size: tuple[int, int]
) -> list[BaseGeometry]:
    body = _boxed(part, connector.body)
    way = _looks(part, Point(ZERO, Nm(1)))
    if connector.mounting is not Mounting.STRAIGHT and way is not None:
        plugs[way] = max(plugs[way], _beyond(body, way, size) + PLUG_LENGTH)
    return [body]


def _edge(board: Board, way: Way, size: tuple[int, int], shapes: Sequence[BaseGeometry], plug: int) -> Edge:
    along, across = (1, 0) if way.upright else (0, 1)
    place = {Way.LEFT: 0, Way.TOP: 0, Way.RIGHT: size[0], Way.BOTTOM: size[1]}[way]
    straight = []
    for piece in board.outline.outer:
        if isinstance(piece, OutlineLine) and piece.start[across] == piece.end[across] == place:
            straight.append(tuple(sorted((int(piece.start[along]), int(piece.end[along])))))
    over = [shape for shape in shapes if not shape.is_empty and _beyond(shape, way, size) > 0]
    spans = [(round(shape.bounds[along]), round(shape.bounds[along + 2])) for shape in over]
    return Edge(
        length=size[along],
        reach=max((_beyond(shape, way, size) for shape in over), default=0),
        bodies=tuple(sorted(set(spans))),
        straight=tuple(sorted((a, b) for a, b in straight)),
        plug=plug,
        crowded=_crowded(board, way, size),
    )


def _crowded(board: Board, way: Way, size: tuple[int, int]) -> tuple[Interval, ...]:
    """Return the spans of courtyards that reach within :data:`STRIP` of the side."""
    w, h = size
    far = float(mm(100))
    strip = {
        Way.LEFT: shapely.box(-far, -far, STRIP, h + far),
        Way.TOP: shapely.box(-far, -far, w + far, STRIP),
        Way.RIGHT: shapely.box(w - STRIP, -far, w + far, h + far),
        Way.BOTTOM: shapely.box(-far, h - STRIP, w + far, h + far),
    }[way]
    along = 1 if way.upright else 0
    spans = set()
    for part in board.parts:
        for side in Side:
            shared = part_courtyard(part, side).intersection(strip)
            if shared.area > 0:
                spans.add((round(shared.bounds[along]), round(shared.bounds[along + 2])))
    return tuple(sorted(spans))


def _ink(board: Board, size: tuple[int, int]) -> int:
    boxes = []
    for item in (*board.legend, *(text for _ref, text in board.references)):
        if isinstance(item, LegendText):
            mirrored = item.side is Side.BOTTOM
            paths = text_strokes(item.text, item.at, item.height, item.stroke, item.rotation, mirrored)
        else:
            paths = (item.points,)
        half = item.stroke / 2
        for points in paths:
            left, top, right, bottom = Box.around(points)
            boxes.append((left - half, top - half, right + half, bottom + half))
    return _inset(boxes, size)


def _copper(board: Board, size: tuple[int, int]) -> int:
    boxes = [item.shape.bounds for item in copper_items(board)]
    boxes += [piece_polygon(piece).bounds for pour in board.pours for piece in pour.pieces]
    return _inset(boxes, size)


def _inset(boxes: Sequence[tuple[float, float, float, float]], size: tuple[int, int]) -> int:
    """Return how far the nearest of *boxes* stays inside the board's box."""
    gaps = [min(left, top, size[0] - right, size[1] - bottom) for left, top, right, bottom in boxes]
    return int(min(gaps, default=min(size) / 2))
