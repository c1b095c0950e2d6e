"""From a design's matrix to the graph that current flows through."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from boardgen.design.model import TO_COLUMN, TO_ROW, Matrix
from boardgen.electrical.matrix.model import Key, Wiring


def fitting_drive(diodes: str) -> str:
    """Return the drive that diodes of this direction want, "" where there are none or they point both ways.

    The module pulls the driven line low, so current must be able to flow into
    it: a diode's cathode belongs on the driven line.
    """
    return {TO_ROW: "rows", TO_COLUMN: "columns"}.get(diodes, "")


def wiring_of(matrix: Matrix) -> Wiring:
    """Return the graph of *matrix*; keys stand by read line, then by driven line."""
    by_rows = matrix.drive == "rows"
    read, driven = (matrix.columns, matrix.rows) if by_rows else (matrix.rows, matrix.columns)
    reads = {line: n for n, line in enumerate(read)}
    drives = {line: n for n, line in enumerate(driven)}
    diodes, fit = matrix.key_diodes(), TO_ROW if by_rows else TO_COLUMN
    keys = []
    for row, column, name in matrix.key_places():
        at_read, at_driven = (column, row) if by_rows else (row, column)
        way = diodes.get(name)
        keys.append(Key(name, reads[at_read], drives[at_driven], way is not None, way in (None, fit)))
    keys.sort(key=lambda key: (key.read, key.driven))
    return Wiring(read, driven, tuple(keys))


def with_diodes(wiring: Wiring, places: frozenset[int]) -> Wiring:
    """Return *wiring* with a diode in each key at *places* too, toward the driven line if it had none."""
    keys = tuple(replace(key, diode=key.diode or place in places) for place, key in enumerate(wiring.keys))
    return replace(wiring, keys=keys)


def with_turned(wiring: Wiring, places: Collection[int]) -> Wiring:
    """Return *wiring* with the diodes of the keys at *places* pointing to the driven line."""
    keys = tuple(replace(key, ahead=key.ahead or place in places) for place, key in enumerate(wiring.keys))
    return replace(wiring, keys=keys)


def unread_keys(wiring: Wiring) -> tuple[int, ...]:
    """Return the places of keys that their diode keeps from being read."""
    return tuple(n for n, key in enumerate(wiring.keys) if not key.conducts_ahead)
