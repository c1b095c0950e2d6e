"""Read-back of a whole set of files: with the board at hand, or from the files alone."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from boardgen.board.model import Board, Side
from boardgen.catalog.model import FabClass
from boardgen.circuit.model import Netlist
from boardgen.errors import Finding, Severity
from boardgen.export.files import OutFile
from boardgen.export.summary import Check
from boardgen.footprint.sexpr import Node
from boardgen.readback.archive import check_zip
from boardgen.readback.case import Case, case_of_board, on_sides, read_source
from boardgen.readback.compare import compare
from boardgen.readback.from_cad import tree_of, wanted_by_cad
from boardgen.readback.from_ipc import wanted_by_ipc
from boardgen.readback.model import ReadbackReport
from boardgen.readback.reader import read


def file_ending(files: Sequence[OutFile], ending: str) -> OutFile | None:
    """Return the first of *files*, by path, that ends so."""
    return next((f for f in sorted(files, key=lambda f: f.path) if f.path.endswith(ending)), None)


def _missing(ipc: OutFile | None, cad: OutFile | None) -> list[Finding]:
    found = []
    for file, name in ((ipc, "IPC-D-356A netlist"), (cad, "CAD board")):
        if file is None:
            message = f"the file with the {name} is missing"
            found.append(Finding("readback-layer", Severity.ERROR, message, None, "", (name,)))
    return found


def _with(report: ReadbackReport, found: Sequence[Finding]) -> ReadbackReport:
    failed = any(f.severity is Severity.ERROR for f in found)
    checks = tuple(
        replace(check, passed=check.passed and not (failed and check.name == "read-back, files"))
        for check in report.checks
    )
    return ReadbackReport((*found, *report.findings), checks)


def examine_board(
    files: Sequence[OutFile],
    board: Board,
    netlist: Netlist | None,
    fab: FabClass,
    model: Sequence[Finding] = (),
) -> ReadbackReport:
    """Read *files* (fabrication files and the CAD board among them) and compare them with *board*.

    *model* are the findings of the rule check on the board: the files must show the same.
    """
    ipc, cad = file_ending(files, ".IPC"), file_ending(files, ".kicad_pcb")
    case, found = case_of_board(board, netlist, fab, ipc, cad, model)
    found += _missing(ipc, cad) + check_zip(files)
    return _with(compare(read(files), case), found)


def _tree(cad: OutFile, trees: Sequence[Callable[[bytes], Node]]) -> Node:
    for reader in trees:
        try:
            return reader(cad.data)
        except Exception:  # it fails on this file: the next one says what is wrong, if anything is
            continue
    return tree_of(cad.data, cad.path)


def examine_run(
    files: Sequence[OutFile],
    copper: tuple[Side, ...],
    origin: tuple[float, float],
    fab: FabClass | None,
    model: Sequence[Finding] = (),
    trees: tuple[Callable[[bytes], Node], ...] = (),
) -> ReadbackReport:
    """Read *files* and compare them with each other: the CAD board first, the test netlist beside it.

    *origin* is where the fabrication files' origin stands on the board (nm); *trees* are readers of the CAD
    board to be tried before our own. Without a readable CAD board only the reading itself is reported.
    """
    ipc, cad = file_ending(files, ".IPC"), file_ending(files, ".kicad_pcb")
    found = _missing(ipc, cad) + check_zip(files)
    geometry = read(files)
    first = None
    if cad is not None:
        first = read_source(
            cad.path,
            lambda: wanted_by_cad(_tree(cad, trees), cad.path, *origin, copper),
            found,
        )
    if first is None:
        return ReadbackReport((*found, *geometry.findings), (Check("read-back, files", False, {}),))
    others = []
    if ipc is not None:
        source = read_source(ipc.path, lambda: wanted_by_ipc(ipc.data, ipc.path, *origin), found)
        others += [source] if source is not None else []
    sided = on_sides(first, others)
    return _with(compare(geometry, Case(first, sided, origin, fab, tuple(model))), found)
