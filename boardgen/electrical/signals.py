"""How a single signal gets from its contact to a module pin."""

from __future__ import annotations

from dataclasses import dataclass

from boardgen.board.model import NetKind
from boardgen.design.model import BoundDesign, Contact, ContactKind, Direction
from boardgen.electrical import levels
from boardgen.electrical.draft import GROUND, Draft
from boardgen.electrical.eseries import ohms_text
from boardgen.electrical.lamps import PULL_DOWN_OHMS, Driver, choose_driver
from boardgen.electrical.model import PinRequest, SignalPlan
from boardgen.electrical.rails import lamp_rail, logic_rail
from boardgen.errors import Severity

RESISTOR, CAPACITOR = "resistor-axial-quarter", "capacitor-disc-5"
MOSFETS = ("mosfet-2n7000",)
TRANSISTORS = ("transistor-2n3904", "transistor-bc337")
PULL_UP_OHMS = 10_000.0
I2C_PULL_UP_OHMS = 4_700.0
ADC_INPUT_OHMS = 100_000.0  # the least input resistance of a module's ADC
ADC_SOURCE_MOST_OHMS = 10_000.0  # behind a capacitor: 9 % low at 100 kohm, the limit of sense
UNKNOWN_RAIL_V = 24.0  # what a lamp of the time may hang on at most, where the design does not say
HEAVY_LOAD_A = 0.2  # a lamp that draws more gets a supply's track width


@dataclass(slots=True)
class Pulls:
    """How many pins with an internal pull-up are still to be had."""

    left: int

    @staticmethod
    def of(bound: BoundDesign) -> Pulls:
        """Count the free pins that pull up."""
        return Pulls(sum(1 for pin in levels.free_pins(bound) if pin.can_read and "up" in pin.pulls))

    def take(self, bound: BoundDesign, contact: Contact) -> bool:
        """Take one for *contact*; False where its fixed pin has none, or none is left."""
        pins = levels.candidate_pins(bound, contact)
        if any(f.signal == contact.signal for f in bound.design.fixed):
            return any("up" in pin.pulls for pin in pins)
        if self.left <= 0:
            return False
        self.left -= 1
        return True


def plan_signal(bound: BoundDesign, draft: Draft, pulls: Pulls, contact: Contact) -> SignalPlan:
    """Plan a contact that needs a module pin; adds its parts, nets and request to *draft*."""
    match contact.kind:
        case ContactKind.ROW | ContactKind.COLUMN:
            if _driven(bound, contact):
                return _strobe(draft, contact)
            return _pulled_up(bound, draft, pulls, contact, "matrix line read by the module")
        case ContactKind.SWITCH:
            return _pulled_up(bound, draft, pulls, contact, "switch that closes to ground")
        case ContactKind.ANALOG:
            return _analog(bound, draft, contact)
        case ContactKind.LAMP:
            return _lamp(bound, draft, contact)
        case _:
            return _digital(bound, draft, contact)


def _driven(bound: BoundDesign, contact: Contact) -> bool:
    """Whether the module strobes this matrix line: columns, unless its matrix says rows."""
    for matrix in bound.design.matrices:
        if contact.signal in matrix.rows:
            return matrix.drive == "rows"
        if contact.signal in matrix.columns:
            return matrix.drive != "rows"
    return contact.kind is ContactKind.COLUMN


def _strobe(draft: Draft, contact: Contact) -> SignalPlan:
    net = draft.new_net(contact.signal)
    draft.requests.append(
        PinRequest(
            contact.signal, net, reads=False, drives=True, function=contact.function, anchor=contact.number
        )
    )
    why = (
        "matrix line the module pulls low in turn and lets go otherwise, so that two keys join no two outputs"
    )
    return SignalPlan(contact, net, "direct", why, (), net)


