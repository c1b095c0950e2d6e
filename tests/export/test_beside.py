"""Work done beside gives the same answer, and the same errors, as work done here."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from boardgen.export import beside
from boardgen.export.beside import Beside

FORKED = """
import os
from boardgen.export.beside import Beside
here = os.getpid()
job = Beside(lambda: (os.getpid(), "x" * 5_000_000))
pid, text = job.answer()
print(pid != here, len(text))
failing = Beside(lambda: 1 / 0 if os.getpid() != here else "done here")
print(failing.answer())
"""


def test_another_process_does_the_work_and_a_failed_one_is_made_good():
    run = subprocess.run([sys.executable, "-c", FORKED], capture_output=True, text=True, check=True)
    forks = hasattr(os, "fork") and (os.cpu_count() or 1) > 1
    assert run.stdout.splitlines() == [f"{forks} 5000000", "done here"]


def test_without_a_fork_the_work_is_done_here(monkeypatch):
    monkeypatch.setattr(beside, "_can_fork", lambda: False)
    assert Beside(os.getpid).answer() == os.getpid()


def test_an_error_comes_up_as_itself(monkeypatch):
    monkeypatch.setattr(beside, "_can_fork", lambda: False)

    def work() -> int:
        raise ValueError("no such layer")

    with pytest.raises(ValueError, match=r"^no such layer$"):
        Beside(work).answer()
