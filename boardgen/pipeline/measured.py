"""What chosen pins and finished copper change in the electrical plan: how matrices read, and lines settle."""

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
from boardgen.electrical.routed import RULE, settling_findings, with_routed
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
    """Return *plan* with matrices and signals timed by the capacitance of routed *lines*, not by a guess."""
    picofarad = {line.net: line.pf for line in lines}
    signals = tuple(with_routed(signal, picofarad) for signal in plan.signals)
    slow = tuple(f for signal in signals for f in settling_findings(signal, picofarad))
    studies = tuple(with_board(study, picofarad) for study in plan.matrices)
    kept = tuple(finding for finding in plan.findings if finding.rule not in (_SETTLING, RULE))
    found = tuple(finding for study in studies for finding in timing_findings(study))
    return replace(plan, signals=signals, matrices=studies, findings=(*kept, *found, *slow))
