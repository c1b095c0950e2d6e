"""The best panel for a number of boards: least laminate, then fewest panels."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from boardgen.catalog.making import PanelLimits
from boardgen.catalog.model import FabClass
from boardgen.errors import InputError
from boardgen.order.panel.build import Panel, panel_of
from boardgen.order.panel.edges import Unit
from boardgen.order.panel.layout import Grid, grids, largest_count
from boardgen.units import format_mm

NONE, AUTO = "none", "auto"
_SHAPE = re.compile(r"([1-9]\d?)x([1-9]\d?)")


@dataclass(frozen=True, slots=True)
class PanelChoice:
    """A panel and how many of it make the boards wanted."""

    panel: Panel
    panels: int

    @property
    def boards(self) -> int:
        """How many boards come of it: as many as wanted, or some more."""
        return self.panels * self.panel.grid.count


def checked_panel(text: str) -> tuple[int, int] | None:
    """Return the rows and columns that *text* asks for, None for "auto" and "none"; raises InputError."""
    if text in (NONE, AUTO):
        return None
    match = _SHAPE.fullmatch(text)
    if match is None:
        raise InputError(
            "no such panel",
            key="--panel",
            found=repr(text[:40]),
            allowed="auto, none, or rows and columns such as 2x3",
        )
    return int(match[1]), int(match[2])


def choose_panel(unit: Unit, fab: FabClass, quantity: int, shape: tuple[int, int] | None) -> PanelChoice:
    """Return the panel of *shape* (rows, columns), or the best of any, for *quantity* boards.

    Best is the least area of laminate for all of them, then the fewest panels, the fewest rails, and the
    squarest panel. Raises InputError where the fab makes no panels, or none that holds such boards.
    """
    limits = fab.panel
    if limits is None:
        raise InputError(
            f"the fab class {fab.id} makes no panels", fab.origin, "panel", allowed="--panel none"
        )
    for grid in sorted(_grids(unit, limits, quantity, shape), key=lambda grid: _cost(grid, quantity)):
        panel = panel_of(unit, grid, fab)
        if panel is not None:
            return PanelChoice(panel, _panels(grid, quantity))
    size = f"{format_mm(unit.width, 2)} x {format_mm(unit.height, 2)} mm"
    what = "no panel" if shape is None else f"no panel of {shape[0]} x {shape[1]}"
    largest = " x ".join(format_mm(v) for v in limits.largest)
    raise InputError(
        f"{what} holds boards of {size}", key="--panel", allowed=f"a panel of at most {largest} mm"
    )


def _panels(grid: Grid, quantity: int) -> int:
    return -(-quantity // grid.count)


def _cost(grid: Grid, quantity: int) -> tuple[object, ...]:
    panels = _panels(grid, quantity)
    rails = sum(bool(line.rail) for line in (*grid.columns, *grid.rows))
    return (
        panels * int(grid.width) * int(grid.height),
        panels,
        rails,
        abs(int(grid.width) - int(grid.height)),
        grid.turns,
        tuple(line.kind for line in grid.columns),
    )


def _grids(unit: Unit, limits: PanelLimits, quantity: int, shape: tuple[int, int] | None) -> Iterator[Grid]:
    if shape is not None:
        yield from grids(unit, limits, *shape, slender=True)
        return
    long = max(limits.largest)
    for rows in range(1, largest_count(long, unit.height) + 1):
        for columns in range(1, largest_count(long, unit.width) + 1):
            if 1 < rows * columns <= quantity or (rows, columns) == (1, 1):
                yield from grids(unit, limits, rows, columns)
