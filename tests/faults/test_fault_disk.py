"""A disk that is full, a limit on a file's size, a folder nobody may write in: the earlier run stays."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from faultkit import NAME, as_nobody, boardgen, design, tree

from boardgen.errors import MachineError
from boardgen.export.files import OutFile
from boardgen.export.run_folder import write_run
from boardgen.filing import write_whole

EARLIER = (OutFile("summary.json", b"{}"), OutFile("fab/desk.GTL", b"M02*\n" * 2000))


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of 256 KiB."""
    place = tmp_path / "small"
    place.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=256k", "none", str(place)], capture_output=True, check=False
    )
    if mounted.returncode != 0:
        pytest.skip("no file system can be mounted here")
    try:
        yield place
    finally:
        subprocess.run(["umount", str(place)], check=True)


def test_a_full_disk_keeps_the_earlier_run(small_disk):
    write_run(small_disk, NAME, EARLIER)
    before = tree(small_disk)
    larger = (*EARLIER, OutFile("assembly/desk.pdf", b"\0" * 300_000))
    with pytest.raises(MachineError) as told:
        write_run(small_disk, NAME, larger)
    assert str(told.value) == f"{small_disk / NAME}: the run could not be written: No space left on device"
    assert tree(small_disk) == before
    write_run(small_disk, NAME, EARLIER)
    assert tree(small_disk) == before


def test_a_whole_generate_onto_a_full_disk(small_disk, tmp_path):
    write_run(small_disk, NAME, EARLIER)
    before = tree(small_disk)
    design(tmp_path / "desk")
    done = boardgen("generate", "desk", "--out", str(small_disk), cwd=tmp_path)
    assert (done.returncode, done.stdout) == (3, "")
    assert done.stderr == (
        f"boardgen: {small_disk / NAME}: the run could not be written: No space left on device\n"
    )
    assert tree(small_disk) == before


def test_a_disk_so_full_that_no_file_can_be_made(small_disk):
    write_run(small_disk, NAME, EARLIER)
    before = tree(small_disk)
    free = os.statvfs(small_disk)
    (small_disk / "ballast").write_bytes(b"\0" * (free.f_bavail * free.f_frsize))
    with pytest.raises(MachineError, match="No space left on device"):
        write_run(small_disk, NAME, EARLIER)
    with pytest.raises(MachineError, match=r"ballast2: No space left on device$"):
        write_whole(small_disk / "ballast2", b"more")
    (small_disk / "ballast").unlink()
    assert tree(small_disk) == before


def test_one_file_onto_a_full_disk_keeps_the_earlier_one(small_disk):
    target = small_disk / "device.toml"
    write_whole(target, b"a = 1\n")
    with pytest.raises(MachineError, match=r"device.toml: No space left on device$"):
        write_whole(target, b"#" * 300_000)
    assert tree(small_disk) == {"device.toml": b"a = 1\n"}


LIMITED = """\
import resource, signal, sys
resource.setrlimit(resource.RLIMIT_FSIZE, (8192, 8192))
from pathlib import Path
from boardgen.cli.guard import guarded
from boardgen.export.files import OutFile
from boardgen.export.run_folder import write_run
from boardgen.filing import write_whole
out = Path(sys.argv[1])
big = b"x" * 100_000
files = [OutFile("summary.json", b"{}"), OutFile("b", big)]
a = guarded(lambda: write_run(out, "desk-A", files) and 0, False)
b = guarded(lambda: write_whole(out / "one.txt", big) or 0, False)
print(a, b)
"""


def test_a_limit_on_the_size_of_files(tmp_path):
    out = tmp_path / "out"
    write_run(out, NAME, EARLIER)
    write_whole(out / "one.txt", b"one")
    before = tree(out)
    done = subprocess.run(
        [sys.executable, "-c", LIMITED, str(out)], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stdout) == (0, "3 3\n"), done.stderr
    assert done.stderr == (
        f"boardgen: {out / NAME}: the run could not be written: File too large\n"
        f"boardgen: {(out / 'one.txt').as_posix()}: File too large\n"
    )
    assert tree(out) == before


def test_a_folder_that_may_not_be_written(tmp_path_factory, tmp_path):
    before = as_nobody()
    if before is None:
        pytest.skip("no way to give up root's rights here")
    place = Path(subprocess.check_output(["mktemp", "-d"], text=True).strip())  # where others may go
    try:
        place.chmod(0o755)
        design(place / "desk")
        write_run(place / "out", NAME, EARLIER)
        for folder in (place / "out", place):
            folder.chmod(0o555)
        stands = tree(place)
        done = boardgen("generate", "desk", "--out", "out", cwd=place, before=before)
        assert (done.returncode, done.stdout) == (3, "")
        assert done.stderr == "boardgen: out: no permission to write in out\n"
        words = ("catalog", "show", "pico-2", "--svg", "out/pico.svg")
        done = boardgen(*words, cwd=place, before=before)
        assert (done.returncode, done.stdout) == (3, "")
        assert done.stderr == "boardgen: out/pico.svg: Permission denied\n"
        assert tree(place) == stands
    finally:
        for folder in (place, place / "out"):
            folder.chmod(0o755)
        subprocess.run(["rm", "-rf", str(place)], check=True)
