"""Which symbol each part of the netlist gets, and what its pins may say to the electrical check."""

from __future__ import annotations

from dataclasses import dataclass, replace

from boardgen.board.model import NetKind, PartKind
from boardgen.catalog.model import Component
from boardgen.circuit.model import CircuitPart
from boardgen.design.model import ContactKind
from boardgen.export.bundle import Bundle
from boardgen.export.cad_big import connector_symbol, module_symbol, plain_symbol, terminals
from boardgen.export.cad_nodes import connected
from boardgen.export.cad_shapes import switch_transistor, two_terminal
from boardgen.export.cad_symbols import Symbol

_BY_LETTER = {"R": "Resistor", "C": "Capacitor", "D": "Diode", "F": "Fuse", "W": "Wire_link"}
_PAIRS = (("anode", "cathode"), ("positive", "negative"), ("plus", "minus"), ("a", "b"), ("1", "2"))


@dataclass(frozen=True, slots=True)
class Sheet:
    """What the schematic's stages share: nets by pin, rails, pin roles, one symbol a part."""

    nets: dict[tuple[str, str], str]
    grounds: frozenset[str]
    rails: frozenset[str]
    symbols: dict[str, Symbol]
    flagged: tuple[str, ...]  # power nets that nothing on the sheet drives

    def is_power(self, net: str | None) -> bool:
        """Whether *net* is drawn with a ground or rail symbol."""
        return net in self.grounds or net in self.rails

    def net(self, part: CircuitPart, number: str) -> str | None:
        """Return the net of a pin, None where it is left open."""
        return self.nets.get((part.ref, number))


def power_nets(bundle: Bundle) -> tuple[frozenset[str], frozenset[str]]:
    """Return the grounds and the rails; a heavy signal's net is no rail though it is as wide as one."""
    carried = {
        plan.net
        for plan in bundle.plan.signals
        if plan.contact.kind not in (ContactKind.SUPPLY, ContactKind.GROUND)
    }
    grounds = frozenset(net.name for net in bundle.netlist.nets if net.kind is NetKind.GROUND)
    rails = frozenset(
        net.name for net in bundle.netlist.nets if net.kind is NetKind.SUPPLY and net.name not in carried
    )
    return grounds, rails


def pin_roles(
    bundle: Bundle, nets: dict[tuple[str, str], str], power: frozenset[str]
) -> dict[tuple[str, str], str]:
    """Return each pin's electrical type, such that the CAD program's check has nothing to add to ours.

    It knows one driver a net and no module that both gives and takes a rail: of several
    supplies on a net the first stays one, and a free pin that meets a supply is passive.
    """
    roles: dict[tuple[str, str], str] = {}
    driven: set[str] = set()
    for part in bundle.netlist.parts:
        for pin in part.pins:
            net = nets.get((part.ref, pin.number))
            role: str = pin.role
            if net is None:
                role = "no-connect" if pin.role == "no-connect" else "passive"
                if pin.role == "bidirectional":
                    role = "bidirectional"
            elif role == "power-out":
                role = "passive" if net in driven or net not in power else role
                driven.add(net)
            elif role == "no-connect" or (role == "power-in" and net not in power):
                role = "passive"
            roles[part.ref, pin.number] = role
    return {
        pin: "passive" if role == "bidirectional" and nets.get(pin) in driven | power else role
        for pin, role in roles.items()
    }


def small_part_symbol(
    part: CircuitPart, component: Component | None, roles: dict[tuple[str, str], str]
) -> Symbol:
    """Return the conventional symbol of a small part, a box where there is none."""
    given = terminals(part, roles)
    numbers = list(given)
    functions = dict(component.pins) if component is not None else {}
    functions = {name: number for name, number in functions.items() if number in numbers}
    kind = component.kind if component is not None else ""
    if len(numbers) == 3:
        for shape, names in (
            ("NPN", ("base", "collector", "emitter")),
            ("NMOS", ("gate", "drain", "source")),
        ):
            if all(name in functions for name in names):
                first, second, third = (given[functions[name]] for name in names)
                return switch_transistor(
                    shape, first, second, third, f"{shape}_{first[0]}{second[0]}{third[0]}"
                )
    if len(numbers) == 2:
        two = _two_shape(part, kind, component, functions)
        pair = next((p for p in _PAIRS if p[0] in functions and p[1] in functions), None)
        ends = [functions[name] for name in pair] if pair else numbers
        if two is not None:
            turned = ends != sorted(ends)
            name = f"{two}_{ends[0]}{ends[1]}" if turned else two
            return two_terminal(two, given[ends[0]], given[ends[1]], name)
    return plain_symbol(part, roles)


def _two_shape(
    part: CircuitPart, kind: str, component: Component | None, functions: dict[str, str]
) -> str | None:
    words = (
        f"{component.name} {component.description} {component.id}".lower() if component is not None else ""
    )
    if part.kind is PartKind.LINK or kind == "link":
        return "Wire_link"
    if kind == "resistor":
        return "Resistor"
    if kind == "capacitor":
        return "Capacitor_polarised" if "positive" in functions or "plus" in functions else "Capacitor"
    if kind == "led":
        return "LED"
    if kind == "diode":
        if "schottky" in words or "1n58" in words:
            return "Schottky_diode"
        return "Zener_diode" if "zener" in words else "Diode"
    if kind == "fuse":
        return "Resettable_fuse" if "ptc" in words or "resettable" in words else "Fuse"
    return _BY_LETTER.get(part.ref.rstrip("0123456789"))


def sheet_of(bundle: Bundle) -> Sheet:
    """Return what the sheet needs of *bundle*; symbols that share a name are told apart by number."""
    nets = connected(bundle.netlist)
    grounds, rails = power_nets(bundle)
    roles = pin_roles(bundle, nets, grounds | rails)
    components = {part.ref: part.component for part in bundle.plan.parts}
    symbols: dict[str, Symbol] = {}
    named: dict[str, Symbol] = {}
    for part in bundle.netlist.parts:
        if part.kind is PartKind.HOLE:
            continue
        if part.kind is PartKind.MODULE:
            made = module_symbol(part, roles, "USB" if bundle.bound.module.usb is not None else "")
        elif part.kind is PartKind.CONNECTOR:
            made = connector_symbol(part, bundle.bound.connector, roles)
        else:
            made = small_part_symbol(part, components.get(part.ref), roles)
        base, count = made.name, 1
        while named.setdefault(made.name, made) != made:
            count += 1
            made = replace(made, name=f"{base}_{count}")
        symbols[part.ref] = made
    return Sheet(nets, grounds, rails, symbols, _undriven(bundle, nets, roles, grounds | rails))


def _undriven(
    bundle: Bundle, nets: dict[tuple[str, str], str], roles: dict[tuple[str, str], str], power: frozenset[str]
) -> tuple[str, ...]:
    """Power nets need one driver, since the ground or rail symbol itself asks for one."""
    driven = {nets[pin] for pin, role in roles.items() if role == "power-out" and pin in nets}
    used = {nets[pin] for pin in roles if pin in nets}
    return tuple(sorted((power & used) - driven))
