"""A catalogue file half written: it is named, the rest goes on, an earlier run stands."""

from __future__ import annotations

from pathlib import Path

import pytest
from faultkit import NAME, design, tree

from boardgen.catalog.load import DATA, load_catalog
from boardgen.cli.main import main
from boardgen.errors import BoardgenError
from boardgen.export.files import OutFile
from boardgen.export.run_folder import write_run
from boardgen.footprint.library import load, own_folder

ENTRY = (DATA / "connectors/dsub-9-socket-right-angle.toml").read_bytes()
SHARES = (0, 1, 17, 33, 50, 71, 90, 99)


def half(folder: Path, share: int) -> Path:
    """Put an entry cut off after *share* percent of its bytes into a catalogue beside the design."""
    place = folder / "catalog/connectors"
    place.mkdir(parents=True)
    file = place / "dsub-9-socket-right-angle.toml"
    file.write_bytes(ENTRY[: len(ENTRY) * share // 100])
    return file


@pytest.mark.parametrize("share", SHARES)
def test_a_half_written_entry_is_named_and_the_rest_is_read(tmp_path, share):
    file = half(tmp_path, share)
    catalog = load_catalog([tmp_path / "catalog"])
    problems = catalog.problems
    assert problems
    assert {problem.where for problem in problems} == {file.as_posix()}
    assert "dsub-25-socket-right-angle" in catalog.connectors


def test_a_run_that_needs_it_says_so_and_the_earlier_run_stands(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    design(tmp_path / "desk")
    half(tmp_path / "desk", 50)
    write_run(tmp_path / "out", NAME, (OutFile("summary.json", b"{}"),))
    before = tree(tmp_path / "out")
    assert main(["generate", "desk"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert all(
        line.startswith("boardgen: desk/catalog/connectors/dsub-9-socket-right-angle.toml")
        for line in err.splitlines()
    )
    assert tree(tmp_path / "out") == before


def test_a_half_written_footprint_is_named(tmp_path):
    whole = sorted(own_folder().glob("*.kicad_mod"))[0]
    text = whole.read_bytes()
    for share in SHARES:
        (tmp_path / "mine.kicad_mod").write_bytes(text[: len(text) * share // 100])
        with pytest.raises(BoardgenError) as told:
            load("mine", [tmp_path])
        assert str(told.value).startswith(str(tmp_path / "mine.kicad_mod"))
