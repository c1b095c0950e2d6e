"""``check FILE.kicad_pcb`` from the command line: which design it is held against, and bad input."""

from __future__ import annotations

import contextlib
import json
import shutil

import pytest
from cad_kit import board_file
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from boardgen.catalog.load import load_catalog
from boardgen.cli.main import main
from boardgen.errors import InputError
from boardgen.pipeline import check_cad, is_cad_board
from boardgen.readback.cad_board import read_cad_board
from boardgen.readback.cad_board import tree as cad_tree

NAME = "lecture-keypad"


@pytest.fixture
def run_folder(run_of, tmp_path):
    folder = tmp_path / "run"
    shutil.copytree(run_of(NAME).folder, folder)
    return folder


@pytest.fixture
def board(run_folder):
    return run_folder / "cad" / f"{NAME}.kicad_pcb"


def test_a_fresh_board_is_clean_against_its_run(board, capsys):
    assert is_cad_board(board)
    assert main(["check", str(board)]) == 0
    out, err = capsys.readouterr()
    assert out == f"{NAME}-A: no findings\n"
    assert err == ""


def test_a_fresh_board_is_clean_against_its_design(board, tmp_path, capsys):
    alone = tmp_path / "elsewhere.kicad_pcb"
    shutil.copy(board, alone)
    assert main(["check", str(alone), "--design", f"designs/{NAME}", "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["findings"] == []
    assert answer["exit_code"] == 0
    assert answer["checks"]["as designed (design)"]["evidence"]["pads compared with the design"] > 60
    assert answer["checks"]["board file"]["evidence"]["tracks"] > 20


def test_a_cut_out_drawn_there_and_back_is_told(board, capsys):
    """Two lines over each other have no inside: told as the outline's fault."""
    a, b = "10 -10", "14 -10"
    lines = "".join(
        f'(gr_line (start {p}) (end {q}) (stroke (width 0.1) (type default)) (layer "Edge.Cuts"))\n'
        for p, q in ((a, b), (b, a))
    )
    text = board.read_text()
    end = text.rindex(")")
    board.write_text(text[:end] + lines + text[end:])
    for more in ([], ["--format", "json"], ["--format", "sarif"]):
        assert main(["check", str(board), *more]) == 1
    said = capsys.readouterr()
    assert "error: profile: " in said.out
    assert "Traceback" not in said.out + said.err


def test_an_edit_is_found_and_named_in_every_form(board, capsys):
    text = board.read_text()
    board.write_text(text.replace("(width 0.25)", "(width 0.05)", 1))
    assert main(["check", str(board)]) == 1
    assert "error: track-width: track of " in capsys.readouterr().out
    assert main(["check", str(board), "--format", "sarif"]) == 1
    (run,) = json.loads(capsys.readouterr().out)["runs"]
    assert [row["ruleId"] for row in run["results"]] == ["track-width"]
    assert main(["check", str(board), "--format", "junit"]) == 1
    assert 'failures="1"' in capsys.readouterr().out


def test_another_fab_class_has_its_own_limits(board, capsys):
    assert main(["check", str(board), "--fab", "home-etch-1l"]) == 1
    assert "cad-layer" in capsys.readouterr().out
    assert main(["check", str(board), "--fab", "nobody-2l"]) == 2
    assert "nobody-2l" in capsys.readouterr().err


def test_a_waiver_of_the_design_lets_a_finding_pass(board, tmp_path, capsys):
    folder = tmp_path / "design"
    shutil.copytree(f"designs/{NAME}", folder)
    file = folder / "design.toml"
    waiver = '\n[[waivers]]\nrule = "track-width"\nreason = "measured, wide enough"\nuntil = "A"\n'
    board.write_text(board.read_text().replace("(width 0.25)", "(width 0.05)", 1))
    assert main(["check", str(board), "--design", str(folder)]) == 1
    file.write_text(file.read_text() + waiver)
    capsys.readouterr()
    assert main(["check", str(board), "--design", str(folder)]) == 0
    assert "note: track-width" in capsys.readouterr().out


def test_a_board_of_nobody_asks_for_its_design(board, tmp_path, capsys):
    alone = tmp_path / "alone.kicad_pcb"
    shutil.copy(board, alone)
    assert main(["check", str(alone)]) == 2
    assert capsys.readouterr().err == (
        f"boardgen: {alone.as_posix()}: the board lies in no run, so there is nothing to hold it against; "
        "allowed: --design PATH with its design, or the file under cad/ of a run's folder\n"
    )


def test_options_of_a_board_file_go_with_nothing_else(run_folder, capsys):
    assert main(["check", str(run_folder), "--fab", "home-etch-1l"]) == 2
    assert "--fab: goes with a board file (.kicad_pcb); found home-etch-1l" in capsys.readouterr().err
    assert main(["check", f"designs/{NAME}", "--design", "designs/chart-ball"]) == 2
    assert "--design: goes with a board file" in capsys.readouterr().err


def test_a_revision_goes_with_a_design(board, capsys):
    assert main(["check", str(board), "--revision", "B"]) == 2
    assert "--revision: goes with --design" in capsys.readouterr().err


def test_a_run_without_its_netlist_and_profile_still_tells_contacts(run_folder, board, capsys):
    for path in sorted((run_folder / "fab").iterdir()):
        path.unlink()
    board.write_text(board.read_text().replace('"ROW1")', '"ROW2")', 1))
    assert main(["check", str(board)]) == 1
    assert "cad-net" in capsys.readouterr().out


BAD = {
    "nothing": (b"", "this is not a CAD board"),
    "words": (b"hello", "this is not a CAD board"),
    "a footprint": (b"(footprint X)", "this is not a CAD board; found a footprint"),
    "a schematic": (b"(kicad_sch (version 20230121))", "this is not a CAD board; found a schematic"),
    "no version": (b"(kicad_pcb)", "version: the board does not say its version"),
    "old": (b"(kicad_pcb (version 20171130))", "version: the board is of too old a form"),
    "truncated": (b'(kicad_pcb (version 20221018) (net 0 "', "a quoted text is never closed"),
    "open": (b"(kicad_pcb (version 20221018) (net 0", "the file ends inside the list"),
    "twice": (b"(kicad_pcb (version 20221018)) (x)", "text outside the one list"),
    "deep": (b"(kicad_pcb " + b"(x " * 200 + b")" * 201, "the lists are nested too deeply"),
    "binary": (b"\x7fELF\0\0", "this is not a CAD board: not a text file"),
    "latin": (b'(kicad_pcb "\xff\xfe")', "the file is not UTF-8 text"),
}


@pytest.mark.parametrize("case", sorted(BAD))
def test_what_is_no_board_is_one_clear_error(board, case, capsys):
    data, words = BAD[case]
    board.write_bytes(data)
    assert main(["check", str(board)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert words in err
    assert err.count("\n") == 1


def test_a_folder_a_missing_file_and_a_huge_one(board, tmp_path, capsys, monkeypatch):
    folder = tmp_path / "x.kicad_pcb"
    folder.mkdir()
    assert main(["check", str(folder)]) == 2
    assert "a board file is wanted, this is a folder" in capsys.readouterr().err
    assert main(["check", str(tmp_path / "none.kicad_pcb")]) == 2
    assert "there is no such board file" in capsys.readouterr().err
    monkeypatch.setattr(cad_tree, "MAX_BYTES", 1000)
    assert main(["check", str(board)]) == 2
    assert "the board file is too large" in capsys.readouterr().err


def test_an_empty_board_is_read_and_found_wanting(board):
    board.write_text("(kicad_pcb (version 20221018))")
    found = check_cad(board).findings
    assert {"cad-part", "profile"} <= {f.rule for f in found}


FAB = load_catalog().fab("economy-2l")
TOKENS = [
    "0",
    "-1",
    "1e9",
    "nan",
    "(",
    ")",
    '"',
    "(at 0 0 0)",
    "F.Cu",
    "(net 99)",
    "(pts)",
    "(xy 1)",
    "9" * 400,
]


@given(st.data())
@settings(max_examples=60, suppress_health_check=[HealthCheck.too_slow])
def test_damaged_text_is_an_error_or_findings_never_a_crash(data):
    text = SMALL
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(text)))
        cut = data.draw(st.sampled_from([0, 0, 1, 5, 40, 400]))
        text = text[:at] + data.draw(st.sampled_from(["", *TOKENS])) + text[at + cut :]
    with contextlib.suppress(InputError):
        assert read_cad_board(text.encode(), "x", FAB).version > 0


def _small() -> str:
    """Return a demo's board with its long fills cut short, so that damage falls on all kinds of lists."""
    lines = board_file(NAME).decode().splitlines()
    kept = [line for rank, line in enumerate(lines) if "(xy " not in line or rank % 40 == 0]
    return "\n".join(kept)


SMALL = _small()
