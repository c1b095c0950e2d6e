"""Is a signal's level safe and readable at both ends? Simple numbers, with the sum shown."""

from __future__ import annotations

from boardgen.catalog.model import ModulePin, PinKind
from boardgen.design.model import BoundDesign, Contact, ContactKind, Direction
from boardgen.electrical.rails import rail_volts
from boardgen.errors import Finding, InputError, Severity

TOLERANCE_V = 0.3  # a CMOS input's usual allowance over its supply

# Input thresholds and output levels as shares of the supply; the worst of common parts:
# 0.6 for 5 V AVR inputs, 0.75 for an ESP32, 0.7 for a 74HC-like device; 2.62 V of 3.3 V driven.
_MODULE_HIGH_5V, _MODULE_HIGH_3V = 0.6, 0.75
_DEVICE_HIGH = 0.7
_DRIVEN_HIGH = 0.8
_LIGHT_LOAD_DROP = 0.1  # V, a CMOS output into a CMOS input


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


def idle_note(bound: BoundDesign, contact: Contact, volts: float) -> Finding | None:
    """Return a note where the tolerant pins take *volts* only while the module is powered."""
    if volts <= bound.module.logic_volts + TOLERANCE_V:
        return None
    fitting = [p for p in candidate_pins(bound, contact) if pin_limit(bound, p) >= volts]
    idle = max((p.idle_max_volts for p in fitting if p.idle_max_volts is not None), default=None)
    if idle is None or idle >= volts:
        return None
    return Finding(
        "over-voltage",
        Severity.NOTE,
        f"contact {contact.number} ({contact.signal}) carries {volts:.2f} V; the pins take that only while "
        f"powered ({idle:.2f} V unpowered): do not feed the device before the module.",
        items=(contact.signal,),
    )


def level_findings(bound: BoundDesign, contact: Contact) -> tuple[Finding, ...]:
    """Return what is wrong with a DIGITAL contact's levels, either way it runs."""
    volts = contact_volts(bound, contact)
    logic = bound.module.logic_volts
    found: list[Finding] = []
    name = f"contact {contact.number} ({contact.signal})"
    if contact.direction is not Direction.OUT:
        too_high = over_voltage(bound, contact, volts)
        note = None if too_high else idle_note(bound, contact, volts)
        found.extend(f for f in (too_high, note) if f is not None)
        need = logic * (_MODULE_HIGH_5V if logic >= 4.5 else _MODULE_HIGH_3V)
        high = volts - _LIGHT_LOAD_DROP
        if high < need:
            found.append(
                _level(
                    contact, f"{name} rises to {high:.2f} V, the module needs {need:.2f} V for a high level"
                )
            )
    if contact.direction is not Direction.IN:
        high, need = logic * _DRIVEN_HIGH, volts * _DEVICE_HIGH
        if high < need:
            found.append(
                _level(
                    contact,
                    f"the module drives {name} to {high:.2f} V, logic at {volts:.2f} V needs {need:.2f} V "
                    "for a high level (a TTL-level input needs 2.0 V only)",
                )
            )
        if logic > volts + TOLERANCE_V:
            found.append(
                Finding(
                    "over-voltage",
                    Severity.ERROR,
                    f"the module drives {name} to {logic:.2f} V, the device runs at {volts:.2f} V: "
                    f"{logic - volts:.2f} V too much",
                    items=(contact.signal,),
                )
            )
    return tuple(found)


def _level(contact: Contact, text: str) -> Finding:
    return Finding("level", Severity.ERROR, text, items=(contact.signal,))
