"""The ``revise`` command."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from boardgen.cli.guard import CLEAN
from boardgen.cli.out import progress, write_json, write_lines

if TYPE_CHECKING:
    from boardgen.revision.revise import Revised


@dataclass(frozen=True, slots=True)
class Beside:
    """The design of a run, or the run of a design, where they are not found by name."""

    design: Path | None = None
    run: Path | None = None


def run(path: Path, to: Path | None, beside: Beside, catalogs: Sequence[Path], as_json: bool) -> int:
    """Open the next revision from the run or design at *path*; returns the exit code."""
    with progress("revising"):
        from boardgen.revision.revise import revise

        done = revise(path, to, beside.design, beside.run, catalogs)
    write_lines(_lines(done), as_json)
    if as_json:
        write_json(_data(done))
    return CLEAN


def _lines(done: Revised) -> list[str]:
    lines = [f"{done.path.as_posix()}: revision {done.after}, opened from {done.before}"]
    lines += [f"note: {text}" for text in done.notes]
    lines.append(f"{len(done.kept)} signals keep their pins, {done.parts} parts their places")
    for remark in done.remarks:
        reason = f": {remark.reason}" if remark.reason else ""
        lines.append(f"by hand, {remark.verdict}: {remark.thing}{reason}")
    for item in done.errata:
        fixed = f"fixed in {item.fixed_in}" if item.fixed_in else "not fixed yet"
        lines.append(f"erratum of {item.revision}: {item.symptom} ({fixed})")
    return lines


def _data(done: Revised) -> dict[str, object]:
    return {
        "design": done.path.as_posix(),
        "before": done.before,
        "after": done.after,
        "kept": [{"signal": signal, "pin": pin} for signal, pin in done.kept],
        "parts": done.parts,
        "by_hand": [
            {"thing": r.thing, "carried": not r.reason, "verdict": r.verdict, "reason": r.reason}
            for r in done.remarks
        ],
        "errata": [
            {"revision": e.revision, "symptom": e.symptom, "fixed_in": e.fixed_in} for e in done.errata
        ],
        "notes": list(done.notes),
    }
