"""The mutated CAD boards before another judge: the CAD program's own rule check."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import tempfile
from pathlib import Path
from random import Random

from boardgen.export.cad_files import cad_files
from tests.mutation.cad_run import AGAINST_DESIGN, CadGround, cad_bundle, without_part
from tests.mutation.judge import Judge
from tests.mutation.kind import UM, Job, Kind

CHECKER = os.environ.get("CAD_CHECK", "")
CLI = shutil.which("kicad-cli")


def told_by_checker(folder: Path, name: str) -> set[str]:
    """The types of all complaints about the project in *folder*, of any severity."""
    if CHECKER:
        command = [CHECKER, "drc", str(folder), "--strict"]
        done = subprocess.run(command, check=False, capture_output=True, text=True)
        told = json.loads(done.stdout)
        return {item["type"] for item in told["items"]}
    out = folder / "told.json"
    words = ["pcb", "drc", "--schematic-parity", "--severity-all", "--format", "json", "-o", str(out)]
    subprocess.run([str(CLI), *words, f"{name}.kicad_pcb"], cwd=folder, check=True, capture_output=True)
    report = json.loads(out.read_text())
    keys = ("violations", "unconnected_items", "schematic_parity")
    return {item["type"] for key in keys for item in report[key]}


def write_project(kind: Kind, base: CadGround, seed: str, by: int, folder: Path) -> bool:
    """Write the CAD project with the fault into *folder*; False where there is no room for it.

    What is held against the design keeps the schematic as it was.
    """
    judge = Judge(base.ground.board, base.ground.fab)
    planted = kind.plant(Job(base.ground, judge, Random(seed), by, coarse=True))
    if planted is None:
        return False
    made = {f.path: f.data for f in cad_files(cad_bundle(base.bundle, planted.ground))}
    if kind.name in AGAINST_DESIGN:
        kept = without_part(base.bundle, planted.ground) if kind.name == "part-unknown" else base.bundle
        made |= {f.path: f.data for f in cad_files(kept) if not f.path.endswith(".kicad_pcb")}
    for path, data in made.items():
        place = folder / path
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_bytes(data)
    return True


def told_of(kind: Kind, base: CadGround, seed: int, by: int = -UM) -> set[str] | None:
    """What the CAD program says of a board with a fault of *kind*; None where there is no room for it."""
    with tempfile.TemporaryDirectory() as root:
        folder = Path(root)
        if not write_project(kind, base, f"{seed}/{kind.name}/{base.ground.name}", by, folder):
            return None
        return told_by_checker(folder / "cad", base.bundle.board.name)


def told_of_clean(base: CadGround) -> set[str]:
    """What the CAD program says of the board without a fault."""
    with tempfile.TemporaryDirectory() as root:
        for file in cad_files(base.bundle):
            place = Path(root) / file.path
            place.parent.mkdir(parents=True, exist_ok=True)
            place.write_bytes(file.data)
        return told_by_checker(Path(root) / "cad", base.bundle.board.name)
