"""What the finished copper changes in the electrical plan: how fast the lines of a matrix settle."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from boardgen.electrical.matrix.findings import timing_findings
from boardgen.electrical.matrix.settling import with_board
from boardgen.electrical.model import ElectricalPlan
from boardgen.measure.model import LineCapacitance

_SETTLING = "matrix-settling"


def with_copper(plan: ElectricalPlan, lines: Iterable[LineCapacitance]) -> ElectricalPlan:
    """Return *plan* with each matrix timed by the capacitance of its routed *lines* instead of a guess."""
    if not plan.matrices:
        return plan
    picofarad = {line.net: line.pf for line in lines}
    studies = tuple(with_board(study, picofarad) for study in plan.matrices)
    kept = tuple(finding for finding in plan.findings if finding.rule != _SETTLING)
    found = tuple(finding for study in studies for finding in timing_findings(study))
    return replace(plan, matrices=studies, findings=(*kept, *found))
