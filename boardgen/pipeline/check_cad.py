"""A board edited by hand in a CAD program: read, checked by every rule, and held against its design."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from boardgen.errors import Finding, InputError, MachineError, Severity
from boardgen.export.summary import Check
from boardgen.pipeline.cad_intent import intent_of_design, intent_of_run
from boardgen.pipeline.stopwatch import Progress, Stopwatch
from boardgen.rules.check import check_board
from boardgen.rules.waive import let_pass

ENDING = ".kicad_pcb"
MAX_PROJECT = 8_000_000


@dataclass(frozen=True, slots=True)
class CadCheck:
    """What ``check`` says of a board file: its design, the findings, the evidence, and what is locked."""

    design: str
    revision: str
    findings: tuple[Finding, ...]
    checks: tuple[Check, ...]
    locked: tuple[str, ...]


def is_cad_board(path: Path) -> bool:
    """Return whether *path* names a board file of the CAD program."""
    return path.suffix.casefold() == ENDING


def check_cad(
    path: Path,
    design: Path | None = None,
    fab: str | None = None,
    catalogs: Sequence[Path] = (),
    revision: str | None = None,
    progress: Progress | None = None,
) -> CadCheck:
    """Check the board file at *path* by every rule at a fab class, and hold it against its design.

    The design is the one at *design*, else the run the file lies in (``cad/NAME.kicad_pcb`` of a run's
    folder). *fab* takes another fab class than the design's. Places of findings are the file's own. Raises
    InputError for a file that is no board, and where no design can be found.
    """
    from boardgen.readback.cad_board import against_design, read_cad_board  # noqa: PLC0415
    from boardgen.readback.cad_board.tree import MAX_BYTES  # noqa: PLC0415

    data = _bytes(path, MAX_BYTES)
    watch = Stopwatch(progress)
    if design is not None:
        with watch.stage("the design"):
            intent = intent_of_design(design, revision, fab, catalogs, watch)
    else:
        if revision is not None:
            raise InputError(
                "goes with --design; a finished run has its revision", key="--revision", found=revision
            )
        intent = intent_of_run(path, fab, catalogs)
    with watch.stage("reading the board"):
        project = _project(path)
        read = read_cad_board(data, path.as_posix(), intent.fab, intent.kinds(), project, intent.name)
    with watch.stage("rule check"):
        report = check_board(read.board, None, intent.fab)
    compared = against_design(read, intent)
    groups = {
        "board file": read.findings,
        "rule check": report.findings,
        f"as designed ({intent.source})": compared.findings,
    }
    counts: dict[str, dict[str, object]] = {
        "board file": {"version": read.version, **dict(read.counts), "locked items": list(read.locked)},
        "rule check": {"fab class": intent.fab.id, **dict(report.counts)},
        f"as designed ({intent.source})": dict(compared.counts),
    }
    passed = {name: let_pass(found, intent.accepted, intent.revision) for name, found in groups.items()}
    findings = tuple(finding for found in passed.values() for finding in found)
    checks = tuple(
        Check(name, not any(f.severity is Severity.ERROR for f in found), counts[name])
        for name, found in passed.items()
    )
    return CadCheck(intent.name, intent.revision, findings, checks, read.locked)


def _bytes(path: Path, most: int) -> bytes:
    where = path.as_posix()
    try:
        if path.is_dir():
            raise InputError("a folder, not a board file", where)
        size = path.stat().st_size
        if size > most:
            raise InputError(
                "the board file is too large", where, found=f"{size} bytes", allowed=f"{most} bytes"
            )
        with path.open("rb") as file:
            return file.read(most + 1)
    except FileNotFoundError:
        raise InputError("there is no such file", where) from None
    except OSError as error:
        raise MachineError(f"{where}: {error.strerror or type(error).__name__}") from None


def _project(path: Path) -> bytes | None:
    """Return the project file beside the board; None where there is none that can be read."""
    beside = path.with_suffix(".kicad_pro")
    try:
        if not beside.is_file() or beside.stat().st_size > MAX_PROJECT:
            return None
        return beside.read_bytes()
    except OSError:
        return None


__all__ = ["CadCheck", "check_cad", "is_cad_board"]
