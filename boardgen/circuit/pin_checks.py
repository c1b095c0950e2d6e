"""The chosen pins held against what else they do: boot straps, parts on the module, currents, chip faults."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from boardgen.catalog.model import ModulePin
from boardgen.circuit.boot import strap_findings, strap_states
from boardgen.circuit.chip_errata import erratum_findings
from boardgen.circuit.model import PinChoice, PinMap
from boardgen.circuit.onboard import onboard_findings
from boardgen.circuit.pin_currents import current_findings
from boardgen.circuit.surroundings import surroundings
from boardgen.design.model import BoundDesign
from boardgen.electrical.model import ElectricalPlan
from boardgen.electrical.shelf import Shelf
from boardgen.errors import Finding


@dataclass(frozen=True, slots=True)
class PinReport:
    """What was found at the chosen pins, and what was looked at: counts by name."""

    findings: tuple[Finding, ...]
    evidence: tuple[tuple[str, int], ...]


def check_pins(bound: BoundDesign, plan: ElectricalPlan, pinmap: PinMap, shelf: Shelf) -> PinReport:
    """Return what the pins of *pinmap* mean at boot and in use; *bound* has no rail left open.

    *shelf* gives parts and logic families.
    """
    module = bound.module
    chosen = [(choice, module.pin(choice.pin_number)) for choice in pinmap.choices]
    asleep = surroundings(bound, plan, pinmap, shelf, running=False)
    awake = surroundings(bound, plan, pinmap, shelf, running=True)
    findings: list[Finding] = []
    straps, states = 0, 0
    for choice, pin in chosen:
        if pin.strap:
            found = strap_states(choice, asleep)
            straps, states = straps + 1, states + len(found)
            findings.extend(strap_findings(module, choice, found))
    findings.extend(onboard_findings(bound, chosen, awake))
    findings.extend(current_findings(bound, chosen, awake))
    findings.extend(erratum_findings(bound, chosen, awake))
    return PinReport(
        tuple(findings),
        (
            ("pins", len(chosen)),
            ("straps", straps),
            ("states", states),
            ("pins with parts on the module", _count(chosen, lambda pin: bool(pin.onboard))),
            ("shared pins", _count(chosen, lambda pin: bool(pin.shared))),
            ("known chip faults", len(module.errata)),
        ),
    )


def _count(chosen: Sequence[tuple[PinChoice, ModulePin]], wanted: Callable[[ModulePin], bool]) -> int:
    return sum(1 for _, pin in chosen if wanted(pin))
