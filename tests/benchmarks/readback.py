"""How long reading a run's files back takes, part by part.

``python -m tests.benchmarks.readback [DESIGN]`` prints the least of five turns, CPU time in ms: the
Gerber and drill files read, the CAD board read, everything read and compared, and the making of the same
files for comparison.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable
from pathlib import Path

from boardgen.catalog.load import load_catalog
from boardgen.design.load import load_design
from boardgen.export.cad_files import cad_files
from boardgen.export.package import fab_package
from boardgen.export.run_record import fabrication_files
from boardgen.pipeline import build, choose_module

DESIGNS = Path(__file__).parents[2] / "designs"
TURNS = 5


def least_ms(work: Callable[[], object]) -> float:
    """Return the least CPU time of *work* in TURNS turns, ms."""
    best = float("inf")
    for _ in range(TURNS):
        start = time.process_time()
        work()
        best = min(best, time.process_time() - start)
    return round(best * 1e3, 1)


def main() -> None:
    """Measure one demo design."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("design", nargs="?", default="lecture-keypad")
    name = parser.parse_args().design
    catalog = load_catalog()
    bundle = build(choose_module(load_design(DESIGNS / name), catalog), catalog).bundle
    fab = fabrication_files(bundle)
    files = (*fab, *fab_package(bundle, fab), *cad_files(bundle))
    start = time.process_time()
    from boardgen.readback import examine_board, read
    from boardgen.readback.from_cad import tree_of

    loading = round((time.process_time() - start) * 1e3, 1)
    cad = next(file for file in files if file.path.endswith(".kicad_pcb"))
    rows = {
        "readers loaded": loading,
        "files made": least_ms(lambda: (fabrication_files(bundle), cad_files(bundle))),
        "Gerber and drill files read": least_ms(lambda: read(fab)),
        "CAD board read": least_ms(lambda: tree_of(cad.data, cad.path)),
        "all read and compared": least_ms(
            lambda: examine_board(files, bundle.board, bundle.netlist, bundle.bound.fab, bundle.findings)
        ),
    }
    for what, spent in rows.items():
        sys.stdout.write(f"{what:30} {spent:8.1f} ms\n")


if __name__ == "__main__":
    main()
