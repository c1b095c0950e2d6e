"""A run opened for publishing: whole, clean, of this tool's version, of the design as it was made."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

from boardgen.board.model import Board
from boardgen.catalog.load import Catalog, load_catalog
from boardgen.catalog.model import Component
from boardgen.design.load import design_catalogs
from boardgen.design.model import Design
from boardgen.errors import Finding, InputError, Severity
from boardgen.export.bringup_data import plan_from
from boardgen.export.bringup_out import PLAN
from boardgen.export.run_folder import RECORD
from boardgen.pipeline.check_run import recorded_files
from boardgen.pipeline.opened import (
    board_of_run,
    design_of_run,
    has_changed,
    is_as_made,
    require_clean,
    require_same_tool,
)
from boardgen.pipeline.record import MAX_RECORD, Record, read_record
from boardgen.publish.history import earlier_editions, same_record
from boardgen.publish.model import Edition, Subject
from boardgen.readfile import read_bytes

RULE = "publish"
BOM = "assembly/bom.csv"
_T = TypeVar("_T")


def open_subject(path: Path, design: Path | None = None, catalogs: Sequence[Path] = ()) -> Subject:
    """Return the run at *path* (its folder or its record) with all that its page tells; nothing is written.

    *design* is the design it was made from, by default ``designs/NAME`` from here where that is there; one
    that has gone on to a later revision does, as long as its history holds this very run. Raises InputError,
    one reason at a time, for a run of another version of the tool, with findings of severity error, with a
    failed check, with a changed or missing file, or of a design that has changed; MachineError where reading
    is forbidden.
    """
    folder = path.parent if path.name == RECORD else path
    where = folder.as_posix()
    if not (folder / RECORD).is_file():
        raise InputError(f"no run: it holds no {RECORD}", where)
    record, data = read_record(folder / RECORD)
    require_same_tool(data, where)
    require_clean(record, data, where)
    files, notes = whole_files(folder, record)
    digest = read_bytes(folder / RECORD, where, MAX_RECORD)
    place, found, said = _design(record, data, digest, design, where)
    known = tuple(catalogs) if place is None else design_catalogs(place, catalogs)
    subject = guarded(where, lambda: _subject(folder, record, data, files, known))
    edition = replace(subject.edition, board=subject.board)
    earlier: tuple[Edition, ...] = ()
    if place is not None:
        drawn = {e.revision for e in found.errata if e.cuts or e.wires} if found else set()
        earlier, more = earlier_editions(
            place.parent if place.is_file() else place,
            record,
            lambda other: _board_beside(folder, record.design, other, known) if other[0] in drawn else None,
        )
        said += more
    return replace(
        subject, edition=edition, design=found, earlier=earlier, notes=(*notes, *said, *subject.notes)
    )


def guarded(where: str, work: Callable[[], _T]) -> _T:
    """Return what *work* reads out of a run; whatever a file of nonsense does becomes an InputError."""
    try:
        return work()
    except (LookupError, TypeError, ValueError, AttributeError, ArithmeticError, RecursionError) as error:
        words = f"{type(error).__name__}: {str(error)[:120]}"
        raise InputError("a file of the run does not say what it should", where, found=words) from None
    except csv.Error as error:
        raise InputError("a table of the run cannot be read", where, found=str(error)[:120]) from None


def whole_files(folder: Path, record: Record) -> tuple[dict[str, bytes], list[Finding]]:
    """Return the run's files by path, and what else is there; raises InputError for changed ones."""
    files, found = recorded_files(folder, record.files)
    bad = [finding.message for finding in found if finding.severity is Severity.ERROR]
    if bad:
        more = f", and {len(bad) - 1} more" if len(bad) > 1 else ""
        raise InputError(
            f"the run is not as it was recorded: {bad[0]}{more}",
            folder.as_posix(),
            allowed="a run as `generate` left it; `check` tells of every file",
        )
    return {file.path: file.data for file in files}, found


def _design(
    record: Record, data: Mapping[str, Any], raw: bytes, given: Path | None, where: str
) -> tuple[Path | None, Design | None, list[Finding]]:
    """Return the design's place and the design, None where it is not at hand, and what is said of that."""
    place, design = design_of_run(record, given)
    if design is None:
        message = f"the design is not at hand (looked for {place.as_posix()}): nothing of earlier revisions, "
        message += "and rework in words alone; --design PATH names it"
        return None, None, [Finding(RULE, Severity.NOTE, message)]
    folder = place.parent if place.is_file() else place
    gone_on = design.revision != record.revision and same_record(folder, record.revision, raw)
    if not is_as_made(design, data) and not gone_on:
        raise has_changed(where, place)
    return place, design, []


def _subject(
    folder: Path, record: Record, data: Mapping[str, Any], files: Mapping[str, bytes], known: Sequence[Path]
) -> Subject:
    where = folder.as_posix()
    catalog = load_catalog(tuple(known))
    board = board_of_run(folder, record, files, known)
    raw = files.get(PLAN)
    if raw is None:
        raise InputError("the run has no plan for bring-up: generate it again", where, PLAN)
    plan = plan_from(json.loads(raw))
    if BOM not in files:
        raise InputError("the run has no parts list: generate it again", where, BOM)
    parts_list = tuple(csv.DictReader(io.StringIO(files[BOM].decode("utf-8"))))
    pins = next((json.loads(files[name]) for name in sorted(files) if name.endswith("_pins.json")), None)
    if not isinstance(pins, dict) or not isinstance(pins["pins"], list):
        raise InputError("the run has no pin file: generate it again", where)
    return Subject(
        record,
        data,
        board,
        catalog.module(str(data["module"])),
        catalog.connector(str(data["connector"])),
        plan,
        parts_list,
        _components(board, parts_list, catalog),
        Edition(record.revision, str(pins["pin_map"]), pins, origin=record.origin),
    )


def _board_beside(folder: Path, design: str, other: tuple[str, bytes], known: Sequence[Path]) -> Board | None:
    """Return the board of an earlier run that lies beside this one, where it is the very one recorded."""
    revision, raw = other
    beside = folder.resolve().parent / f"{design}-{revision}"
    if not (beside / RECORD).is_file():
        return None
    if read_bytes(beside / RECORD, f"{design}-{revision}", MAX_RECORD) != raw:
        return None
    record, _data = read_record(beside / RECORD)
    try:
        files, _notes = whole_files(beside, record)
        return guarded(beside.name, lambda: board_of_run(beside, record, files, known))
    except InputError:
        return None


def _components(
    board: Board, parts_list: Sequence[Mapping[str, str]], catalog: Catalog
) -> dict[str, Component]:
    """Return what the catalogue says of each small part: by footprint, then by what the parts list says."""
    # the CAD file counts footprints that differ in graphics alone; the parts list has the catalogue's names
    said = {ref: row for row in parts_list for ref in row["Designator"].split(" ")}
    by_footprint: dict[str, list[Component]] = {}
    for ident in sorted(catalog.components):
        component = catalog.component(ident)
        by_footprint.setdefault(component.footprint, []).append(component)
    found = {}
    for part in board.parts:
        row = said.get(part.ref, {})
        fitting = by_footprint.get(row.get("Footprint", ""), [])
        named = [c for c in fitting if c.description and c.description in row.get("Note", "")]
        if named or fitting:
            found[part.ref] = (named or fitting)[0]
    return found
