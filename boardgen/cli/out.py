"""Writing to people and to programs: JSON on standard output, tables, progress on standard error."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from boardgen.cli.guard import CLEAN, FINDINGS
from boardgen.errors import Finding, Severity
from boardgen.export.files import plain_line

_CLEAR_LINE = "\x1b[2K"  # ECMA-48, erase in line
PIPE_WIDTH = 160  # columns where the output is not a terminal and has no width of its own


def write_json(value: object) -> None:
    """Write *value* to standard output as indented JSON, in ASCII so that every pipe can carry it."""
    sys.stdout.write(json.dumps(value, indent=2) + "\n")


def write_text(text: str) -> None:
    """Write *text* to standard output; what its encoding has not becomes question marks."""
    sys.stdout.write(_writable(text, sys.stdout))


def write_lines(lines: Sequence[str], as_json: bool = False) -> None:
    """Write *lines* for people: to standard error where standard output is for JSON."""
    stream = sys.stderr if as_json else sys.stdout
    for line in lines:
        stream.write(_writable(plain_line(line), stream) + "\n")


def _writable(text: str, stream: Any) -> str:
    """Return *text* with what the stream's encoding has not replaced by question marks."""
    encoding = getattr(stream, "encoding", None) or "utf-8"
    return text.encode(encoding, "replace").decode(encoding)


def write_table(heads: Sequence[str], rows: Sequence[Sequence[str]], as_json: bool = False) -> None:
    """Write *rows* under *heads*, columns aligned; in colour only on a terminal, never with NO_COLOR."""
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    stream = sys.stderr if as_json else sys.stdout
    console = Console(file=stream, highlight=False, markup=False, emoji=False)
    if not console.is_terminal:
        console.width = PIPE_WIDTH
    table = Table(box=None, pad_edge=False, show_edge=False, header_style="bold")
    for head in heads:
        table.add_column(head, overflow="fold")
    for row in rows:
        table.add_row(*(Text(_writable(plain_line(cell), stream)) for cell in row))
    console.print(table)


@contextmanager
def progress(title: str) -> Iterator[Callable[[str], None] | None]:
    """Give a voice that shows the stage being worked on, or None where there is no terminal to show it.

    One line of standard error, written over at each stage and taken away at the end. No thread turns
    anything: a process with one thread can fork, and work goes on beside it.
    """
    stream = sys.stderr
    if not stream.isatty() or os.environ.get("TERM", "") in ("", "dumb"):
        yield None
        return

    def show(text: str) -> None:
        stream.write(f"\r{_CLEAR_LINE}{_writable(text, stream)}")
        stream.flush()

    show(f"{title} ...")
    try:
        yield lambda stage: show(f"{title}: {stage} ...")
    finally:
        show("")


def finding_line(finding: Finding) -> str:
    """Return *finding* as one line for people."""
    text = f"{finding.severity}: {finding.rule}: {finding.message}"
    if finding.items:
        text += f" ({' and '.join(finding.items)})"
    if finding.at is not None:
        text += f" at {finding.at.x.mm:.2f}, {finding.at.y.mm:.2f} mm"
    if finding.layer:
        text += f", {finding.layer}"
    if finding.measured is not None and finding.limit is not None:
        text += f": {finding.measured.mm:.3f} mm, limit {finding.limit.mm:.3f} mm"
    return text


def tally(findings: Sequence[Finding]) -> str:
    """Return how many findings there are of each severity, in words."""
    if not findings:
        return "no findings"
    counts = [(str(s), sum(f.severity is s for f in findings)) for s in Severity]
    return ", ".join(f"{n} {word}{'' if n == 1 else 's'}" for word, n in counts if n)


def exit_code(findings: Sequence[Finding]) -> int:
    """Return what a command with these *findings* exits with."""
    return FINDINGS if any(f.severity is Severity.ERROR for f in findings) else CLEAN
