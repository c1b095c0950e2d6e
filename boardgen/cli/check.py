"""The ``check`` command."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from boardgen.cli.findings_as import WRITERS, Subject, checked_format
from boardgen.cli.out import exit_code, finding_line, progress, tally, write_json, write_lines, write_text
from boardgen.cli.revision import checked_revision


def run(path: Path, revision: str | None, catalogs: Sequence[Path], form: str | None, as_json: bool) -> int:
    """Check the board of the design at *path*; returns the exit code."""
    revision = checked_revision(revision)
    form = checked_format(form, as_json)
    with progress("checking") as voice:
        from boardgen.export.summary import finding_row
        from boardgen.pipeline import check

        result = check(path, revision, catalogs, voice)
    board = result.board
    code = exit_code(result.findings)
    lines = [finding_line(finding) for finding in result.findings]
    lines.append(f"{board.name}-{board.revision}: {tally(result.findings)}")
    write_lines(lines, form != "text")
    if form in WRITERS:
        subject = Subject(f"{board.name}-{board.revision}", path.as_posix())
        write_text(WRITERS[form](result.findings, subject))
    if form == "json":
        write_json(
            {
                "design": board.name,
                "revision": board.revision,
                "findings": [finding_row(finding) for finding in result.findings],
                "exit_code": code,
            }
        )
    return code
