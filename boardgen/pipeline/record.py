"""The record of a finished run, read back and held to its form."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any

from boardgen.board.model import Side
from boardgen.errors import Finding, InputError, Severity
from boardgen.readfile import read_json
from boardgen.units import Nm, Point, mm

MAX_RECORD = 16_000_000
MAX_FILES = 2_000
MAX_PATH, MAX_FOLDERS = 240, 20  # characters, steps


@dataclass(frozen=True, slots=True)
class Listed:
    """A file of the run as the record has it."""

    path: str
    size: int
    sha256: str


@dataclass(frozen=True, slots=True)
class Record:
    """What a run is, in the board's axes: *origin* is that of its fabrication files, in nm."""

    design: str
    revision: str
    fab: str
    copper: tuple[Side, ...]
    origin: tuple[float, float]
    findings: tuple[Finding, ...]
    files: tuple[Listed, ...]


def read_record(path: Path) -> tuple[Record, dict[str, Any]]:
    """Return the record at *path*, and all it holds as plain data.

    Raises InputError for what is no record, MachineError where reading is forbidden.
    """
    where = path.as_posix()
    data = read_json(path, where, MAX_RECORD, "record")
    try:
        return _record_of(data), data
    except (LookupError, TypeError, ValueError, AttributeError, ArithmeticError) as error:
        words = f"{type(error).__name__}: {str(error)[:120]}"
        raise InputError("not the record of a run", where, found=words) from None


def _length(value: Any) -> float:
    number = float(value)
    if not math.isfinite(number) or abs(number) > 10_000:
        raise ValueError(f"{number} mm is out of range")
    return float(mm(number))


def _record_of(data: Any) -> Record:
    board = data["board"]
    layers = int(board["copper_layers"])
    origin = board.get("origin_mm") or (0.0, board["height_mm"])
    if len(data["files"]) > MAX_FILES:
        raise ValueError(f"more than {MAX_FILES} files")
    return Record(
        design=_name(data["design"]),
        revision=_name(data["revision"]),
        fab=_text(data["fab"]),
        copper=(Side.TOP, Side.BOTTOM) if layers > 1 else (Side.BOTTOM,),
        origin=(_length(origin[0]), _length(origin[1])),
        findings=tuple(_finding(row) for row in data["findings"]),
        files=tuple(_listed(row) for row in data["files"]),
    )


def _text(value: Any) -> str:
    if not isinstance(value, str) or len(value) > 100_000:
        raise ValueError("a text was expected")
    value.encode("utf-8")  # half a letter (a lone surrogate) can stand in no file and no name
    return value


def _name(value: Any) -> str:
    """Return a name of a design or revision: files and folders are called by it, so it leads nowhere else."""
    if not isinstance(value, str) or not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}", value):
        raise ValueError(f"the name {str(value)[:60]!r}")
    return value


def _listed(row: Any) -> Listed:
    path = _text(row["path"])
    pure = PurePosixPath(path)
    if not 0 < len(path) <= MAX_PATH or len(pure.parts) > MAX_FOLDERS:
        raise ValueError(f"file path {path[:60]!r}")
    if pure.is_absolute() or ".." in pure.parts or "\\" in path or "\0" in path:
        raise ValueError(f"file path {path[:60]!r}")
    return Listed(path, int(row["bytes"]), _text(row["sha256"]))


def _nm(value: Any) -> Nm | None:
    return None if value is None else Nm(round(_length(value)))


def _finding(row: Any) -> Finding:
    at = row["at_mm"]
    return Finding(
        rule=_text(row["rule"]),
        severity=Severity(row["severity"]),
        message=_text(row["message"]),
        at=None if at is None else Point(Nm(round(_length(at[0]))), Nm(round(_length(at[1])))),
        layer=_text(row["layer"]),
        items=tuple(_text(item) for item in row["items"]),
        measured=_nm(row["measured_mm"]),
        limit=_nm(row["limit_mm"]),
        waived=_text(row.get("waived", "")),
    )
