"""The ``check`` command."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from boardgen.cli.out import exit_code, finding_line, progress, tally, write_json, write_lines
from boardgen.cli.revision import checked_revision


def run(path: Path, revision: str | None, catalogs: Sequence[Path], as_json: bool) -> int:
    """Check the board of the design at *path*; returns the exit code."""
    revision = checked_revision(revision)
    with progress("checking") as voice:
        from boardgen.export.summary import finding_row
        from boardgen.pipeline import check

        result = check(path, revision, catalogs, voice)
    board = result.board
    code = exit_code(result.findings)
    lines = [finding_line(finding) for finding in result.findings]
    lines.append(f"{board.name}-{board.revision}: {tally(result.findings)}")
    write_lines(lines, as_json)
    if as_json:
        write_json(
            {
                "design": board.name,
                "revision": board.revision,
                "findings": [finding_row(finding) for finding in result.findings],
                "exit_code": code,
            }
        )
    return code
