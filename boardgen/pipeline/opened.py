"""A finished run opened for what comes after it: of this tool, clean, of its design, with its board."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from boardgen import __version__
from boardgen.board.model import Board
from boardgen.design.load import load_design
from boardgen.design.model import Design
from boardgen.errors import InputError, Severity
from boardgen.pipeline.cad_intent import intent_of_run
from boardgen.pipeline.record import Record


def require_same_tool(summary: Mapping[str, Any], where: str) -> None:
    """Raise InputError for a run that another version of the tool made."""
    tool, wanted = summary.get("tool"), f"boardgen {__version__}"
    if tool != wanted:
        raise InputError(
            "the run was made by another version of the tool: generate it again",
            where,
            found=str(tool)[:60],
            allowed=wanted,
        )


def require_clean(record: Record, summary: Mapping[str, Any], where: str) -> None:
    """Raise InputError for a run with an error among its findings, a failed check, or no read-back."""
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
    if failed:
        raise InputError("a check of the run failed", where, found=", ".join(failed)[:200])
    if not any(name.startswith("read-back") for name in rows):
        raise InputError("the run's files were never read back: generate it again", where)


def design_of_run(record: Record, given: Path | None) -> tuple[Path, Design | None]:
    """Return where the run's design is looked for, and the design; None where it is not at hand.

    *given* is the place a user named; else it is ``designs/NAME`` from here. Raises InputError where
    another design lies there.
    """
    place = given if given is not None else Path("designs") / record.design
    if given is None and not place.exists():
        return place, None
    design = load_design(place)
    if design.name != record.design:
        raise InputError(
            "another design than the run's",
            place.as_posix(),
            "--design",
            found=design.name,
            allowed=record.design,
        )
    return place, design


def is_as_made(design: Design, summary: Mapping[str, Any]) -> bool:
    """Return whether *design* is to the byte the one the run was made from."""
    inputs = summary.get("inputs")
    return bool(isinstance(inputs, dict) and inputs.get("design.toml") == design.digest)


def has_changed(where: str, place: Path) -> InputError:
    """Return the error for a design that is not the run's any more."""
    return InputError(
        "the design has changed since the run: generate it again", where, found=place.as_posix()
    )


def board_of_run(
    folder: Path, record: Record, files: Mapping[str, bytes], catalogs: Sequence[Path] = ()
) -> Board:
    """Return the board as the CAD file among *files* has it; raises InputError where none is read whole."""
    from boardgen.readback.cad_board import read_cad_board  # noqa: PLC0415 - loads the readers

    name = next((name for name in sorted(files) if name.endswith(".kicad_pcb")), None)
    if name is None:
        raise InputError("the run has no CAD board", folder.as_posix())
    project = next((files[name] for name in sorted(files) if name.endswith(".kicad_pro")), None)
    place = folder / name
    intent = intent_of_run(place, None, catalogs)
    read = read_cad_board(
        files[name],
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
