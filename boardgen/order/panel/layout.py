"""Where boards stand on a panel: rows and columns, turned or not, with what lies between them.

Boards stand on a grid and are turned by 0 or 180 degrees. Where all sides that face each other over a grid
line are plain, boards meet there directly: at a score line, or across a slot as wide as the cutter with
tabs. Where one of them has a mating end or a body that hangs over, a rail lies between: rails are broken
off first, so that plugs reach the boards behind, and are notched round the bodies.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

from boardgen.catalog.making import PanelLimits
from boardgen.order.panel.edges import Edge, Unit, Way
from boardgen.units import Nm, mm

CLEAR = mm(1)  # between a body that hangs over and a rail
WEB = mm(3)  # the least of a rail beside a notch
MOST = 40  # boards in a row
SLENDER = 3  # the longest a panel may be by its width: longer ones bend


class Joint(StrEnum):
    """What lies on a grid line."""

    OPEN = "open"  # the panel ends with the boards
    DIRECT = "direct"  # board to board
    RAIL = "rail"


@dataclass(frozen=True, slots=True)
class GridLine:
    """One line of the grid, nm: what ends before *at*, then a gap, a rail of *rail*, a gap.

    *cuts* are the places of its score lines, where a gap is 0.
    """

    kind: Joint
    at: int
    before: int
    rail: int
    after: int
    cuts: tuple[int, ...] = ()

    @property
    def end(self) -> int:
        """Where what follows begins."""
        return self.at + self.before + self.rail + self.after


@dataclass(frozen=True, slots=True)
class Grid:
    """A layout: the turn of each board by row and column, and the lines between columns and between rows."""

    turns: tuple[tuple[int, ...], ...]
    columns: tuple[GridLine, ...]
    rows: tuple[GridLine, ...]
    scored: bool

    @property
    def count(self) -> int:
        """How many boards there are."""
        return sum(len(row) for row in self.turns)

    @property
    def width(self) -> Nm:
        """Extent along x."""
        return Nm(self.columns[-1].end)

    @property
    def height(self) -> Nm:
        """Extent along y."""
        return Nm(self.rows[-1].end)

    def place(self, row: int, column: int) -> tuple[int, int]:
        """Return the top left of a board."""
        return self.columns[column].end, self.rows[row].end

    def cells(self) -> Iterator[tuple[int, int, int]]:
        """Yield row, column and turn of each board."""
        for row, turns in enumerate(self.turns):
            for column, turn in enumerate(turns):
                yield row, column, turn


def may_score(unit: Unit, limits: PanelLimits) -> bool:
    """Return whether the fab scores such a board: a whole box, large enough, its copper off the edge."""
    least = sorted(limits.score_board_min)
    return (
        limits.score
        and unit.square
        and unit.copper >= limits.score_copper_min
        and min(unit.width, unit.height) >= least[0]
        and max(unit.width, unit.height) >= least[1]
    )


def turnings(rows: int, columns: int) -> Iterator[tuple[tuple[int, ...], ...]]:
    """Yield the ways to turn boards: all alike, by columns, by rows, and like a chess board."""
    seen = set()
    for by_row, by_column, first in itertools.product((0, 1), (0, 1), (0, 1)):
        turns = tuple(
            tuple(180 * ((by_row * r + by_column * c + first) % 2) for c in range(columns))
            for r in range(rows)
        )
        if turns not in seen:
            seen.add(turns)
            yield turns


def _notch(edges: Sequence[Edge], gap: int) -> int:
    """Return how deep the rail beside *edges* has to be notched."""
    return max((edge.reach + CLEAR - gap for edge in edges if edge.reach > 0), default=0)


def _line(
    before: Sequence[Edge], after: Sequence[Edge], at: int, limits: PanelLimits, scored: bool, railed: bool
) -> GridLine:
    """Return the line between the sides *before* and *after* it; at the panel's end one of them is empty."""

    def gap(edges: Sequence[Edge]) -> int:
        if not edges or (scored and all(edge.plain for edge in edges)):
            return 0
        return limits.cutter

    inner = bool(before) and bool(after)
    if inner and all(edge.plain for edge in (*before, *after)):
        return GridLine(Joint.DIRECT, at, gap(before), 0, 0, (at,) if scored else ())
    if not inner and not railed:
        return GridLine(Joint.OPEN, at, 0, 0, 0)
    one, two = gap(before), gap(after)
    notches = max(0, _notch(before, one)) + max(0, _notch(after, two))
    rail = max(limits.rail, notches + WEB) if notches else limits.rail
    cuts = [at] if before and one == 0 else []
    cuts += [at + one + rail] if after and two == 0 else []
    return GridLine(Joint.RAIL, at, one, rail, two, tuple(cuts))


def grid_of(
    unit: Unit,
    turns: tuple[tuple[int, ...], ...],
    limits: PanelLimits,
    scored: bool,
    railed: tuple[bool, bool],
) -> Grid:
    """Return the layout of boards turned so; *railed* tells of rails at left and right, at top and bottom."""
    rows, columns = len(turns), len(turns[0])

    def facing(way: Way, index: int) -> list[Edge]:
        if way.upright:
            return [unit.edge(way, turns[r][index]) for r in range(rows)]
        return [unit.edge(way, turns[index][c]) for c in range(columns)]

    def lines(count: int, size: int, low: Way, high: Way, ends: bool) -> tuple[GridLine, ...]:
        found: list[GridLine] = []
        at = 0
        for k in range(count + 1):
            before = facing(high, k - 1) if k else []
            after = facing(low, k) if k < count else []
            found.append(_line(before, after, at, limits, scored, ends))
            at = found[-1].end + size
        return tuple(found)

    return Grid(
        turns,
        lines(columns, unit.width, Way.LEFT, Way.RIGHT, railed[0]),
        lines(rows, unit.height, Way.TOP, Way.BOTTOM, railed[1]),
        scored,
    )


def fits(grid: Grid, limits: PanelLimits, slender: bool) -> bool:
    """Return whether the fab takes a panel of this size, turned or not; a bendy one only if *slender*."""
    long, short = max(grid.width, grid.height), min(grid.width, grid.height)
    if long > SLENDER * short and grid.count > 2 and not slender:
        return False
    if long > max(limits.largest) or short > min(limits.largest):
        return False
    least = sorted(limits.score_panel_min)
    return not grid.scored or (short >= least[0] and long >= least[1])


def grids(unit: Unit, limits: PanelLimits, rows: int, columns: int, slender: bool = False) -> Iterator[Grid]:
    """Yield every layout of so many rows and columns that fits the fab's panel."""
    ways = (True, False) if may_score(unit, limits) else (False,)
    for scored, turns in itertools.product(ways, turnings(rows, columns)):
        for railed in ((True, False), (False, True), (True, True)):
            grid = grid_of(unit, turns, limits, scored, railed)
            if fits(grid, limits, slender):
                yield grid


def largest_count(size: int, unit: int) -> int:
    """Return how many boards of *unit* length may stand along *size* at all."""
    return min(MOST, size // unit)
