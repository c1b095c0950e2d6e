"""Bad input by the command line: one clear message, exit 2 or 3, nothing written, the earlier run untouched."""
# ruff: noqa: E501 - messages are held whole

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from design_kit import contacts

from boardgen.cli.main import main
from boardgen.export import run_folder

GOOD = """\
name = "desk"
module = "pico-2"
connector = "dsub-9-socket-right-angle"
fab = "economy-2l"
[[contacts]]
number = 1
kind = "switch"
signal = "START"
[[contacts]]
number = 2
kind = "switch"
signal = "STOP"
[[contacts]]
number = 5
kind = "ground"
"""
FIXED = '[[fixed]]\nsignal = "{}"\npin = "{}"\n'
MANY = GOOD.split("[[", maxsplit=1)[0].replace("dsub-9", "dsub-37") + contacts("switch", range(1, 31))
MANY += contacts("ground", [37])

CASES = {
    "broken TOML": (
        GOOD.replace('signal = "STOP"', "signal = STOP"),
        "desk/design.toml:12: this is not TOML: invalid value",
    ),
    "no name": (GOOD.replace('name = "desk"\n', ""), "desk/design.toml: name: the key is missing"),
    "unknown key": (
        GOOD.replace("connector =", "conector ="),
        r"desk/design.toml:3: unknown key 'conector', did you mean 'connector'\?; allowed: .*",
    ),
    "unknown key in a table": (
        GOOD.replace('signal = "STOP"', 'signl = "STOP"'),
        r"desk/design.toml:12: contacts\[2\]: unknown key 'signl', did you mean 'signal'\?; allowed: .*",
    ),
    "unknown module": (
        GOOD.replace("pico-2", "pico-3"),
        r"desk/design.toml:2: module: there is no module 'pico-3' in the catalogue, did you mean 'pico-2'\?",
    ),
    "unknown connector": (
        GOOD.replace("dsub-9-socket-right-angle", "dsub-9-socket-rightangle"),
        r"desk/design.toml:3: connector: there is no connector 'dsub-9-socket-rightangle' in the catalogue, "
        r"did you mean 'dsub-9-socket-right-angle' or .*\?",
    ),
    "unknown fab class": (
        GOOD.replace("economy-2l", "economy"),
        r"desk/design.toml:4: fab: there is no fab class 'economy' in the catalogue, did you mean 'economy-2l'\?",
    ),
    "not a kind": (
        GOOD.replace('"ground"', '"grund"'),
        r"desk/design.toml:15: contacts\[3\].kind: .*; found 'grund'; allowed: .*ground.*",
    ),
    "a contact twice": (
        GOOD.replace("number = 2", "number = 1"),
        r"desk/design.toml:10: contacts\[2\].number: contact 1 is already .* line \d+",
    ),
    "a contact not on the connector": (
        GOOD.replace("number = 2", "number = 10"),
        "desk/design.toml:9: contacts: contact 10 is not on connector dsub-9-socket-right-angle; allowed: 1 to 9",
    ),
    "more signals than GPIOs": (
        MANY,
        r"desk/design.toml:2: module: module pico-2 is 4 pins short: 30 signals \(.*\) need a GPIO, "
        r"and only 26 free pins offer it \(.*\); found pico-2; allowed: no module of the catalogue fits",
    ),
    "more signals than any module has GPIOs": (
        MANY.replace("pico-2", "auto"),
        r"desk/design.toml:2: module: no module of the catalogue carries this design; found "
        r"xiao-samd21 is 19 pins short; .*pico-2 is 4 pins short.*",
    ),
    "a wrong contact whatever the module": (
        GOOD.replace("pico-2", "auto").replace("number = 2", "number = 10"),
        "desk/design.toml:9: contacts: contact 10 is not on connector dsub-9-socket-right-angle; allowed: 1 to 9",
    ),
    "a wrong connector whatever the module": (
        GOOD.replace("pico-2", "auto").replace("dsub-9-socket-right-angle", "teapot"),
        "desk/design.toml:3: connector: there is no connector 'teapot' in the catalogue",
    ),
    "a top contact where the copper is below": (
        GOOD.replace("right-angle", "straddle").replace("economy-2l", "home-etch-1l"),
        "desk/design.toml:3: connector: fab class home-etch-1l has copper on the bottom alone, and "
        "dsub-9-socket-straddle is soldered to the top at contacts 1, 2, 5; allowed: a connector with pins "
        "through the board, or a fab class with two copper layers",
    ),
    "two signals on one pin": (
        GOOD + FIXED.format("START", "GP4") + FIXED.format("STOP", "#6"),
        r"desk/design.toml:19: fixed: pin GP4 \(number 6\) of pico-2 is fixed for both START and STOP",
    ),
    "an outline too small": (
        GOOD + "[outline]\nwidth_mm = 20\nheight_mm = 20\n",
        "desk/design.toml:16: outline: the outline is too small for module pico-2 and connector "
        r"dsub-9-socket-right-angle; the least board that works is [\d.]+ x [\d.]+ mm; found 20 x 20 mm; "
        r"allowed: at least [\d.]+ x [\d.]+ mm",
    ),
    "not a number": (
        GOOD + "[outline]\nwidth_mm = nan\nheight_mm = 60\n",
        r"desk/design.toml:17: outline.width_mm: .*; found nan.*",
    ),
    "endless": (
        GOOD + "[outline]\nwidth_mm = inf\nheight_mm = 60\n",
        r"desk/design.toml:17: outline.width_mm: .*; found inf.*",
    ),
    "absurdly large": (
        GOOD + "[outline]\nwidth_mm = 1e300\nheight_mm = 60\n",
        r"desk/design.toml:17: outline.width_mm: .*; found 1e\+300; allowed: .*500.*",
    ),
    "less than nothing": (
        GOOD + "[holes]\ndiameter_mm = -3\n",
        r"desk/design.toml:17: holes.diameter_mm: .*; found -3; allowed: .*1.*",
    ),
    "four hundred digits": (
        GOOD.replace("number = 2", "number = " + "9" * 400),
        r"desk/design.toml:10: contacts\[2\].number: .{1,300}",
    ),
    "path parts in the name": (
        GOOD.replace('"desk"', '"../desk"'),
        "desk/design.toml:1: name: .*; found '../desk'; allowed: lower-case letters, digits and hyphens, at most 48, no path",
    ),
    "an absolute name": (
        GOOD.replace('"desk"', '"/etc/desk"'),
        "desk/design.toml:1: name: .*; found '/etc/desk'; allowed: lower-case letters, digits and hyphens, at most 48, no path",
    ),
    "a drawing outside the folder": (
        GOOD + '[outline]\ndxf = "../../secret.dxf"\n',
        r"desk/design.toml:17: outline.dxf: .*; found '?../../secret.dxf'?.*",
    ),
    "a drawing that is not there": (
        GOOD + '[outline]\ndxf = "plate.dxf"\n',
        r"desk/plate.dxf: there is no such .*",
    ),
    "no contacts": (GOOD.split("[[", maxsplit=1)[0], "desk/design.toml: contacts: the key is missing"),
}


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A working folder with an earlier run in ``out``."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "desk").mkdir()
    (tmp_path / "desk/design.toml").write_text(GOOD)
    (tmp_path / "out/desk-A").mkdir(parents=True)
    (tmp_path / "out/desk-A/summary.json").write_text("the earlier run\n")
    return tmp_path


