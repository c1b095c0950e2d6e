"""Parts list and positions of a run, written again in a buyer's form and for the boards ordered."""

from __future__ import annotations

import csv
import fnmatch
import io
import math
import re
from collections.abc import Mapping, Sequence

from boardgen.errors import InputError
from boardgen.export.bom import BOM_COLUMNS, POSITION_COLUMNS, csv_text
from boardgen.export.files import OutFile, text_file
from boardgen.order.profilemodel import BomField, Column, PositionField, Profile

Row = Mapping[str, str]


def rows_of(file: OutFile, columns: Sequence[str]) -> tuple[Row, ...]:
    """Return the rows of a run's list by heading; raises InputError where it is no list of *columns*."""
    try:
        rows = list(csv.reader(io.StringIO(file.data.decode("utf-8"))))
    except (UnicodeDecodeError, csv.Error) as error:
        raise InputError("the list cannot be read", file.path, found=str(error)[:80]) from None
    if not rows or tuple(rows[0]) != tuple(columns):
        found = ", ".join(rows[0])[:200] if rows else "nothing"
        raise InputError("the list has other columns", file.path, found=found, allowed=", ".join(columns))
    if any(len(row) < len(columns) for row in rows):
        raise InputError("a row of the list is short", file.path)
    return tuple(dict(zip(columns, row, strict=False)) for row in rows[1:])


def parts_of(file: OutFile) -> tuple[Row, ...]:
    """Return the rows of ``assembly/bom.csv``; raises InputError, also where a count is none."""
    rows = rows_of(file, BOM_COLUMNS)
    for row in rows:
        if not re.fullmatch(r"[0-9]{1,5}", row["Qty"]):
            raise InputError("the parts list has no such count", file.path, found=row["Qty"][:20])
    return rows


def to_order(profile: Profile, designator: str, total: int) -> int:
    """Return how many of a row to order: *total* and the profile's spares for it."""
    rule = profile.spares_of(designator)
    if rule is None:
        return total
    return total + max(rule.least, math.ceil(round(total * rule.percent / 100, 9)))


def bom_file(path: str, parts: Sequence[Row], profile: Profile, boards: int) -> OutFile:
    """Return the parts list for *boards* boards as *profile* has it."""
    rows: list[list[str]] = [[column.title for column in profile.bom]]
    for part in parts:
        if not profile.whole_parts and not part["MPN"]:
            continue
        rows.append([_bom_cell(column, part, profile, boards, len(rows)) for column in profile.bom])
    return text_file(path, csv_text(rows, profile.separator))


def _bom_cell(column: Column, part: Row, profile: Profile, boards: int, line: int) -> str:
    refs = part["Designator"].split(" ")
    per_board = int(part["Qty"])
    total = per_board * boards
    plain = {
        BomField.VALUE: "Value",
        BomField.FOOTPRINT: "Footprint",
        BomField.MANUFACTURER: "Manufacturer",
        BomField.MPN: "MPN",
        BomField.SUPPLIER_PART: "Supplier part",
        BomField.NOTE: "Note",
        BomField.FITTED: "DNP",
    }
    holds = BomField(column.holds)
    if holds in plain:
        return part[plain[holds]]
    if holds is BomField.DESIGNATORS:
        return profile.joiner.join(refs)
    if holds is BomField.FIXED:
        return column.text
    numbers = {
        BomField.LINE: line,
        BomField.PER_BOARD: per_board,
        BomField.TOTAL: total,
        BomField.ORDER: to_order(profile, refs[0], total),
    }
    return str(numbers[holds])


def position_file(path: str, positions: Sequence[Row], profile: Profile) -> OutFile:
    """Return the positions as *profile* has them: its kinds of part, its turns added."""
    rows: list[list[str]] = [[column.title for column in profile.positions]]
    for row in positions:
        if row["Type"] in profile.types:
            rows.append([_position_cell(column, row, profile) for column in profile.positions])
    return text_file(path, csv_text(rows, profile.separator))


def positions_of(file: OutFile) -> tuple[Row, ...]:
    """Return the rows of ``assembly/positions.csv``; raises InputError, also where a rotation is none."""
    rows = rows_of(file, POSITION_COLUMNS)
    for row in rows:
        if not re.fullmatch(r"-?[0-9]{1,4}(\.[0-9]{1,6})?", row["Rotation"]):
            raise InputError("the positions have no such rotation", file.path, found=row["Rotation"][:20])
    return rows


def positions_of_rows(rows: Sequence[Sequence[str]]) -> tuple[Row, ...]:
    """Return positions as :func:`boardgen.export.bom.position_rows` has them, headings first."""
    return tuple(dict(zip(rows[0], row, strict=True)) for row in rows[1:])


def _position_cell(column: Column, row: Row, profile: Profile) -> str:
    holds = PositionField(column.holds)
    if holds is PositionField.X:
        return row["X (mm)"] + profile.unit
    if holds is PositionField.Y:
        return row["Y (mm)"] + profile.unit
    if holds is PositionField.ROTATION:
        return f"{(float(row['Rotation']) + turn_of(profile, row['Package'])) % 360:.1f}"
    if holds is PositionField.SIDE:
        return profile.sides[0 if row["Side"] == "Top" else 1]
    plain = {
        PositionField.DESIGNATOR: "Designator",
        PositionField.VALUE: "Value",
        PositionField.PACKAGE: "Package",
        PositionField.TYPE: "Type",
    }
    return row[plain[holds]]


def turn_of(profile: Profile, package: str) -> float:
    """Return the degrees that *profile* adds to a part in *package*: those of the first turn that matches."""
    for turn in profile.turns:
        if fnmatch.fnmatchcase(package.casefold(), turn.package.casefold()):
            return turn.degrees
    return 0.0
