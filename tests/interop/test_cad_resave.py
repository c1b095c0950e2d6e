"""Boards opened, filled anew and saved by the CAD program itself: read and checked as what they were.

Run as tests/interop/test_cad_check.py; needs the checker's own Python with the program's library.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import tempfile
from pathlib import Path

import pytest

from boardgen.errors import Severity
from boardgen.pipeline import check_cad, generate

CHECKER = os.environ.get("CAD_CHECK", "")
DESIGNS = sorted(p.parent for p in (Path(__file__).parents[2] / "designs").glob("*/design.toml"))
SCRIPT = """
import pcbnew, sys
board = pcbnew.LoadBoard(sys.argv[1])
if "fill" in sys.argv[3:]:
    pcbnew.ZONE_FILLER(board).Fill(board.Zones())
for ref in sys.argv[3:]:
    part = board.FindFootprintByReference(ref)
    if part is not None:
        part.Flip(part.GetPosition(), pcbnew.FLIP_DIRECTION_LEFT_RIGHT)
        part.SetLocked(True)
pcbnew.SaveBoard(sys.argv[2], board)
"""

pytestmark = [pytest.mark.interop, pytest.mark.skipif(not CHECKER, reason="no CAD_CHECK")]


def saved(source: Path, *words: str) -> bytes:
    """Return the board file as the CAD program saves it; *words*: "fill", or references to turn over."""
    told = json.loads(subprocess.run([CHECKER, "where"], check=True, capture_output=True).stdout)
    root = Path(told["where"]) if told["chroot"] else Path("/")
    with tempfile.TemporaryDirectory(dir=root / "tmp") as folder:
        place = Path(folder)
        shutil.copy(source, place / "in.kicad_pcb")
        (place / "save.py").write_text(SCRIPT)
        inner = "/" + str(place.relative_to(root))
        line = f'cd {inner} && HOME={inner} exec /usr/bin/python3 save.py in.kicad_pcb out.kicad_pcb "$@"'
        command = ["/bin/sh", "-c", line, "sh", *words]
        if told["chroot"]:
            command = ["chroot", str(root), *command]
        subprocess.run(command, check=True, capture_output=True)
        return (place / "out.kicad_pcb").read_bytes()


@pytest.fixture(scope="module", params=DESIGNS, ids=lambda path: path.name)
def board(request, tmp_path_factory):
    folder = generate(request.param, tmp_path_factory.mktemp(request.param.name)).folder
    return next((folder / "cad").glob("*.kicad_pcb"))


@pytest.mark.parametrize("words", [(), ("fill",)])
def test_saved_by_the_program_there_is_still_nothing_to_find(board, words):
    before = board.read_bytes()
    try:
        board.write_bytes(saved(board, *words))
        assert b"(version 20221018)" not in board.read_bytes()[:200]
        assert check_cad(board).findings == ()
    finally:
        board.write_bytes(before)


def test_a_connector_turned_over_by_the_program(board):
    before = board.read_bytes()
    try:
        board.write_bytes(saved(board, "J1"))
        result = check_cad(board)
        rules = {f.rule for f in result.findings if f.severity is Severity.ERROR}
        assert not rules & {"cad-contact", "cad-net", "cad-unread", "cad-part"}
        assert "J1" in result.locked
    finally:
        board.write_bytes(before)
