"""The ``generate`` command."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from boardgen.cli.out import exit_code, finding_line, progress, tally, write_json, write_lines
from boardgen.cli.revision import checked_revision
from boardgen.errors import Severity


def run(path: Path, out: Path, revision: str | None, catalogs: Sequence[Path], as_json: bool) -> int:
    """Generate the design at *path* into a run folder under *out*; returns the exit code."""
    revision = checked_revision(revision)
    with progress("generating") as voice:
        from boardgen.pipeline import generate

        result = generate(path, out, revision, catalogs, voice)
    code = exit_code(result.findings)
    lines = [finding_line(finding) for finding in result.findings]
    lines.append(_headline(result.summary, tally(result.findings)))
    lines.append(f"files in {result.folder.as_posix()}")
    if any(f.severity is Severity.ERROR for f in result.findings):
        lines.append("not for fabrication: see the findings of severity error")
    write_lines(lines, as_json)
    if as_json:
        write_json({"folder": result.folder.as_posix(), "exit_code": code, **result.summary})
    return code


def _headline(summary: Mapping[str, Any], findings: str) -> str:
    board, routing = summary.get("board", {}), summary.get("routing", {})
    layers, vias, links = board.get("copper_layers", 0), routing.get("vias", 0), routing.get("links", 0)
    wires = f"{links} wire link{'' if links == 1 else 's'} to solder, " if links else ""
    return (
        f"{summary.get('design', '')}-{summary.get('revision', '')}: "
        f"{board.get('width_mm', 0):g} x {board.get('height_mm', 0):g} mm, "
        f"{layers} copper layer{'' if layers == 1 else 's'}, "
        f"{routing.get('completed', 0)} of {routing.get('connections', 0)} connections routed, "
        f"{vias} via{'' if vias == 1 else 's'}, {wires}{findings}"
    )
