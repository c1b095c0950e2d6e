"""Whether a run may be ordered: whole, clean, of this tool's version, and of the design as it is now."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from boardgen import __version__
from boardgen.board.model import Board
from boardgen.catalog.load import load_catalog
from boardgen.design.load import design_catalogs, load_design
from boardgen.errors import Finding, InputError, Severity
from boardgen.export.files import OutFile
from boardgen.export.run_folder import RECORD
from boardgen.order.model import Ordered
from boardgen.order.printing import printed_as_made
from boardgen.pipeline.cad_intent import intent_of_run
from boardgen.pipeline.check_run import MAX_FILE, check_run
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
    _same_tool(summary.get("tool"), where)
    place, notes = _design(record, summary, design, where)
    known = tuple(catalogs) if place is None else design_catalogs(place, catalogs)
    _clean_record(record, summary, where)
    files = tuple(_recorded(folder, row) for row in record.files)
    _all_there(record, summary, where)
    checked = check_run(folder, known)
    _clean_files(checked.findings, where)
    notes += [f for f in checked.findings if f.rule == "run-file" and f.severity is Severity.WARNING]
    catalog = load_catalog(known)
    fab = catalog.fab(record.fab)
    digest = hashlib.sha256(read_bytes(folder / RECORD, where, MAX_RECORD)).hexdigest()
    return Ordered(
        record,
        summary,
        digest,
        files,
        fab,
        _board(folder, record, files, known),
        catalog.module(str(summary.get("module"))),
        catalog.connector(str(summary.get("connector"))),
        tuple(notes),
    )


def _same_tool(tool: object, where: str) -> None:
    wanted = f"boardgen {__version__}"
    if tool != wanted:
        raise InputError(
            "the run was made by another version of the tool: generate it again",
            where,
            found=str(tool)[:60],
            allowed=wanted,
        )


def _design(
    record: Record, summary: dict[str, object], given: Path | None, where: str
) -> tuple[Path | None, list[Finding]]:
    """Return the design's place, None where it is not at hand, and what is to be said of that."""
    inputs = summary.get("inputs")
    wanted = inputs.get("design.toml") if isinstance(inputs, dict) else None
    place = given if given is not None else Path("designs") / record.design
    if given is None and not place.exists():
        message = f"the design is not at hand (looked for {place.as_posix()}), so whether it has changed "
        message += "since the run is not known; --design PATH names it"
        return None, [Finding(RULE, Severity.NOTE, message)]
    design = load_design(place)
    if design.name != record.design:
        raise InputError(
            "another design than the run's",
            place.as_posix(),
            "--design",
            found=design.name,
            allowed=record.design,
        )
    if design.digest != wanted:
        raise InputError(
            "the design has changed since the run: generate it again", where, found=place.as_posix()
        )
    return place, []


def _clean_record(record: Record, summary: dict[str, object], where: str) -> None:
    errors = [f for f in record.findings if f.severity is Severity.ERROR]
    if errors:
        many = f"{len(errors)} findings" if len(errors) > 1 else "a finding"
        raise InputError(
            f"the run has {many} of severity error and is not for fabrication",
            where,
            found=f"{errors[0].rule}: {errors[0].message}",
        )
    checks = summary.get("checks")
    rows = checks if isinstance(checks, dict) else {}
    failed = sorted(k for k, row in rows.items() if not (isinstance(row, dict) and row.get("passed") is True))
    names = [name for name in rows if name.startswith("read-back")]
    if failed:
        raise InputError("a check of the run failed", where, found=", ".join(failed)[:200])
    if not names:
        raise InputError("the run's files were never read back: generate it again", where)


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


def _board(folder: Path, record: Record, files: Sequence[OutFile], catalogs: Sequence[Path]) -> Board:
    """Return the board as the run's files have it: what panels copy and figures are measured on."""
    from boardgen.readback.cad_board import read_cad_board  # noqa: PLC0415 - loads the readers

    cad = next((file for file in files if file.path.endswith(".kicad_pcb")), None)
    if cad is None:
        raise InputError("the run has no CAD board", folder.as_posix())
    project = next((file.data for file in files if file.path.endswith(".kicad_pro")), None)
    place = folder / cad.path
    intent = intent_of_run(place, None, catalogs)
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
    board = replace(read.board, name=record.design, revision=record.revision)
    return printed_as_made(board, files)
