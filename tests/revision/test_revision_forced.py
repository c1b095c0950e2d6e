"""Opening a revision where something stands against it: pins forced away, no run, clashes, wrong inputs."""

from __future__ import annotations

import json
import shutil

import pytest
import revision_kit as kit

from boardgen.catalog.load import load_catalog
from boardgen.cli.main import main
from boardgen.design.load import load_design
from boardgen.errors import InputError
from boardgen.pipeline import build, choose_module
from boardgen.revision.revise import revise


def _built(design):
    catalog = load_catalog(())
    return build(choose_module(load_design(design), catalog), catalog)


@pytest.fixture(scope="module")
def opened(demo, tmp_path_factory):
    """B as ``revise`` opens it from the demo's A, nothing changed yet."""
    folder = tmp_path_factory.mktemp("opened")
    return revise(demo[0], folder / "b", kit.write_design(folder / "design")).path


def _with(opened, folder, *tables):
    return kit.write_design(folder, "\n".join([opened.read_text("utf-8"), *tables]))


def _pins(run):
    data = json.loads((run / "summary.json").read_text("utf-8"))
    return {row["signal"]: row["pin"] for row in data["pin_map"]["pins"]}


def test_a_forced_pin_moves_alone_and_the_cost_of_keeping_is_told(demo, opened, tmp_path):
    was = _pins(demo[0])
    fixed = f'[[fixed]]\nsignal = "HOLD"\npin = "{was["CUT"]}"\n'
    built = _built(_with(opened, tmp_path / "b", fixed))
    kept = built.history.kept
    told = {row.signal: row.why for row in kept.changed}
    assert told == {
        "HOLD": "the design fixes it to another pin",
        "CUT": "the design fixes HOLD to that pin",
    }
    now = {c.request.signal: c.pin_name for c in built.bundle.pinmap.choices}
    assert now["HOLD"] == was["CUT"]
    assert {signal for signal in was if now[signal] != was[signal]} == {"HOLD", "CUT"}
    assert kept.asked == 20
    assert kept.vias == len(built.bundle.board.vias)
    assert kept.free_vias is not None
    assert kept.free_length_mm > 0
    assert built.complete


def test_a_design_that_was_revised_keeps_every_pin(demo, opened):
    design = load_design(opened)
    assert {item.signal: item.pin for item in design.keep} == _pins(demo[0])


def test_a_pin_the_module_has_not_is_named(demo, opened, tmp_path):
    was = _pins(demo[0])
    text = opened.read_text("utf-8").replace(f'pin = "{was["CUT"]}"', 'pin = "GP99"')
    built = _built(kit.write_design(tmp_path / "b", text))
    (row,) = built.history.kept.changed
    assert (row.signal, row.before) == ("CUT", "GP99")
    assert row.why == "module micro-32u4 has no such pin"


@pytest.mark.slow
def test_a_design_without_a_run_is_built_anew(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    design = kit.write_design(tmp_path / "slide")
    done = revise(design)
    assert done.path == design / "design.toml"
    assert done.notes == ("no run at out/slide-remote-A: revision A was built anew, without work by hand",)
    assert (done.before, done.after, len(done.kept)) == ("A", "B", 20)
    assert load_design(done.path).revision == "B"
    assert (design / "history" / "A" / "summary.json").is_file()
    assert sorted(p.name for p in tmp_path.iterdir()) == ["slide"]


def _files(folder):
    return {
        p.relative_to(folder).as_posix(): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()
    }


def _refused(folder, words, *arguments, **more):
    """What revising says; the folder must be as it was, byte for byte."""
    before = _files(folder)
    with pytest.raises(InputError, match=words) as caught:
        revise(*arguments, **more)
    assert _files(folder) == before
    return caught.value


def test_another_record_of_the_revision_is_never_overwritten(demo, tmp_path):
    design = kit.write_design(tmp_path / "slide")
    other = design / "history" / "A"
    other.mkdir(parents=True)
    (other / "summary.json").write_text("{}", "utf-8")
    _refused(tmp_path, "another record of this revision already", demo[0], design=design)
    _refused(tmp_path, "another record of this revision already", demo[0], tmp_path / "b", design)


def test_the_same_record_may_be_there(demo, tmp_path):
    design = kit.write_design(tmp_path / "slide")
    other = design / "history" / "A"
    other.mkdir(parents=True)
    shutil.copy(demo[0] / "summary.json", other)
    assert revise(demo[0], design=design).after == "B"


def test_a_run_of_another_design_is_refused(demo, tmp_path):
    text = kit.DESIGN.read_text("utf-8").replace('name = "slide-remote"', 'name = "other"')
    design = kit.write_design(tmp_path / "other", text)
    error = _refused(tmp_path, "the run is of another design", demo[0], design=design)
    assert (error.found, error.allowed) == ("slide-remote", "other")


def test_a_design_that_went_on_already_is_refused(demo, opened, tmp_path):
    design = kit.write_design(tmp_path / "b", opened.read_text("utf-8"))
    _refused(tmp_path, "at another revision than the run", demo[0], design=design)


def test_a_taken_name_is_refused(demo, tmp_path):
    design = kit.write_design(tmp_path / "slide")
    (tmp_path / "b").mkdir()
    _refused(tmp_path, "something of that name already", demo[0], tmp_path / "b", design)


def test_a_tampered_run_is_refused_but_for_its_cad_board(demo, tmp_path):
    design = kit.write_design(tmp_path / "slide")
    run = tmp_path / "run"
    shutil.copytree(demo[0], run)
    place = run / "firmware" / "slide_remote_pins.json"
    place.write_text(place.read_text("utf-8").replace("CUT", "CAT"), "utf-8")
    _refused(tmp_path, "the run is not as it was recorded", run, design=design)


def test_a_run_of_an_older_version_is_refused(demo, tmp_path):
    design = kit.write_design(tmp_path / "slide")
    run = tmp_path / "run"
    shutil.copytree(demo[0], run)
    place = run / "summary.json"
    data = json.loads(place.read_text("utf-8"))
    place.write_text(json.dumps(data | {"tool": "boardgen 0.0.1"}), "utf-8")
    _refused(tmp_path, "written by another version of the tool", run, design=design)


def test_a_board_that_is_no_board_any_more_is_refused(demo, tmp_path):
    design = kit.write_design(tmp_path / "slide")
    run = tmp_path / "run"
    shutil.copytree(demo[0], run)
    (run / kit.CAD).write_text("(kicad_pcb (version 20211014)", "utf-8")
    _refused(tmp_path, "the file ends inside the list that starts with", run, design=design)


def test_the_command_says_one_line_and_exits_with_2(demo, tmp_path, capsys):
    design = kit.write_design(tmp_path / "slide")
    (design / "history" / "A").mkdir(parents=True)
    (design / "history" / "A" / "summary.json").write_text("{}", "utf-8")
    assert main(["revise", str(demo[0]), "--design", str(design)]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.count("\n") == 1
    assert "another record of this revision already" in said.err


def test_the_command_tells_what_it_did_as_data(demo, tmp_path, capsys):
    design = kit.write_design(tmp_path / "slide")
    assert main(["revise", str(demo[0]), "--design", str(design), "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert (data["before"], data["after"], data["parts"]) == ("A", "B", 13)
    assert len(data["kept"]) == 20
    assert data["by_hand"] == []
