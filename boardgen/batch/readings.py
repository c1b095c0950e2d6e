"""A file of readings of one board: whose they are, then a row a reading."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from boardgen.batch.model import Reading
from boardgen.batch.values import ALLOWED, value_of
from boardgen.errors import InputError, InputErrors, suggestion
from boardgen.export.bringup_model import OHMS, Plan, Test
from boardgen.export.bringup_net import PAD
from boardgen.readfile import read_bytes

MOST_BYTES, MOST_ROWS, MOST_ERRORS = 4_000_000, 20_000, 20
_ABOUT = ("design", "revision", "pin map", "serial")
_VALUE = ("value", "reading")
_NOTHING = ("", "-")


@dataclass(slots=True)
class _Form:
    """The file while it is read: its columns once their heads are known."""

    where: str
    plan: Plan
    serial: str
    columns: dict[str, int]
    column: int = -1


def read_readings(path: Path, plan: Plan, serial: str) -> tuple[Reading, ...]:
    """Return the readings of *serial* in the file at *path*, in the plan's order of tests, pairs last.

    Raises InputError, or InputErrors where more than one row is wrong: a file of
    another design, revision or pin map, an unknown test or place, a value that
    is none, a test read twice. MachineError where reading is forbidden.
    """
    where = path.as_posix()
    form = _Form(where, plan, serial, {})
    tests = {test.id.casefold(): test for test in plan.tests}
    found: dict[tuple[str, ...], Reading] = {}
    errors: list[InputError] = []
    for line, row in _rows(path, where):
        if not form.columns:
            _head(form, line, row)
            continue
        try:
            reading = _reading(form, tests, line, row)
        except InputError as error:
            errors.append(error)
            if len(errors) >= MOST_ERRORS:
                break
            continue
        if reading is None:
            continue
        key = (reading.test,) if reading.test else (min(reading.a, reading.b), max(reading.a, reading.b))
        if key in found:
            words = f"the same thing is read twice, first in line {found[key].line}"
            errors.append(InputError(words, where, " to ".join(key), line))
        found[key] = reading
    if errors:
        raise errors[0] if len(errors) == 1 else InputErrors(errors)
    if not form.columns:
        raise InputError("there is no row of column heads", where, allowed="test, value; or a, b, value")
    order = {test.id: i for i, test in enumerate(plan.tests)}
    return tuple(sorted(found.values(), key=lambda r: (order.get(r.test, len(order)), r.a, r.b)))


def _rows(path: Path, where: str) -> Iterator[tuple[int, list[str]]]:
    try:
        text = read_bytes(path, where, MOST_BYTES, "file of readings").decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError("the file is not text in UTF-8", where) from None
    first = next((row for row in text.splitlines() if row.strip()), "")
    split = ";" if first.count(";") > first.count(",") else ","  # spreadsheets of half the world
    reader = csv.reader(io.StringIO(text), delimiter=split)
    try:
        for count, row in enumerate(reader):
            if count > MOST_ROWS:
                raise InputError("the file has too many rows", where, allowed=f"{MOST_ROWS}")
            cells = [cell.strip() for cell in row]
            if any(cells) and not cells[0].startswith("#"):
                yield reader.line_num, cells
    except csv.Error as error:
        raise InputError(f"the file is no table: {error}", where, line=reader.line_num) from None


def _head(form: _Form, line: int, row: list[str]) -> None:
    """Take a row before the table: a line about the file, or the heads of its columns."""
    heads = [cell.casefold() for cell in row]
    if heads[0] in _ABOUT and "test" not in heads:
        plan = form.plan
        held = {
            "design": plan.design,
            "revision": plan.revision,
            "pin map": plan.pin_map,
            "serial": form.serial,
        }
        said = row[1] if len(row) > 1 else ""
        if said != held[heads[0]]:
            raise InputError(
                "the readings are of another board than the run",
                form.where,
                heads[0],
                line,
                found=repr(said[:60]),
                allowed=held[heads[0]],
            )
        return
    if heads[0] in ("date", "by", "note") and "test" not in heads:
        return
    if "test" not in heads and not {"a", "b"} <= set(heads):
        raise InputError(
            "the row is neither about the file nor the heads of its columns",
            form.where,
            line=line,
            found=repr(",".join(row)[:60]),
            allowed="design, revision, pin map, serial, date, by; or columns test, a, b, value",
        )
    form.columns = {head: i for i, head in reversed(list(enumerate(heads))) if head}
    columns = [i for i, cell in enumerate(row) if cell == form.serial] or [
        form.columns[name] for name in _VALUE if name in form.columns
    ]
    if not columns:
        raise InputError(
            "no column holds this board's readings",
            form.where,
            line=line,
            found=repr(",".join(row)[:80]),
            allowed=f"a column named {form.serial!r}, or value",
        )
    form.column = columns[0]


def _reading(form: _Form, tests: dict[str, Test], line: int, row: list[str]) -> Reading | None:
    def cell(name: str) -> str:
        place = form.columns.get(name, -1)
        return row[place] if 0 <= place < len(row) else ""

    text = row[form.column] if form.column < len(row) else ""
    name, a, b = cell("test"), cell("a"), cell("b")
    test = tests.get(name.casefold()) if name else None
    if name and test is None:
        raise InputError(
            "there is no such test in the plan of this run",
            form.where,
            "test",
            line,
            found=repr(name[:40]) + suggestion(name, [t.id for t in form.plan.tests]),
        )
    spots = [_spot(form, line, key, said) for key, said in (("a", a), ("b", b)) if said]
    if test is not None and spots and set(spots) != {test.a, test.b} - {""}:
        raise InputError(
            f"test {test.id} is between other places: the readings are of another revision",
            form.where,
            "a, b",
            line,
            found=" and ".join(spots),
            allowed=f"{test.a} and {test.b}",
        )
    if text in _NOTHING:
        return None
    if test is None:
        if len(spots) != 2 or spots[0] == spots[1]:
            raise InputError("a reading needs a test, or two places", form.where, "a, b", line)
        test = _between(form.plan, spots[0], spots[1])
    kind = test.kind if test is not None else OHMS
    value = value_of(text, kind)
    if value is None:
        raise InputError(
            "this is no reading of that kind", form.where, kind, line, repr(text[:40]), ALLOWED[kind]
        )
    if test is not None:
        first, second = (test.a, test.b) if not spots or spots[0] == test.a else (test.b, test.a)
        return Reading(test.id, kind, first, second, value, text, line)
    return Reading("", kind, spots[0], spots[1], value, text, line)


def _between(plan: Plan, a: str, b: str) -> Test | None:
    return next((t for t in plan.tests if t.kind == OHMS and {t.a, t.b} == {a, b}), None)


def _spot(form: _Form, line: int, key: str, said: str) -> str:
    """Return the place *said* names: "J1.5", its pad "J1.5/pad", or a contact's bare number."""
    known = {spot.name.casefold(): spot.name for spot in form.plan.circuit.spots}
    plain, slash, rest = said.partition("/")
    found = known.get(plain.strip().casefold()) or known.get(f"j1.{plain.strip().casefold()}")
    if found is None or (slash and f"/{rest.strip().casefold()}" != PAD):
        raise InputError(
            "there is no such place on this board",
            form.where,
            key,
            line,
            found=repr(said[:40]) + suggestion(said, known.values()),
            allowed=f"a part's contact such as J1.5 or U1.20, or its pad: J1.5{PAD}",
        )
    return found + (PAD if slash else "")
