"""The consumer's own word on panels: each design's panel gives no finding of any severity.

Run with the variable CAD_CHECK naming the checker program.
"""

from __future__ import annotations

import json
import os
import subprocess
from pathlib import Path

import pytest

from boardgen.order.package import order
from boardgen.pipeline import generate

CHECKER = os.environ.get("CAD_CHECK", "")
DESIGNS = sorted(p.parent for p in (Path(__file__).parents[2] / "designs").glob("*/design.toml"))

pytestmark = [pytest.mark.interop, pytest.mark.skipif(not CHECKER, reason="no CAD_CHECK")]


@pytest.mark.parametrize("design", DESIGNS, ids=lambda path: path.name)
@pytest.mark.parametrize("panel", ["auto", "2x2"])
def test_a_panel_gives_no_finding_of_any_severity(design, panel, tmp_path):
    run = generate(design, tmp_path / "runs").folder
    made = order(run, 4, tmp_path, panel=panel, design=design)
    cad = str(made.folder / "cad")
    command = [CHECKER, "drc", cad, "--strict", "--pcb-only"]  # a panel has no schematic
    done = subprocess.run(command, check=False, capture_output=True, text=True)
    told = json.loads(done.stdout)
    assert told["items"] == []
    assert told["messages"] == []
    assert told["muted"] == []
    assert done.returncode == 0
