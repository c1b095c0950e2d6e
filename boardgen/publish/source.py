"""A run opened for publishing: whole, clean, of this tool's version, of the design as it was made."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

from boardgen import __version__
from boardgen.board.model import Board
from boardgen.catalog.load import Catalog, load_catalog
from boardgen.catalog.model import Component
from boardgen.design.load import design_catalogs, load_design
from boardgen.design.model import Design
from boardgen.errors import Finding, InputError, Severity
from boardgen.export.bringup_data import plan_from
from boardgen.export.bringup_out import PLAN
from boardgen.export.files import OutFile
from boardgen.export.run_folder import RECORD
from boardgen.pipeline.cad_intent import intent_of_run
from boardgen.pipeline.check_run import recorded_files
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
    _same_tool(data.get("tool"), where)
    _clean(record, data, where)
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


def _same_tool(tool: object, where: str) -> None:
    wanted = f"boardgen {__version__}"
    if tool != wanted:
        raise InputError(
            "the run was made by another version of the tool: generate it again",
            where,
            found=str(tool)[:60],
            allowed=wanted,
        )


def _clean(record: Record, data: Mapping[str, Any], where: str) -> None:
    errors = [f for f in record.findings if f.severity is Severity.ERROR]
    if errors:
        many = f"{len(errors)} findings" if len(errors) > 1 else "a finding"
        raise InputError(
            f"the run has {many} of severity error and is not for fabrication",
            where,
            found=f"{errors[0].rule}: {errors[0].message}",
        )
    checks = data.get("checks")
    rows = checks if isinstance(checks, dict) else {}
    failed = sorted(k for k, row in rows.items() if not (isinstance(row, dict) and row.get("passed") is True))
    if failed:
        raise InputError("a check of the run failed", where, found=", ".join(failed)[:200])
    if not any(name.startswith("read-back") for name in rows):
        raise InputError("the run's files were never read back: generate it again", where)


def _design(
    record: Record, data: Mapping[str, Any], raw: bytes, given: Path | None, where: str
) -> tuple[Path | None, Design | None, list[Finding]]:
    """Return the design's place and the design, None where it is not at hand, and what is said of that."""
    place = given if given is not None else Path("designs") / record.design
    if given is None and not place.exists():
        message = f"the design is not at hand (looked for {place.as_posix()}): nothing of earlier revisions, "
        message += "and rework in words alone; --design PATH names it"
        return None, None, [Finding(RULE, Severity.NOTE, message)]
    design = load_design(place)
    if design.name != record.design:
        raise InputError(
            "another design than the run's",
            place.as_posix(),
            "--design",
            found=design.name,
            allowed=record.design,
        )
    inputs = data.get("inputs")
    if design.digest == (inputs.get("design.toml") if isinstance(inputs, dict) else None):
        return place, design, []
    folder = place.parent if place.is_file() else place
    if design.revision != record.revision and same_record(folder, record.revision, raw):
        return place, design, []
    raise InputError("the design has changed since the run: generate it again", where, found=place.as_posix())


def _subject(
    folder: Path, record: Record, data: Mapping[str, Any], files: Mapping[str, bytes], known: Sequence[Path]
) -> Subject:
    where = folder.as_posix()
    catalog = load_catalog(tuple(known))
    board = board_of(folder, record, files, known)
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


def board_of(folder: Path, record: Record, files: Mapping[str, bytes], known: Sequence[Path]) -> Board:
    """Return the board as the run's CAD file has it; raises InputError where it has none to read whole."""
    from boardgen.readback.cad_board import read_cad_board  # noqa: PLC0415 - loads the readers

    cad = next((OutFile(name, files[name]) for name in sorted(files) if name.endswith(".kicad_pcb")), None)
    if cad is None:
        raise InputError("the run has no CAD board", folder.as_posix())
    project = next((files[name] for name in sorted(files) if name.endswith(".kicad_pro")), None)
    place = folder / cad.path
    intent = intent_of_run(place, None, known)
    read = read_cad_board(
        cad.data,
        place.as_posix(),
        intent.fab,
        intent.kinds(),
        project,
        record.design,
        intent.standoffs(),
    )
    errors = [f for f in read.findings if f.severity is Severity.ERROR]
    if errors:
        raise InputError(
            "the run's CAD board cannot be read whole", place.as_posix(), found=errors[0].message
        )
    return replace(read.board, name=record.design, revision=record.revision)


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
        return guarded(beside.name, lambda: board_of(beside, record, files, known))
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
