"""The readings command: exit codes, what is written where, and errors of usage."""
# ruff: noqa: E501 - messages are held whole

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from bench_sheets import HEAD, KEYS, MATRIX, table

from boardgen.cli.main import main
from boardgen.design.load import load_design

DSUB = ["--connector", "dsub-9-socket-right-angle"]
STATED = ["--view", "mating-face", "--half", "plug", "--numbers", "printed"]


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    path = tmp_path / "keys.csv"
    path.write_text(HEAD + table(KEYS, *MATRIX), encoding="utf-8")
    return path


@pytest.fixture
def clashing(tmp_path: Path) -> Path:
    path = tmp_path / "clash.csv"
    path.write_text(HEAD + table(KEYS, *MATRIX, "BAD, 1, 2, 2.0"), encoding="utf-8")
    return path


def test_device_to_standard_output_and_words_to_standard_error(
    sheet: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["readings", str(sheet), *DSUB]) == 0
    out, err = capsys.readouterr()
    assert out.startswith("# From readings at the bench.")
    assert err.splitlines()[-1] == (
        "dsub-9-socket-right-angle: 3 row, 3 unused, 3 column, 9 keys in 1 matrix; no contradictions, 1 thing to measure next"
    )
    (tmp_path / "design.toml").write_text('name = "x"\nconnector = "dsub-9-socket-right-angle"\n' + out)
    assert len(load_design(tmp_path).matrices[0].keys) == 9


def test_contradictions_are_exit_1_and_the_file_says_so(
    clashing: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    target = tmp_path / "device.toml"
    assert main(["readings", str(clashing), *DSUB, "--to", str(target)]) == 1
    out, err = capsys.readouterr()
    assert err == ""
    assert out.splitlines()[0].startswith("error: contradiction: no two sides")
    assert f"    {clashing}:14: + on 1, - on 2 with 'BAD' held: 2 ohm" in out.splitlines()
    assert out.splitlines()[-1] == f"device in {target}"
    text = target.read_text(encoding="utf-8")
    assert "# NOT SETTLED: 1 contradiction in the readings\n" in text
    assert f"{clashing}:14" in text


def test_nothing_is_replaced_unasked(sheet: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    target = tmp_path / "device.toml"
    target.write_text("mine")
    assert main(["readings", str(sheet), *DSUB, "--to", str(target)]) == 2
    assert capsys.readouterr().err == (
        f"boardgen: {target}: --to: the file is there already; allowed: with --replace it is replaced\n"
    )
    assert target.read_text() == "mine"
    assert main(["readings", str(sheet), *DSUB, "--to", str(target), "--replace"]) == 0
    assert "[[matrices]]" in target.read_text()
    assert sorted(p.name for p in tmp_path.iterdir()) == ["device.toml", "keys.csv"]


def test_wrong_input_writes_nothing(sheet: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    target = tmp_path / "device.toml"
    with sheet.open("a") as stream:
        stream.write("K99, 1, 2, NaN\n")
    assert main(["readings", str(sheet), *DSUB, "--to", str(target)]) == 2
    assert capsys.readouterr().err.startswith(f"boardgen: {sheet}:14: this is no reading; found 'NaN'")
    assert not target.exists()


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ([], "boardgen: {sheet}: the board's connector is not stated; allowed: a line 'connector' with its catalogue id, or the option --connector\n"),
        (["--connector", "dsub-9"], "boardgen: there is no connector 'dsub-9' in the catalogue"),
        ([*DSUB, "--view", "top"], "boardgen: --view: the value is not allowed; found 'top'; allowed: mating-face, solder-side\n"),
        ([*DSUB, "--half", "socket"], "boardgen: {sheet}:2: half is stated as plug here, and as socket for all files\n"),
        ([*DSUB, "--to", "no-such-folder/x.toml"], "boardgen: no-such-folder: --to: there is no such folder to write into\n"),
        ([*DSUB, "--to", "."], "boardgen: .: --to: a file is wanted, this is a folder\n"),
        ([*DSUB, "none.csv"], "boardgen: none.csv: there is no such file of readings\n"),
    ],
)  # fmt: skip
def test_wrong_usage(
    arguments: list[str], message: str, sheet: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["readings", str(sheet), *arguments]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith(message.format(sheet=sheet))
    assert err.count("\n") == 1


def test_options_state_it_for_all_files(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "bare.csv"
    path.write_text(table(KEYS, *MATRIX))
    assert main(["readings", str(path), *DSUB, *STATED]) == 0
    capsys.readouterr()
    assert main(["readings", str(path), *DSUB]) == 2
    err = capsys.readouterr().err.splitlines()
    assert [line.split(": ")[2].split(",")[0] for line in err] == [
        f"the {name} is not stated" for name in ("view", "half", "numbers")
    ]


def test_json(clashing: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["readings", str(clashing), *DSUB, "--json"]) == 1
    out, err = capsys.readouterr()
    record = json.loads(out)
    assert record["exit_code"] == 1
    assert record["contradictions"] == 1
    assert record["file"] is None
    assert record["findings"][0]["readings"][0] == f"{clashing}:14: + on 1, - on 2 with 'BAD' held: 2 ohm"
    assert [c["kind"] for c in record["contacts"]].count("row") == 3
    assert len(record["matrices"][0]["keys"]) == 9
    assert record["toml"].startswith("# From readings")
    assert "measure 'BAD' (1-2) again: if that reading is wrong, the others fit" in record["measure_next"]
    assert err.startswith("error: contradiction: ")


def test_help_describes_the_form(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["readings", "--help"]) == 0
    words = " ".join(capsys.readouterr().out.split())
    for text in ("contact, wire [, signal, note]", "key, plus, minus, reading", "view, solder-side", "4k7"):
        assert text in words


def test_the_command_line_loads_no_bench_before_it_is_asked() -> None:
    code = "import sys, boardgen.cli.main; print([m for m in sys.modules if m.startswith('boardgen.bench')])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"


def test_letters_that_the_terminal_has_not_become_escapes(tmp_path: Path) -> None:
    path = tmp_path / "gr\u00fcn.csv"
    path.write_text(HEAD + "contact, wire\n1, gr\u00fcn\n", encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "boardgen", "readings", str(path), *DSUB],
        capture_output=True,
        check=True,
        env={**os.environ, "PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"},
    )
    text = done.stdout.decode("ascii")
    (tmp_path / "design.toml").write_text('name = "x"\nconnector = "dsub-9-socket-right-angle"\n' + text)
    assert load_design(tmp_path).contacts[0].wire == "gr\u00fcn"


def test_the_name_of_a_file_cannot_break_the_answer(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / 'a\nname = "other".csv'
    path.write_text(HEAD + table(KEYS, *MATRIX, "BAD, 1, 2, 2.0"), encoding="utf-8")
    assert main(["readings", str(path), *DSUB]) == 1
    out = capsys.readouterr().out
    (tmp_path / "design.toml").write_text('name = "x"\nconnector = "dsub-9-socket-right-angle"\n' + out)
    assert load_design(tmp_path).name == "x"


def test_the_example_for_people_is_read(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    example = tmp_path / "example.csv"
    example.write_text(readme.split("```csv\n")[1].split("```")[0], encoding="utf-8")
    assert main(["readings", str(example), "--json"]) == 0
    kinds = {c["number"]: c["kind"] for c in json.loads(capsys.readouterr().out)["contacts"]}
    # 13 and 25 are the first places of the two rows, seen on the plug's solder side
    assert (kinds["13"], kinds["25"], kinds["12"], kinds["5"], kinds["14"]) == (
        "ground",
        "ground",
        "shield",
        "row",
        "column",
    )
