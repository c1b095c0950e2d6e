"""From a design's matrix to the graph that current flows through."""

from __future__ import annotations

from dataclasses import replace

from boardgen.design.model import Matrix
from boardgen.electrical.matrix.model import Key, Wiring


def fitting_drive(diodes: str) -> str:
    """Return the drive that diodes of this direction want, "" where there are none.

    The module pulls the driven line low, so current must be able to flow into
    it: a diode's cathode belongs on the driven line.
    """
    return {"cathode-to-row": "rows", "cathode-to-column": "columns"}.get(diodes, "")


def wiring_of(matrix: Matrix) -> Wiring:
    """Return the graph of *matrix*; keys stand by read line, then by driven line."""
    by_rows = matrix.drive == "rows"
    read, driven = (matrix.columns, matrix.rows) if by_rows else (matrix.rows, matrix.columns)
    reads = {line: n for n, line in enumerate(read)}
    drives = {line: n for n, line in enumerate(driven)}
    wanted = None if matrix.diode_keys is None else set(matrix.diode_keys)
    keys = []
    for row, column, name in matrix.key_places():
        diode = matrix.diodes != "none" and (wanted is None or name in wanted)
        at_read, at_driven = (column, row) if by_rows else (row, column)
        keys.append(Key(name, reads[at_read], drives[at_driven], diode))
    keys.sort(key=lambda key: (key.read, key.driven))
    return Wiring(read, driven, tuple(keys), fitting_drive(matrix.diodes) in ("", matrix.drive))


def with_diodes(wiring: Wiring, places: frozenset[int]) -> Wiring:
    """Return *wiring* with a diode in each key at *places* too."""
    keys = tuple(replace(key, diode=key.diode or place in places) for place, key in enumerate(wiring.keys))
    return replace(wiring, keys=keys)


def conducts_ahead(wiring: Wiring, key: Key) -> bool:
    """Whether current can flow through *key* from its read line to its driven line: the key can be read."""
    return wiring.ahead or not key.diode


def conducts_back(wiring: Wiring, key: Key) -> bool:
    """Whether current can flow through *key* from its driven line to its read line: a phantom's way."""
    return not key.diode or not wiring.ahead


def unread_keys(wiring: Wiring) -> tuple[int, ...]:
    """Return the places of keys that their diode keeps from being read."""
    return tuple(n for n, key in enumerate(wiring.keys) if not conducts_ahead(wiring, key))
