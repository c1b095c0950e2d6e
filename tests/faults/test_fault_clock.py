"""No output and no decision hangs on the clock: only the stopwatch may look at it."""

from __future__ import annotations

import ast
import time
from pathlib import Path

from faultkit import NAME, but_timings, design, tree

import boardgen
from boardgen.pipeline import generate

PACKAGE = Path(boardgen.__file__).parent
STOPWATCH = "pipeline/stopwatch.py"
CLOCKS = {"time", "datetime", "sched", "calendar"}
STAMPS = {
    "st_mtime",
    "st_ctime",
    "st_atime",
    "st_mtime_ns",
    "st_ctime_ns",
    "getmtime",
    "getctime",
    "uuid1",
    "times",
}


def looks_at_the_clock(path: Path) -> list[str]:
    """Return what in a module is a clock: imports of clock modules, times of files, ids made of the time."""
    found = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        names: list[str] = []
        if isinstance(node, ast.Import):
            names = [item.name.split(".")[0] for item in node.names]
        elif isinstance(node, ast.ImportFrom):
            names = [(node.module or "").split(".")[0]]
        found += [f"line {node.lineno}: imports {name}" for name in names if name in CLOCKS]
        if isinstance(node, ast.Attribute) and node.attr in STAMPS:
            found.append(f"line {node.lineno}: uses {node.attr}")
    return found


def test_only_the_stopwatch_looks_at_the_clock():
    found = {
        path.relative_to(PACKAGE).as_posix(): told
        for path in sorted(PACKAGE.rglob("*.py"))
        if (told := looks_at_the_clock(path))
    }
    assert found == {STOPWATCH: ["line 5: imports time"]}


def test_a_clock_that_jumps_changes_no_byte(tmp_path, monkeypatch):
    where = design(tmp_path / "desk")
    generate(where, tmp_path / "plain")
    jumps = iter([2e9, 1e8, 4e9, 0.0] * 100_000)
    monkeypatch.setattr(time, "time", lambda: next(jumps))
    monkeypatch.setattr(time, "perf_counter", lambda: next(jumps))
    generate(where, tmp_path / "jumpy")
    monkeypatch.undo()
    plain, jumpy = (but_timings(tree(tmp_path / out / NAME)) for out in ("plain", "jumpy"))
    assert plain == jumpy
