"""What chosen pins and finished copper change in the electrical plan: how a matrix reads and settles."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

from boardgen.catalog.model import Component
from boardgen.circuit.model import PinMap
from boardgen.design.model import BoundDesign
from boardgen.electrical.matrix.findings import matrix_findings, timing_findings
from boardgen.electrical.matrix.settling import with_board
from boardgen.electrical.matrix.study import study_matrices
from boardgen.electrical.model import ElectricalPlan
from boardgen.measure.model import LineCapacitance

_SETTLING = "matrix-settling"
_MATRIX = "matrix-"  # how every rule about matrices begins


def with_pins(
    bound: BoundDesign, plan: ElectricalPlan, component: Callable[[str], Component], pinmap: PinMap
) -> ElectricalPlan:
    """Return *plan* with each matrix judged by the pins its lines got, not by any they might get."""
    if not plan.matrices:
        return plan
    by_number = {pin.number: pin for pin in bound.module.pins}
    pins = {choice.request.signal: by_number[choice.pin_number] for choice in pinmap.choices}
    studies = study_matrices(bound, plan.requests, component, pins)
    kept = tuple(finding for finding in plan.findings if not finding.rule.startswith(_MATRIX))
    found = tuple(finding for study in studies for finding in matrix_findings(study))
    return replace(plan, matrices=studies, findings=(*kept, *found))


def with_copper(plan: ElectricalPlan, lines: Iterable[LineCapacitance]) -> ElectricalPlan:
    """Return *plan* with each matrix timed by the capacitance of its routed *lines* instead of a guess."""
    if not plan.matrices:
        return plan
    picofarad = {line.net: line.pf for line in lines}
    studies = tuple(with_board(study, picofarad) for study in plan.matrices)
    kept = tuple(finding for finding in plan.findings if finding.rule != _SETTLING)
    found = tuple(finding for study in studies for finding in timing_findings(study))
    return replace(plan, matrices=studies, findings=(*kept, *found))
