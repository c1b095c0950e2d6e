"""The whole way: each demo from its file to a clean run folder."""

from __future__ import annotations

import ast
import csv
import hashlib
import io
import json
import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
from demos import DEMOS, DESIGNS

from boardgen.board.geometry import outline_polygon
from boardgen.board.model import PartKind
from boardgen.errors import BoardgenError, InputError
from boardgen.pipeline import check, generate
from boardgen.units import ZERO, Point

ONCE = {"timings.json"}


def tree(folder: Path) -> dict[str, bytes]:
    return {
        p.relative_to(folder).as_posix(): p.read_bytes()
        for p in sorted(folder.rglob("*"))
        if p.is_file() and p.name not in ONCE
    }


@pytest.mark.parametrize("name", DEMOS)
def test_demo_is_complete_and_clean(run_of, name):
    result = run_of(name)
    routing = result.summary["routing"]
    assert routing["completed"] == routing["connections"] > 0
    assert routing["unrouted"] == []
    assert [f for f in result.findings if f.severity == "error"] == []
    assert all(c["passed"] for c in result.summary["checks"].values())
    assert result.summary["for_fabrication"] is True


@pytest.mark.parametrize("name", DEMOS)
def test_record_names_every_file_with_its_digest(run_of, name):
    result = run_of(name)
    written = tree(result.folder)
    record = json.loads(written.pop("summary.json"))
    assert {f["path"] for f in record["files"]} == set(written)
    for file in record["files"]:
        data = written[file["path"]]
        assert len(data) == file["bytes"]
        assert hashlib.sha256(data).hexdigest() == file["sha256"]
    design = (DESIGNS / name / "design.toml").read_bytes()
    assert record["inputs"] == {"design.toml": hashlib.sha256(design).hexdigest()}
    assert set(json.loads((result.folder / "timings.json").read_text())) >= {"routing", "rule check", "files"}


@pytest.mark.parametrize("name", DEMOS)
def test_a_run_holds_what_it_promises(run_of, name):
    files = tree(run_of(name).folder)
    stem = f"{name}-A"
    wanted = {
        "report.html",
        "summary.json",
        f"cad/{name}.kicad_pro",
        f"cad/{name}.kicad_sch",
        f"cad/{name}.kicad_pcb",
        "cad/fp-lib-table",
        "cad/sym-lib-table",
        *(f"fab/{stem}.{e}" for e in ("GTL", "GBL", "GTS", "GBS", "GTO", "GKO", "IPC")),
        f"fab/{stem}-PTH.DRL",
        f"fab/{stem}-NPTH.DRL",
        f"fab/{stem}-fab.zip",
        "assembly/bom.csv",
        "assembly/positions.csv",
        "assembly/drawings.pdf",
        "bringup/continuity.txt",
    }
    assert wanted <= set(files)
    assert files["assembly/drawings.pdf"].startswith(b"%PDF-")
    names = zipfile.ZipFile(io.BytesIO(files[f"fab/{stem}-fab.zip"])).namelist()
    flat = {Path(p).name for p in files if p.startswith("fab/") and not p.endswith(".zip")}
    assert set(names) == flat
    assert "NOT FOR FABRICATION" not in files[f"fab/{stem}-README.txt"].decode()


@pytest.mark.parametrize("name", DEMOS)
def test_no_machine_path_or_date_in_any_file(run_of, name):
    result = run_of(name)
    for path, data in tree(result.folder).items():
        assert str(result.folder.parent).encode() not in data, path
        assert b"/home/" not in data, path
        assert b"CreationDate,2" not in data, path


@pytest.mark.parametrize("name", DEMOS)
def test_every_signal_ends_on_one_usable_pin_and_its_own_contact(built, name):
    done = built(name)
    bound, board = done.bundle.bound, done.bundle.board
    module = next(p for p in board.parts if p.kind is PartKind.MODULE)
    connector = next(p for p in board.parts if p.kind is PartKind.CONNECTOR)
    pins = [choice.pin_number for choice in done.bundle.pinmap.choices]
    assert len(pins) == len(set(pins))
    for choice in done.bundle.pinmap.choices:
        pin = bound.module.pin(choice.pin_number)
        assert not pin.strap
        assert not pin.shared
        assert pin.can_drive or not choice.request.drives
        assert module.net_of(choice.pin_number) == choice.request.net
        if not choice.request.via_part:
            assert connector.net_of(choice.request.anchor) == choice.request.net


@pytest.mark.parametrize("name", DEMOS)
def test_usb_end_is_at_an_edge_and_the_mating_edge_on_the_outline(built, name):
    done = built(name)
    board, bound = done.bundle.board, done.bundle.bound
    left, top, right, bottom = outline_polygon(board.outline).bounds
    module = next(p for p in board.parts if p.kind is PartKind.MODULE)
    usb = module.placement.place(Point(ZERO, bound.module.body.top))
    reach = {"left": usb.x - left, "right": right - usb.x, "top": usb.y - top, "bottom": bottom - usb.y}
    overhang = bound.module.usb.overhang
    assert reach[done.bundle.floorplan.module_edge] <= max(overhang, 0) + 1e6
    if bound.connector.edge is not None:
        part = next(p for p in board.parts if p.kind is PartKind.CONNECTOR)
        at = part.placement.place(type(part.placement.at)(part.placement.at.x * 0, bound.connector.edge))
        edge = done.bundle.floorplan.connector_edge
        assert {"left": at.x - left, "right": at.x - right, "top": at.y - top, "bottom": at.y - bottom}[
            edge
        ] == 0


