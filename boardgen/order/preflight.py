"""Whether a run may be ordered: whole, clean, of this tool's version, and of the design as it is now."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Sequence
from pathlib import Path

from boardgen.catalog.load import load_catalog
from boardgen.design.load import design_catalogs
from boardgen.errors import Finding, InputError, Severity
from boardgen.export.files import OutFile
from boardgen.export.run_folder import RECORD
from boardgen.order.model import Ordered
from boardgen.order.printing import printed_as_made
from boardgen.pipeline.check_run import MAX_FILE, check_run
from boardgen.pipeline.opened import (
    board_of_run,
    design_of_run,
    has_changed,
    is_as_made,
    require_clean,
    require_same_tool,
)
from boardgen.pipeline.record import MAX_RECORD, Listed, Record, read_record
from boardgen.readfile import leads_out, read_bytes

RULE = "order"
_SHEETS = ("fabrication.svg", "assembly.svg", "connector-views.svg", "drawings.pdf")
NEEDED = tuple(f"assembly/{name}" for name in ("bom.csv", "positions.csv", *_SHEETS))


def ordered_run(run: Path, design: Path | None = None, catalogs: Sequence[Path] = ()) -> Ordered:
    """Return the run at *run* with all that its order needs; nothing is written.

    *design* is the design it was made from, by default ``designs/NAME`` from here where that is there. Raises
    InputError, one clear reason at a time, for a run that must not be ordered: of another version of the
    tool, tampered with, with findings of severity error, with a failed check or read-back, or of a design
    that has changed since.
    """
    folder = run.parent if run.name == RECORD else run
    where = folder.as_posix()
    if not (folder / RECORD).is_file():
        raise InputError(f"no run: it holds no {RECORD}", where)
    record, summary = read_record(folder / RECORD)
    require_same_tool(summary, where)
    place, notes = _design(record, summary, design, where)
    known = tuple(catalogs) if place is None else design_catalogs(place, catalogs)
    require_clean(record, summary, where)
    files = tuple(_recorded(folder, row) for row in record.files)
    _all_there(record, summary, where)
    checked = check_run(folder, known)
    _clean_files(checked.findings, where)
    notes += [f for f in checked.findings if f.rule == "run-file" and f.severity is Severity.WARNING]
    catalog = load_catalog(known)
    fab = catalog.fab(record.fab)
    board = board_of_run(folder, record, {file.path: file.data for file in files}, known)
    digest = hashlib.sha256(read_bytes(folder / RECORD, where, MAX_RECORD)).hexdigest()
    return Ordered(
        record,
        summary,
        digest,
        files,
        fab,
        printed_as_made(board, files),
        catalog.module(str(summary.get("module"))),
        catalog.connector(str(summary.get("connector"))),
        tuple(notes),
    )


def _design(
    record: Record, summary: dict[str, object], given: Path | None, where: str
) -> tuple[Path | None, list[Finding]]:
    """Return the design's place, None where it is not at hand, and what is to be said of that."""
    place, design = design_of_run(record, given)
    if design is None:
        message = f"the design is not at hand (looked for {place.as_posix()}), so whether it has changed "
        message += "since the run is not known; --design PATH names it"
        return None, [Finding(RULE, Severity.NOTE, message)]
    if not is_as_made(design, summary):
        raise has_changed(where, place)
    return place, []


def _all_there(record: Record, summary: dict[str, object], where: str) -> None:
    """Raise InputError where what goes into the package is not of the run."""
    lacks = [name for name in NEEDED if name not in {row.path for row in record.files}]
    if lacks:
        raise InputError("the run has no such file: generate it again", where, found=", ".join(lacks))
    pins = summary.get("pin_map")
    digest = pins.get("digest") if isinstance(pins, dict) else None
    if not isinstance(digest, str) or not re.fullmatch(r"[0-9a-f]{1,64}", digest):
        raise InputError("the record does not say which pin map the run has", where, "pin_map.digest")


def _recorded(folder: Path, row: Listed) -> OutFile:
    """Return a file of the run as recorded; raises InputError for one that is another, or not there."""
    place = folder / row.path
    where = place.as_posix()
    if leads_out(place, folder):
        raise InputError("a file of the run lies outside its folder", where)
    data = read_bytes(place, where, MAX_FILE)
    if hashlib.sha256(data).hexdigest() != row.sha256:
        raise InputError("the file is not the one the run recorded (its sha256 differs)", where)
    return OutFile(row.path, data)


def _clean_files(findings: Sequence[Finding], where: str) -> None:
    errors = [f for f in findings if f.severity is Severity.ERROR]
    if errors:
        raise InputError(
            "the run's files do not read back clean, so it is not for fabrication",
            where,
            found=f"{len(errors)}, the first: {errors[0].rule}: {errors[0].message}",
        )
