"""What a design asks of a module's pins and rails."""

from __future__ import annotations

from dataclasses import dataclass

from boardgen.catalog.model import Module, ModulePin, PinKind
from boardgen.design.model import Contact, ContactKind, Design, Direction

PIN_KINDS = (
    ContactKind.ROW,
    ContactKind.COLUMN,
    ContactKind.SWITCH,
    ContactKind.ANALOG,
    ContactKind.DIGITAL,
    ContactKind.LAMP,
)


@dataclass(frozen=True, slots=True)
class PinNeed:
    """What the pin of one signal must do."""

    signal: str
    reads: bool
    drives: bool
    analog: bool


def pin_needs(design: Design) -> tuple[PinNeed, ...]:
    """Return the need of each signal that wants a GPIO, in contact order."""
    strobed = {
        signal
        for matrix in design.matrices
        for signal in (matrix.columns if matrix.drive == "columns" else matrix.rows)
    }
    return tuple(
        _need(contact, contact.signal in strobed) for contact in design.contacts if contact.kind in PIN_KINDS
    )


def _need(contact: Contact, strobed: bool) -> PinNeed:
    drives = strobed or contact.kind is ContactKind.LAMP
    reads = not drives
    if contact.kind is ContactKind.DIGITAL:
        reads = contact.direction in (Direction.IN, Direction.BOTH)
        drives = contact.direction in (Direction.OUT, Direction.BOTH)
    return PinNeed(contact.signal, reads, drives, contact.kind is ContactKind.ANALOG)


def why_not(pin: ModulePin, need: PinNeed) -> str:
    """Return why *pin* cannot do *need* ("" where it can); straps and sharing apart."""
    if pin.kind is not PinKind.GPIO:
        return f"is a {pin.kind} pin, not a GPIO"
    if need.analog and not pin.analog:
        return "has no ADC input"
    if need.reads and not pin.can_read:
        return "cannot be read"
    if need.drives and not pin.can_drive:
        return "is an input only"
    return ""


def usable_pins(module: Module, design: Design) -> tuple[ModulePin, ...]:
    """Return the GPIOs of *module* that are free, or waived by name or number in *design*."""
    waived = {waiver.pin for waiver in design.waivers}
    return tuple(
        pin
        for pin in module.pins
        if pin.kind is PinKind.GPIO
        and (not (pin.strap or pin.shared) or pin.name in waived or pin.number in waived)
    )


def rails_given(module: Module) -> dict[str, float]:
    """Return the rails that *module* gives to the outside, with their volts, sorted by name."""
    rails = {
        pin.supply.rail: pin.supply.volts
        for pin in module.pins
        if pin.supply is not None and pin.supply.role in ("out", "both")
    }
    return dict(sorted(rails.items()))


def rails_wanted(design: Design) -> tuple[Contact, ...]:
    """Return the contacts that name a rail."""
    return tuple(contact for contact in design.contacts if contact.rail)


def level_too_high(module: Module, design: Design) -> bool:
    """Return whether the device drives digital contacts higher than any usable pin takes."""
    if design.logic_volts is None:
        return False
    driven = any(
        contact.kind is ContactKind.DIGITAL and contact.direction is not Direction.OUT
        for contact in design.contacts
    )
    if not driven:
        return False
    limits = [pin.max_volts for pin in usable_pins(module, design)]
    return all(limit is not None and limit < design.logic_volts for limit in limits)