def _pulled_up(bound: BoundDesign, draft: Draft, pulls: Pulls, contact: Contact, what: str) -> SignalPlan:
    net = draft.new_net(contact.signal)
    internal = pulls.take(bound, contact)
    parts: tuple[str, ...] = ()
    why = f"{what}, pulled up inside the module; it never rises above {bound.module.logic_volts:g} V"
    if not internal:
        ref = _resistor_up(
            bound, draft, net, PULL_UP_OHMS, f"pulls {net} up: the module's pin has no pull-up left"
        )
        parts = (ref,) if ref else ()
        why = f"{what}, pulled up by {ref or 'nothing'}"
    draft.requests.append(
        PinRequest(
            contact.signal,
            net,
            reads=True,
            drives=False,
            pull="up" if internal else "",
            function=contact.function,
            anchor=contact.number,
        )
    )
    return SignalPlan(contact, net, "direct" if internal else "pull-up resistor", why, parts, net)


def _resistor_up(bound: BoundDesign, draft: Draft, net: str, ohms: float, why: str) -> str:
    """Add a resistor from *net* to the logic rail; "" and a finding where there is no such rail."""
    rail = logic_rail(bound.module)
    if rail is None:
        draft.fault(
            "pull-up", Severity.ERROR, f"{net} needs a pull-up, {bound.module.name} gives no logic rail", net
        )
        return ""
    top = draft.rail_net(rail.name)
    draft.carry(top, rail.volts / ohms)
    return draft.add_part("R", draft.lookup(RESISTOR), ohms_text(ohms), {"a": top, "b": net}, "", why)


def _analog(bound: BoundDesign, draft: Draft, contact: Contact) -> SignalPlan:
    net = draft.new_net(contact.signal)
    volts = levels.contact_volts(bound, contact)
    fault = levels.over_voltage(bound, contact, volts, analog=True)
    if fault is not None:
        draft.findings.append(fault)
    source = None if contact.ohms is None else contact.ohms / 4  # a pot's wiper at mid travel
    if source is not None and source > ADC_SOURCE_MOST_OHMS:
        error = source / (source + ADC_INPUT_OHMS)
        draft.fault(
            "source-resistance",
            Severity.WARNING,
            f"{contact.signal}: a {contact.ohms or 0:.0f} ohm pot is a source of up to {source:.0f} ohm; "
            f"an ADC input of {ADC_INPUT_OHMS:.0f} ohm reads up to {error:.0%} low. "
            "Use a buffer or a smaller pot.",
            contact.signal,
        )
    why = f"holds {net} still while the ADC samples it"
    ref = draft.add_part("C", draft.lookup(CAPACITOR), "100n", {"a": net, "b": GROUND}, "", why)
    draft.requests.append(
        PinRequest(
            contact.signal,
            net,
            reads=True,
            drives=False,
            analog=True,
            function=contact.function,
            min_max_volts=_demand(bound, volts, fault is not None),
            anchor=contact.number,
        )
    )
    text = f"up to {volts:g} V into an ADC pin, {ref} of 100 nF serves the sampling"
    return SignalPlan(contact, net, "direct with capacitor", text, (ref,), net)


def _digital(bound: BoundDesign, draft: Draft, contact: Contact) -> SignalPlan:
    net = draft.new_net(contact.signal)
    found = levels.level_findings(bound, contact)
    draft.findings.extend(found)
    _check_direction(draft, contact)
    volts = levels.contact_volts(bound, contact)
    reads = contact.direction is not Direction.OUT
    parts: tuple[str, ...] = ()
    bus = contact.function.split(".")[0] if "." in contact.function else ""
    if bus.startswith("i2c"):
        why = f"pulls the bus line {net} up"
        ref = _resistor_up(bound, draft, net, I2C_PULL_UP_OHMS, why)
        parts = (ref,) if ref else ()
    wrong = {f.rule for f in found if f.severity is Severity.ERROR}
    too_high = "over-voltage" in wrong
    draft.requests.append(
        PinRequest(
            contact.signal,
            net,
            reads=reads,
            drives=contact.direction is not Direction.IN,
            function=contact.function,
            bus=bus,
            min_max_volts=_demand(bound, volts, too_high) if reads else 0.0,
            anchor=contact.number,
        )
    )
    why = f"logic at {volts:g} V on a module at {bound.module.logic_volts:g} V"
    return SignalPlan(contact, net, "direct", f"{why}: see findings" if wrong else why, parts, net)


