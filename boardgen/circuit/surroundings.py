"""What hangs on the nets of a plan as seen from the module's pins: fixed branches, and things that change.

Built once for the moment of reset (pins let go, the chip's own pulls at the straps) and once for the
running program. The device's keys and outputs are *elements* with options, the first being at rest.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from boardgen.catalog.model import Module, ModulePin
from boardgen.catalog.power import Onboard
from boardgen.circuit.device_side import (
    Element,
    Option,
    low_output,
    matrix_keys,
    outputs,
    pot,
    slope,
    standing,
    switch,
)
from boardgen.circuit.model import PinMap
from boardgen.circuit.network import Branch, Span, source
from boardgen.design.model import BoundDesign, ContactKind
from boardgen.electrical import levels
from boardgen.electrical.device import device_of
from boardgen.electrical.draft import GROUND
from boardgen.electrical.ends import SUPPLY_TOLERANCE, End, Supply, logic_supply, module_supply
from boardgen.electrical.matrix.figures import INTERNAL_PULL_OHMS
from boardgen.electrical.model import ElectricalPlan, PlannedPart
from boardgen.electrical.prove import RESISTOR_TOLERANCE
from boardgen.electrical.rails import find_rail
from boardgen.electrical.shelf import Shelf

ONBOARD_TOLERANCE = 0.05  # of resistors on the module
JUNCTION_V: Span = (0.5, 0.85)  # base to emitter of a transistor that is being switched on
JUNCTION_OHMS: Span = (1.0, 50.0)
FET_OHMS: Span = (0.1, 50.0)


@dataclass(frozen=True, slots=True)
class Surroundings:
    """Everything at the nets: *steady* is always there."""

    steady: tuple[Branch, ...]
    elements: tuple[Element, ...]


def surroundings(
    bound: BoundDesign, plan: ElectricalPlan, pinmap: PinMap, shelf: Shelf, *, running: bool
) -> Surroundings:
    """Return what hangs on the nets of *plan* with the pins of *pinmap*; *bound* has its rails settled."""
    rails = _rails(bound, plan)
    steady = [*_pins(bound.module, pinmap, running), *_board(plan, rails)]
    elements: list[Element] = []
    nets = dict(plan.contact_nets)
    lines: dict[str, str] = {}
    ends: dict[str, End] = {}
    for contact in bound.design.contacts:
        net = nets.get(contact.number)
        if net is None or contact.signal in lines:
            continue
        lines[contact.signal] = net
        if contact.kind is ContactKind.SWITCH:
            elements.append(switch(contact, net))
        elif contact.kind is ContactKind.ANALOG:
            elements.append(pot(contact, net, logic_span(bound.module)[1]))
        elif contact.kind is ContactKind.DIGITAL:
            ends[contact.signal] = device_of(bound, shelf, contact).end
            steady += standing(contact, net, ends[contact.signal])
            elements += outputs(contact, net, ends[contact.signal])
    for matrix in bound.design.matrices:
        elements += matrix_keys(matrix, lines)
    elements += _gates(plan, shelf, rails, ends)
    return Surroundings(tuple(steady), tuple(elements))


def _rails(bound: BoundDesign, plan: ElectricalPlan) -> dict[str, Span]:
    """Return the span of every supply net, ground at 0 V."""
    found: dict[str, Span] = {GROUND: (0.0, 0.0)}
    module = bound.module
    nets = dict(plan.module_nets)
    for pin in module.pins:
        net = nets.get(pin.number)
        rail = None if pin.supply is None else find_rail(module, pin.supply.rail)
        if net is not None and rail is not None:
            supply = module_supply(module, rail)
            found[net] = (supply.low_v, supply.high_v)
    for contact in bound.design.contacts:
        own = dict(plan.contact_nets).get(contact.number)
        if contact.kind is ContactKind.SUPPLY and contact.source != "board" and own is not None:
            volts = levels.volts_of(bound, contact, contact.rail)
            found[own] = (0.0, volts * (1 + SUPPLY_TOLERANCE))  # on or off
    return found


def logic_span(module: Module) -> Span:
    """Return the span of the module's logic supply."""
    supply = logic_supply(module)
    return (supply.low_v, supply.high_v)


def kilo(ohms: Span) -> str:
    """Return "30 to 60 kohm", "10 kohm" or "220 ohm"."""

    def one(value: float) -> str:
        return f"{value / 1000:.3g}" if ohms[1] >= 1000 else f"{value:.3g}"

    unit = "kohm" if ohms[1] >= 1000 else "ohm"
    low, high = one(ohms[0]), one(ohms[1])
    return f"{low} {unit}" if low == high else f"{low} to {high} {unit}"


