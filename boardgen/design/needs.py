"""What a design asks of a module, and which modules give it."""

from __future__ import annotations

from dataclasses import dataclass

from boardgen.catalog.load import Catalog
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


@dataclass(frozen=True, slots=True)
class Shortage:
    """A kind of pin of which a module has too few."""

    what: str
    wanted: int
    there: int


def shortages(module: Module, design: Design) -> tuple[Shortage, ...]:
    """Return where *module* has too few usable pins for *design*; empty where they suffice.

    Counts by capability, as a matching of needs to pins: a need is met where
    every set of needs has as many pins that can do it. The sets that can fall
    short are those below, because capabilities only ever narrow in these steps.
    """
    needs = pin_needs(design)
    pins = usable_pins(module, design)
    sets = (
        ("analog inputs", [n for n in needs if n.analog]),
        ("pins that can drive", [n for n in needs if n.drives]),
        ("GPIOs", list(needs)),
    )
    found = []
    for what, group in sets:
        there = sum(any(not why_not(pin, need) for need in group) for pin in pins)
        if len(group) > there:
            found.append(Shortage(what, len(group), there))
    return tuple(found)


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


def fits(module: Module, design: Design) -> bool:
    """Return whether *module* has the pins and rails, and takes the levels, that *design* asks for."""
    if shortages(module, design) or level_too_high(module, design):
        return False
    rails = rails_given(module)
    if any(contact.rail not in rails for contact in rails_wanted(design)):
        return False
    needs = {need.signal: need for need in pin_needs(design)}
    names = {pin.name for pin in usable_pins(module, design)} | {
        pin.number for pin in usable_pins(module, design)
    }
    for fixed in design.fixed:
        if fixed.pin not in names:
            return False
        if fixed.signal in needs and why_not(module.pin(fixed.pin), needs[fixed.signal]):
            return False
    return True


def fitting_modules(design: Design, catalog: Catalog) -> tuple[str, ...]:
    """Return the ids of the catalogue's modules that fit *design*, the smallest board first."""
    found = [module for module in catalog.modules.values() if fits(module, design)]
    found.sort(key=lambda module: (int(module.body.width) * int(module.body.height), module.id))
    return tuple(module.id for module in found)
