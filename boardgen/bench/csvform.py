"""Reading a file of readings: comma-separated text that a person wrote down or a spreadsheet saved.

Lines of statements come first (``view, solder-side``), then a line that names
the columns, then one reading a line; another line of column names begins
another table. ``#`` at the start of a line is a comment.
"""

from __future__ import annotations

import csv
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import replace
from enum import StrEnum
from pathlib import Path
from typing import Any, TypeVar

from boardgen.bench.model import Half, Meter, Numbers, PairLine, Place, Sheet, Stated, View, WireLine
from boardgen.bench.values import ALLOWED, parse_reading
from boardgen.catalog.formerrors import shown
from boardgen.catalog.tomlfile import read_bytes
from boardgen.errors import InputError, suggestion

MAX_BYTES = 8_000_000
MAX_LINES = 100_000  # 40 contacts, each pair both ways, with 60 keys held
MAX_LINE = 1000
MAX_CELL = 120
MAX_NAME = 40  # keys, wires, signals: what a design file takes
MAX_CELLS = 70

WIRES = ("contact", "wire")
IDLE = ("plus", "minus", "reading")
KEYS = ("key", "plus", "minus", "reading")
MAY = {WIRES: ("signal", "note"), IDLE: ("at", "note"), KEYS: ("note",)}
TABLES = (
    "contact, wire [, signal, note]; plus, minus, reading [, at, note]; key, plus, minus, reading [, note]"
)
_COLUMNS = {name for table, more in MAY.items() for name in (*table, *more)}
_STATEMENTS = ("view", "half", "numbers", "connector", "meter", "device", "rail", "rows")
_NO_WIRE = ("-", "none", "no wire", "empty")

E = TypeVar("E", bound=StrEnum)


def read_sheet(path: Path) -> Sheet:
    """Read the file of readings *path*; raises InputError (file, line, found, allowed) or MachineError."""
    where = path.as_posix()
    return parse_sheet(read_bytes(path, where, MAX_BYTES, "file of readings"), where)


def parse_sheet(raw: bytes, where: str) -> Sheet:
    """Parse *raw* as :func:`read_sheet` does a file's bytes."""
    return _Reader(where).read(_text(raw, where))


def _text(raw: bytes, where: str) -> str:
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        found = f"byte 0x{raw[error.start]:02x}"
        raise InputError("the text is not UTF-8", where, line=line, found=found) from None


