"""Two processes at one place: one does its work, the other is told; the dead are told from the living."""

from __future__ import annotations

import signal
import subprocess
import sys
from pathlib import Path

import pytest
from faultkit import NAME, boardgen, design, tree

from boardgen.errors import InputError, MachineError
from boardgen.export import run_folder
from boardgen.export.files import OutFile
from boardgen.export.run_folder import hold_run, write_run
from boardgen.filing import scratch_folder, take_lock, write_whole

FIRST = (OutFile("summary.json", b"first"), OutFile("fab/a.GTL", b"one"))
SECOND = (OutFile("summary.json", b"second"),)

HOLDER = """\
import sys, time
from pathlib import Path
from boardgen.export.run_folder import hold_run
from boardgen.filing import scratch_folder, take_lock
kind, place, name = sys.argv[1:]
def wait():
    print("held", flush=True)
    time.sleep(600)
if kind == "run":
    with hold_run(Path(place), name) as at:
        at.beside("new").mkdir()
        (at.beside("new") / "half").write_text("ha")
        wait()
elif kind == "file":
    held = take_lock(Path(place) / name)
    wait()
else:
    with scratch_folder(name) as folder:
        (folder / "half").write_text("ha")
        wait()
"""


@pytest.fixture
def holder(tmp_path, monkeypatch):
    """Return a function that starts a process which holds something, and waits until it does."""
    started = []

    def start(kind: str, place: Path, name: str) -> subprocess.Popen[str]:
        process = subprocess.Popen(
            [sys.executable, "-c", HOLDER, kind, str(place), name], stdout=subprocess.PIPE, text=True
        )
        started.append(process)
        assert process.stdout is not None
        assert process.stdout.readline() == "held\n"
        return process

    yield start
    for process in started:
        process.kill()
        process.wait()
        process.stdout.close()


def test_the_second_run_is_told_at_once_and_changes_nothing(tmp_path, holder):
    design(tmp_path / "desk")
    out = tmp_path / "out"
    write_run(out, NAME, FIRST)
    holder("run", out, NAME)
    before = tree(out)
    done = boardgen("generate", "desk", cwd=tmp_path)
    assert (done.returncode, done.stdout) == (3, "")
    assert (
        done.stderr == f"boardgen: {NAME}: another boardgen is writing this run; try again when it is done\n"
    )
    assert tree(out) == before
    assert (out / f".{NAME}.boardgen-new/half").read_text() == "ha"


def test_runs_of_other_names_go_on_beside_each_other(tmp_path, holder):
    holder("run", tmp_path, "other-B")
    write_run(tmp_path, NAME, FIRST)
    assert sorted(p.name for p in tmp_path.iterdir()) == [
        ".other-B.boardgen-lock",
        ".other-B.boardgen-new",
        NAME,
    ]
    assert (tmp_path / ".other-B.boardgen-new/half").read_text() == "ha"


def test_a_killed_run_of_any_name_is_cleaned_up_by_the_next(tmp_path, holder):
    process = holder("run", tmp_path, "other-B")
    process.send_signal(signal.SIGKILL)
    process.wait()
    assert (tmp_path / ".other-B.boardgen-new/half").exists()
    write_run(tmp_path, NAME, FIRST)
    assert [p.name for p in tmp_path.iterdir()] == [NAME]


def test_an_earlier_run_caught_between_two_names_is_put_back_first(tmp_path):
    write_run(tmp_path, NAME, FIRST)
    before = tree(tmp_path / NAME)
    (tmp_path / NAME).rename(tmp_path / f".{NAME}.boardgen-old")
    (tmp_path / f".{NAME}.boardgen-new").mkdir()
    with hold_run(tmp_path, NAME):
        assert tree(tmp_path / NAME) == before
    assert tree(tmp_path / NAME) == before
    assert [p.name for p in tmp_path.iterdir()] == [NAME]


def test_an_interrupt_between_the_two_renames_puts_it_back(tmp_path, monkeypatch):
    write_run(tmp_path, NAME, FIRST)
    before = tree(tmp_path)
    monkeypatch.setattr(run_folder, "exchange", lambda _a, _b: False)
    rename = Path.rename

    def interrupted(self: Path, target: Path) -> Path:
        if self.name.endswith("-new"):
            raise KeyboardInterrupt
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", interrupted)
    with pytest.raises(KeyboardInterrupt):
        write_run(tmp_path, NAME, SECOND)
    assert tree(tmp_path) == before


def test_a_run_that_comes_to_nothing_leaves_no_folder(tmp_path):
    with pytest.raises(ZeroDivisionError), hold_run(tmp_path / "a/b", NAME):
        raise ZeroDivisionError
    assert list(tmp_path.iterdir()) == []


