"""Drawings made of characters: a connector's mating face, and a module from above."""

from __future__ import annotations

import math
from itertools import pairwise

from boardgen.catalog.model import Component, Connector, Module
from boardgen.footprint.model import Footprint
from boardgen.units import NM_PER_MM, Point

TALL = 0.5  # a character is about twice as high as wide
HALF = 0.500001  # rounds halves one way, so that even steps stay even
FINEST = 12  # characters for the least step from column to column
MOST_ACROSS = 110
NEAR_MM = 0.4  # contacts this near in height stand in one row


def face_lines(connector: Connector) -> list[str]:
    """Return the mating face of *connector* as seen looking at it, contact numbers in their places."""
    placed = [(contact.number, contact.at) for contact in connector.contacts]
    body = number_grid(placed)
    width = max(len(line) for line in body)
    frame = "+" + "-" * (width + 4) + "+"
    inside = [f"|  {line.ljust(width)}  |" for line in body]
    return [
        f"looking at the mating face ({connector.gender}):",
        frame,
        *inside,
        frame,
        "the solder side shows the same numbers mirrored left to right",
    ]


def number_grid(placed: list[tuple[str, Point]]) -> list[str]:
    """Return lines of text in which each number stands at its place, x right and y down.

    The least step from one column to the next becomes a whole number of
    characters, as few as keep the numbers from touching, so that pitches look even.
    """
    widest = max(len(number) for number, _ in placed)
    even = [(number.rjust(widest), at) for number, at in placed]
    lines: list[str] = []
    for characters in range(1, FINEST + 1):
        cells = _cells(even, characters / _least_step(placed))
        if cells is not None:
            lines = _drawn(cells)
            break
    if not lines or max(len(line) for line in lines) > MOST_ACROSS:
        return [f"{number}: {at.x.mm:.2f}, {at.y.mm:.2f} mm from the middle" for number, at in placed]
    return lines


def _least_step(placed: list[tuple[str, Point]]) -> float:
    """Return the least distance across of two columns in mm; columns nearer than NEAR_MM are one."""
    columns = sorted({int(at.x) for _, at in placed})
    steps = [(b - a) / NM_PER_MM for a, b in pairwise(columns)]
    return min((step for step in steps if step > NEAR_MM), default=2.54)


def _cells(placed: list[tuple[str, Point]], scale: float) -> dict[int, list[tuple[int, str]]] | None:
    """Return the numbers by text row with the column of their first character; None where they touch."""
    left = min(int(at.x) for _, at in placed)
    heights = sorted({int(at.y) for _, at in placed})
    row_of: dict[int, int] = {}
    last_height, last_row = heights[0], 0
    for height in heights:
        row = round((height - heights[0]) / NM_PER_MM * scale * TALL)
        row = max(row, last_row + 1) if height - last_height > NEAR_MM * NM_PER_MM else last_row
        row_of[height] = last_row = row
        last_height = height
    rows: dict[int, list[tuple[int, str]]] = {}
    for number, at in placed:
        middle = (int(at.x) - left) / NM_PER_MM * scale
        rows.setdefault(row_of[int(at.y)], []).append(
            (math.floor(middle - (len(number) - 1) / 2 + HALF), number)
        )
    for cells in rows.values():
        cells.sort()
        for (column, number), (following, _) in pairwise(cells):
            if column + len(number) >= following:
                return None
    return rows


def _drawn(rows: dict[int, list[tuple[int, str]]]) -> list[str]:
    first = min(column for cells in rows.values() for column, _ in cells)
    lines = []
    for row in range(max(rows) + 1):
        line = ""
        for column, number in rows.get(row, []):
            line = line.ljust(column - first) + number
        lines.append(line)
    margin = min(len(line) - len(line.lstrip()) for line in lines if line)
    return [line[margin:] for line in lines]


def module_lines(module: Module, footprint: Footprint) -> list[str]:
    """Return *module* seen from above, its pins by number and name down both sides.

    Pins that stand neither left nor right, or share a height, are left to the pin table.
    """
    named = [(pin.number, pin.name) for pin in module.pins]
    return _from_above(named, footprint, "[USB]" if module.usb else "")


def chip_lines(part: Component, footprint: Footprint) -> list[str]:
    """Return a chip with two rows of pins seen from above, pad numbers and functions down both sides."""
    functions = {pad: name for name, pad in part.pins}
    named = [(pad, functions.get(pad, "open")) for pad in footprint.numbers()]
    return _from_above(named, footprint, "(_)")


def _from_above(named: list[tuple[str, str]], footprint: Footprint, mark: str) -> list[str]:
    left: dict[int, str] = {}
    right: dict[int, str] = {}
    for number, name in named:
        for pad in footprint.numbered(number)[:1]:
            side = left if pad.at.x < 0 else right
            if int(pad.at.y) not in side:
                text = f"{name} {number.rjust(2)}" if side is left else f"{number.ljust(2)} {name}"
                side[int(pad.at.y)] = text
    heights = sorted({*left, *right})
    wide = max((len(text) for text in left.values()), default=0)
    inside = 14
    lines = [" " * (wide + 1) + "+" + mark.center(inside, "-") + "+"]
    for height in heights:
        line = f"{left.get(height, '').rjust(wide)} |{' ' * inside}| {right.get(height, '')}"
        lines.append(line.rstrip())
    lines.append(" " * (wide + 1) + "+" + "-" * inside + "+")
    return ["seen from above:", *lines]
