"""Everything that is measured on a finished board, in one call."""

from __future__ import annotations

from boardgen.board.model import Board, NetKind
from boardgen.design.model import BoundDesign
from boardgen.electrical.model import ElectricalPlan
from boardgen.measure.lines import line_capacitances
from boardgen.measure.model import Measures
from boardgen.measure.supplies import measure_supplies


def measure_board(board: Board, bound: BoundDesign, plan: ElectricalPlan) -> Measures:
    """Return volts lost per load, and length and capacitance of each signal net in the board's order."""
    signals = tuple(net.name for net in board.nets if net.kind is NetKind.SIGNAL)
    supplies, drops, unjoined = measure_supplies(board, bound, plan)
    return Measures(supplies, line_capacitances(board, signals, bound.fab), drops, unjoined)
