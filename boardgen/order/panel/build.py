"""A layout made into a panel: copies, rails, bitten tabs, score lines, holes and fiducials, as a board."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import shapely
from shapely import Polygon
from shapely.affinity import rotate, translate
from shapely.geometry.base import BaseGeometry

from boardgen.board.model import Board, Outline, Part, PartKind, Placement, ScoreLine
from boardgen.board.move import moved_board
from boardgen.catalog.making import PanelLimits
from boardgen.catalog.model import FabClass
from boardgen.footprint.model import Footprint, Pad, PadKind, PadShape
from boardgen.order.panel.edges import Unit, Way
from boardgen.order.panel.layout import CLEAR, Grid, GridLine, Joint
from boardgen.order.panel.marks import marks, room_round
from boardgen.order.panel.shape import board_area, outline_of, whole_piece
from boardgen.order.panel.tabs import bite_offset, bite_places, room, shared, tab_places
from boardgen.units import ZERO, Nm, Point, Size

LEAST_TABS = 2  # a board on fewer would turn


@dataclass(frozen=True, slots=True)
class Panel:
    """A panel as a board, its layout, how many tabs hold it, and the names of its places."""

    board: Board
    grid: Grid
    unit: Unit
    tabs: int
    places: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Tab:
    """A tab as a box, and the edges of boards it is bitten along: ends of each line of holes."""

    box: tuple[int, int, int, int]
    bites: tuple[tuple[Point, bool], ...]  # middle of the holes, and whether they run up and down
    boards: tuple[tuple[int, int], ...]


def place_name(row: int, column: int) -> str:
    """Return what a place is called: a letter for the row, a number for the column."""
    return f"{chr(ord('A') + row % 26)}{'' if row < 26 else row // 26}{column + 1}"


def _copy(unit: Unit, grid: Grid, row: int, column: int, turn: int) -> Board:
    """Return the board at a place, its references and nets with the place's name behind them."""
    x, y = grid.place(row, column)
    corner = Point(ZERO, ZERO) if turn == 0 else Point(unit.width, unit.height)
    board = moved_board(unit.board, corner.plus(Point(Nm(x), Nm(y))), turn)
    tail = f"-{place_name(row, column)}"

    def net(name: str) -> str:
        return name + tail

    return replace(
        board,
        parts=tuple(
            replace(part, ref=part.ref + tail, nets=tuple((pad, net(name)) for pad, name in part.nets))
            for part in board.parts
        ),
        nets=tuple(replace(item, name=net(item.name)) for item in board.nets),
        tracks=tuple(replace(item, net=net(item.net)) for item in board.tracks),
        vias=tuple(replace(item, net=net(item.net)) for item in board.vias),
        pours=tuple(
            replace(
                item,
                net=net(item.net),
                solid_pads=tuple((ref + tail, pad) for ref, pad in item.solid_pads),
            )
            for item in board.pours
        ),
        # printed as on the single board: R1 stays R1 on every copy
        legend=(*board.legend, *(text for _ref, text in board.references)),
        references=(),
    )


def _bodies(unit: Unit, grid: Grid, row: int, column: int, turn: int) -> BaseGeometry:
    x, y = grid.place(row, column)
    turned = unit.bodies
    if turn:
        turned = rotate(turned, 180, origin=(unit.width / 2, unit.height / 2))
    return translate(turned, x, y)


def _rails(grid: Grid) -> list[tuple[int, int, int, int]]:
    """Return the rails as boxes, upright ones first; each runs through the whole panel."""
    width, height = int(grid.width), int(grid.height)
    found = [(_low(line), 0, _low(line) + line.rail, height) for line in grid.columns if line.rail]
    return found + [(0, _low(line), width, _low(line) + line.rail) for line in grid.rows if line.rail]


def _low(line: GridLine) -> int:
    return line.at + line.before


