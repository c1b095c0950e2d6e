"""Everything an exporter may look at, in one frozen value."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Protocol

from boardgen.board.model import Board
from boardgen.catalog.model import FabClass
from boardgen.circuit.model import Netlist, PinMap
from boardgen.design.model import BoundDesign
from boardgen.electrical.model import ElectricalPlan
from boardgen.errors import Finding
from boardgen.floorplan.model import Floorplan
from boardgen.measure.model import Measures


class Made(Protocol):
    """For which fab class a board is."""

    @property
    def fab(self) -> FabClass:
        """The fab class."""


class FabBundle(Protocol):
    """What exporters of fabrication and board files look at: a single board's bundle, or a panel's."""

    @property
    def board(self) -> Board:
        """The board or panel."""

    @property
    def bound(self) -> Made:
        """What it is made as."""

    @property
    def netlist(self) -> Netlist:
        """Its circuit; empty for a panel."""

    @property
    def tool(self) -> str:
        """The tool with its version."""

    @property
    def stem(self) -> str:
        """The name of its files."""

    @property
    def pins(self) -> str:
        """The pin map's digest; "" where there is none."""


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

    @property
    def pins(self) -> str:
        """The pin map's digest, 12 hex digits."""
        return self.pinmap.digest()
