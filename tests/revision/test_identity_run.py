"""A board with straps from design to revision B: no finding, codes in every file, firmware that refuses."""

from __future__ import annotations

import copy
import importlib.util
import itertools
import json
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import pytest

from boardgen.errors import InputError
from boardgen.pipeline import check_run, generate
from boardgen.revision.changelog import changelog
from boardgen.revision.compare import compare_runs
from boardgen.revision.firmware import firmware_verdict
from boardgen.revision.model import Firmware
from boardgen.revision.revise import revise
from boardgen.revision.runs import open_run
from boardgen.revision.wiring import wiring_changes

DESIGN = """name = "strap-try"
revision = "A"
module = "pico-2"
connector = "box-header-2x5"
[[contacts]]
number = 1
kind = "ground"
[[contacts]]
number = 2
kind = "switch"
signal = "FORWARD"
[[contacts]]
number = 3
kind = "switch"
signal = "REVERSE"
[identity]
bits = 2
code = 1  # until B
"""


@pytest.fixture(scope="module")
def runs(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path, Path]:
    """Runs A and B, and B's design file."""
    folder = tmp_path_factory.mktemp("straps")
    design = folder / "strap-try"
    design.mkdir()
    (design / "design.toml").write_text(DESIGN, "utf-8")
    a = generate(design, folder / "out")
    assert a.findings == ()
    done = revise(a.folder, design=design)
    assert "the board's code was 1, that of revision B is 2" in done.notes
    b = generate(design, folder / "out")
    assert b.findings == ()
    return a.folder, b.folder, done.path


def test_the_next_revision_states_the_next_code_and_keeps_the_pins(runs: tuple[Path, Path, Path]) -> None:
    text = runs[2].read_text("utf-8")
    assert "code = 2  # until B\n" in text
    told = [json.loads((run / "summary.json").read_text("utf-8"))["identity"] for run in runs[:2]]
    assert [row["code"] for row in told] == [1, 2]
    assert told[1]["revisions"] == [{"code": 1, "revision": "A"}, {"code": 2, "revision": "B"}]
    pins = [[strap["pin"] for strap in row["straps"]] for row in told]
    assert pins[0] == pins[1]
    assert [strap["value"] for strap in told[0]["straps"]] == [1, 0]
    assert all(strap["proof"]["passes"] for row in told for strap in row["straps"])


def test_files_read_back_and_check_out(runs: tuple[Path, Path, Path]) -> None:
    for run in runs[:2]:
        assert check_run(run).findings == ()


def test_every_bit_has_its_resistor_in_the_files(runs: tuple[Path, Path, Path]) -> None:
    for run, rails in zip(runs[:2], (("GND", "3V3"), ("3V3", "GND")), strict=True):
        assert "R1 R2,2,2.2k," in (run / "assembly" / "bom.csv").read_text("utf-8")
        sheet = (run / "bringup" / "continuity.txt").read_text("utf-8")
        for bit, rail in enumerate(rails):
            assert f"to {rail}: through R{bit + 1}" in sheet
        plan = json.loads((run / "bringup" / "plan.json").read_text("utf-8"))
        (test,) = [row for row in plan["tests"] if row["id"] == "C01"]
        assert "board's code" in test["label"]
        report = (run / "report.html").read_text("utf-8")
        assert "The board&#39;s code" in report or "The board's code" in report
        netlist = (run / "cad" / "strap-try.kicad_sch").read_text("utf-8")
        assert "BOARD_ID0" in netlist


def test_the_comparison_names_the_code(runs: tuple[Path, Path, Path]) -> None:
    found = compare_runs(runs[0], runs[1])
    (change,) = found.of("identity")
    assert (change.thing, change.before, change.after) == ("board's code", "1", "2")
    assert found.firmware.verdict is Firmware.REBUILD
    assert "the board's code is another: 1 before, 2 now" in found.firmware.reasons
    assert found.of("pin map") == ()
    assert "### Identity" in changelog(found)
    assert "board's code: 1 before, 2 now." in changelog(found)


def test_a_code_of_the_history_is_refused(runs: tuple[Path, Path, Path], tmp_path: Path) -> None:
    design = tmp_path / "strap-try"
    shutil.copytree(runs[2].parent, design)
    file = design / "design.toml"
    file.write_text(file.read_text("utf-8").replace("code = 2", "code = 1"), "utf-8")
    with pytest.raises(Exception, match=r"identity.code: revision A has that code already; found 1"):
        generate(design, tmp_path / "out")
    assert not (tmp_path / "out" / "strap-try-B").exists()


def test_where_no_code_is_left_nothing_is_written(runs: tuple[Path, Path, Path], tmp_path: Path) -> None:
    design = tmp_path / "strap-try"
    design.mkdir()
    text = DESIGN.replace("bits = 2", "bits = 1")
    (design / "design.toml").write_text(text, "utf-8")
    with pytest.raises(InputError) as caught:
        revise(runs[0], design=design)
    assert caught.value.key == "identity.bits"
    assert (design / "design.toml").read_text("utf-8") == text
    assert not (design / "history").exists()