def test_pin_files_agree_with_each_other_and_compile(run_of, tmp_path):
    folder = run_of("lecture-keypad").folder / "firmware"
    data = json.loads((folder / "lecture_keypad_pins.json").read_text())
    source = (folder / "lecture_keypad_pins.py").read_text()
    space: dict[str, object] = {}
    exec(compile(ast.parse(source), "pins", "exec"), space)
    assert space["BOARD_PIN_MAP"] == data["pin_map"]
    for pin in data["pins"]:
        assert f"GP{space['PIN_' + pin['name']]}" == pin["pin"]
    assert len(space["KEYS_ROW_PINS"]) == 8
    assert len(space["KEYS_COLUMN_PINS"]) == 5
    compiler = shutil.which("cc") or shutil.which("gcc")
    if compiler is None:
        pytest.skip("no C compiler here")
    program = tmp_path / "show.c"
    lines = "\n".join(f'printf("%d\\n", PIN_{p["name"]});' for p in data["pins"])
    program.write_text(
        f'#include <stdio.h>\n#include "lecture_keypad_pins.h"\nint rows[] = KEYS_ROW_PINS;\n'
        f"int main(void) {{ {lines} return rows[0] != PIN_{data['matrices'][0]['keys'][0][0]}; }}\n"
    )
    exe = tmp_path / "show"
    subprocess.run(
        [compiler, "-Wall", "-Werror", "-I", str(folder), str(program), "-o", str(exe)], check=True
    )
    shown = subprocess.run([str(exe)], capture_output=True, text=True, check=True).stdout.split()
    assert [f"GP{number}" for number in shown] == [p["pin"] for p in data["pins"]]


def test_positions_agree_with_the_board(run_of, built):
    rows = list(
        csv.DictReader(io.StringIO((run_of("slide-remote").folder / "assembly/positions.csv").read_text()))
    )
    board = built("slide-remote").bundle.board
    _left, _top, _right, bottom = outline_polygon(board.outline).bounds
    assert {r["Designator"] for r in rows} == {p.ref for p in board.parts if p.kind is not PartKind.HOLE}
    for row in rows:
        at = board.part(row["Designator"]).placement.at
        assert float(row["X (mm)"]) == pytest.approx(at.x.mm, abs=6e-4)
        assert float(row["Y (mm)"]) == pytest.approx(bottom / 1e6 - at.y.mm, abs=6e-4)


def test_same_input_same_bytes_under_another_hash_seed_and_folder(run_of, tmp_path):
    first = run_of("slide-remote").folder
    design = tmp_path / "elsewhere" / "slide-remote"
    shutil.copytree(DESIGNS / "slide-remote", design)
    env = {**os.environ, "PYTHONHASHSEED": "4242", "TZ": "Pacific/Auckland", "LC_ALL": "C"}
    command = [sys.executable, "-m", "boardgen", "generate", str(design), "--out", str(tmp_path / "out")]
    subprocess.run(command, check=True, env=env, cwd=tmp_path, capture_output=True)
    second = tmp_path / "out" / first.name
    assert tree(first) == tree(second)


def test_check_builds_the_same_board_and_writes_nothing(tmp_path, monkeypatch, built):
    monkeypatch.chdir(tmp_path)
    result = check(DESIGNS / "pointer-handset")
    assert result.board == built("pointer-handset").bundle.board
    assert dict(result.evidence)["spacing pairs"] > 100
    assert list(tmp_path.iterdir()) == []


def test_wrong_input_leaves_the_earlier_run_alone(run_of, tmp_path):
    out = tmp_path / "out"
    shutil.copytree(run_of("pointer-handset").folder, out / "pointer-handset-A")
    before = tree(out)
    design = tmp_path / "pointer-handset"
    shutil.copytree(DESIGNS / "pointer-handset", design)
    text = (design / "design.toml").read_text()
    (design / "design.toml").write_text(text.replace('kind = "switch"', 'kind = "swich"', 1))
    with pytest.raises(BoardgenError, match=r"design\.toml:\d+: .*'swich'"):
        generate(design, out)
    assert tree(out) == before


def test_too_many_signals_say_how_many_and_which_modules_would_fit(tmp_path):
    contacts = "\n".join(
        f'[[contacts]]\nnumber = {i}\nkind = "switch"\nsignal = "S{i}"\n' for i in range(1, 25)
    )
    (tmp_path / "design.toml").write_text(
        'name = "many"\nmodule = "xiao-samd21"\nconnector = "dsub-25-socket-right-angle"\n'
        + contacts
        + '[[contacts]]\nnumber = 25\nkind = "ground"\n'
    )
    with pytest.raises(InputError) as caught:
        generate(tmp_path, tmp_path / "out")
    message = str(caught.value)
    assert "24" in message
    assert "pico-2" in message
    assert "pro-micro-32u4" not in message
    assert not (tmp_path / "out").exists()
