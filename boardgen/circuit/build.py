"""From the plan and the pin map to the netlist, through SKiDL and its electrical check."""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable
from dataclasses import replace

from boardgen.board.model import Net, NetKind, PartKind
from boardgen.catalog.model import ModulePin, PinKind
from boardgen.circuit.model import CircuitPart, CircuitPin, Netlist, PinMap
from boardgen.circuit.partnumber import order_number
from boardgen.circuit.skidl_door import DoorPart, DoorPin, DoorResult, pass_through
from boardgen.design.model import BoundDesign
from boardgen.electrical.model import ElectricalPlan, PlannedPart
from boardgen.errors import Finding, Severity
from boardgen.footprint.model import Footprint

MODULE_REF, CONNECTOR_REF = "U1", "J1"
_STAMP_SPACE = uuid.UUID("7026fcc6-e1a0-409e-aaf4-6a17ea82654f")  # SKiDL's own for part stamps


def reference_key(ref: str) -> tuple[str, int, str]:
    """Sort key for references and pad numbers: C2 before C10, 2 before 10."""
    match = re.fullmatch(r"([A-Za-z]*)(\d+)", ref)
    return (match[1], int(match[2]), "") if match else (ref, 0, ref)


def build_netlist(
    bound: BoundDesign, plan: ElectricalPlan, pinmap: PinMap, footprint: Callable[[str], Footprint]
) -> Netlist:
    """Return the netlist as SKiDL gives it back; *footprint* looks a footprint up by name.

    U1 is the module, J1 the connector. What the electrical check says comes
    as findings of rule "erc". The same input gives the same netlist, text included.
    """
    parts = [_module(bound, plan, pinmap, footprint), _connector(bound, plan, footprint)]
    parts += [_small(part, footprint) for part in plan.parts]
    parts.sort(key=lambda part: reference_key(part.ref))
    return check_circuit(tuple(parts), plan)


def check_circuit(parts: tuple[CircuitPart, ...], plan: ElectricalPlan) -> Netlist:
    """Pass *parts* through SKiDL; pins' nets in the result are those read back from it."""
    kinds = {net.name: net.kind for net in plan.nets}
    grounds = tuple(sorted(name for name, kind in kinds.items() if kind is NetKind.GROUND))
    result = pass_through(tuple(_door_part(part) for part in parts), grounds)
    on_pin = {pin: name for name, pins in result.nets for pin in pins}
    stamps = {ref: str(uuid.uuid5(_STAMP_SPACE, name)) for ref, name in result.names}
    back = tuple(
        replace(
            part,
            stamp=stamps[part.ref],
            pins=tuple(replace(pin, net=on_pin.get((part.ref, pin.number))) for pin in part.pins),
        )
        for part in parts
    )
    nets = tuple(
        Net(name, kinds.get(name, NetKind.SIGNAL), kinds.get(name, NetKind.SIGNAL).value)
        for name, _ in result.nets
    )
    return Netlist(back, nets, _findings(result), result.text)


def _door_part(part: CircuitPart) -> DoorPart:
    pins = tuple(DoorPin(pin.number, pin.name, pin.role, pin.net) for pin in part.pins)
    return DoorPart(part.ref, part.value, part.footprint.name, pins)


def _findings(result: DoorResult) -> tuple[Finding, ...]:
    found = []
    for level, message in result.messages:
        severity = Severity.WARNING if level == "warning" else Severity.ERROR
        items = tuple(sorted(set(re.findall(r" of .*?/([A-Z]+\d+)(?=[\s).]|$)", message))))
        found.append(Finding("erc", severity, message, items=items))
    return tuple(found)


def _module(
    bound: BoundDesign, plan: ElectricalPlan, pinmap: PinMap, footprint: Callable[[str], Footprint]
) -> CircuitPart:
    module = bound.module
    nets = dict(plan.module_nets)
    nets.update((choice.pin_number, choice.request.net) for choice in pinmap.choices)
    fed: set[tuple[str, str]] = set()
    pins = []
    for pin in module.pins:
        net = nets.get(pin.number)
        pins.append(CircuitPin(pin.number, pin.name, _role(pin, net, fed), net))
    return CircuitPart(
        ref=MODULE_REF,
        value=module.name,
        kind=PartKind.MODULE,
        entry=module.id,
        footprint=footprint(module.footprint),
        pins=tuple(pins),
        description=module.description,
        mpn=module.maker_part,
        why="the module that reads and drives the device",
        height=module.height,
    )


def _role(pin: ModulePin, net: str | None, fed: set[tuple[str, str]]) -> str:
    """Role of a module pin; one pin of a rail feeds its net, the others of that rail lie along.

    Two different rails on one net both feed it, which the check then reports.
    """
    match pin.kind:
        case PinKind.GPIO:
            return "bidirectional"
        case PinKind.GROUND:
            return "power-in"
        case PinKind.UNUSED:
            return "no-connect" if net is None else "passive"
        case PinKind.SUPPLY if net is not None and pin.supply is not None:
            if pin.supply.role == "in":
                return "power-in"
            if (net, pin.supply.rail) not in fed:
                fed.add((net, pin.supply.rail))
                return "power-out"
    return "passive"


def _connector(
    bound: BoundDesign, plan: ElectricalPlan, footprint: Callable[[str], Footprint]
) -> CircuitPart:
    connector = bound.connector
    nets = dict(plan.contact_nets)
    signals = {contact.number: contact.signal for contact in bound.design.contacts}
    signals.update((number, "SHELL") for number in connector.shell if number not in signals)
    land = footprint(connector.footprint)
    numbers = dict.fromkeys((*connector.numbers(), *land.numbers()))
    pins = tuple(
        CircuitPin(number, signals.get(number, number), "passive", nets.get(number)) for number in numbers
    )
    return CircuitPart(
        ref=CONNECTOR_REF,
        value=connector.name,
        kind=PartKind.CONNECTOR,
        entry=connector.id,
        footprint=land,
        pins=pins,
        description=connector.description,
        manufacturer=connector.manufacturer,
        mpn=connector.mpn,
        why="mates with the device's plug",
        height=connector.height,
    )


def _small(part: PlannedPart, footprint: Callable[[str], Footprint]) -> CircuitPart:
    component = part.component
    land = footprint(component.footprint)
    nets = dict(part.nets)
    names = {pad: function for function, pad in component.pins}
    numbers = dict.fromkeys((*names, *land.numbers()))
    pins = tuple(
        CircuitPin(number, names.get(number, number), "passive", nets.get(number))
        for number in sorted(numbers, key=reference_key)
    )
    return CircuitPart(
        ref=part.ref,
        value=part.value,
        kind=PartKind.LINK if component.kind == "link" else PartKind.COMPONENT,
        entry=component.id,
        footprint=land,
        pins=pins,
        description=component.name,
        manufacturer=component.manufacturer,
        mpn=order_number(component, part.value),
        near=part.near,
        why=part.why,
        height=component.height,
        beside=part.beside,
    )