def _notches(unit: Unit, grid: Grid) -> Iterator[BaseGeometry]:
    """Yield what is cut from rails round bodies that hang over."""
    for row, column, turn in grid.cells():
        x, y = grid.place(row, column)
        for way in Way:
            edge = unit.edge(way, turn)
            depth = edge.reach + CLEAR
            for low, high in edge.bodies:
                a, b = low - CLEAR, high + CLEAR
                if way.upright:
                    near = x if way is Way.LEFT else x + unit.width
                    far = near - depth if way is Way.LEFT else near + depth
                    yield shapely.box(min(near, far), y + a, max(near, far), y + b)
                else:
                    near = y if way is Way.TOP else y + unit.height
                    far = near - depth if way is Way.TOP else near + depth
                    yield shapely.box(x + a, min(near, far), x + b, max(near, far))


def _tabs(unit: Unit, grid: Grid, limits: PanelLimits, fab: FabClass) -> Iterator[_Tab]:
    """Yield the tabs across every gap: board to board, board to rail."""
    off = int(bite_offset(limits, fab, unit.copper, unit.ink))
    half = limits.tab // 2
    for row, column, turn in grid.cells():
        x, y = grid.place(row, column)
        for way in Way:
            lines, index = (grid.columns, column) if way.upright else (grid.rows, row)
            high = way in (Way.RIGHT, Way.BOTTOM)
            line = lines[index + 1 if high else index]
            gap = line.before if high else line.after
            direct = line.kind is Joint.DIRECT
            if direct and not high:
                continue  # drawn from the other board
            gap = line.before if direct else gap
            if gap == 0 or line.kind is Joint.OPEN:
                continue
            edge = unit.edge(way, turn)
            rooms = room(edge, limits.tab)
            boards = [(row, column)]
            if direct:
                other = (row, column + 1) if way.upright else (row + 1, column)
                boards.append(other)
                rooms = shared(
                    rooms, room(unit.edge(way.opposite, grid.turns[other[0]][other[1]]), limits.tab)
                )
            for at in tab_places(rooms, edge.length, limits.tab):
                yield _tab(unit, (x, y), way, at, gap, half, off, tuple(boards), direct)


def _tab(
    unit: Unit,
    corner: tuple[int, int],
    way: Way,
    at: int,
    gap: int,
    half: int,
    off: int,
    boards: tuple[tuple[int, int], ...],
    direct: bool,
) -> _Tab:
    x, y = corner
    sign = 1 if way in (Way.RIGHT, Way.BOTTOM) else -1
    if way.upright:
        near = x + (unit.width if sign > 0 else 0)
        spots = [near + sign * off] + ([near + sign * (gap - off)] if direct else [])
        box = (min(near, near + sign * gap), y + at - half, max(near, near + sign * gap), y + at + half)
        bites = tuple((Point(Nm(spot), Nm(y + at)), True) for spot in spots)
    else:
        near = y + (unit.height if sign > 0 else 0)
        spots = [near + sign * off] + ([near + sign * (gap - off)] if direct else [])
        box = (x + at - half, min(near, near + sign * gap), x + at + half, max(near, near + sign * gap))
        bites = tuple((Point(Nm(x + at), Nm(spot)), False) for spot in spots)
    return _Tab(box, bites, boards)


def _held(grid: Grid, tabs: Sequence[_Tab]) -> bool:
    """Return whether each board hangs on enough: tabs, or a score line along a side."""
    counts = {(row, column): 0 for row, column, _ in grid.cells()}
    for tab in tabs:
        for board in tab.boards:
            counts[board] += 1
    for row, column, _turn in grid.cells():
        sides = (grid.columns[column], grid.columns[column + 1], grid.rows[row], grid.rows[row + 1])
        if any(line.cuts for line in sides):
            counts[row, column] += LEAST_TABS
    return all(count >= LEAST_TABS for count in counts.values())


def _hole_part(ref: str, name: str, at: Point, places: Sequence[Point], diameter: Nm) -> Part:
    size = Size(diameter, diameter)
    pads = tuple(Pad("", PadKind.UNPLATED, PadShape.CIRCLE, place, size, size) for place in places)
    return Part(ref, name, Footprint(name, pads, room_round(places, diameter)), Placement(at), PartKind.HOLE)


