"""What the IPC-D-356A file says: a small reader of fixed columns, apart from the writer."""

from __future__ import annotations

import re

from shapely import Point as ShapelyPoint

from boardgen.board.geometry import Shape
from boardgen.board.model import Side
from boardgen.readback.model import Pad, Via, Wanted

_NUMBER = re.compile(r"[+-]?\d+")
_UNITS = {"0": 2_540.0, "1": 1_000.0}  # nm a unit: 0.0001 inch, 0.001 mm
MAX_LINES = 200_000


def _at(row: str, unit: float) -> tuple[float, float]:
    """Columns 42-57: X, sign, six digits, Y, sign, six digits."""
    x, y = row[42:49], row[50:57]
    if row[41:42] != "X" or row[49:50] != "Y" or not (_NUMBER.fullmatch(x) and _NUMBER.fullmatch(y)):
        raise ValueError("no place in columns 42 to 57")
    return int(x) * unit, int(y) * unit


def _hole(row: str, unit: float) -> tuple[float, bool] | None:
    """Columns 33-38: D, four digits, P or U."""
    field = row[32:38].strip()
    if not field:
        return None
    match = re.fullmatch(r"D(\d{4})([PU])", field)
    if match is None:
        raise ValueError(f"hole {field!r} in columns 33 to 38")
    return int(match[1]) * unit, match[2] == "P"


def _sides(row: str) -> tuple[Side, ...]:
    """Columns 39-41: access from both sides (A00), the first (A01) or the second (A02)."""
    access = {"A00": (Side.TOP, Side.BOTTOM), "A01": (Side.TOP,), "A02": (Side.BOTTOM,)}
    field = row[38:41]
    if field not in access:
        raise ValueError(f"access {field!r} in columns 39 to 41")
    return access[field]


def wanted_by_ipc(data: bytes, path: str, left: float, bottom: float) -> Wanted:
    """Return the pads and vias of the file, turned to the board's axes by its origin (*left*, *bottom*).

    Raises ValueError, with the line, for a file that is not of the form, lacks its end, or states no unit.
    """
    names: dict[str, str] = {}
    unit: float | None = None
    pads: list[Pad] = []
    vias: list[Via] = []
    ended = False
    lines = data.decode("utf-8").splitlines()
    if len(lines) > MAX_LINES:
        raise ValueError(f"more than {MAX_LINES} lines")
    for number, row in enumerate(lines, 1):
        try:
            if ended:
                raise ValueError("a record after the end")
            code = row[:3]
            if code == "999":
                ended = True
            elif row.startswith("P"):
                word, _, value = row[1:].strip().partition(" ")
                if word == "UNITS":
                    unit = _UNITS.get(value.split()[-1] if value.split() else "")
                    if unit is None:
                        raise ValueError(f"units {value!r}")
                elif word.startswith("NNAME"):
                    names[word] = value.strip()
            elif code in ("317", "327"):
                if unit is None:
                    raise ValueError("a record before the units")
                label = row[3:17].strip()
                net = None if label in ("N/C", "") else names.get(label, label)
                ref, pin = row[20:26].strip(), row[27:31].strip()
                x, y = _at(row, unit)
                at = (left + x, bottom - y)
                hole = _hole(row, unit)
                if ref == "VIA" and hole is not None:
                    width = row[58:62]
                    if not width.isdigit():
                        raise ValueError("no size in columns 58 to 62")
                    vias.append(Via(net, at, int(width) * unit, hole[0]))
                    continue
                shape = Shape(ShapelyPoint(at), hole[0] / 2) if hole else None
                pads.append(Pad(ref, pin, net, at, _sides(row), None, shape, bool(hole and hole[1])))
            elif row.strip() and not row.startswith("C"):
                raise ValueError("a record of an unknown kind")
        except ValueError as error:
            raise ValueError(f"line {number}: {error}") from None
    if not ended:
        raise ValueError("the end (999) is missing")
    return Wanted(path, 1_000.0, tuple(pads), tuple(vias))
