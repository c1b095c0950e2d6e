"""All logic lines of a design: each end found, a way chosen over all of them, and the verdict in words."""

from __future__ import annotations

from dataclasses import dataclass, field

from boardgen.catalog.model import PinKind
from boardgen.design.model import BoundDesign, Contact, ContactKind
from boardgen.electrical import levels
from boardgen.electrical.cable import cable_assumed, cable_pf
from boardgen.electrical.device import device_of
from boardgen.electrical.draft import Draft
from boardgen.electrical.ends import PinClass, Supply, logic_supply, named_supply, pin_classes, pin_end
from boardgen.electrical.model import PREFERRED_MARGIN_V, LevelProof, SignalPlan
from boardgen.electrical.prove import BOARD_PF, margin
from boardgen.electrical.rails import logic_rail
from boardgen.electrical.scarce import gives_way
from boardgen.electrical.ways.buffer import Chip
from boardgen.electrical.ways.build import Bank, build, close_banks, device_net
from boardgen.electrical.ways.choose import Chosen, choose
from boardgen.electrical.ways.model import Line, rate_of
from boardgen.errors import Finding, InputError, Severity

BUFFERS = ("buffer-74lvc245-dip", "buffer-74ahct125-dip", "buffer-74hct245-dip", "buffer-74hc4050-dip")
SWITCH = "mosfet-bss138"
WAY_WORDS = {
    "direct": "direct",
    "series": "series resistor",
    "pull-up": "pull-up resistor",
    "divider": "divider",
    "buffer": "buffer",
    "open-drain": "open-drain FET",
}


@dataclass(slots=True)
class Digital:
    """The chosen way of each logic line by signal, and the chips being filled; local to one planning."""

    chosen: dict[str, Chosen]
    banks: dict[int, Bank] = field(default_factory=dict)

    def close(self, draft: Draft) -> None:
        """Finish the chips once every line is built."""
        close_banks(draft, self.banks)


def digital_lines(bound: BoundDesign, draft: Draft) -> Digital:
    """Choose the way of every logic line; adds no more to *draft* than the device's supplies they use.

    Where more lines could go straight than there are pins that take them, the last of them go another way.
    """
    lines: dict[str, Line] = {}
    for contact in bound.design.contacts:
        if contact.kind is ContactKind.DIGITAL and contact.signal not in lines:
            lines[contact.signal] = line_of(bound, draft, contact)
    if not lines:
        return Digital({})
    chips = tuple(chip for name in BUFFERS if (chip := _chip(draft, name)) is not None)
    switch = next(iter(draft.known(SWITCH)), None)
    chosen = dict(choose(lines.values(), chips, switch))
    banned: set[str] = set()
    while (last := gives_way(bound, chosen)) and last not in banned:
        banned.add(last)
        chosen = dict(choose(lines.values(), chips, switch, frozenset(banned)))
    for item in chosen.values():
        if item.offer.drawable and item.offer.supply is not None and item.offer.supply.own:
            device_net(draft, item.offer.supply.name)
    return Digital(chosen)


def _chip(draft: Draft, name: str) -> Chip | None:
    for part in draft.known(name):
        try:
            return Chip(part, draft.shelf.logic_family(part.logic).levels)
        except (KeyError, InputError):
            return None
    return None


def line_of(bound: BoundDesign, draft: Draft, contact: Contact) -> Line:
    """Return the line behind *contact* with both its ends."""
    device = device_of(bound, draft.shelf, contact)
    reads, drives = contact.direction != "out", contact.direction != "in"
    pins = levels.pins_for(bound, contact.signal, reads=reads, drives=drives, function=contact.function)
    classes = pin_classes(bound.module, pins)
    if not classes:  # no pin can do it, which the pin assignment says; judged by any pin all the same
        gpio = next((p for p in bound.module.pins if p.kind is PinKind.GPIO), bound.module.pins[0])
        classes = (PinClass(pin_end(bound.module, gpio), ()),)
    supply = device.end.supply
    return Line(
        contact,
        device,
        classes,
        BOARD_PF + cable_pf(bound.design.cable),
        rate_of(contact),
        logic_supply(bound.module) if logic_rail(bound.module) is not None else None,
        _reached(bound, supply),
    )


def _reached(bound: BoundDesign, supply: Supply) -> Supply | None:
    """Return the device's supply where the board has it: from the module, or from a contact."""
    if supply.own:
        brought = (c for c in bound.design.contacts if c.kind is ContactKind.SUPPLY and c.source != "board")
        return supply if any(c.rail.casefold() == supply.name.casefold() for c in brought) else None
    return supply if named_supply(bound.module, supply.name) is not None else None


def carry_line(bound: BoundDesign, draft: Draft, digital: Digital, contact: Contact) -> SignalPlan:
    """Build the way chosen for *contact*, add what is to be said about it, and return its row."""
    chosen = digital.chosen[contact.signal]
    offer, line = chosen.offer, chosen.line
    supply = line.device.end.supply.volts
    special = supply > bound.module.logic_volts + levels.TOLERANCE_V
    carried = build(draft, chosen, digital.banks, supply if special else 0.0)
    draft.findings.extend(_findings(chosen))
    return SignalPlan(
        contact,
        carried.net,
        WAY_WORDS[offer.way if offer.drawable else "direct"],
        _why(bound, chosen, carried.parts),
        carried.parts,
        carried.module_net,
        offer.proofs,
        _assumed(bound, chosen),
    )