def _bites(tabs: Sequence[_Tab], limits: PanelLimits, fab: FabClass) -> Iterator[Part]:
    places = bite_places(limits, fab)
    number = 0
    for tab in tabs:
        for at, upright in tab.bites:
            number += 1
            spots = [Point(ZERO, step) if upright else Point(step, ZERO) for step in places]
            name = f"bites-{'upright' if upright else 'level'}-{len(places)}"
            yield _hole_part(f"MB{number}", name, at, spots, limits.bite_hole)


def _scores(grid: Grid) -> Iterator[ScoreLine]:
    for line in grid.columns:
        for x in line.cuts:
            yield ScoreLine(Point(Nm(x), ZERO), Point(Nm(x), grid.height))
    for line in grid.rows:
        for y in line.cuts:
            yield ScoreLine(Point(ZERO, Nm(y)), Point(grid.width, Nm(y)))


def panel_of(unit: Unit, grid: Grid, fab: FabClass) -> Panel | None:
    """Return the panel that *grid* describes, its top left at the origin; None where it would not hold.

    It holds where it is one piece, each board hangs on two tabs or a score line, and no body touches a rail
    or another board.
    """
    limits = fab.panel
    if limits is None:
        return None
    copies = {(r, c): _copy(unit, grid, r, c, turn) for r, c, turn in grid.cells()}
    tabs = tuple(_tabs(unit, grid, limits, fab))
    rails = [shapely.box(*box) for box in _rails(grid)]
    notches = shapely.union_all(list(_notches(unit, grid)))
    rail_area = shapely.union_all(rails).difference(notches)
    areas = {place: board_area(copy.outline) for place, copy in copies.items()}
    boxes = [shapely.box(*tab.box) for tab in tabs]
    solid = whole_piece([rail_area, *areas.values(), *boxes], [])
    if solid is None or not _held(grid, tabs) or not _clear(unit, grid, areas, rail_area):
        return None
    outlines: list[Outline] = [copy.outline for copy in copies.values()]
    scores = tuple(_scores(grid))
    bodies = shapely.union_all([_bodies(unit, grid, r, c, turn) for r, c, turn in grid.cells()])
    extras = (
        *_bites(tabs, limits, fab),
        *marks(_rails(grid), solid, bodies, scores, limits, unit.board.copper),
    )
    board = _joined(unit.board, tuple(copies.values()), outline_of(solid, outlines), extras, scores)
    return Panel(board, grid, unit, len(tabs), tuple(place_name(r, c) for r, c, _ in grid.cells()))


def _clear(unit: Unit, grid: Grid, areas: dict[tuple[int, int], Polygon], rails: BaseGeometry) -> bool:
    """Return whether the bodies of each board stay clear of rails, of other boards and of their bodies."""
    bodies = {(r, c): _bodies(unit, grid, r, c, turn) for r, c, turn in grid.cells()}
    for place, body in bodies.items():
        if body.intersection(rails).area > 0:
            return False
        for other, area in areas.items():
            if other != place and (
                body.intersection(area).area > 0 or body.intersection(bodies[other]).area > 0
            ):
                return False
    return True


def _joined(
    one: Board,
    copies: Sequence[Board],
    outline: Outline,
    extras: Sequence[Part],
    scores: tuple[ScoreLine, ...],
) -> Board:
    """Return the copies as one board."""
    return replace(
        one,
        name=f"{one.name}-panel",
        title=f"{one.title}, panel of {len(copies)}"[:120],
        outline=outline,
        parts=(*(part for copy in copies for part in copy.parts), *extras),
        nets=tuple(net for copy in copies for net in copy.nets),
        tracks=tuple(track for copy in copies for track in copy.tracks),
        vias=tuple(via for copy in copies for via in copy.vias),
        pours=tuple(pour for copy in copies for pour in copy.pours),
        legend=tuple(item for copy in copies for item in copy.legend),
        references=(),
        keepouts=tuple(area for copy in copies for area in copy.keepouts),
        scores=scores,
        copies=len(copies),
    )
