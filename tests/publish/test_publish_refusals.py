"""What must not be published is refused, with one clear reason, and nothing is written."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from demos import DESIGNS
from publish_kit import Page

from boardgen.cli.main import main
from boardgen.errors import InputError, MachineError
from boardgen.publish.publish import publish

DESIGN = DESIGNS / "slide-remote"


@pytest.fixture
def run(run_a, tmp_path):
    """A copy of the run that a test may spoil."""
    shutil.copytree(run_a, tmp_path / "run")
    return tmp_path / "run"


@pytest.fixture
def page(tmp_path):
    """A page that is there already."""
    place = tmp_path / "page.html"
    place.write_text("the page before", "utf-8")
    return place


def change(run: Path, **keys: object) -> None:
    place = run / "summary.json"
    data = json.loads(place.read_text("utf-8"))
    data.update(keys)
    place.write_text(json.dumps(data), "utf-8")


FINDING = {
    "rule": "short",
    "severity": "error",
    "message": "GND meets 5V",
    "at_mm": [1, 1],
    "layer": "",
    "items": [],
    "measured_mm": None,
    "limit_mm": None,
    "waived": "",
}


def other_design(run: Path) -> Path:
    place = run.parent / "design"
    shutil.copytree(DESIGN, place)
    return place


def tampered(run: Path) -> Path:
    with (run / "assembly" / "bom.csv").open("a", encoding="utf-8") as file:
        file.write("R9,1,1k,,,,,,\n")
    return DESIGN


def missing(run: Path) -> Path:
    (run / "fab" / "slide-remote-A.GTL").unlink()
    return DESIGN


def older(run: Path) -> Path:
    change(run, tool="boardgen 0.0.9")
    return DESIGN


def with_error(run: Path) -> Path:
    change(run, findings=[FINDING])
    return DESIGN


def failed_check(run: Path) -> Path:
    change(run, checks={"read-back copper": {"passed": False, "evidence": {}}})
    return DESIGN


def never_read_back(run: Path) -> Path:
    change(run, checks={"rule check": {"passed": True, "evidence": {}}})
    return DESIGN


def changed_design(run: Path) -> Path:
    place = other_design(run)
    with (place / "design.toml").open("a", encoding="utf-8") as file:
        file.write("# a word more\n")
    return place


def gone_on(run: Path) -> Path:
    """The design is at B, and its history holds another run A."""
    place = other_design(run)
    file = place / "design.toml"
    file.write_text(file.read_text("utf-8").replace('revision = "A"', 'revision = "B"'), "utf-8")
    (place / "history" / "A").mkdir(parents=True)
    (place / "history" / "A" / "summary.json").write_text("{}", "utf-8")
    return place


def wrong_design(run: Path) -> Path:
    return DESIGNS / "dome-fader"


def no_run(run: Path) -> Path:
    (run / "summary.json").unlink()
    return DESIGN


def not_json(run: Path) -> Path:
    (run / "summary.json").write_bytes(b"\xff{")
    return DESIGN


@pytest.mark.parametrize(
    ("spoil", "reason"),
    [
        (tampered, "the run is not as it was recorded: assembly/bom.csv: is not the file that was recorded"),
        (missing, "the run is not as it was recorded: fab/slide-remote-A.GTL: is missing"),
        (older, "the run was made by another version of the tool: generate it again"),
        (with_error, "the run has a finding of severity error and is not for fabrication"),
        (failed_check, "a check of the run failed"),
        (never_read_back, "the run's files were never read back: generate it again"),
        (changed_design, "the design has changed since the run: generate it again"),
        (gone_on, "the design has changed since the run: generate it again"),
        (wrong_design, "another design than the run's"),
        (no_run, "no run: it holds no summary.json"),
        (not_json, "the record is not JSON"),
    ],
)
def test_refused_with_the_page_before_as_it_was(spoil, reason, run, page, capsys):
    design = spoil(run)
    assert main(["publish", str(run), "--to", str(page), "--design", str(design)]) == 2
    said = " ".join(capsys.readouterr().err.split())
    assert reason in said
    assert "Traceback" not in said
    assert page.read_text("utf-8") == "the page before"
    assert sorted(p.name for p in page.parent.iterdir()) == sorted(
        {"page.html", "run"} | ({"design"} if design.parent == run.parent else set())
    )


def test_history_of_another_design_is_refused(history, tmp_path):
    shutil.copytree(history / "design", tmp_path / "design")
    place = tmp_path / "design" / "history" / "A" / "summary.json"
    data = json.loads(place.read_text("utf-8"))
    place.write_text(json.dumps({**data, "design": "another"}), "utf-8")
    with pytest.raises(InputError, match="the record is of another revision than its folder"):
        publish(history / "slide-remote-B", tmp_path / "page.html", tmp_path / "design")
    assert not (tmp_path / "page.html").exists()


def test_damaged_pin_file_of_the_history_is_refused(history, tmp_path):
    shutil.copytree(history / "design", tmp_path / "design")
    place = tmp_path / "design" / "history" / "A" / "slide_remote_pins.json"
    place.write_text('{"pin_map": "x", "pins": [3]}', "utf-8")
    with pytest.raises(InputError, match="this is no pin file"):
        publish(history / "slide-remote-B", tmp_path / "page.html", tmp_path / "design")


def test_a_folder_and_a_place_that_is_not_there_are_refused(run_a, tmp_path):
    with pytest.raises(InputError, match="this is a folder"):
        publish(run_a, tmp_path, DESIGN)
    with pytest.raises(InputError, match="there is no such folder to write into"):
        publish(run_a, tmp_path / "none" / "page.html", DESIGN)
    assert list(tmp_path.iterdir()) == []


def test_a_full_disk_leaves_the_page_before(run_a, page, monkeypatch):
    import os

    def full(descriptor: int, data: bytes) -> int:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr("boardgen.publish.publish.page_html", lambda subject: b"a page")
        patch.setattr(os, "write", full)
        with pytest.raises(MachineError, match="No space left on device"):
            publish(run_a, page, DESIGN)
    assert page.read_text("utf-8") == "the page before"
    assert [p.name for p in page.parent.iterdir()] == ["page.html"]


def test_command_replaces_the_page_of_an_earlier_run_with_faults_found_since(history, page, capsys):
    run, design = history / "slide-remote-A", history / "design"
    assert main(["publish", str(run), "--to", str(page), "--design", str(design), "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    text = page.read_text("utf-8")
    assert text.startswith("<!DOCTYPE html>")
    assert "this board has it" in Page(text).words("faults")
    assert ">cut HOLD, bottom<" in text
    assert answer["bytes"] == page.stat().st_size
    assert (answer["design"], answer["revision"], answer["revisions"]) == ("slide-remote", "A", ["A"])
    assert answer["exit_code"] == 0
