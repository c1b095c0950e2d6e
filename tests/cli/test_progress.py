"""The line that tells a person at a terminal what is being worked on."""

from __future__ import annotations

import io
import threading

import pytest

from boardgen.cli.out import progress


class Terminal(io.StringIO):
    encoding = "ascii"

    def isatty(self) -> bool:
        return True


def shown(written: str) -> str:
    """What stands on the line after *written*: a return goes to its start, the erasure empties it."""
    line = written.rpartition("\r")[2]
    assert line.startswith("\x1b[2K")
    return line.removeprefix("\x1b[2K")


def test_a_stage_is_shown_and_taken_away_without_a_second_thread(monkeypatch):
    terminal, threads = Terminal(), threading.active_count()
    monkeypatch.setattr("sys.stderr", terminal)
    monkeypatch.setenv("TERM", "xterm")
    with progress("generating") as voice:
        assert shown(terminal.getvalue()) == "generating ..."
        voice("routing \N{GREEK SMALL LETTER OMEGA}")
        assert shown(terminal.getvalue()) == "generating: routing ? ..."
        assert threading.active_count() == threads
    assert shown(terminal.getvalue()) == ""
    assert "\n" not in terminal.getvalue()


def test_the_line_goes_when_the_work_fails(monkeypatch):
    terminal = Terminal()
    monkeypatch.setattr("sys.stderr", terminal)
    monkeypatch.setenv("TERM", "xterm")
    with pytest.raises(OSError, match="full"), progress("generating"):
        raise OSError("full")
    assert shown(terminal.getvalue()) == ""


@pytest.mark.parametrize("term", ["dumb", ""])
def test_nothing_is_shown_where_lines_cannot_be_written_over(monkeypatch, term):
    terminal = Terminal()
    monkeypatch.setattr("sys.stderr", terminal)
    monkeypatch.setenv("TERM", term)
    with progress("generating") as voice:
        assert voice is None
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setattr("sys.stderr", io.StringIO())
    with progress("generating") as voice:
        assert voice is None
    assert terminal.getvalue() == ""
