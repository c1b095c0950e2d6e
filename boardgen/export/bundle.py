"""Everything an exporter may look at, in one frozen value."""

from __future__ import annotations

from dataclasses import dataclass, field

from boardgen.board.model import Board
from boardgen.circuit.model import Netlist, PinMap
from boardgen.design.model import BoundDesign
from boardgen.electrical.model import ElectricalPlan
from boardgen.errors import Finding
from boardgen.floorplan.model import Floorplan
from boardgen.measure.model import Measures


@dataclass(frozen=True, slots=True)
class Bundle:
    """A finished board with all that led to it."""

    bound: BoundDesign
    plan: ElectricalPlan
    floorplan: Floorplan
    pinmap: PinMap
    netlist: Netlist
    board: Board
    findings: tuple[Finding, ...]
    tool: str  # "boardgen 0.1.0"
    measures: Measures = field(default_factory=Measures)

    @property
    def stem(self) -> str:
        """The run's name: design name and revision letter."""
        return f"{self.bound.design.name}-{self.bound.design.revision}"
