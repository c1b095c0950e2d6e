"""A board edited by hand in a CAD program: read, checked by every rule, and held against its design."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from boardgen.errors import BoardgenError, Finding, InputError, Severity
from boardgen.export.summary import Check
from boardgen.pipeline.cad_intent import intent_of_design, intent_of_run
from boardgen.pipeline.stopwatch import Progress, Stopwatch
from boardgen.readfile import read_bytes
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

    data = read_bytes(path, path.as_posix(), MAX_BYTES, "board file")
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
        read = read_cad_board(
            data,
            path.as_posix(),
            intent.fab,
            intent.kinds(),
            project,
            intent.name,
            intent.standoffs(),
            intent.fronts(),
            intent.serving(),
        )
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


def _project(path: Path) -> bytes | None:
    """Return the project file beside the board; None where there is none that can be read."""
    beside = path.with_suffix(".kicad_pro")
    try:
        return read_bytes(beside, beside.as_posix(), MAX_PROJECT)
    except BoardgenError:
        return None


__all__ = ["CadCheck", "check_cad", "is_cad_board"]