def _demand(bound: BoundDesign, volts: float, failed: bool) -> float:
    """Volts the pin must take; nothing where no pin can, so that the board can still be drawn."""
    return 0.0 if failed or volts <= bound.module.logic_volts + levels.TOLERANCE_V else volts


def _check_direction(draft: Draft, contact: Contact) -> None:
    wrong = {"tx": Direction.IN, "rx": Direction.OUT}
    last = contact.function.rsplit(".", 1)[-1]
    if contact.function.startswith("uart") and contact.direction is wrong.get(last):
        draft.fault(
            "direction",
            Severity.ERROR,
            f"{contact.signal}: {contact.function} is the module's own {last.upper()} pin, "
            f"which does not run {contact.direction}",
            contact.signal,
        )


def _lamp(bound: BoundDesign, draft: Draft, contact: Contact) -> SignalPlan:
    load = contact.current_a
    rail = lamp_rail(bound.design, contact)
    rail_v = levels.volts_of(bound, contact, rail) if rail else UNKNOWN_RAIL_V
    if not rail:
        text = f"the lamp on {contact.signal} names no rail; the driver is sized for {rail_v:g} V"
        draft.fault("lamp-driver", Severity.WARNING, text, contact.signal)
    if load is None and contact.ohms:
        load = rail_v / contact.ohms
    if load is None:
        load = 0.1
        text = f"the lamp on {contact.signal} states neither current nor resistance; 0.1 A is assumed"
        draft.fault("lamp-driver", Severity.ERROR, text, contact.signal)
    resistor = draft.lookup(RESISTOR)
    switches = draft.known(*MOSFETS)
    transistors = draft.known(*TRANSISTORS)
    if not switches and not transistors:
        draft.lookup(*TRANSISTORS, *MOSFETS)
    logic = bound.module.logic_volts
    driver = choose_driver(switches, transistors, resistor, load, rail_v, logic)
    for fault in driver.faults:
        draft.fault("lamp-driver", Severity.ERROR, f"{contact.signal}: {fault}", contact.signal)
    kind = NetKind.SUPPLY if load > HEAVY_LOAD_A else NetKind.SIGNAL
    net = draft.new_net(contact.signal, kind, load)
    gate = draft.new_net(f"{contact.signal}_G")
    parts = _driver_parts(draft, driver, contact, net, gate)
    draft.requests.append(
        PinRequest(
            contact.signal,
            gate,
            reads=False,
            drives=True,
            function=contact.function,
            anchor=contact.number,
            via_part=True,
        )
    )
    name = driver.switch.value or driver.switch.name
    why = (
        f"{load * 1000:.0f} mA from {rail_v:g} V switched to ground by {name}, "
        f"which drops {driver.drop_v:.2f} V and turns {driver.loss_w * 1000:.0f} mW into heat; off at boot"
    )
    return SignalPlan(contact, net, "lamp driver", why, parts, gate)


def _driver_parts(draft: Draft, driver: Driver, contact: Contact, net: str, gate: str) -> tuple[str, ...]:
    switch, near = driver.switch, contact.number
    resistor = draft.lookup(RESISTOR)
    control, parts = gate, []
    value = switch.value or switch.name
    if driver.mosfet:
        pins = {"drain": net, "gate": gate, "source": GROUND}
    else:
        control = draft.new_net(f"{contact.signal}_B")
        pins = {"collector": net, "base": control, "emitter": GROUND}
    parts.append(draft.add_part("Q", switch, value, pins, near, f"switches {contact.signal} to ground"))
    if driver.base_ohms is not None:
        why = f"sets a base current of {driver.drive_a * 1000:.1f} mA"
        nets = {"a": gate, "b": control}
        parts.append(draft.add_part("R", resistor, ohms_text(driver.base_ohms), nets, near, why))
    why = f"keeps {contact.signal} off until the firmware drives it"
    nets = {"a": control, "b": GROUND}
    parts.append(draft.add_part("R", resistor, ohms_text(PULL_DOWN_OHMS), nets, "", why))
    return tuple(parts)
