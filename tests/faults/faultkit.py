"""What the tests of faults share: two small designs of one name, folders as bytes, another user."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

NAME = "desk-A"
DESIGN = """\
name = "desk"
title = "{title}"
module = "pico-2"
connector = "dsub-9-socket-right-angle"
{more}
[[contacts]]
number = 1
signal = "START"
kind = "switch"

[[contacts]]
number = 2
signal = "STOP"
kind = "switch"

[[contacts]]
number = 5
kind = "ground"
"""


def design(folder: Path, title: str = "Two buttons", more: str = "") -> Path:
    """Write the design into *folder* and return it."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "design.toml").write_text(DESIGN.format(title=title, more=more))
    return folder


def tree(folder: Path) -> dict[str, bytes | None]:
    """Return everything in *folder* by its path; None for a folder."""
    return {
        p.relative_to(folder).as_posix(): p.read_bytes() if p.is_file() else None
        for p in sorted(folder.rglob("*"))
    }


def but_timings(run: dict[str, bytes | None]) -> dict[str, bytes | None]:
    """Return a run's tree without the one file that may differ."""
    return {path: data for path, data in run.items() if path != "timings.json"}


def boardgen(*words: str, cwd: Path, before: tuple[str, ...] = ()) -> subprocess.CompletedProcess[str]:
    """Run the command line in a process of its own, behind the command *before*."""
    return subprocess.run(
        [*before, sys.executable, "-m", "boardgen", *words],
        cwd=cwd,
        capture_output=True,
        text=True,
        check=False,
    )


def as_nobody() -> tuple[str, ...] | None:
    """Return what runs a command without root's rights; () where we have none, None where there is no way."""
    if os.geteuid() != 0:
        return ()
    if shutil.which("setpriv") is None:
        return None
    before = ("setpriv", "--reuid=65534", "--regid=65534", "--clear-groups", "--")
    seen = subprocess.run(
        [*before, sys.executable, "-c", "import boardgen"], capture_output=True, check=False
    )
    return before if seen.returncode == 0 else None
