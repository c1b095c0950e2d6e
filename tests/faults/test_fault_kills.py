"""A run killed at any moment leaves a whole run, and the next one tidies up."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


def kill(folder: Path, moments: int, seed: int) -> dict[str, object]:
    """Run the killer, a process of its own: it forks, and is to have one thread."""
    command = [sys.executable, "-m", "tests.faults.kills", "--folder", str(folder)]
    done = subprocess.run(
        [*command, "--moments", str(moments), "--seed", str(seed)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stdout, done.stderr[-2000:]
    found: dict[str, object] = json.loads(done.stdout)
    return found


def test_killed_at_six_moments(tmp_path):
    found = kill(tmp_path, 6, 3)
    assert found["faults"] == []
    assert sum(found["ends"].values()) == 6


@pytest.mark.slow
def test_killed_at_two_hundred_moments(tmp_path):
    found = kill(tmp_path, 200, 7)
    assert found["faults"] == []
    assert sum(found["ends"].values()) == 200
    ends = " ".join(found["ends"])
    assert "the earlier run stands" in ends
    assert "the new run stands" in ends
