"""The ``publish`` command."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from boardgen.cli.guard import CLEAN
from boardgen.cli.out import finding_line, progress, write_json, write_lines


def run(path: Path, to: Path, design: Path | None, catalogs: Sequence[Path], as_json: bool) -> int:
    """Write the page of the run at *path* as *to*; returns the exit code."""
    with progress("publishing"):
        from boardgen.publish.publish import publish

        done = publish(path, to, design, catalogs)
    lines = [finding_line(finding) for finding in done.notes]
    lines.append(
        f"{done.design}-{done.revision}: page in {done.path.as_posix()}, {done.size / 1000:.0f} kB, "
        f"revisions told: {', '.join(done.revisions)}"
    )
    write_lines(lines, as_json)
    if as_json:
        notes = [{"rule": f.rule, "severity": str(f.severity), "message": f.message} for f in done.notes]
        write_json(
            {
                "file": done.path.as_posix(),
                "bytes": done.size,
                "sha256": done.sha256,
                "design": done.design,
                "revision": done.revision,
                "pin_map": done.pin_map,
                "revisions": list(done.revisions),
                "notes": notes,
                "exit_code": CLEAN,
            }
        )
    return CLEAN
