"""The rule check: every group of rules over one survey of the board."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from boardgen.board.model import Board
from boardgen.catalog.model import FabClass
from boardgen.circuit.model import Netlist
from boardgen.errors import Finding
from boardgen.rules.bodies import check_bodies
from boardgen.rules.clearances import check_clearances
from boardgen.rules.connections import check_connections
from boardgen.rules.decoupling import check_decoupling
from boardgen.rules.edges import check_edges
from boardgen.rules.openings import check_openings
from boardgen.rules.printing import check_printing
from boardgen.rules.sizes import check_sizes
from boardgen.rules.survey import Outcome, Survey, take_survey

# The profile stands first: with a broken outline nothing about edges can be said.
GROUPS: tuple[Callable[[Survey], tuple[Outcome, ...]], ...] = (
    check_edges,
    check_clearances,
    check_connections,
    check_sizes,
    check_openings,
    check_bodies,
    check_decoupling,
    check_printing,
)


@dataclass(frozen=True, slots=True)
class CheckReport:
    """All findings, by rule then place, and what was looked at: ("spacing pairs", 1234)."""

    findings: tuple[Finding, ...]
    counts: tuple[tuple[str, int], ...]

    def of(self, rule: str) -> tuple[Finding, ...]:
        """Return the findings of *rule*."""
        return tuple(found for found in self.findings if found.rule == rule)


def _place(found: Finding) -> tuple[object, ...]:
    at = (0, 0) if found.at is None else (int(found.at.x), int(found.at.y))
    return (at, "bottom" in found.layer, found.layer, found.items, found.message)


def check_board(board: Board, netlist: Netlist | None, fab: FabClass) -> CheckReport:
    """Check *board* against the limits of *fab*, and against *netlist* where there is one.

    Lengths are measured exactly from the model; one that equals its limit passes,
    and two nm are allowed for parts turned off the grid. The same board gives the
    same findings in the same order.
    """
    survey = take_survey(board, netlist, fab)
    findings: list[Finding] = []
    counts: list[tuple[str, int]] = []
    for group in GROUPS:
        for outcome in group(survey):
            findings.extend(sorted(outcome.findings, key=_place))
            counts.append((f"{outcome.rule} items", outcome.items))
            if outcome.pairs:
                counts.append((f"{outcome.rule} pairs", outcome.pairs))
    return CheckReport(tuple(findings), tuple(counts))
