"""The commands as people call them: exit codes, messages, JSON, pipes and the environment."""
# ruff: noqa: E501 - messages are held whole

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path
from types import ModuleType, SimpleNamespace
from xml.etree import ElementTree

import pytest

from boardgen import __version__
from boardgen.cli import face_text
from boardgen.cli.guard import guarded
from boardgen.cli.main import main
from boardgen.errors import Finding, InputError, InputErrors, MachineError, Severity
from boardgen.units import mm, point_mm

ROOT = Path(__file__).parents[2]
DESIGN = ROOT / "designs" / "lecture-keypad"


def call(*arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "boardgen", *arguments],
        capture_output=True,
        text=True,
        env={**os.environ, **environment},
        check=False,
    )


def test_version_and_help() -> None:
    result = call("--version")
    assert (result.returncode, result.stdout, result.stderr) == (0, f"boardgen {__version__}\n", "")
    result = call("--help")
    assert result.returncode == 0
    for command in ("catalog", "schema", "generate", "check"):
        assert command in result.stdout


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["frob"], "boardgen: No such command 'frob'.\n"),
        (["generate"], "boardgen: Missing argument 'PATH'.\n"),
        (["schema", "--no"], r"boardgen: No such option: --no.*\n"),
        (["catalog", "show"], "boardgen: show: catalog show takes one ID; found 0 words\n"),
        (["catalog", "--svg", "x.svg"], "boardgen: --svg: the option goes with catalog show ID\n"),
        (
            ["catalog", "show", "pico2"],
            r"boardgen: there is no catalogue entry 'pico2', did you mean 'pico-2'\?\n",
        ),
        (
            ["catalog", "show", "economy-2l", "--svg", "x.svg"],
            "boardgen: --svg: a fab class or logic family has no drawing\n",
        ),
        (
            ["generate", "x", "--revision", "../B"],
            r"boardgen: --revision: the value is not allowed; found '\.\./B'; allowed: one or two capital letters\n",
        ),
        (
            ["catalog", "--catalog", "no-such-folder"],
            "boardgen: no-such-folder: there is no such catalogue folder\n",
        ),
    ],
)
def test_wrong_input_is_one_line_and_exit_2(
    arguments: list[str], message: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(arguments) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert re.fullmatch(message, err)


def test_errors_as_json_go_to_standard_output_too(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["catalog", "show", "pico2", "--json"]) == 2
    out, err = capsys.readouterr()
    message = "there is no catalogue entry 'pico2', did you mean 'pico-2'?"
    assert json.loads(out) == {"errors": [{"message": message}], "exit_code": 2}
    assert err == f"boardgen: {message}\n"


def test_lists_and_filters(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["catalog", "modules", "pico"]) == 0
    out = capsys.readouterr().out.splitlines()
    assert [line.split()[0] for line in out] == ["kind", "module"]
    assert "pico-2" in out[1]
    assert main(["catalog", "connectors", "dsub-25", "socket", "--json"]) == 0
    listed = json.loads(capsys.readouterr().out)
    assert set(listed) == {"connectors", "problems"}
    assert [entry["id"] for entry in listed["connectors"]] == [
        "dsub-25-socket-right-angle",
        "dsub-25-socket-straddle",
        "dsub-25-socket-straight",
    ]
    assert main(["catalog", "nothing-like-it"]) == 0
    assert capsys.readouterr() == ("", "nothing in the catalogue holds 'nothing-like-it'\n")


def test_a_bad_entry_of_the_users_is_named_and_the_rest_is_listed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "bad.toml").write_text("kind = 3\n")
    assert main(["catalog", "fabs", "--catalog", str(tmp_path)]) == 1
    out, err = capsys.readouterr()
    assert "economy-2l" in out
    where = f"{tmp_path.as_posix()}/bad.toml"
    assert err == (
        f"boardgen: {where}:1: kind: the value is not allowed; found 3; allowed: connector, fab, logic, module, part\n"
    )


def test_show_draws_the_mating_face_as_one_looks_at_it(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["catalog", "show", "dsub-9-socket-straight"]) == 0
    lines = capsys.readouterr().out.splitlines()
    rows = [re.findall(r"\d+", line) for line in lines if line.startswith("|")]
    # a socket looked at has contact 1 at the upper right, a plug at the upper left (IEC 60807-3)
    assert [row for row in rows if row] == [["5", "4", "3", "2", "1"], ["9", "8", "7", "6"]]
    assert main(["catalog", "show", "dsub-9-plug-straight"]) == 0
    lines = capsys.readouterr().out.splitlines()
    rows = [re.findall(r"\d+", line) for line in lines if line.startswith("|")]
    assert [row for row in rows if row] == [["1", "2", "3", "4", "5"], ["6", "7", "8", "9"]]