def everything(folder: Path) -> dict[str, bytes | None]:
    return {
        p.relative_to(folder).as_posix(): p.read_bytes() if p.is_file() else None for p in folder.rglob("*")
    }


def refused(bench: Path, capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str]:
    """Run the command; nothing may have changed and one line may have been said."""
    before = everything(bench)
    code = main(arguments)
    out, err = capsys.readouterr()
    assert everything(bench) == before
    assert out == ""
    assert err.endswith("\n")
    assert err.count("\n") == 1, err
    assert "Traceback" not in err
    assert len(err) < 1200
    assert err.startswith("boardgen: ")
    return code, err.removeprefix("boardgen: ").rstrip("\n")


@pytest.mark.parametrize("command", ["generate", "check"])
@pytest.mark.parametrize("name", CASES)
def test_a_wrong_design_is_one_message(name, command, bench, capsys):
    text, message = CASES[name]
    (bench / "desk/design.toml").write_text(text)
    code, said = refused(bench, capsys, command, "desk")
    assert re.fullmatch(message, said), said
    assert code == 2


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["generate", "nowhere"], "nowhere: there is no such file"),
        (["generate", "desk/other.toml"], "desk/other.toml: there is no such file"),
        (["generate", "out"], "out/design.toml: there is no such file"),
        (["generate", "desk", "--catalog", "mine"], "mine: there is no such catalogue folder"),
        (
            ["generate", "desk", "--revision", "../../B"],
            r"--revision: the value is not allowed; found '\.\./\.\./B'; allowed: one or two capital letters",
        ),
        (
            ["generate", "desk", "--revision", "/B"],
            "--revision: the value is not allowed; found '/B'; allowed: one or two capital letters",
        ),
        (
            ["generate", "desk", "--revision", ""],
            "--revision: the value is not allowed; found ''; allowed: one or two capital letters",
        ),
        (
            ["check", "desk", "--revision", "A\n"],
            r"--revision: the value is not allowed; found 'A\\n'; allowed: one or two capital letters",
        ),
    ],
)
def test_wrong_words_on_the_command_line(arguments, message, bench, capsys):
    code, said = refused(bench, capsys, *arguments)
    assert re.fullmatch(message, said), said
    assert code == 2