def test_what_cannot_be_removed_stops_nothing(tmp_path, monkeypatch):
    write_run(tmp_path, NAME, FIRST)
    real = run_folder.discard

    def stuck(path: Path) -> bool:
        return False if path.name.endswith("-new") and path.exists() else real(path)

    monkeypatch.setattr(run_folder, "discard", stuck)
    write_run(tmp_path, NAME, SECOND)
    assert (tmp_path / NAME / "summary.json").read_bytes() == b"second"
    assert (tmp_path / f".{NAME}.boardgen-lock").exists()  # a mark for the next run
    monkeypatch.undo()
    write_run(tmp_path, "else-A", FIRST)
    assert sorted(p.name for p in tmp_path.iterdir()) == [NAME, "else-A"]


def test_a_folder_shut_by_its_own_mode_is_removed_all_the_same(tmp_path):
    write_run(tmp_path, NAME, FIRST)
    (tmp_path / NAME / "fab").chmod(0o500)
    write_run(tmp_path, NAME, SECOND)
    assert tree(tmp_path) == {NAME: None, f"{NAME}/summary.json": b"second"}


def test_a_link_in_the_place_of_our_own_folder_is_not_followed(tmp_path):
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine/letter").write_text("dear")
    out = tmp_path / "out"
    write_run(out, NAME, FIRST)
    for what in ("new", "old", "gone"):
        (out / f".{NAME}.boardgen-{what}").symlink_to(tmp_path / "mine")
    write_run(out, NAME, SECOND)
    assert (tmp_path / "mine/letter").read_text() == "dear"
    assert [p.name for p in out.iterdir()] == [NAME]


@pytest.mark.parametrize("path", ["../x", "/x", "a/../../x", "", "a\\b", "a\0b"])
def test_no_file_of_a_run_lies_outside_it(tmp_path, path):
    write_run(tmp_path / "out", NAME, FIRST)
    before = tree(tmp_path)
    with pytest.raises(InputError, match="a file of the run would lie outside its folder"):
        write_run(tmp_path / "out", NAME, (*SECOND, OutFile(path, b"")))
    assert tree(tmp_path) == before


def test_two_writers_of_one_file(tmp_path, holder):
    target = tmp_path / "device.toml"
    write_whole(target, b"one")
    process = holder("file", tmp_path, ".device.toml.boardgen-part")
    with pytest.raises(MachineError) as told:
        write_whole(target, b"two")
    wanted = f"{target.as_posix()}: another boardgen is writing this file; try again when it is done"
    assert str(told.value) == wanted
    process.kill()
    process.wait()
    write_whole(target, b"three")
    assert tree(tmp_path) == {"device.toml": b"three"}


def test_a_file_finished_but_for_its_hidden_name_is_not_emptied(tmp_path):
    target = tmp_path / "device.toml"
    write_whole(target, b"one", replace=False)
    (tmp_path / ".device.toml.boardgen-part").hardlink_to(target)  # killed between the two steps
    with pytest.raises(InputError, match="the file is there already"):
        write_whole(target, b"two", replace=False)
    assert tree(tmp_path) == {"device.toml": b"one"}


def test_a_file_behind_a_link_and_a_pipe(tmp_path):
    (tmp_path / "far").mkdir()
    (tmp_path / "link.svg").symlink_to("far/drawing.svg")
    write_whole(tmp_path / "link.svg", b"one")
    assert (tmp_path / "far/drawing.svg").read_bytes() == b"one"
    assert (tmp_path / "link.svg").is_symlink()
    write_whole(Path("/dev/null"), b"two")
    assert Path("/dev/null").is_char_device()


def test_a_name_as_long_as_names_may_be(tmp_path):
    target = tmp_path / ("n" * 251 + ".svg")
    write_whole(target, b"long")
    assert tree(tmp_path) == {target.name: b"long"}


def test_a_lock_is_no_pipe_and_no_link(tmp_path):
    import os

    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "link").symlink_to("elsewhere")
    for name in ("pipe", "link"):
        with pytest.raises(OSError, match=r"in the way|symbolic links"):
            take_lock(tmp_path / name)
    assert not (tmp_path / "elsewhere").exists()


def test_temporary_folders_of_the_dead_go_and_of_the_living_stay(tmp_path, monkeypatch, holder):
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    monkeypatch.setattr("tempfile.tempdir", None)
    living, dead = holder("scratch", tmp_path, "boardgen-x"), None
    (kept,) = tmp_path.iterdir()
    dead = holder("scratch", tmp_path, "boardgen-x")
    dead.kill()
    dead.wait()
    assert len(list(tmp_path.iterdir())) == 2
    (tmp_path / "boardgen-xylophone").mkdir()
    with scratch_folder("boardgen-x") as own:
        assert sorted(p for p in tmp_path.iterdir()) == sorted([kept, own, tmp_path / "boardgen-xylophone"])
    assert (kept / "half").read_text() == "ha"
    assert living.poll() is None
    assert sorted(p for p in tmp_path.iterdir()) == sorted([kept, tmp_path / "boardgen-xylophone"])
