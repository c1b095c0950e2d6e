"""Known faults of the module's chip, evaluated on the pins a design uses."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from boardgen.catalog.errata import ChipErratum
from boardgen.catalog.model import ModulePin
from boardgen.circuit.model import PinChoice
from boardgen.circuit.network import ohms_at
from boardgen.circuit.reading import read_states
from boardgen.circuit.surroundings import Surroundings, kilo
from boardgen.design.model import BoundDesign
from boardgen.errors import Finding, Severity

RULE = "chip-erratum"


def erratum_findings(
    bound: BoundDesign, chosen: Sequence[tuple[PinChoice, ModulePin]], there: Surroundings
) -> Iterator[Finding]:
    """Yield each known fault that a chosen pin runs into; outputs and analog inputs run into none."""
    for erratum in bound.module.errata:
        for choice, pin in chosen:
            if not choice.request.reads or choice.request.analog:
                continue
            why = _met(bound, erratum, choice, pin, there)
            if why:
                yield Finding(
                    RULE,
                    Severity.ERROR if erratum.harm == "error" else Severity.WARNING,
                    f"{erratum.id}: {erratum.text}. {choice.request.signal} on {pin.name} {why}: "
                    f"{erratum.remedy} ({erratum.source})",
                    items=(choice.request.signal, pin.name),
                )


def _met(
    bound: BoundDesign, erratum: ChipErratum, choice: PinChoice, pin: ModulePin, there: Surroundings
) -> str:
    """Why the condition of *erratum* holds at *choice*, "" where it does not."""
    if erratum.pins and pin.number not in erratum.pins:
        return ""
    if erratum.condition == "input":
        return "is such an input"
    most = erratum.most_ohms or 0.0
    if choice.request.pull == "down":
        inside = bound.module.pull_ohms(pin, "down")
        if inside is None or inside[1] > most:
            size = f" of up to {kilo((inside[1], inside[1]))}" if inside is not None else ""
            return f"relies on the pull-down inside the chip{size}"
    for wants, state in read_states(bound, choice, there):
        ohms = ohms_at(state.branches, choice.request.net) if wants == "low" else 0.0
        if ohms > most * (1 + 1e-9):
            return f"gets its low level through {kilo((ohms, ohms))}"
    return ""