def test_show_draws_a_chip_from_above_and_says_its_gates(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["catalog", "show", "buffer-74hc4050-dip"]) == 0
    lines = capsys.readouterr().out.splitlines()
    rows = [line.replace("|", " ").split() for line in lines if line.count("|") == 2]
    # pin 1 upper left, counter-clockwise: the maker's pin table
    assert [(row[0], row[-1]) for row in rows] == [
        ("supply", "open"),
        ("y1", "y6"),
        ("a1", "a6"),
        ("y2", "open"),
        ("a2", "y5"),
        ("y3", "a5"),
        ("a3", "y4"),
        ("ground", "a4"),
    ]
    assert [(row[1], row[2]) for row in rows] == [(str(n), str(17 - n)) for n in range(1, 9)]
    assert "logic: 74hc4050" in lines
    assert "gate: a6 to y6" in lines
    assert main(["catalog", "show", "buffer-74ahct125-soic"]) == 0
    assert "gate: a3 to y3, oe3 to ground" in capsys.readouterr().out.splitlines()


def test_show_says_levels_and_supplies_of_a_module(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["catalog", "show", "black-pill-f411"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert "levels of the tolerant pins" in lines
    assert "internal pull-up: 30 kohm to 50 kohm, typically 40" in lines
    assert "a pin should give or take at most 20 mA, 120 mA in all" in lines
    (strap,) = [line for line in lines if line.startswith("36 ")]
    assert strap.endswith("must be low at reset for the loader; pull-down 10000 ohm on the module")
    assert main(["catalog", "show", "nano-328p"]) == 0
    (analog,) = [line for line in capsys.readouterr().out.splitlines() if line.startswith("25  ")]
    assert analog.endswith("analog input only; takes 5.5 V")
    assert main(["catalog", "show", "pico-2"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert "5V to VSYS: diode, loses 0.34 V at 1 A" in lines
    assert any(line.startswith("VSYS to 3V3: switching regulator RT6150B, ") for line in lines)


@pytest.mark.parametrize("kind", ["modules", "connectors", "parts", "fabs", "logic"])
def test_every_entry_can_be_shown(kind: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["catalog", kind, "--json"]) == 0
    ids = [entry["id"] for entry in json.loads(capsys.readouterr().out)[kind]]
    assert ids
    for name in ids:
        assert main(["catalog", "show", name, "--json"]) == 0
        out, err = capsys.readouterr()
        record = json.loads(out)
        assert record["id"] == name
        assert record["sources"]
        assert err.startswith(f"{name}: ")
        assert "source: " in err


@pytest.mark.parametrize(
    "name", ["pico-2", "dsub-25-socket-right-angle", "din-8-262-socket-right-angle", "resistor-0805"]
)
def test_the_drawing_names_every_pad(name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    target = tmp_path / "part.svg"
    assert main(["catalog", "show", name, "--svg", str(target)]) == 0
    capsys.readouterr()
    tree = ElementTree.fromstring(target.read_text())
    texts = [element.text for element in tree.iter("{http://www.w3.org/2000/svg}text")]
    assert main(["catalog", "show", name, "--json"]) == 0
    record = json.loads(capsys.readouterr().out)
    if "contacts" in record:
        # once at its pad and once on the mating face
        assert all(texts.count(contact["number"]) == 2 for contact in record["contacts"])
    elif record["kind"] == "module":
        assert all(pin["number"] in texts and pin["name"] in texts for pin in record["pins"])
    else:
        assert {"1", "2"} <= set(texts)
    again = tmp_path / "again.svg"
    main(["catalog", "show", name, "--svg", str(again)])
    assert again.read_bytes() == target.read_bytes()


def test_an_unwritable_drawing_is_the_machines_fault(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    target = tmp_path / "no" / "part.svg"
    assert main(["catalog", "show", "pico-2", "--svg", str(target)]) == 3
    assert capsys.readouterr().err == f"boardgen: {target}: No such file or directory\n"


def test_schema_is_json(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["schema"]) == 0
    plain = capsys.readouterr().out
    assert json.loads(plain)["title"] == "boardgen design file"
    assert main(["schema", "--json"]) == 0
    assert capsys.readouterr().out == plain


def test_no_heavy_library_is_loaded_at_the_door() -> None:
    code = (
        "import sys, boardgen.cli.main\n"
        "heavy = {'pydantic', 'shapely', 'numpy', 'numba', 'scipy', 'skidl', 'ezdxf', 'rich.table', 'jinja2'}\n"
        "print(sorted(heavy & set(sys.modules)))\n"
    )
    result = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert result.stdout == "[]\n"


def test_a_reader_that_leaves_is_no_error() -> None:
    process = subprocess.Popen(
        [sys.executable, "-m", "boardgen", "schema"], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )
    assert process.stdout is not None
    assert process.stderr is not None
    process.stdout.close()
    assert process.stderr.read() == b""
    process.stderr.close()
    assert process.wait() == 141


@pytest.mark.parametrize(
    ("error", "code", "message"),
    [
        (InputError("bad", "f.toml", "k", 3), 2, "boardgen: f.toml:3: k: bad\n"),
        (InputErrors([InputError("one"), InputError("two")]), 2, "boardgen: one\nboardgen: two\n"),
        (MachineError("disk full"), 3, "boardgen: disk full\n"),
        (PermissionError(13, "Permission denied", "x"), 3, "boardgen: x: Permission denied\n"),
        (OSError(28, "No space left on device"), 3, "boardgen: No space left on device\n"),
        (
            ZeroDivisionError("a\nb"),
            3,
            "boardgen: internal error: ZeroDivisionError: a b (set BOARDGEN_TRACEBACK=1 to see where)\n",
        ),
        (
            RecursionError(),
            3,
            "boardgen: internal error: RecursionError (set BOARDGEN_TRACEBACK=1 to see where)\n",
        ),
        (KeyboardInterrupt(), 130, "boardgen: interrupted\n"),
    ],
)
def test_every_exception_is_words_and_a_code(
    error: BaseException, code: int, message: str, capsys: pytest.CaptureFixture[str]
) -> None:
    def work() -> int:
        raise error

    assert guarded(work, as_json=False) == code
    out, err = capsys.readouterr()
    assert (out, err) == ("", message)


HOSTILE = (
    "a\x1b]0;owned\x07\x1b[2Jb\nboardgen: all is well\r\x9b31m\u202egnp.\u2028\udcff\x7f\U000e0041z.toml"
)
SEEN = r"a\x1b]0;owned\x07\x1b[2Jb\nboardgen: all is well\r\x9b31m\u202egnp.\u2028\udcff\x7f\U000e0041z.toml"


@pytest.mark.parametrize(
    "error",
    [
        InputError("there is no such file", HOSTILE),
        InputErrors([InputError("there is no such file", HOSTILE)]),
        MachineError(f"{HOSTILE}: there is no such file"),
        OSError(2, "there is no such file", HOSTILE),
    ],
)
def test_names_cannot_command_the_terminal(error: Exception, capsys: pytest.CaptureFixture[str]) -> None:
    def work() -> int:
        raise error

    guarded(work, as_json=False)
    assert capsys.readouterr().err == f"boardgen: {SEEN}: there is no such file\n"
    guarded(work, as_json=True)
    out, err = capsys.readouterr()
    assert err == f"boardgen: {SEEN}: there is no such file\n"
    assert out.isascii()
    assert HOSTILE in "".join(map(str, json.loads(out)["errors"][0].values()))  # programs get it whole


def test_letters_of_all_scripts_are_left_as_they_are(capsys: pytest.CaptureFixture[str]) -> None:
    def work() -> int:
        raise InputError("no such file", "Übung/пульт/机/naïve name.toml")

    assert guarded(work, as_json=False) == 2
    assert capsys.readouterr().err == "boardgen: Übung/пульт/机/naïve name.toml: no such file\n"


def test_a_hostile_name_on_the_command_line(tmp_path: Path) -> None:
    result = call("check", str(tmp_path / "x\x1b[31m\n.toml"))
    assert result.returncode == 2
    assert "\x1b" not in result.stderr
    assert result.stderr.count("\n") == 1
    assert "x\\x1b[31m\\n.toml" in result.stderr


def test_a_traceback_is_shown_when_asked_for(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("BOARDGEN_TRACEBACK", "1")

    def work() -> int:
        raise ZeroDivisionError("x")

    assert guarded(work, as_json=True) == 3
    out, err = capsys.readouterr()
    assert err.startswith("Traceback (most recent call last):\n")
    assert json.loads(out)["exit_code"] == 3


FINDING = Finding(
    "spacing",
    Severity.ERROR,
    "too near",
    point_mm(1, 2),
    "top copper",
    ("R1 pad 1", "track of A"),
    mm("0.1"),
    mm("0.2"),
)
SUMMARY = {
    "design": "lecture-keypad",
    "revision": "A",
    "board": {"width_mm": 60.0, "height_mm": 81.5, "copper_layers": 2},
    "routing": {"connections": 20, "completed": 20, "vias": 0},
}


def pretend(monkeypatch: pytest.MonkeyPatch, findings: Sequence[Finding]) -> list[tuple[object, ...]]:
    """Put a pipeline in place that only remembers what it was called with."""
    calls: list[tuple[object, ...]] = []
    module = ModuleType("boardgen.pipeline")

    def generate(*arguments: object) -> SimpleNamespace:
        calls.append(arguments)
        return SimpleNamespace(folder=Path("out/lecture-keypad-A"), summary=SUMMARY, findings=tuple(findings))

    def check(*arguments: object) -> SimpleNamespace:
        calls.append(arguments)
        return SimpleNamespace(
            findings=tuple(findings), board=SimpleNamespace(name="lecture-keypad", revision="A")
        )

    module.generate = generate  # type: ignore[attr-defined]
    module.check = check  # type: ignore[attr-defined]
    module.is_run = module.is_cad_board = lambda _: False  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "boardgen.pipeline", module)
    return calls


def test_generate_says_what_was_made(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    calls = pretend(monkeypatch, ())
    assert (
        main(["generate", "designs/x", "--out", "o", "--revision", "B", "--catalog", "c", "--catalog", "d"])
        == 0
    )
    out, err = capsys.readouterr()
    assert out == (
        "lecture-keypad-A: 60 x 81.5 mm, 2 copper layers, 20 of 20 connections routed, 0 vias, no findings\n"
        "files in out/lecture-keypad-A\n"
    )
    assert err == ""
    assert calls == [(Path("designs/x"), Path("o"), "B", [Path("c"), Path("d")], None)]


def test_findings_of_severity_error_exit_1(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    pretend(monkeypatch, (FINDING,))
    line = (
        "error: spacing: too near (R1 pad 1 and track of A) at 1.00, 2.00 mm, top copper: "
        "0.100 mm, limit 0.200 mm\n"
    )
    assert main(["check", "x"]) == 1
    assert capsys.readouterr() == (line + "lecture-keypad-A: 1 error\n", "")
    assert main(["generate", "x", "--json"]) == 1
    out, err = capsys.readouterr()
    assert json.loads(out) == {"folder": "out/lecture-keypad-A", "exit_code": 1, **SUMMARY}
    assert err.startswith(line)
    assert err.endswith("not for fabrication: see the findings of severity error\n")
    assert main(["check", "x", "--json"]) == 1
    record = json.loads(capsys.readouterr().out)
    assert record["findings"] == [
        {
            "rule": "spacing",
            "severity": "error",
            "message": "too near",
            "at_mm": [1.0, 2.0],
            "layer": "top copper",
            "items": ["R1 pad 1", "track of A"],
            "measured_mm": 0.1,
            "limit_mm": 0.2,
            "waived": "",
        }
    ]


def test_warnings_exit_0(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    pretend(monkeypatch, (Finding("fuse", Severity.WARNING, "w"), Finding("fuse", Severity.NOTE, "n")))
    assert main(["check", "x"]) == 0
    assert capsys.readouterr().out == "warning: fuse: w\nnote: fuse: n\nlecture-keypad-A: 1 warning, 1 note\n"


def test_numbers_that_would_touch_are_spread() -> None:
    placed = [(str(n), point_mm(n * 0.5, 0)) for n in range(8, 13)]
    (line,) = face_text.number_grid(placed)
    assert re.fullmatch(r"8 +9 +10 +11 +12", line)


def test_a_broken_design_leaves_nothing_behind(tmp_path: Path) -> None:
    design = tmp_path / "design.toml"
    design.write_text((DESIGN / "design.toml").read_text().replace('kind = "row"', 'kind = "rwo"', 1))
    result = call("generate", str(design), "--out", str(tmp_path / "out"), NO_COLOR="1")
    assert result.returncode == 2
    line = 1 + design.read_text().split("\n").index('kind = "rwo"')
    assert result.stderr == (
        f"boardgen: {design.as_posix()}:{line}: contacts[1].kind: the value is not allowed; found 'rwo'; "
        "allowed: row, column, switch, analog, digital, lamp, relay, buzzer, supply, ground, shield, unused\n"
    )
    assert result.stdout == ""
    assert not (tmp_path / "out").exists()


def test_even_pitches_look_even() -> None:
    odd = [(str(2 * n + 1), point_mm(n * 2.54, 0)) for n in range(13)]
    even = [(str(2 * n + 2), point_mm(n * 2.54, 2.54)) for n in range(13)]
    lines = [line for line in face_text.number_grid(odd + even) if line.strip()]
    ends = [[match.end() for match in re.finditer(r"\d+", line)] for line in lines]
    assert ends[0] == ends[1]
    assert {b - a for a, b in pairwise(ends[0])} == {3}
