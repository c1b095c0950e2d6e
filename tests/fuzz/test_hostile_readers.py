"""Whatever a file holds, its reader ends in bounded time and memory, and refuses plainly what it refuses."""

from __future__ import annotations

import contextlib
import json
import os
import random
import socket
import tempfile
from pathlib import Path

import pytest
from bounded import bounded
from hostile import HOSTILE
from readers import SMALL, desk_files
from readers_run import READERS, plan

from boardgen.batch.log import read_log
from boardgen.batch.readings import read_readings
from boardgen.catalog.load import load_catalog
from boardgen.cli.main import main
from boardgen.errors import BoardgenError, InputError
from boardgen.footprint.library import load as load_footprint
from boardgen.footprint.library import own_folder
from boardgen.order.prices import load_prices
from boardgen.order.profiles import load_profile
from boardgen.pipeline.record import read_record
from boardgen.readfile import read_bytes

FOUND = Path(__file__).parent / "found"
CASES = [(reader, label) for reader in sorted(HOSTILE) for label in sorted(HOSTILE[reader])]
SAMPLE = random.Random(5).sample(CASES, 24)
# by name, as each has once been too slow, too large or a crash
ONCE_BAD = [
    ("design", "12000 keys that are not in the matrix"),
    ("design", "80000 unknown keys"),
    ("design", "a header of 300000 parts"),
    ("drill", "1 MB of line ends"),
    ("drill", "tools without end"),
    ("dxf", "400000 lines"),
    ("footprint", "30 MB of empty lists"),
    ("footprint", "a quote left open"),
    ("gerber", "50000 flashes erased"),
    ("log", "an attempt of 1e999"),
    ("bom", "a count of 5000 digits"),
    ("record", "200000 files"),
    ("record", "a path of 5000 letters"),
    ("record", "a size of 1e999"),
    ("record", "a surrogate in a path"),
]


def warm(reader: str) -> None:
    """Load what the reader needs, so that its own time and memory are measured."""
    with tempfile.TemporaryDirectory() as name, contextlib.suppress(BoardgenError):
        READERS[reader].take(SMALL.encode(), Path(name))


def judge(reader: str, label: str, folder: Path) -> None:
    warm(reader)
    data = HOSTILE[reader][label]()
    ended = bounded(lambda: READERS[reader].take(data, folder))
    assert ended == "read" or ended.startswith("refused with 2: "), ended
    if ended.startswith("refused"):
        assert READERS[reader].file in ended


@pytest.mark.parametrize(("reader", "label"), sorted({*SAMPLE, *ONCE_BAD}))
def test_a_hostile_file(reader, label, tmp_path):
    judge(reader, label, tmp_path)


@pytest.mark.slow
@pytest.mark.parametrize(("reader", "label"), CASES)
def test_every_hostile_file(reader, label, tmp_path):
    judge(reader, label, tmp_path)


@pytest.mark.parametrize(
    "file", sorted(p for p in FOUND.rglob("*") if p.is_file()), ids=lambda p: p.name[-20:]
)
def test_what_the_fuzzer_found_once(file, tmp_path):
    reader = file.parent.name
    warm(reader)
    data = file.read_bytes()
    ended = bounded(lambda: READERS[reader].take(data, tmp_path))
    assert ended == "read" or ended.startswith("refused with 2: "), ended


# what stands in the place of a file


def pipe(path: Path) -> None:
    os.mkfifo(path)


def folder(path: Path) -> None:
    path.mkdir()


def device(path: Path) -> None:
    path.symlink_to("/dev/zero")


def loop(path: Path) -> None:
    path.symlink_to(path.name)


def plug(path: Path) -> None:
    here = Path.cwd()
    os.chdir(path.parent)  # a socket's path is short
    try:
        with socket.socket(socket.AF_UNIX) as made:
            made.bind(path.name)
    finally:
        os.chdir(here)


PLACES = {"pipe": pipe, "folder": folder, "device": device, "loop": loop, "socket": plug}
WORDS = {
    "pipe": "a thing is wanted, this is a pipe or a device",
    "folder": "a thing is wanted, this is a folder",
    "device": "a thing is wanted, this is a pipe or a device",
    "loop": "the thing cannot be read: Too many levels of symbolic links",
    "socket": "the thing cannot be read: No such device or address",
}


@pytest.mark.parametrize("kind", sorted(PLACES))
def test_what_is_no_file_is_refused_without_waiting(kind, tmp_path):
    PLACES[kind](tmp_path / "it")
    with pytest.raises(InputError) as told:
        read_bytes(tmp_path / "it", "it", what="thing")
    assert str(told.value) == f"it: {WORDS[kind]}"


