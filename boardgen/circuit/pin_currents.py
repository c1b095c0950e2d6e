"""What the chosen pins give and take as outputs, each and together."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from boardgen.catalog.model import ModulePin
from boardgen.circuit.model import PinChoice
from boardgen.circuit.network import Branch, drawn
from boardgen.circuit.surroundings import Surroundings
from boardgen.design.model import BoundDesign
from boardgen.electrical.ends import logic_supply
from boardgen.errors import Finding, Severity

RULE = "pin-drive"


def current_findings(
    bound: BoundDesign, chosen: Sequence[tuple[PinChoice, ModulePin]], there: Surroundings
) -> Iterator[Finding]:
    """Yield pins driven beyond what they are good for, and a sum beyond what the chip is."""
    module = bound.module
    strobes = {
        line: m.name
        for m in bound.design.matrices
        for line in (m.columns if m.drive == "columns" else m.rows)
    }
    alone: list[float] = []
    in_turn: dict[str, float] = {}
    for choice, pin in chosen:
        if not choice.request.drives:
            continue
        matrix = strobes.get(choice.request.signal)
        amps, level = most_current(bound, choice, there, low_only=matrix is not None or choice.request.reads)
        if matrix is None:
            alone.append(amps)
        else:
            in_turn[matrix] = max(in_turn.get(matrix, 0.0), amps)
        limit = module.drive_of(pin)
        if limit is not None and amps > limit + 1e-9:
            verb = "gives" if level == "high" else "takes"
            yield Finding(
                RULE,
                Severity.ERROR,
                f"{choice.request.signal} on {pin.name}: driven {level}, the pin {verb} {amps * 1000:.1f} mA"
                f", it is good for {limit * 1000:.1f} mA",
                items=(choice.request.signal, pin.name),
            )
    total = sum(alone) + sum(in_turn.values())
    if module.io_total_a is not None and total > module.io_total_a + 1e-9:
        yield Finding(
            RULE,
            Severity.ERROR,
            f"all pins together give or take {total * 1000:.0f} mA, {module.name} is good for "
            f"{module.io_total_a * 1000:.0f} mA",
            items=(module.name,),
        )


def most_current(
    bound: BoundDesign, choice: PinChoice, there: Surroundings, *, low_only: bool
) -> tuple[float, str]:
    """Return the most A the pin of *choice* carries and at which level, with every key held."""
    volts = logic_supply(bound.module).high_v
    branches = _driven(choice, there)
    low = -drawn(branches, choice.request.net, 0.0)
    high = 0.0 if low_only else drawn(branches, choice.request.net, volts)
    return (high, "high") if high > low else (max(low, 0.0), "low")


def _driven(choice: PinChoice, there: Surroundings) -> tuple[Branch, ...]:
    """Everything at the nets with each key held; the device drives nothing against an output."""
    held = [
        branch
        for element in there.elements
        for option in element.options
        if option.words == f"{element.name} held"
        for branch in option.branches
    ]
    return (*there.steady, *held)
