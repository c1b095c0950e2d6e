"""What the README shows, done as it says."""
# ruff: noqa: E501

from __future__ import annotations

import re
from pathlib import Path

import pytest

from boardgen.catalog.load import load_catalog
from boardgen.cli.main import main
from boardgen.design.load import load_design
from boardgen.pipeline import generate

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text()
DESIGN, LOGIC, IDENTITY, CONNECTOR = re.findall(r"```toml\n(.*?)```", README, re.DOTALL)
PAD = '(pad "{}" thru_hole circle (at {} 0) (size 1.8 1.8) (drill 1) (layers "*.Cu" "*.Mask"))'
FOREIGN = "\n".join(
    [
        '(footprint "whatever the maker called it" (version 20221018) (generator "a part maker") (layer "F.Cu")',
        '(fp_rect (start -10.25 -6.25) (end 10.25 6.25) (stroke (width 0.05) (type solid)) (fill none) (layer "F.CrtYd"))',
        '(fp_rect (start -10 -6) (end 10 6) (stroke (width 0.12) (type solid)) (fill none) (layer "F.SilkS"))',
        *(PAD.format(n, 2.5 * (n - 4)) for n in range(1, 8)),
        ")",
    ]
)


def test_the_readme_names_its_examples():
    assert 'name = "desk-buttons"' in DESIGN
    assert 'family = "cd4000b"' in LOGIC
    assert "bits = 2" in IDENTITY
    assert 'kind = "connector"' in CONNECTOR


def test_the_straps_of_the_readme_give_a_clean_board_its_code(folder, capsys):
    place = folder / "desk-buttons/design.toml"
    place.write_text(f"{DESIGN}\n{IDENTITY}")
    run = generate(place.parent, folder)
    assert run.findings == ()
    assert run.summary["identity"]["code"] == 1


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "desk-buttons").mkdir()
    (tmp_path / "desk-buttons/design.toml").write_text(DESIGN)
    return tmp_path


def test_the_example_design_makes_a_clean_board(folder, capsys):
    assert main(["generate", "desk-buttons"]) == 0
    out, err = capsys.readouterr()
    assert "no findings" in out + err
    assert (folder / "out/desk-buttons-A/report.html").is_file()
    assert load_design(folder / "desk-buttons").module == "auto"


def test_the_example_logic_is_carried_safely(folder, capsys):
    supply = '\n[[contacts]]\nnumber = 4\nkind = "supply"\nrail = "5V"\ncurrent_a = 0.01\n'
    (folder / "desk-buttons/design.toml").write_text(DESIGN + LOGIC + supply)
    assert main(["check", "desk-buttons"]) == 0
    out, err = capsys.readouterr()
    assert "error" not in out + err


def test_the_example_connector_carries_a_board(folder):
    own = folder / "desk-buttons/catalog"
    own.mkdir()
    (own / "desk-plug-7.toml").write_text(CONNECTOR)
    (own / "desk_plug_7.kicad_mod").write_text(FOREIGN)
    catalog = load_catalog([own])
    assert catalog.problems == ()
    assert [c.number for c in catalog.connector("desk-plug-7").contacts] == list("1234567")
    text = DESIGN.replace("dsub-9-socket-right-angle", "desk-plug-7")
    assert text != DESIGN
    (folder / "desk-buttons/design.toml").write_text(text)
    result = generate(folder / "desk-buttons", folder / "out")
    assert result.summary["for_fabrication"] is True
    assert [f for f in result.findings if f.severity == "error"] == []
    routing = result.summary["routing"]
    assert routing["completed"] == routing["connections"] == 2
    pads = (result.folder / "cad/desk-buttons.kicad_pcb").read_text()
    assert "desk_plug_7" in pads


def test_a_bad_entry_is_named_and_does_not_stop_the_others(folder, capsys):
    own = folder / "mine"
    own.mkdir()
    (own / "desk-plug-7.toml").write_text(CONNECTOR)
    (own / "desk_plug_7.kicad_mod").write_text(FOREIGN)
    (own / "broken.toml").write_text(
        CONNECTOR.replace("desk-plug-7", "broken").replace("straight", "upright")
    )
    main(["catalog", "connectors", "desk", "--catalog", "mine"])
    out, err = capsys.readouterr()
    assert "desk-plug-7" in out
    assert re.search(r"mine/broken.toml:\d+: mounting: ", err)


@pytest.mark.parametrize("command", re.findall(r"^    boardgen (\w+)", README, re.MULTILINE))
def test_every_command_the_readme_lists_is_there(command, capsys):
    assert main([command, "--help"]) == 0
    assert "Usage" in capsys.readouterr().out


def test_the_picture_is_what_the_demo_makes_today(run_of):
    """After a change that moves a track: copy the run's picture into the design's folder, and look at it."""
    shown = (ROOT / "designs" / "lecture-keypad" / "board.svg").read_bytes()
    assert "designs/lecture-keypad/board.svg" in README
    assert shown == (run_of("lecture-keypad").folder / "assembly" / "board.svg").read_bytes()