@pytest.mark.parametrize("kind", sorted(PLACES))
@pytest.mark.parametrize(
    ("words", "name"),
    [
        (["generate", "design.toml"], "design.toml"),
        (["check", "design.toml"], "design.toml"),
        (["check", "run/summary.json"], "run/summary.json"),
        (["check", "board.kicad_pcb"], "board.kicad_pcb"),
        (["readings", "bench.csv"], "bench.csv"),
    ],
)
def test_every_command_refuses_it(words, name, kind, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "run").mkdir()
    PLACES[kind](tmp_path / name)
    before = sorted(p.as_posix() for p in tmp_path.rglob("*"))
    code = main(words)
    out, err = capsys.readouterr()
    assert (code, out) == (2, "")
    assert err.startswith("boardgen: ")
    assert err.count("\n") == 1
    assert name.split("/")[0] in err
    assert sorted(p.as_posix() for p in tmp_path.rglob("*")) == before


AFTER_A_RUN = {
    "log": lambda path: read_log(path, plan()),
    "readings": lambda path: read_readings(path, plan(), "1"),
    "prices": load_prices,
    "profile": lambda path: load_profile(path.as_posix()),
}


@pytest.mark.parametrize("kind", ["pipe", "folder", "device", "socket"])  # a loop is no log yet
@pytest.mark.parametrize("reader", sorted(AFTER_A_RUN))
def test_what_comes_after_a_run_refuses_it(reader, kind, tmp_path):
    path = tmp_path / "it.toml"
    PLACES[kind](path)
    with pytest.raises(InputError) as told:
        AFTER_A_RUN[reader](path)
    assert str(told.value).startswith(path.as_posix())


def test_an_entry_behind_a_link_out_of_its_folder(tmp_path):
    (tmp_path / "secret.toml").write_text("kind = 'connector'\nid = 'plug'\n")
    (tmp_path / "catalog").mkdir()
    (tmp_path / "catalog/plug.toml").symlink_to(tmp_path / "secret.toml")
    os.mkfifo(tmp_path / "catalog/pipe.toml")
    catalog = load_catalog([tmp_path / "catalog"])
    where = (tmp_path / "catalog").as_posix()
    assert [str(problem) for problem in catalog.problems] == [
        f"{where}/pipe.toml: a file is wanted, this is a pipe or a device",
        f"{where}/plug.toml: a link leads out of the catalogue's folder; "
        "allowed: the file itself in the folder, or --catalog with the other folder",
    ]


def test_a_footprint_behind_a_link_out_of_its_folder(tmp_path):
    foreign = sorted(own_folder().glob("*.kicad_mod"))[0]
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine/part.kicad_mod").symlink_to(foreign)
    with pytest.raises(InputError, match="a link leads out of the footprint's folder"):
        load_footprint("part", [tmp_path / "mine"])
    (tmp_path / "mine/part.kicad_mod").unlink()
    (tmp_path / "mine/real.kicad_mod").write_bytes(foreign.read_bytes())
    (tmp_path / "mine/part.kicad_mod").symlink_to("real.kicad_mod")
    assert load_footprint("part", [tmp_path / "mine"]).name == "part"


@pytest.mark.parametrize(
    "name", ["../x.dxf", "/etc/x.dxf", "a/../../x.dxf", "C:\\\\x.dxf", "x.txt", "x.dxf/"]
)
def test_a_drawing_named_out_of_the_folder(name, tmp_path):
    text = SMALL.replace("points_mm = [[0, 0], [60, 0], [60, 50], [0, 50]]", f'dxf = "{name}"')
    (tmp_path / "design.toml").write_text(text)
    assert main(["check", str(tmp_path)]) == 2


def test_a_drawing_behind_a_link_out_of_the_folder(tmp_path, capsys):
    (tmp_path / "far.dxf").write_bytes(b"secret")
    (tmp_path / "desk").mkdir()
    (tmp_path / "desk/x.dxf").symlink_to(tmp_path / "far.dxf")
    text = SMALL.replace("points_mm = [[0, 0], [60, 0], [60, 50], [0, 50]]", 'dxf = "x.dxf"')
    (tmp_path / "desk/design.toml").write_text(text)
    assert main(["check", str(tmp_path / "desk")]) == 2
    assert "a link leads out of the design's folder" in capsys.readouterr().err


@pytest.mark.parametrize(
    "name", ["../../evil", "/etc", "a/b", "a\\b", "", ".", "..", "a\0b", "-x", "\u202ea", "a\n"]
)
@pytest.mark.parametrize("key", ["design", "revision"])
def test_a_record_named_out_of_its_folder(key, name, tmp_path):
    data = {**json.loads(desk_files()["summary.json"]), key: name}
    (tmp_path / "summary.json").write_text(json.dumps(data))
    with pytest.raises(InputError, match="not the record of a run"):
        read_record(tmp_path / "summary.json")
