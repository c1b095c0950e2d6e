"""Parts on the module counted into what a pin reads: LEDs, pulls, outputs of its other chips."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from boardgen.catalog.model import ModulePin
from boardgen.circuit.boot import thresholds
from boardgen.circuit.model import PinChoice
from boardgen.circuit.reading import read_states
from boardgen.circuit.states import State
from boardgen.circuit.surroundings import Surroundings, kilo
from boardgen.design.model import BoundDesign
from boardgen.errors import Finding, Severity

RULE = "onboard"
POT_OHMS = 10_000.0  # of a pot whose resistance the design leaves out
SHIFT_MOST = 0.01  # of the range; a pot is not read better


def onboard_findings(
    bound: BoundDesign, chosen: Sequence[tuple[PinChoice, ModulePin]], there: Surroundings
) -> Iterator[Finding]:
    """Yield what parts on the module do to the levels of the pins they hang on."""
    for choice, pin in chosen:
        if not pin.onboard:
            continue
        if choice.request.analog:
            yield from _analog(bound, choice, pin)
            continue
        point = thresholds(bound.module, pin)
        for wants, state in read_states(bound, choice, there):
            if state.level is None:
                continue
            least, most = state.level
            short = point.vih_v - least if wants == "high" else most - point.vil_v
            if short <= 1e-9:
                continue
            limit = point.vih_v if wants == "high" else point.vil_v
            level = least if wants == "high" else most
            yield Finding(
                RULE,
                Severity.ERROR,
                f"{choice.request.signal} on {pin.name} has to read {wants} {state.said()}, but what hangs "
                f"on the pin brings it to {level:.2f} V, {limit:.2f} V are needed: {short:.2f} V short "
                f"({_of(state)})",
                items=(choice.request.signal, pin.name),
            )
            break


def _of(state: State) -> str:
    return ", ".join(state.holders) or "nothing holds it"


def _analog(bound: BoundDesign, choice: PinChoice, pin: ModulePin) -> Iterator[Finding]:
    """A part at an analog pin draws the wiper of a pot away from where it stands."""
    contact = next((c for c in bound.design.contacts if c.signal == choice.request.signal), None)
    whole = POT_OHMS if contact is None or contact.ohms is None else contact.ohms
    source_ohms = whole / 4  # a wiper at mid travel
    least = min(item.ohms for item in pin.onboard)
    shift = source_ohms / (source_ohms + least) / 2
    if shift <= SHIFT_MOST:
        return
    yield Finding(
        RULE,
        Severity.WARNING,
        f"{choice.request.signal} on {pin.name}: a part of {kilo((least, least))} on the module draws a pot "
        f"of {kilo((whole, whole))} up to {shift:.0%} of the range away from its place",
        items=(choice.request.signal, pin.name),
    )
