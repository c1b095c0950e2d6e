"""The ``check`` command."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from boardgen.cli.findings_as import WRITERS, Subject, checked_format
from boardgen.cli.out import exit_code, finding_line, progress, tally, write_json, write_lines, write_text
from boardgen.cli.revision import checked_revision
from boardgen.errors import Finding, InputError

if TYPE_CHECKING:
    from boardgen.export.summary import Check


@dataclass(frozen=True, slots=True)
class _Checked:
    """What was found on the one thing checked; *checks* with their evidence, where there are any."""

    design: str
    revision: str
    findings: tuple[Finding, ...]
    checks: dict[str, object] | None = None


@dataclass(frozen=True, slots=True)
class Against:
    """For a board file: the design to hold it against, and the fab class to check it at, where given."""

    design: Path | None = None
    fab: str | None = None


def run(
    path: Path,
    revision: str | None,
    catalogs: Sequence[Path],
    form: str | None,
    as_json: bool,
    against: Against = Against(),
) -> int:
    """Check what stands at *path*, a design, a run or a board file; returns the exit code."""
    revision = checked_revision(revision)
    form = checked_format(form, as_json)
    with progress("checking") as voice:
        from boardgen.export.summary import finding_row

        checked = _check(path, revision, catalogs, voice, against)
    name = f"{checked.design}-{checked.revision}"
    code = exit_code(checked.findings)
    lines = [finding_line(finding) for finding in checked.findings]
    lines.append(f"{name}: {tally(checked.findings)}")
    write_lines(lines, form != "text")
    if form in WRITERS:
        write_text(WRITERS[form](checked.findings, Subject(name, path.as_posix())))
    if form == "json":
        answer: dict[str, object] = {
            "design": checked.design,
            "revision": checked.revision,
            "findings": [finding_row(finding) for finding in checked.findings],
        }
        if checked.checks is not None:
            answer["checks"] = checked.checks
        write_json({**answer, "exit_code": code})
    return code


def _check(
    path: Path,
    revision: str | None,
    catalogs: Sequence[Path],
    voice: Callable[[str], None] | None,
    against: Against,
) -> _Checked:
    """Check *path* as the kind of thing it is."""
    from boardgen.pipeline import check, is_cad_board, is_run

    if is_cad_board(path):
        return _cad(path, revision, catalogs, voice, against)
    for key, given in (("--design", against.design), ("--fab", against.fab)):
        if given is not None:
            raise InputError("goes with a board file (.kicad_pcb)", key=key, found=str(given))
    if is_run(path):
        return _run(path, revision, catalogs)
    result = check(path, revision, catalogs, voice)
    return _Checked(result.board.name, result.board.revision, result.findings)


def _run(path: Path, revision: str | None, catalogs: Sequence[Path]) -> _Checked:
    from boardgen.pipeline import check_run

    if revision is not None:
        raise InputError("a finished run has its revision", key="--revision", found=revision)
    result = check_run(path, catalogs)
    return _Checked(result.design, result.revision, result.findings, _evidence(result.checks))


def _evidence(checks: Sequence[Check]) -> dict[str, object]:
    return {check.name: {"passed": check.passed, "evidence": dict(check.evidence)} for check in checks}


def _cad(
    path: Path,
    revision: str | None,
    catalogs: Sequence[Path],
    voice: Callable[[str], None] | None,
    against: Against,
) -> _Checked:
    from boardgen.pipeline import check_cad

    result = check_cad(path, against.design, against.fab, catalogs, revision, voice)
    return _Checked(result.design, result.revision, result.findings, _evidence(result.checks))
