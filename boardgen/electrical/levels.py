"""Which pins a contact may use, and the highest level it carries."""

from __future__ import annotations

from boardgen.catalog.model import ModulePin, PinKind
from boardgen.design.model import BoundDesign, Contact, ContactKind
from boardgen.electrical.rails import rail_volts
from boardgen.errors import Finding, InputError, Severity

TOLERANCE_V = 0.3  # a CMOS input's usual allowance over its supply


def free_pins(bound: BoundDesign) -> tuple[ModulePin, ...]:
    """Return the GPIOs that signals may use: no strap or shared pin without a waiver."""
    waived = {waiver.pin for waiver in bound.design.waivers}
    return tuple(
        pin
        for pin in bound.module.pins
        if pin.kind is PinKind.GPIO and (not (pin.strap or pin.shared) or pin.number in waived)
    )


def candidate_pins(bound: BoundDesign, contact: Contact, *, analog: bool = False) -> tuple[ModulePin, ...]:
    """Return the pins *contact* could be read on: its fixed pin alone, if it has one."""
    pins = free_pins(bound)
    fixed = [f.pin for f in bound.design.fixed if f.signal == contact.signal]
    if fixed:
        pins = tuple(p for p in bound.module.pins if p.number == fixed[0])
    return tuple(p for p in pins if p.can_read and (p.analog or not analog))


def pins_for(
    bound: BoundDesign, signal: str, *, reads: bool, drives: bool, function: str = ""
) -> tuple[ModulePin, ...]:
    """Return the pins *signal* may use for what it does: its fixed pin alone, if it has one.

    A wish for a *function* without an instance number ("i2c.sda") takes any instance.
    """
    fixed = [f.pin for f in bound.design.fixed if f.signal == signal]
    pins = tuple(p for p in bound.module.pins if p.number == fixed[0]) if fixed else free_pins(bound)
    return tuple(
        p for p in pins if (p.can_read or not reads) and (p.can_drive or not drives) and _serves(p, function)
    )


def _serves(pin: ModulePin, function: str) -> bool:
    if not function:
        return True
    head, _, role = function.partition(".")
    for own in pin.functions:
        own_head, _, own_role = own.partition(".")
        if head in (own_head, own_head.rstrip("0123456789")) and role in ("", own_role):
            return True
    return False


def pin_limit(bound: BoundDesign, pin: ModulePin) -> float:
    """Return the volts *pin* takes while powered; the logic supply where no source says more."""
    return bound.module.logic_volts if pin.max_volts is None else pin.max_volts


def contact_volts(bound: BoundDesign, contact: Contact) -> float:
    """Return the highest level *contact* may carry in V.

    Its own rail where one is written; else the logic supply, unless the board
    feeds the device from higher rails only: then the lowest of those, since
    the signal cannot be known to stay under it. Raises InputError for a rail
    that names no voltage.
    """
    logic = bound.module.logic_volts
    if contact.rail:
        return volts_of(bound, contact, contact.rail)
    supplies = [c for c in bound.design.contacts if c.kind is ContactKind.SUPPLY]
    lowest = min((volts_of(bound, c, c.rail) for c in supplies), default=logic)
    return max(logic, lowest)


def volts_of(bound: BoundDesign, contact: Contact, rail: str) -> float:
    """Return the volts of the *rail* that *contact* names; raises InputError where it spells none."""
    volts = rail_volts(bound.module, rail)
    if volts is None:
        rails = sorted({p.supply.rail for p in bound.module.pins if p.supply is not None})
        raise InputError(
            f"contact {contact.number} ({contact.signal}) names a rail of no known voltage",
            where=bound.design.origin,
            key="rail",
            line=contact.line,
            found=repr(rail),
            allowed=f"{', '.join(rails)} or a voltage such as 12V",
        )
    return volts


def over_voltage(
    bound: BoundDesign, contact: Contact, volts: float, *, analog: bool = False
) -> Finding | None:
    """Return an error where no pin *contact* could use takes *volts*, else None."""
    if volts <= bound.module.logic_volts + TOLERANCE_V:
        return None
    pins = candidate_pins(bound, contact, analog=analog)
    best = max((pin_limit(bound, pin) for pin in pins), default=bound.module.logic_volts)
    if volts <= best:
        return None
    what = "ADC inputs" if analog else "inputs"
    return Finding(
        "over-voltage",
        Severity.ERROR,
        f"contact {contact.number} ({contact.signal}) may carry {volts:.2f} V, the {what} of "
        f"{bound.module.name} take at most {best:.2f} V: {volts - best:.2f} V too much. Feed the device "
        f"from a {bound.module.logic_volts:g} V rail or divide the level.",
        items=(contact.signal, bound.module.name),
    )
