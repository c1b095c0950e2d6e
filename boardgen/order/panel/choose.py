"""The best panel for a number of boards: by a price table, else least laminate, then fewest panels."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from decimal import Decimal

from boardgen.catalog.making import PanelLimits
from boardgen.catalog.model import FabClass
from boardgen.errors import InputError
from boardgen.order.panel.build import Panel, panel_of
from boardgen.order.panel.edges import Unit
from boardgen.order.panel.layout import Grid, grids, largest_count, may_score
from boardgen.units import format_mm

NONE, AUTO = "none", "auto"
MOST = 1000  # boards on a panel
_SHAPE = re.compile(r"([1-9]\d?)x([1-9]\d?)")

Price = Callable[[Grid], Decimal | None]  # of the whole order on such panels; None where they are not sold


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


def choose_panel(
    unit: Unit,
    fab: FabClass,
    quantity: int,
    shape: tuple[int, int] | None,
    most: int = MOST,
    price: Price | None = None,
) -> PanelChoice:
    """Return the panel of *shape* (rows, columns), or the best of any, for *quantity* boards.

    Best is the least *price* where one is given (of equals, and of panels that have none, the next rule),
    else the least area of laminate for all of them, then the fewest panels, the fewest rails, and the
    squarest panel; no panel has more than *most* boards. Raises InputError where the fab makes no panels, or
    none that holds such boards.
    """
    limits = fab.panel
    if limits is None:
        raise InputError(
            f"the fab class {fab.id} makes no panels", fab.origin, "panel", allowed="--panel none"
        )
    if shape is not None and shape[0] * shape[1] > most:
        raise InputError(
            "more boards on a panel than can be read back",
            key="--panel",
            found=f"{shape[0] * shape[1]}",
            allowed=f"at most {most} of this board",
        )
    shapes = _shapes(unit, limits, min(quantity, most), quantity, shape)
    slender = shape is not None
    if price is None:
        best = _least_laminate(unit, fab, limits, quantity, shapes, slender)
    else:
        best = _least_price(unit, fab, limits, quantity, [s for _, s in shapes], slender, price)
    if best is not None:
        return PanelChoice(best, _panels(best.grid, quantity))
    size = f"{format_mm(unit.width, 2)} x {format_mm(unit.height, 2)} mm"
    what = "no panel" if shape is None else f"no panel of {shape[0]} x {shape[1]}"
    largest = " x ".join(format_mm(v) for v in limits.largest)
    raise InputError(
        f"{what} holds boards of {size}", key="--panel", allowed=f"a panel of at most {largest} mm"
    )


def _least_laminate(
    unit: Unit,
    fab: FabClass,
    limits: PanelLimits,
    quantity: int,
    shapes: list[tuple[int, tuple[int, int]]],
    slender: bool,
) -> Panel | None:
    """Return the best panel that can be built, shapes looked at until their bound is above it."""
    best: tuple[tuple[object, ...], Panel] | None = None
    for least, (rows, columns) in shapes:
        if best is not None and (least,) > best[0]:
            break
        found = grids(unit, limits, rows, columns, slender=slender)
        for cost, grid in sorted(((_cost(g, quantity), g) for g in found), key=lambda item: item[0]):
            if best is not None and cost >= best[0]:
                break
            panel = panel_of(unit, grid, fab)
            if panel is not None:
                best = cost, panel
                break
    return best[1] if best is not None else None


def _least_price(
    unit: Unit,
    fab: FabClass,
    limits: PanelLimits,
    quantity: int,
    shapes: list[tuple[int, int]],
    slender: bool,
    price: Price,
) -> Panel | None:
    """Return the cheapest panel that can be built; prices go in steps, so every shape is looked at."""

    def ranked() -> Iterator[tuple[tuple[object, ...], Grid]]:
        for rows, columns in shapes:
            for grid in grids(unit, limits, rows, columns, slender=slender):
                amount = price(grid)
                yield (amount is None, amount or Decimal(0), *_cost(grid, quantity)), grid

    for _rank, grid in sorted(ranked(), key=lambda item: item[0]):
        panel = panel_of(unit, grid, fab)
        if panel is not None:
            return panel
    return None


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


def _shapes(
    unit: Unit, limits: PanelLimits, most: int, quantity: int, shape: tuple[int, int] | None
) -> list[tuple[int, tuple[int, int]]]:
    """Return rows and columns to try, with the least area (nm2) their panels can have, the least first.

    No more than *most* boards a panel. The bound: boards edge to edge where they may be scored, else a cutter
    apart, and a pair of rails.
    """
    if shape is not None:
        return [(0, shape)]
    gap = 0 if may_score(unit, limits) else int(limits.cutter)
    long = max(limits.largest)
    found = []
    for rows in range(1, largest_count(long, unit.height) + 1):
        for columns in range(1, largest_count(long, unit.width) + 1):
            if rows * columns > most:
                continue
            width, height = columns * (unit.width + gap) - gap, rows * (unit.height + gap) - gap
            rails = 2 * (limits.rail + gap)
            area = min((width + rails) * height, width * (height + rails))
            found.append((-(-quantity // (rows * columns)) * int(area), (rows, columns)))
    return sorted(found)
