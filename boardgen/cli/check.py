"""The ``check`` command."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from boardgen.cli.findings_as import WRITERS, Subject, checked_format
from boardgen.cli.out import exit_code, finding_line, progress, tally, write_json, write_lines, write_text
from boardgen.cli.revision import checked_revision
from boardgen.errors import Finding, InputError


@dataclass(frozen=True, slots=True)
class _Checked:
    """What was found on the one thing checked; *checks* with their evidence, where there are any."""

    design: str
    revision: str
    findings: tuple[Finding, ...]
    checks: dict[str, object] | None = None


def run(path: Path, revision: str | None, catalogs: Sequence[Path], form: str | None, as_json: bool) -> int:
    """Check what stands at *path*, a design or a run; returns the exit code."""
    revision = checked_revision(revision)
    form = checked_format(form, as_json)
    with progress("checking") as voice:
        from boardgen.export.summary import finding_row

        checked = _check(path, revision, catalogs, voice)
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
    path: Path, revision: str | None, catalogs: Sequence[Path], voice: Callable[[str], None] | None
) -> _Checked:
    """Check *path* as the kind of thing it is."""
    from boardgen.pipeline import check, is_run

    if is_run(path):
        return _run(path, revision, catalogs)
    result = check(path, revision, catalogs, voice)
    return _Checked(result.board.name, result.board.revision, result.findings)


def _run(path: Path, revision: str | None, catalogs: Sequence[Path]) -> _Checked:
    from boardgen.pipeline import check_run

    if revision is not None:
        raise InputError("a finished run has its revision", key="--revision", found=revision)
    result = check_run(path, catalogs)
    checks: dict[str, object] = {
        check.name: {"passed": check.passed, "evidence": dict(check.evidence)} for check in result.checks
    }
    return _Checked(result.design, result.revision, result.findings, checks)