def _findings(chosen: Chosen) -> list[Finding]:
    line, offer = chosen.line, chosen.offer
    signal = (line.contact.signal,)
    device = line.device
    found = []
    if device.fault:
        found.append(Finding("level", Severity.ERROR, f"{line.name}: {device.fault}", items=signal))
    if device.missing:
        harm = device.harm
        what = "may carry any level" if harm else "has levels that nobody stated"
        text = f"{line.name} {what}: {'; '.join(device.missing)}"
        severity = Severity.ERROR if harm else Severity.WARNING
        found.append(Finding("level-unknown", severity, text, items=signal))
    if not offer.passes and not device.harm:
        rule = "over-voltage" if offer.over_voltage else "level"
        found.append(Finding(rule, Severity.ERROR, _refusal(chosen), items=signal))
    elif offer.passes and margin(offer.proofs) < PREFERRED_MARGIN_V - 1e-9:
        weak = min(offer.proofs, key=lambda p: margin((p,)))
        text = (
            f"{line.name}: a noise margin of {margin((weak,)):.2f} V between {weak.driver} and {weak.reader} "
            f"is less than the {PREFERRED_MARGIN_V:g} V that are good practice"
        )
        found.append(Finding("level", Severity.WARNING, text, items=signal))
    return found


def _refusal(chosen: Chosen) -> str:
    line, offer = chosen.line, chosen.offer
    why = "; ".join(offer.reasons()) or "it cannot be built"
    if chosen.demanded:
        return f"{line.name} is to be carried {_by(offer.way)}, which does not prove safe: {why}"
    others = [
        f"{WAY_WORDS[o.way]}: {o.reasons()[0]}" for o in chosen.refused if o.way != offer.way and o.reasons()
    ]
    rest = f". Other ways: {'; '.join(others)}" if others else ""
    advice = ""
    if line.drives and line.device.end.supply.own and line.device_rail is None:
        advice = (
            '. A contact that brings its own supply (source = "device") would let a chip run from that, '
            "on and off together with the device; or let the board feed the device"
        )
    return f"{line.name} has no way that proves safe. Direct: {why}{rest}{advice}"


def _by(way: str) -> str:
    return {"direct": "straight", "series": "through a resistor", "pull-up": "with a pull-up"}.get(
        way, f"by {'an' if way[0] in 'aeiou' else 'a'} {WAY_WORDS[way]}"
    )


def _why(bound: BoundDesign, chosen: Chosen, parts: tuple[str, ...]) -> str:
    line, offer = chosen.line, chosen.offer
    if not offer.passes or line.device.harm or line.device.fault:
        return f"{line.device.end.words()} at a module at {line.classes[0].end.supply.words()}: see findings"
    first, last = offer.proofs[0], offer.proofs[-1]
    ends = [  # the class of pins is left out: which pin it will be is not chosen yet
        bound.module.name if name.startswith(bound.module.name) else name
        for name in (first.driver, last.reader)
    ]
    way = f"{ends[0]} at {first.driver_supply} to {ends[1]} at {last.reader_supply}"
    if offer.chip is not None:
        name = offer.chip.value or offer.chip.name
        way += f" through {parts[0]}, a {name}"
        if offer.way == "buffer" and offer.supply is not None:
            way += f" at {offer.supply.words()}"
    return f"{way}: {_margins(offer.proofs)}"


def _margins(proofs: tuple[LevelProof, ...]) -> str:
    high = min((p.margin_high_v for p in proofs if p.margin_high_v is not None), default=0.0)
    low = min((p.margin_low_v for p in proofs if p.margin_low_v is not None), default=0.0)
    most, allowed = max(
        (
            (p.most_v, min(p.allowed_v, p.allowed_v if p.idle_allowed_v is None else p.idle_allowed_v))
            for p in proofs
        ),
        key=lambda pair: (pair[0] - pair[1], pair[0]),
    )
    return f"margin {high:+.2f} V high, {low:+.2f} V low; at most {most:.2f} V where {allowed:.2f} V may come"


def _assumed(bound: BoundDesign, chosen: Chosen) -> tuple[str, ...]:
    line, offer = chosen.line, chosen.offer
    found = list(line.device.assumed)
    module, volts = bound.module.name, bound.module.logic_volts
    found.append(
        f"levels of {module} at its nominal {volts:g} V, as its data state them; other rails within 5 %"
    )
    if not bound.module.logics:
        found.append(f"levels of {bound.module.name}, whose entry states none: the worst of common modules")
    if any(p.settle_s is not None for p in offer.proofs):
        found += cable_assumed(bound.design.cable)
        found.append(f"the line changes no more than {line.rate_hz:g} times a second")
    for name in dict.fromkeys(p.driver for p in offer.proofs if p.proportional):
        found.append(f"{name} drops in proportion to its current or less, under what its data state")
    if line.drives and offer.way != "open-drain":
        who = "the buffer's input" if offer.way == "buffer" else "the device's input"
        found.append(f"until the firmware drives {line.contact.signal}, nothing on the board holds {who}")
    return tuple(found)