def internal_pull(module: Module, pin: ModulePin, net: str, way: str) -> Branch:
    """Return the chip's own pull at *pin*."""
    ohms = module.pull_ohms(pin, way) or INTERNAL_PULL_OHMS
    volts = logic_span(module) if way == "up" else (0.0, 0.0)
    return source(net, volts, ohms, f"the pull-{way} inside pin {pin.name} of {kilo(ohms)}")


def onboard_branch(module: Module, item: Onboard, net: str) -> Branch:
    """Return the part on the module as a branch of *net*."""
    ohms = (item.ohms * (1 - ONBOARD_TOLERANCE), item.ohms * (1 + ONBOARD_TOLERANCE))
    through = kilo((item.ohms, item.ohms))
    if item.kind == "led":
        to_ground = item.to == "ground"
        low, high = (0.0, 0.0) if to_ground else logic_span(module)
        spread = 0.2  # V, a LED's forward voltage from faint to bright
        volts = (
            (item.volts - spread, item.volts) if to_ground else (low - item.volts, high - item.volts + spread)
        )
        name = f"the module's LED to {item.to} through {through}"
        return source(net, volts, ohms, name, "forward" if to_ground else "back")
    if item.kind == "pull-down":
        return source(net, (0.0, 0.0), ohms, f"the module's pull-down of {through}")
    what = "pull-up" if item.kind == "pull-up" else "other chip, through"
    return source(net, (item.volts, item.volts), ohms, f"the module's {what} {through} to {item.volts:g} V")


def _pins(module: Module, pinmap: PinMap, running: bool) -> Iterator[Branch]:
    for choice in pinmap.choices:
        pin = module.pin(choice.pin_number)
        way = choice.request.pull if running else pin.strap_pull
        if way:
            yield internal_pull(module, pin, choice.request.net, way)
        for item in pin.onboard:
            yield onboard_branch(module, item, choice.request.net)


def _ohms(part: PlannedPart) -> float:
    scale = {"k": 1e3, "M": 1e6}
    text = part.value
    return float(text[:-1]) * scale[text[-1]] if text[-1:] in scale else float(text)


def _board(plan: ElectricalPlan, rails: dict[str, Span]) -> Iterator[Branch]:
    """Resistors, transistor bases and FETs in line of the board's own parts."""
    for part in plan.parts:
        pads = dict(part.component.pins)
        nets = {function: dict(part.nets).get(pad) for function, pad in pads.items()}
        kind = part.component.kind
        if kind == "resistor":
            a, b = (net for _, net in part.nets)
            value = _ohms(part)
            ohms = (value * (1 - RESISTOR_TOLERANCE), value * (1 + RESISTOR_TOLERANCE))
            yield from _resistor(part, a, b, ohms, rails)
        elif kind == "transistor" and nets.get("emitter") == GROUND and nets.get("base"):
            name = f"the base of {part.ref}"
            yield source(str(nets["base"]), JUNCTION_V, JUNCTION_OHMS, name, "forward")
        elif kind == "mosfet" and nets.get("source") not in (None, GROUND):
            name = f"{part.ref}, which passes a low"
            yield Branch(str(nets["source"]), str(nets["drain"]), FET_OHMS, way="forward", name=name)


def _resistor(part: PlannedPart, a: str, b: str, ohms: Span, rails: dict[str, Span]) -> Iterator[Branch]:
    if a in rails and b in rails:
        return
    if a not in rails and b not in rails:
        yield Branch(a, b, ohms, name=f"{part.ref} of {part.value}")
        return
    node, rail = (b, a) if a in rails else (a, b)
    yield source(node, rails[rail], ohms, f"{part.ref} of {part.value} to {rail}")


def _gates(
    plan: ElectricalPlan, shelf: Shelf, rails: dict[str, Span], ends: dict[str, End]
) -> Iterator[Element]:
    """Outputs of the board's chips toward the module: as high or low as the device makes them."""
    inward = {s.module_net: s.contact.signal for s in plan.signals if s.contact.signal in ends}
    for part in plan.parts:
        if not part.component.gates:
            continue
        nets = dict(part.nets)
        levels = shelf.logic_family(part.component.logic).levels
        rail = nets.get(part.component.pad("supply"), "")
        low_v, high_v = rails.get(rail, (0.0, 0.0))
        for gate in part.component.gates:
            net = nets.get(part.component.pad(gate.output))
            signal = inward.get(net or "")
            if net is None or signal is None or high_v <= 0.0:
                continue
            point = End(part.ref, Supply(rail, (low_v + high_v) / 2), levels).at(low_v)
            name = f"{part.ref}'s output"
            volts, ohms = low_output(point.low)
            low = Option(f"{signal} low", (source(net, volts, ohms, name),))
            least = point.high[0][1] if point.high else low_v
            high = Option(f"{signal} high", (source(net, (least, high_v), (1.0, slope(point.high)), name),))
            yield Element(f"{signal} at {part.ref}", (low, high))
