"""A user's own land pattern with pads of free form goes through every stage and file."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from boardgen.catalog.load import load_catalog
from boardgen.errors import Severity
from boardgen.footprint.model import PadShape
from boardgen.pipeline import check_cad, check_run, generate

ROOT = Path(__file__).parents[2]
OWN = "dsub-25-socket-right-angle"
FREE = {
    "1": "trapezoid AT (size 1.9 2.1) (rect_delta 0 0.3) (drill 1.1) LAYERS",
    "2": "oval AT (size 1.8 2.4) (drill 1.1 (offset 0 -0.3)) LAYERS",
    "3": "roundrect AT (size 1.8 1.8) (drill 1.1) LAYERS (roundrect_rratio 0.2) (chamfer_ratio 0.25) "
    "(chamfer top_left bottom_right)",
    "4": "custom AT (size 1.8 1.8) (drill 1.1) LAYERS (options (clearance outline) (anchor circle)) "
    "(primitives (gr_poly (pts (xy -0.4 0) (xy -0.4 -1.6) (xy 0.4 -1.6) (xy 0.2 -0.9) (xy 0.4 0)) "
    "(width 0.1) (fill yes)))",
    "13": "custom AT (size 1.8 1.8) (drill 1.1) LAYERS (options (clearance outline) (anchor circle)) "
    "(primitives (gr_line (start 0 0) (end -0.8 -0.8) (width 1)))",
}


@pytest.fixture(scope="module")
def run(tmp_path_factory):
    base = tmp_path_factory.mktemp("free")
    text = (ROOT / "footprints" / f"{OWN}.kicad_mod").read_text().replace(OWN, "odd-25", 1)
    for number, shape in FREE.items():
        form = shape.replace("LAYERS", '(layers "*.Cu" "*.Mask")')
        text, count = re.subn(
            rf'\(pad "{number}" thru_hole \w+ (\(at [^)]*\)).*',
            lambda m, number=number, form=form: f'(pad "{number}" thru_hole {form.replace("AT", m[1])})',
            text,
        )
        assert count == 1
    catalog = base / "catalog"
    (catalog / "footprints").mkdir(parents=True)
    (catalog / "footprints" / "odd-25.kicad_mod").write_text(text)
    entry = (ROOT / "boardgen" / "catalog" / "data" / "connectors" / f"{OWN}.toml").read_text()
    (catalog / "odd-25.toml").write_text(entry.replace(OWN, "odd-25"))
    design = base / "design"
    shutil.copytree(ROOT / "designs" / "lecture-keypad", design)
    file = design / "design.toml"
    file.write_text(file.read_text().replace(OWN, "odd-25"))
    return generate(design, base / "out", catalogs=(catalog,)), catalog


def test_the_pads_are_read_as_they_are(run):
    footprint = load_catalog((run[1],)).footprint("odd-25")
    free = {pad.number for pad in footprint.pads if pad.shape is PadShape.CUSTOM}
    assert free == set(FREE)


def test_nothing_is_found_in_model_or_files(run):
    assert [f for f in run[0].findings if f.severity is not Severity.NOTE] == []
    result = check_run(run[0].folder, (run[1],))
    assert [f for f in result.findings if f.severity is not Severity.NOTE] == []
    assert all(check.passed for check in result.checks)


def test_the_board_in_the_cad_file_is_the_same(run):
    board = run[0].folder / "cad" / "lecture-keypad.kicad_pcb"
    assert check_cad(board, catalogs=(run[1],)).findings == ()


def test_a_free_pad_changed_in_the_cad_file_is_found_by_read_back(run, tmp_path):
    folder = tmp_path / "run"
    shutil.copytree(run[0].folder, folder)
    board = folder / "cad" / "lecture-keypad.kicad_pcb"
    text = board.read_text()
    assert text.count("(xy -0.95 ") + text.count("(xy -1.1 ") > 0
    board.write_text(text.replace("(xy -0.95 ", "(xy -0.99 ", 1).replace("(xy -1.1 ", "(xy -1.2 ", 1))
    rules = {f.rule for f in check_run(folder, (run[1],)).findings if f.severity is Severity.ERROR}
    assert rules == {"run-file", "readback-pad"}
