"""A chip between: which one at which supply carries a line with proof at both its sides."""

from __future__ import annotations

from dataclasses import dataclass

from boardgen.catalog.logic import Logic
from boardgen.catalog.model import Component
from boardgen.electrical.ends import End, Supply, is_mos, range_fault
from boardgen.electrical.prove import DIRECT, Net, prove
from boardgen.electrical.ways.model import CAPACITOR_COST, CHIP_COST, Line, Offer, judge

BANK_COST = CHIP_COST + CAPACITOR_COST


@dataclass(frozen=True, slots=True)
class Chip:
    """A buffer of the catalogue with its family's levels."""

    part: Component
    logic: Logic


def buffers(line: Line, chips: tuple[Chip, ...]) -> tuple[Offer, ...]:
    """Return every chip and supply that proves at both sides, in the order of *chips*; else one refusal.

    A buffer runs at the module's logic supply or at the device's, whichever it drives first.
    """
    if line.reads and line.drives:
        return (Offer("buffer", trouble=("a buffer runs one way, the line both",), drawable=False),)
    supplies = _supplies(line)
    if not supplies:
        return (Offer("buffer", trouble=("no rail on the board suits a buffer",), drawable=False),)
    if not chips:
        return (Offer("buffer", trouble=("the catalogue has no buffer",), drawable=False),)
    offers = [_offer(line, chip, supply) for supply in supplies for chip in chips]
    passing = tuple(offer for offer in offers if offer.passes)
    if passing:
        return passing
    return (min(offers, key=lambda o: (not o.drawable, o.over_voltage, len(o.reasons()))),)


def _supplies(line: Line) -> tuple[Supply, ...]:
    """Supplies a buffer may run from: that of the side it drives first."""
    order = (line.upper, line.device_rail) if line.reads else (line.device_rail, line.upper)
    return tuple(dict.fromkeys(s for s in order if s is not None))


def _offer(line: Line, chip: Chip, supply: Supply) -> Offer:
    name = chip.part.value or chip.part.name
    fault = range_fault(name, chip.logic, supply)
    if fault:
        return Offer("buffer", trouble=(fault,), chip=chip.part, supply=supply, drawable=False)
    end = End(name, supply, chip.logic, mos=is_mos(chip.logic))
    device = line.device.end
    far = Net(line_pf=line.line_pf)
    if line.reads:
        judged = judge(line, lambda pin: (prove("in", device, end, far), prove("in", end, pin, DIRECT)))
    else:
        judged = judge(line, lambda pin: (prove("out", pin, end, DIRECT), prove("out", end, device, far)))
    return Offer(
        "buffer",
        judged.proofs,
        BANK_COST,
        judged.pins,
        judged.why,
        chip=chip.part,
        supply=supply,
    )
