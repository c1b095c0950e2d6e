"""A panel's fabrication and CAD files, by the exporters of single boards, checked and read back alike."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from boardgen.board.model import Board
from boardgen.catalog.model import FabClass
from boardgen.circuit.model import Netlist
from boardgen.errors import Finding, InputError, Severity
from boardgen.export.cad_panel import panel_cad_files
from boardgen.export.drill import drill_files
from boardgen.export.files import OutFile
from boardgen.export.gerber import gerber_files
from boardgen.export.ipc356 import ipc356_files
from boardgen.export.summary import Check
from boardgen.order.panel.choose import MOST
from boardgen.rules.check import check_board


def most_copies(board: Board) -> int:
    """Return how many copies of *board* a panel may have: no more than the read-back can prove.

    What a pour leaves open is erased in its layer, and the reader bounds how much is.
    """
    from boardgen.readback.gerber_in import MAX_ERASED  # noqa: PLC0415 - loads the readers

    erased = [
        sum(len(piece.holes) for pour in board.pours if pour.side is side for piece in pour.pieces)
        for side in board.copper
    ]
    return max(1, min(MOST, MAX_ERASED // max(1, *erased, 1)))


@dataclass(frozen=True, slots=True)
class PanelMade:
    """The fab class a panel is made at."""

    fab: FabClass


_NO_CIRCUIT = Netlist((), (), (), "")


@dataclass(frozen=True, slots=True)
class PanelBundle:
    """What exporters look at, of a panel: it has no circuit of its own."""

    board: Board
    bound: PanelMade
    tool: str
    netlist: Netlist = _NO_CIRCUIT
    pins: str = ""  # the pin map of the boards on it

    @property
    def stem(self) -> str:
        """The panel's name: its board's name and revision."""
        return f"{self.board.name}-{self.board.revision}"


@dataclass(frozen=True, slots=True)
class PanelFiles:
    """Files under ``fab/`` and ``cad/``, and what the rule check and the read-back say of them."""

    fab: tuple[OutFile, ...]
    cad: tuple[OutFile, ...]
    findings: tuple[Finding, ...]
    checks: tuple[Check, ...]


def panel_files(board: Board, fab: FabClass, tool: str, pins: str = "") -> PanelFiles:
    """Return the files of the panel *board* with the findings of the rule check and of the read-back.

    *pins* is the pin map of the boards on it.
    """
    from boardgen.readback import examine_board  # noqa: PLC0415 - loads the independent readers

    bundle = PanelBundle(board, PanelMade(fab), tool, pins=pins)
    report = check_board(board, None, fab)
    made = (*gerber_files(bundle), *drill_files(bundle), *ipc356_files(bundle))
    cad = panel_cad_files(bundle)
    read = examine_board((*made, *cad), board, None, fab, report.findings)
    clean = not any(f.severity is Severity.ERROR for f in report.findings)
    checks = (Check("rule check", clean, dict(report.counts)), *read.checks)
    return PanelFiles(made, cad, (*report.findings, *read.findings), checks)


def clean_files(made: PanelFiles) -> PanelFiles:
    """Return *made*; raises InputError where the panel is not for fabrication."""
    errors: Sequence[Finding] = [f for f in made.findings if f.severity is Severity.ERROR]
    failed = [check.name for check in made.checks if not check.passed]
    if errors or failed:
        first = f"{errors[0].rule}: {errors[0].message}" if errors else ", ".join(failed)
        raise InputError(
            "the panel is not for fabrication", key="--panel", found=first, allowed="--panel none, or another"
        )
    return made
