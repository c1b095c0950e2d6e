"""A design joined to its catalogue entries, with every claim it makes about them checked."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import TypeVar

from boardgen.catalog.drills import undrillable
from boardgen.catalog.load import Catalog
from boardgen.catalog.model import Connector, FabClass, Module, PinKind
from boardgen.catalog.pads import pad_problems
from boardgen.design.model import BoundDesign, ContactKind, Design
from boardgen.design.needs import (
    find_pin,
    pin_needs,
    rails_given,
    strap_pins,
    usable_pins,
    why_not,
)
from boardgen.errors import InputError, InputErrors, suggestion
from boardgen.footprint.model import Face, Footprint, PadKind
from boardgen.units import format_mm

AUTO = "auto"

T = TypeVar("T")


def bind(design: Design, catalog: Catalog, module_id: str | None = None) -> BoundDesign:
    """Return *design* with its module, connector and fab class.

    *module_id* takes the place of the design's own, and must where that is
    "auto". Raises InputError or InputErrors: unknown ids, broken entries,
    contacts that the connector has not, pins and rails that the module has not
    or that may not be used. Whether the pins suffice is not judged here. The
    pins that the bound design fixes and waives are pin numbers.
    """
    problems: list[InputError] = []

    def found(key: str, look: Callable[[str], T], entry_id: str) -> T | None:
        try:
            return look(entry_id)
        except InputErrors as error:
            problems.extend(error.errors)
        except InputError as error:
            problems.append(InputError(error.message, design.origin, key, design.line_of(key), error.found))
        return None

    connector = found("connector", catalog.connector, design.connector)
    fab = found("fab", catalog.fab, design.fab)
    wanted = module_id or design.module
    if wanted == AUTO:
        raise InputError(
            "the module is left open and none was chosen", design.origin, "module", design.line_of("module")
        )
    module = found("module", catalog.module, wanted)
    if connector is not None:
        wrong = list(pad_problems(connector, catalog))
        problems += wrong
        problems += contact_problems(design, connector)
        if fab is not None and fab.copper_layers == 1 and not wrong:
            problems += one_side_problems(design, connector, fab, catalog.footprint(connector.footprint))
        if fab is not None and not wrong:
            problems += drill_problems(design, connector, fab, catalog.footprint(connector.footprint))
    if module is not None:
        problems += pad_problems(module, catalog)
        problems += module_problems(design, module)
    problems += strap_part_problems(design, catalog)
    if problems or module is None or connector is None or fab is None:
        raise InputErrors(problems)
    return BoundDesign(numbered(design, module), module, connector, fab)


def numbered(design: Design, module: Module) -> Design:
    """Return *design* with its fixed and waived pins by number, so that no name is read twice over."""

    def number(name: str) -> str:
        pin = find_pin(module, name)
        return name if pin is None else pin.number

    return replace(
        design,
        fixed=tuple(replace(item, pin=number(item.pin)) for item in design.fixed),
        waivers=tuple(replace(item, pin=number(item.pin)) for item in design.waivers),
    )


def contact_problems(design: Design, connector: Connector) -> Iterator[InputError]:
    """Yield the contacts of *design* that *connector* has not."""
    numbers = connector.numbers()
    known = set(numbers) | set(connector.shell)
    for contact in design.contacts:
        if contact.number in known:
            if contact.number in numbers or contact.kind in (ContactKind.SHIELD, ContactKind.GROUND):
                continue
            message = f"contact {contact.number} is the shell of {connector.id}"
            yield InputError(message, design.origin, "contacts", contact.line, allowed="shield, ground")
            continue
        yield InputError(
            f"contact {contact.number} is not on connector {connector.id}",
            design.origin,
            "contacts",
            contact.line,
            allowed=span(numbers),
        )


def one_side_problems(
    design: Design, connector: Connector, fab: FabClass, footprint: Footprint
) -> Iterator[InputError]:
    """Yield the contacts in use that are soldered to the top, where *fab* has no copper."""
    used = {contact.number for contact in design.contacts if contact.kind is not ContactKind.UNUSED}
    on_top = {pad.number for pad in footprint.pads if pad.kind is PadKind.SURFACE and pad.face is Face.NEAR}
    lost = tuple(number for number in connector.numbers() if number in used & on_top)
    if lost:
        yield InputError(
            f"fab class {fab.id} has copper on the bottom alone, and {connector.id} is soldered to the top "
            f"at contact{'' if len(lost) == 1 else 's'} {span(lost)}",
            design.origin,
            "connector",
            design.line_of("connector"),
            allowed="a connector with pins through the board, or a fab class with two copper layers",
        )


def drill_problems(
    design: Design, connector: Connector, fab: FabClass, footprint: Footprint
) -> Iterator[InputError]:
    """Yield the holes of *connector* for which *fab* has no drill, nor one a little larger that fits."""
    odd = undrillable(footprint, fab)
    if odd:
        yield InputError(
            f"fab class {fab.id} has no drill for connector {connector.id}",
            design.origin,
            "connector",
            design.line_of("connector"),
            found="holes of " + ", ".join(format_mm(width) for width in odd) + " mm",
            allowed="drills of " + ", ".join(format_mm(drill) for drill in fab.drills) + " mm",
        )


def span(numbers: tuple[str, ...]) -> str:
    """Return contact *numbers* in few words: "1 to 25", else each."""
    if all(number.isdecimal() for number in numbers):
        values = sorted(int(number) for number in numbers)
        if len(values) > 2 and values == list(range(values[0], values[-1] + 1)):
            return f"{values[0]} to {values[-1]}"
        return ", ".join(str(value) for value in values)
    return ", ".join(numbers)


def module_problems(design: Design, module: Module) -> Iterator[InputError]:
    """Yield what *design* asks of *module* that it has not, or that may not be used."""
    yield from _waivers(design, module)
    yield from _fixed(design, module)
    yield from _rails(design, module)
    yield from _straps(design, module)


def _no_pin(module: Module, name: str) -> str:
    names = [pin.name for pin in module.pins if pin.kind is PinKind.GPIO]
    return f"{module.id} has no pin {name!r}{suggestion(name, names)}"


def _waivers(design: Design, module: Module) -> Iterator[InputError]:
    for waiver in design.waivers:
        if find_pin(module, waiver.pin) is None:
            yield InputError(_no_pin(module, waiver.pin), design.origin, "waivers", waiver.line)


def _fixed(design: Design, module: Module) -> Iterator[InputError]:
    waived = {found.number for w in design.waivers if (found := find_pin(module, w.pin)) is not None}
    needs = {need.signal: need for need in pin_needs(design)}
    taken: dict[str, str] = {}
    for fixed in design.fixed:
        pin = find_pin(module, fixed.pin)
        if pin is None:
            yield InputError(_no_pin(module, fixed.pin), design.origin, "fixed", fixed.line)
            continue
        named = f"pin {pin.name}" if pin.name == pin.number else f"pin {pin.name} (number {pin.number})"
        if pin.number in taken:
            message = f"{named} of {module.id} is fixed for both {taken[pin.number]} and {fixed.signal}"
            yield InputError(message, design.origin, "fixed", fixed.line)
        taken.setdefault(pin.number, fixed.signal)
        reason = why_not(pin, needs[fixed.signal]) if fixed.signal in needs else ""
        if reason:
            message = f"{fixed.signal} cannot use {named} of {module.id}: it {reason}"
            yield InputError(message, design.origin, "fixed", fixed.line)
        elif (pin.strap or pin.shared) and pin.number not in waived:
            use = f"it is a boot strap ({pin.strap})" if pin.strap else f"the module uses it ({pin.shared})"
            yield InputError(
                f"{fixed.signal} may not use {named} of {module.id}: {use}",
                design.origin,
                "fixed",
                fixed.line,
                allowed="with a [[waivers]] table for the pin",
            )


def _rails(design: Design, module: Module) -> Iterator[InputError]:
    given = rails_given(module)
    every = {pin.supply.rail for pin in module.pins if pin.supply is not None}
    for contact in design.contacts:
        ours = contact.kind is ContactKind.SUPPLY and contact.source == "board"
        if ours and contact.rail not in (*given, AUTO):
            yield InputError(
                f"{module.id} gives no rail {contact.rail}",
                design.origin,
                "contacts",
                contact.line,
                allowed=", ".join(f"{name} ({volts:g} V)" for name, volts in given.items()) or "none",
            )
        if contact.kind is not ContactKind.SUPPLY and contact.signal in every:
            yield InputError(
                f"signal {contact.signal} has the name of a rail of {module.id}",
                design.origin,
                "contacts",
                contact.line,
            )


def _straps(design: Design, module: Module) -> Iterator[InputError]:
    identity = design.identity
    if identity is None:
        return
    fit = strap_pins(module, identity.pull)
    wanted = len({need.signal for need in pin_needs(design)})
    left = len(usable_pins(module, design)) - wanted
    if left < 0:
        return  # the contacts alone ask too much: the pin assignment tells of that
    most = min(len(fit), left)
    if identity.bits > most:
        yield InputError(
            f"{module.id} has too few pins for the identification straps: {len(fit)} have a "
            f"pull-{identity.pull} and nothing to decide at boot, and the contacts leave {left}",
            design.origin,
            "identity.bits",
            identity.line,
            str(identity.bits),
            f"at most {most}" if most else "no [identity] table with this module",
        )


def strap_part_problems(design: Design, catalog: Catalog) -> Iterator[InputError]:
    """Yield what is wrong with the resistor that identification straps are made of."""
    identity = design.identity
    if identity is None:
        return
    resistors = [part.id for part in catalog.components.values() if part.kind == "resistor"]
    if identity.part not in resistors:
        yield InputError(
            f"the catalogue has no resistor {identity.part!r}{suggestion(identity.part, resistors)}",
            design.origin,
            "identity.part",
            identity.line,
            identity.part,
            ", ".join(resistors),
        )
