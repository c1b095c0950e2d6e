"""The consumer's own word: each design's CAD project gives no finding of any severity.

Run with the variable CAD_CHECK naming the checker program, or with kicad-cli on PATH.
"""

from __future__ import annotations

import gzip
import json
import os
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from boardgen.board.model import Side
from boardgen.catalog.load import load_catalog
from boardgen.design.load import load_design
from boardgen.export.cad_files import cad_files
from boardgen.footprint.model import PadKind
from boardgen.pipeline import build, choose_module

CHECKER = os.environ.get("CAD_CHECK", "")
CLI = shutil.which("kicad-cli")
DESIGNS = sorted(p.parent for p in (Path(__file__).parents[2] / "designs").glob("*/design.toml"))

pytestmark = [
    pytest.mark.interop,
    pytest.mark.skipif(not (CHECKER or CLI), reason="neither CAD_CHECK nor kicad-cli"),
]


@pytest.fixture(scope="module", params=DESIGNS, ids=lambda path: path.name)
def project(request, tmp_path_factory):
    catalog = load_catalog()
    built = build(choose_module(load_design(request.param), catalog), catalog)
    folder = tmp_path_factory.mktemp(request.param.name)
    for file in cad_files(built.bundle):
        path = folder / file.path
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(file.data)
    return built, folder / "cad"


def findings_of_cli(folder: Path, name: str) -> list[object]:
    """Rule check with parity, then the electrical check, each as the program's own JSON."""
    found: list[object] = []
    runs = (
        (["pcb", "drc", "--schematic-parity"], f"{name}.kicad_pcb"),
        (["sch", "erc"], f"{name}.kicad_sch"),
    )
    for number, (words, file) in enumerate(runs):
        out = folder.parent / f"report{number}.json"
        command = [str(CLI), *words, "--severity-all", "--format", "json", "-o", str(out), file]
        subprocess.run(command, cwd=folder, check=True, capture_output=True)
        told = json.loads(out.read_text())
        for key in ("violations", "unconnected_items", "schematic_parity"):
            found += told.get(key, [])
        for sheet in told.get("sheets", []):
            found += sheet["violations"]
    return found


def test_no_finding_of_any_severity(project):
    built, folder = project
    if CHECKER:
        done = subprocess.run(
            [CHECKER, "drc", str(folder), "--strict"], check=False, capture_output=True, text=True
        )
        told = json.loads(done.stdout)
        assert told["items"] == []
        assert told["messages"] == []
        assert told["muted"] == []
        assert done.returncode == 0
    else:
        assert findings_of_cli(folder, built.bundle.board.name) == []


def test_the_programs_own_refill_leaves_nothing_open(project):
    _, folder = project
    if not CHECKER:
        pytest.skip("only the checker refills")
    done = subprocess.run(
        [CHECKER, "drc", str(folder), "--refill"], check=False, capture_output=True, text=True
    )
    refilled = json.loads(done.stdout)["refilled"]
    assert refilled["unconnected"] == 0
    for zone in refilled["zones"]:
        assert zone["only_stored_mm2"] < 0.05


def test_the_programs_own_drill_file_has_our_holes(project, tmp_path):
    built, folder = project
    if not CHECKER:
        pytest.skip("only the checker exports")
    subprocess.run([CHECKER, "export", str(folder), str(tmp_path)], check=True, capture_output=True)
    board = built.bundle.board
    wanted = {PadKind.PLATED: len(board.vias), PadKind.UNPLATED: 0}
    for part in board.parts:
        for pad in part.footprint.pads:
            if pad.hole is not None:
                wanted[pad.kind] += 1
    for kind, end in ((PadKind.PLATED, "-PTH.drl"), (PadKind.UNPLATED, "-NPTH.drl")):
        (path,) = tmp_path.glob(f"*{end}")
        raw = path.read_bytes()
        text = (gzip.decompress(raw) if raw[:2] == b"\x1f\x8b" else raw).decode()
        hits = re.findall(r"^X[-\d.]+Y[-\d.]+$", text, re.MULTILINE)
        slots = re.findall(r"G85", text)
        assert len(hits) + len(slots) == wanted[kind]
    assert Side.BOTTOM in board.copper
