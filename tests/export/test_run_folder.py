"""A run is written whole or not at all, and an earlier one survives any failure."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from boardgen.errors import InputError, MachineError
from boardgen.export import run_folder
from boardgen.export.files import OutFile
from boardgen.export.run_folder import check_writable, write_run
from boardgen.filing import take_lock

FIRST = (OutFile("a.txt", b"one"), OutFile("sub/b.txt", b"two"))
SECOND = (OutFile("a.txt", b"three"),)


def tree(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def visible(folder: Path) -> list[str]:
    return sorted(p.name for p in folder.iterdir())


def test_a_run_replaces_the_earlier_one_as_a_whole(tmp_path):
    write_run(tmp_path, "x-A", FIRST)
    assert tree(tmp_path / "x-A") == {"a.txt": b"one", "sub/b.txt": b"two"}
    write_run(tmp_path, "x-A", SECOND)
    assert tree(tmp_path / "x-A") == {"a.txt": b"three"}
    assert visible(tmp_path) == ["x-A"]


def test_without_an_exchange_call_the_swap_is_two_renames(tmp_path, monkeypatch):
    monkeypatch.setattr(run_folder, "exchange", lambda _a, _b: False)
    write_run(tmp_path, "x-A", FIRST)
    write_run(tmp_path, "x-A", SECOND)
    assert tree(tmp_path / "x-A") == {"a.txt": b"three"}
    assert visible(tmp_path) == ["x-A"]


def test_a_failed_write_leaves_the_earlier_run_untouched(tmp_path, monkeypatch):
    write_run(tmp_path, "x-A", FIRST)
    before = tree(tmp_path / "x-A")

    def full(_path: Path, _data: bytes) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(run_folder, "write_new", full)
    with pytest.raises(MachineError, match=r"x-A: the run could not be written: No space left on device$"):
        write_run(tmp_path, "x-A", SECOND)
    monkeypatch.undo()
    assert tree(tmp_path / "x-A") == before
    assert visible(tmp_path) == ["x-A"]


def test_a_failed_swap_puts_the_earlier_run_back(tmp_path, monkeypatch):
    write_run(tmp_path, "x-A", FIRST)
    monkeypatch.setattr(run_folder, "exchange", lambda _a, _b: False)
    real = Path.rename

    def rename(self: Path, target: Path) -> Path:
        if self.name.endswith("-new"):
            raise OSError(5, "Input/output error")
        return real(self, target)

    monkeypatch.setattr(Path, "rename", rename)
    with pytest.raises(MachineError):
        write_run(tmp_path, "x-A", SECOND)
    monkeypatch.undo()
    assert tree(tmp_path / "x-A")["a.txt"] == b"one"
    assert visible(tmp_path) == ["x-A"]


def test_two_writers_at_once_are_refused(tmp_path):
    lock = take_lock(tmp_path / ".x-A.boardgen-lock")
    assert lock is not None
    with pytest.raises(
        MachineError, match=r"^x-A: another boardgen is writing this run; try again when it is done$"
    ):
        write_run(tmp_path, "x-A", FIRST)
    lock.release()
    write_run(tmp_path, "x-A", FIRST)
    assert visible(tmp_path) == ["x-A"]


def test_a_file_in_the_way_is_an_input_error(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(InputError, match="leads through a file"):
        check_writable(tmp_path / "file" / "out")


def test_a_folder_without_permission_is_a_machine_error(tmp_path, monkeypatch):
    monkeypatch.setattr(os, "access", lambda _path, _mode: False)  # root may write anywhere
    with pytest.raises(MachineError, match=r"no permission to write in"):
        check_writable(tmp_path / "out")
