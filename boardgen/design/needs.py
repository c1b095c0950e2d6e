"""What a design asks of a module's pins and rails."""

from __future__ import annotations

from dataclasses import dataclass

from boardgen.catalog.model import Module, ModulePin, PinKind
from boardgen.design.model import LOADS, Contact, ContactKind, Design, Direction

PIN_KINDS = (
    ContactKind.ROW,
    ContactKind.COLUMN,
    ContactKind.SWITCH,
    ContactKind.ANALOG,
    ContactKind.DIGITAL,
    *LOADS,
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
    drives = strobed or contact.kind in LOADS
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


def find_pin(module: Module, name: str) -> ModulePin | None:
    """Return the pin of *module* that a design file calls *name*, None where there is none.

    The name printed on the module comes first: on some modules a pin is called
    "8" that is not number 8. ``#8`` is the number, and so is 8 where no pin has that name.
    """
    if not name.startswith("#"):
        for pin in module.pins:
            if pin.name == name:
                return pin
    number = name.removeprefix("#")
    return next((pin for pin in module.pins if pin.number == number), None)


def usable_pins(module: Module, design: Design) -> tuple[ModulePin, ...]:
    """Return the GPIOs of *module* that are free, or waived by name or number in *design*."""
    waived = {pin.number for w in design.waivers if (pin := find_pin(module, w.pin)) is not None}
    return tuple(
        pin
        for pin in module.pins
        if pin.kind is PinKind.GPIO and (not (pin.strap or pin.shared) or pin.number in waived)
    )


def strap_pins(module: Module, pull: str) -> tuple[ModulePin, ...]:
    """Return the pins that an identification strap may stand on; *pull* is "up" or "down".

    They have that pull, decide nothing at boot and have nothing else of the module on them; a waiver, which
    lets a signal use such a pin, does not count here.
    """
    return tuple(
        pin
        for pin in module.pins
        if pin.kind is PinKind.GPIO
        and pin.can_read
        and pull in pin.pulls
        and not (pin.strap or pin.shared or pin.onboard)
    )


def rails_given(module: Module) -> dict[str, float]:
    """Return the rails that *module* gives to the outside, with their volts, sorted by name."""
    rails = {
        pin.supply.rail: pin.supply.volts
        for pin in module.pins
        if pin.supply is not None and pin.supply.role in ("out", "both")
    }
    return dict(sorted(rails.items()))