def test_bytes_that_are_no_text(bench, capsys):
    (bench / "desk/design.toml").write_bytes(b'name = "\xff\xfe"\n')
    code, said = refused(bench, capsys, "generate", "desk")
    assert re.fullmatch(r"desk/design.toml(:1)?: .*UTF-8.*", said), said
    assert code == 2


def test_a_file_without_end(bench, capsys):
    code, said = refused(bench, capsys, "generate", "/dev/zero")
    assert (code, said) == (2, "/dev/zero: a file is wanted, this is a pipe or a device")
    assert code == 2


def test_an_output_folder_that_is_a_file(bench, capsys):
    code, said = refused(bench, capsys, "generate", "desk", "--out", "desk/design.toml")
    wanted = "desk/design.toml: the output folder's path leads through a file; found desk/design.toml"
    assert (code, said) == (2, wanted)
    code, said = refused(bench, capsys, "generate", "desk", "--out", "desk/design.toml/deep/out")
    wanted = (
        "desk/design.toml/deep/out: the output folder's path leads through a file; found desk/design.toml"
    )
    assert (code, said) == (2, wanted)


def test_an_output_folder_nobody_may_write_in(bench, capsys):
    code, said = refused(bench, capsys, "generate", "desk", "--out", "/proc/boards")
    assert re.fullmatch(r"/proc/boards(/desk-A)?: .*(no permission|could not be written: ).*", said), said
    assert code == 3


def test_a_run_folder_whose_name_is_taken_by_a_file(bench, capsys):
    (bench / "other").mkdir()
    (bench / "other/desk-A").write_text("somebody's notes\n")
    code, said = refused(bench, capsys, "generate", "desk", "--out", "other")
    wanted = "other/desk-A: the run folder's name is taken by something that is no folder"
    assert (code, said) == (2, wanted)


def test_a_folder_of_somebody_elses_is_not_replaced(bench, capsys):
    (bench / "other/desk-A").mkdir(parents=True)
    (bench / "other/desk-A/notes.txt").write_text("somebody's notes\n")
    code, said = refused(bench, capsys, "generate", "desk", "--out", "other")
    wanted = "other/desk-A: the folder that the run would replace is no run: it holds no summary.json"
    assert (code, said) == (2, wanted)


def test_everything_wrong_at_once_is_a_line_each(bench, capsys):
    (bench / "desk/design.toml").write_text("")
    assert main(["generate", "desk"]) == 2
    assert capsys.readouterr().err.splitlines() == [
        f"boardgen: desk/design.toml: {key}: the key is missing" for key in ("name", "connector", "contacts")
    ]


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_an_output_folder_without_permission(bench, capsys):
    (bench / "shut").mkdir(mode=0o500)
    code, said = refused(bench, capsys, "generate", "desk", "--out", "shut")
    assert (code, said) == (3, "shut: no permission to write in shut")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full here")
def test_a_full_disk_where_the_answer_goes():
    with Path("/dev/full").open("w") as full:
        result = subprocess.run(
            [sys.executable, "-m", "boardgen", "catalog", "fabs"],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )
    assert result.returncode == 3
    assert result.stderr == "boardgen: No space left on device\n"


def test_a_disk_that_fills_up_leaves_the_earlier_run(bench, capsys, monkeypatch):
    write = run_folder.write_new

    def limited(path: Path, data: bytes) -> None:
        if path.name == "summary.json":
            raise OSError(28, "No space left on device", str(path))
        write(path, data)

    monkeypatch.setattr(run_folder, "write_new", limited)
    code = main(["generate", "desk"])
    monkeypatch.undo()
    _, err = capsys.readouterr()
    assert (code, err) == (
        3,
        "boardgen: out/desk-A: the run could not be written: No space left on device\n",
    )
    assert set(everything(bench / "out")) == {"desk-A", "desk-A/summary.json"}
    assert (bench / "out/desk-A/summary.json").read_text() == "the earlier run\n"