CASES = """#include <stdio.h>
#include "strap_try_pins.h"
static const int pins[] = BOARD_ID_PINS;
int main(void) {
    unsigned levels;
    if (sizeof pins / sizeof pins[0] != BOARD_ID_BITS || !BOARD_ID_PULL_UP) return 1;
    for (levels = 0; levels < 4; levels++)
        printf("%u %d %d\\n", BOARD_ID_FROM(levels), BOARD_ID_IS_OURS(levels),
               BOARD_ID_IS_KNOWN(BOARD_ID_FROM(levels)));
    printf("%u %u %u\\n", BOARD_ID_NO_STRAPS, BOARD_ID_OF_A, BOARD_ID_OF_B);
    return BOARD_ID_IS_OURS(BOARD_ID_LEVELS) ? 0 : 2;
}
"""


def _gcc(folder: Path, source: Path, *more: str) -> subprocess.CompletedProcess[str]:
    command = [
        "gcc",
        "-std=c99",
        "-pedantic",
        "-Wall",
        "-Wextra",
        "-Werror",
        f"-I{folder}",
        *more,
        str(source),
    ]
    return subprocess.run(command, capture_output=True, text=True, check=False)


@pytest.mark.skipif(shutil.which("gcc") is None, reason="no gcc here")
def test_the_header_tells_codes_and_refuses_another(runs: tuple[Path, Path, Path], tmp_path: Path) -> None:
    source, program = tmp_path / "main.c", tmp_path / "main"
    source.write_text(CASES, "utf-8")
    built = _gcc(runs[1] / "firmware", source, "-o", str(program))
    assert built.returncode == 0, built.stderr
    ran = subprocess.run([str(program)], capture_output=True, text=True, check=False)
    assert ran.returncode == 0
    assert ran.stdout.split("\n")[:5] == ["3 0 0", "2 1 1", "1 0 1", "0 0 0", "0 1 2"]
    folder = runs[1] / "firmware"
    assert _gcc(folder, source, "-fsyntax-only", "-DCODE_WRITTEN_FOR=2").returncode == 0
    refused = _gcc(folder, source, "-fsyntax-only", "-DCODE_WRITTEN_FOR=1")
    assert refused.returncode != 0
    assert "written for boards of another code than BOARD_ID_CODE" in refused.stderr


def _module(path: Path) -> ModuleType:
    spec = importlib.util.spec_from_file_location("pins_with_code", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_module_tells_codes_and_stops(runs: tuple[Path, Path, Path]) -> None:
    pins = _module(runs[1] / "firmware" / "strap_try_pins.py")
    for levels in itertools.product((0, 1), repeat=2):
        wanted = sum((1 - level) << bit for bit, level in enumerate(levels))
        assert pins.code_of(levels) == wanted
    assert pins.code_of((1, 1)) == pins.BOARD_ID_NO_STRAPS == 0
    assert pins.BOARD_ID_REVISIONS == {1: "A", 2: "B"}
    assert pins.check_board((1, 0)) == 2
    assert pins.check_board((0, 1), 1, 2) == 1
    with pytest.raises(RuntimeError, match=r"this board has code 1 \(revision A\)"):
        pins.check_board((0, 1))
    with pytest.raises(RuntimeError, match=r"this board has code 0 \(revision unknown\)"):
        pins.check_board((1, 1))
    with pytest.raises(ValueError, match="2 levels are wanted"):
        pins.code_of((1,))


def test_the_json_tells_the_same(runs: tuple[Path, Path, Path]) -> None:
    data = json.loads((runs[1] / "firmware" / "strap_try_pins.json").read_text("utf-8"))
    told = data["identity"]
    assert (told["bits"], told["code"], told["no_straps"], told["pull"]) == (2, 2, 0, "up")
    by_signal = {row["signal"]: row for row in data["pins"]}
    assert told["pins"] == [by_signal[f"BOARD_ID{bit}"]["pin"] for bit in range(2)]
    assert all(by_signal[f"BOARD_ID{bit}"]["pull"] == "up" for bit in range(2))


def test_a_strap_on_another_pin_is_told_by_itself(runs: tuple[Path, Path, Path]) -> None:
    one = open_run(runs[0])
    pins, data = one.pins(), copy.deepcopy(dict(one.data))
    was = next(row["pin"] for row in pins["pins"] if row["signal"] == "BOARD_ID1")
    moved = copy.deepcopy(pins)
    next(row for row in moved["pins"] if row["signal"] == "BOARD_ID1")["pin"] = "GP99"
    next(row for row in data["identity"]["straps"] if row["signal"] == "BOARD_ID1")["pin"] = "GP99"
    path = one.path("_pins.json")
    two = replace(one, data=data, files={**one.files, path: json.dumps(moved).encode()})
    (change,) = [row for row in wiring_changes(one, two) if row.section == "identity"]
    assert (change.thing, change.before, change.after) == ("strap BOARD_ID1", was, "GP99")
    told = firmware_verdict(one, two)
    assert told.verdict is Firmware.REBUILD
    assert told.reasons == (
        f"strap BOARD_ID1 moved from {was} to GP99: firmware built before reads the board's code from the "
        "wrong pin",
    )