def _records(text: str, where: str) -> Iterator[tuple[int, list[str]]]:
    """Yield line number and cells of every line that says something; a comment is one cell with ``#``."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    if len(lines) > MAX_LINES:
        raise InputError("the file has too many lines", where, found=f"{len(lines)}", allowed=f"{MAX_LINES}")
    separator = ""
    for number, line in enumerate(lines, 1):
        if len(line) > MAX_LINE:
            raise InputError(
                "the line is too long",
                where,
                line=number,
                found=f"{len(line)} characters",
                allowed=f"at most {MAX_LINE}",
            )
        _printable(line, where, number)
        if not line.strip(" \t,;"):
            continue
        if line.lstrip().startswith("#"):
            yield number, [line.strip()]
            continue
        if not separator:
            separator = ";" if ";" in line and "," not in line else ","
        try:
            cells = next(csv.reader([line], delimiter=separator, strict=True, skipinitialspace=True))
        except csv.Error:
            raise InputError(
                "the quotes in this line do not close",
                where,
                line=number,
                found=shown(line),
                allowed='a cell in double quotes on one line, "" for a quote inside',
            ) from None
        cells = [cell.strip() for cell in cells]
        if len(cells) > MAX_CELLS:
            raise InputError(
                "the line has too many cells", where, line=number, allowed=f"at most {MAX_CELLS}"
            )
        for cell in cells:
            _cell(cell, where, number)
        if separator == ";":
            cells = [_decimal_point(cell) for cell in cells]
        yield number, cells


def _decimal_point(cell: str) -> str:
    """Turn 12,5 into 12.5: where semicolons separate, a comma is the decimal sign."""
    whole, comma, rest = cell.partition(",")
    return f"{whole}.{rest}" if comma and whole.lstrip("+-").isdecimal() and rest[:1].isdecimal() else cell


def _printable(line: str, where: str, number: int) -> None:
    if line.isprintable():
        return
    for letter in line:
        if letter != "\t" and unicodedata.category(letter) in ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"):
            found = f"U+{ord(letter):04X}"
            raise InputError(
                "the line holds a character that cannot be printed", where, line=number, found=found
            )


def _cell(cell: str, where: str, number: int) -> None:
    if len(cell) > MAX_CELL:
        found = f"{len(cell)} characters"
        raise InputError("a cell is too long", where, line=number, found=found, allowed=f"at most {MAX_CELL}")
    formula = len(cell) > 1 and (cell[0] == "=" or (cell[0] in "+-@" and "(" in cell))
    if formula:
        raise InputError(
            "a cell holds a formula",
            where,
            line=number,
            found=shown(cell),
            allowed="what the meter showed, or text",
        )


class _Reader:
    """Goes through the records of one file; remembers the table it is in."""

    def __init__(self, where: str) -> None:
        self._where = where
        self._stated = Stated()
        self._lines: dict[str, int] = {}
        self._columns: dict[str, int] = {}
        self._table: tuple[str, ...] = ()
        self._wires: list[WireLine] = []
        self._pairs: list[PairLine] = []

    def read(self, text: str) -> Sheet:
        for line, cells in _records(text, self._where):
            if cells[0].startswith("#") and len(cells) == 1:
                self._comment(line, cells[0])
            elif not self._heads(line, cells):
                if self._table:
                    self._reading(line, cells)
                else:
                    self._statement(line, cells)
        if not self._table:
            raise InputError("there is no line that names the columns", self._where, allowed=TABLES)
        return Sheet(
            self._where,
            self._stated,
            tuple(self._wires),
            tuple(self._pairs),
            tuple(sorted(self._lines.items())),
        )

    def _comment(self, line: int, text: str) -> None:
        """Refuse a comment that is in truth the reading of a key called #."""
        if self._table == KEYS and text[1:].lstrip()[:1] in (",", ";"):
            raise self._wrong(
                "this line looks like a reading of a key called #, and would be a comment",
                line,
                allowed='the key in quotes: "#"',
            )

    def _wrong(self, message: str, line: int, found: str = "", allowed: str = "") -> InputError:
        return InputError(message, self._where, line=line, found=found, allowed=allowed)

    def _heads(self, line: int, cells: Sequence[str]) -> bool:
        words = [cell.casefold() for cell in cells]
        named = set(words) - {""}
        known = named & _COLUMNS
        table = next((t for t in (KEYS, IDLE, WIRES) if named >= set(t)), None)
        if table is None:
            if not self._table and len(known) > 1 and words[0] not in _STATEMENTS:
                raise self._wrong(
                    "these columns make no table", line, ", ".join(w for w in words if w), TABLES
                )
            return False
        allowed = (*table, *MAY[table])
        for word in words:
            if word and word not in allowed:
                raise self._wrong(
                    f"there is no column {word[:40]!r} in this table{suggestion(word, allowed)}",
                    line,
                    allowed=", ".join(allowed),
                )
            if word and words.count(word) > 1:
                raise self._wrong(f"the column {word!r} is there twice", line)
        self._table = table
        self._columns = {word: n for n, word in enumerate(words) if word}
        return True

    def _statement(self, line: int, cells: Sequence[str]) -> None:
        word = cells[0].casefold()
        values = [cell for cell in cells[1:] if cell]
        if word not in _STATEMENTS:
            raise self._wrong(
                f"neither a statement nor the names of columns{suggestion(word, _STATEMENTS)}",
                line,
                shown(cells[0]),
                f"{', '.join(_STATEMENTS)}; or the columns {TABLES}",
            )
        if word in self._lines:
            raise self._wrong(f"{word} is already stated in line {self._lines[word]}", line)
        if not values or (len(values) > 1 and word != "rows"):
            raise self._wrong(f"{word} takes one value", line, f"{len(values)} values")
        self._lines[word] = line
        if word == "rows":
            self._stated = replace(self._stated, rows=tuple(values))
            return
        choices: dict[str, type[StrEnum]] = {"view": View, "half": Half, "numbers": Numbers, "meter": Meter}
        said: dict[str, Any] = {word: values[0]}
        if word in choices:
            said[word] = self._choice(choices[word], values[0], line)
        self._stated = replace(self._stated, **said)

    def _choice(self, choices: type[E], value: str, line: int) -> E:
        folded = value.casefold().replace(" ", "-")
        for choice in choices:
            if choice.value == folded:
                return choice
        raise self._wrong("the value is not allowed", line, shown(value), ", ".join(choices))

    def _reading(self, line: int, cells: Sequence[str]) -> None:
        extra = [cell for n, cell in enumerate(cells) if cell and n not in self._columns.values()]
        if extra:
            raise self._wrong(
                "more cells than columns", line, shown(extra[0]), "a cell with a comma in it stands in quotes"
            )
        get = {name: cells[n] if n < len(cells) else "" for name, n in self._columns.items()}
        for name in self._table:
            if not get[name] and name != "wire":
                raise self._wrong(f"the cell for {name} is empty", line)
        for name in ("key", "wire", "signal", "at"):
            if len(get.get(name, "")) > MAX_NAME:
                raise self._wrong(
                    f"the cell for {name} is too long",
                    line,
                    shown(get[name]),
                    f"at most {MAX_NAME} characters",
                )
        place = Place(self._where, line)
        note = get.get("note", "")
        if self._table == WIRES:
            wire = "" if get["wire"].casefold() in _NO_WIRE else get["wire"]
            self._wires.append(WireLine(place, get["contact"], wire, get.get("signal", ""), note))
            return
        reading = parse_reading(get["reading"])
        if reading is None:
            raise self._wrong("this is no reading", line, shown(get["reading"]), ALLOWED)
        self._pairs.append(
            PairLine(place, get["plus"], get["minus"], reading, get.get("key", ""), get.get("at", ""), note)
        )
