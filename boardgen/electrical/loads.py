"""Lamps, relays and buzzers: loads the module switches to ground through a driver."""

from __future__ import annotations

from collections.abc import Mapping

from boardgen.board.model import NetKind
from boardgen.design.model import BoundDesign, Contact, ContactKind
from boardgen.electrical import levels
from boardgen.electrical.draft import GROUND, Draft
from boardgen.electrical.driver_level import driver_proof
from boardgen.electrical.eseries import ohms_text
from boardgen.electrical.lamps import PULL_DOWN_OHMS, Driver, choose_driver
from boardgen.electrical.model import PinRequest, SignalPlan
from boardgen.electrical.prove import faults
from boardgen.electrical.rails import load_rail
from boardgen.electrical.supplies import Outgoing
from boardgen.errors import Severity

RESISTOR = "resistor-axial-quarter"
MOSFETS = ("mosfet-2n7000",)
TRANSISTORS = ("transistor-2n3904", "transistor-bc337")
FLYBACKS = ("diode-1n4148", "diode-1n4007", "diode-1n5819")
UNKNOWN_RAIL_V = 24.0  # what a load of the time may hang on at most, where the design does not say
HEAVY_LOAD_A = 0.2  # a load that draws more gets a supply's track width
AMBIENT_C = 40.0  # inside a closed case
JUNCTION_MOST_C = 150.0  # silicon in a plastic case, by the data sheets of the parts used
RULE = "load-driver"


def plan_load(
    bound: BoundDesign, draft: Draft, contact: Contact, supplies: Mapping[str, Outgoing]
) -> SignalPlan:
    """Plan the driver of the load at *contact*; adds its parts, nets and request to *draft*.

    *supplies* are the rails the board gives, by the name the design uses. What
    is wrong with the load or its driver is a finding.
    """
    kind = str(contact.kind)
    rail = load_rail(bound.design, contact)
    rail_v = levels.volts_of(bound, contact, rail) if rail else UNKNOWN_RAIL_V
    if not rail:
        text = f"the {kind} on {contact.signal} names no rail; the driver is sized for {rail_v:g} V"
        draft.fault(RULE, Severity.WARNING, text, contact.signal)
    load = _current(draft, contact, rail_v)
    resistor = draft.lookup(RESISTOR)
    switches, transistors = draft.known(*MOSFETS), draft.known(*TRANSISTORS)
    if not switches and not transistors:
        draft.lookup(*TRANSISTORS, *MOSFETS)
    driver = choose_driver(switches, transistors, resistor, load, rail_v, bound.module.logic_volts)
    for fault in (*driver.faults, *_too_warm(driver), *_surges(contact, driver, load, rail_v)):
        draft.fault(RULE, Severity.ERROR, f"{contact.signal}: {fault}", contact.signal)
    net = draft.new_net(contact.signal, NetKind.SUPPLY if load > HEAVY_LOAD_A else NetKind.SIGNAL, load)
    gate = draft.new_net(f"{contact.signal}_G")
    parts = _driver_parts(draft, driver, contact, net, gate)
    diode = _flyback(draft, contact, net, supplies.get(rail), load, rail_v) if contact.coil else ""
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
        f"which drops {driver.drop_v:.2f} V and turns {driver.loss_w * 1000:.0f} mW into heat"
        f"{_warmth(driver)}; off at boot"
    )
    if diode:
        why += f"; {diode} takes the coil's current when it is switched off"
    every = (*parts, diode) if diode else parts
    proofs = driver_proof(bound, contact, driver, load)
    if not driver.faults:
        for text in (text for proof in proofs for text in faults(proof)):
            draft.fault(RULE, Severity.ERROR, f"{contact.signal}: {text}", contact.signal)
    assumed: tuple[str, ...] = ()
    if any(proof.proportional for proof in proofs):
        text = f"{proofs[0].driver} drops in proportion to its current or less, under what its data state"
        assumed = (text,)
    return SignalPlan(contact, net, f"{kind} driver", why, every, gate, proofs, assumed)


def _current(draft: Draft, contact: Contact, rail_v: float) -> float:
    """The steady current of the load; a finding where the design does not say it."""
    if contact.current_a is not None:
        return contact.current_a
    if contact.ohms:
        return rail_v / contact.ohms
    text = f"the {contact.kind} on {contact.signal} states neither current nor resistance; 0.1 A is assumed"
    draft.fault(RULE, Severity.ERROR, text, contact.signal)
    return 0.1


def _surges(contact: Contact, driver: Driver, load: float, rail_v: float) -> list[str]:
    """What a cold filament does to the driver: it draws several times its current for some milliseconds."""
    if contact.kind is not ContactKind.LAMP or not contact.ohms or contact.current_a is None:
        return []
    surge = rail_v / contact.ohms
    figures = dict(driver.switch.figures)
    most = figures.get(
        "icm_max_a", figures.get("idm_max_a", figures.get("ic_max_a", figures.get("id_max_a")))
    )
    if most is None or surge <= max(load, most):
        return []
    return [
        f"the cold lamp of {contact.ohms:g} ohm draws {surge:.2f} A when switched on, "
        f"{driver.switch.name} takes {most:.2f} A: put a resistor in line or keep the filament warm"
    ]


def _junction_c(driver: Driver) -> float | None:
    """The switch's temperature in a closed case; None where its data sheet gives no thermal resistance."""
    rise = dict(driver.switch.figures).get("rth_ja_k_per_w")
    return None if rise is None else AMBIENT_C + rise * driver.loss_w


def _too_warm(driver: Driver) -> list[str]:
    junction = _junction_c(driver)
    if junction is None or junction <= JUNCTION_MOST_C:
        return []
    return [f"{driver.switch.name} would reach {junction:.0f} C, {JUNCTION_MOST_C:.0f} C are allowed"]


def _warmth(driver: Driver) -> str:
    junction = _junction_c(driver)
    return "" if junction is None else f" ({junction:.0f} C at the junction, {AMBIENT_C:.0f} C around it)"


def _flyback(
    draft: Draft, contact: Contact, net: str, supply: Outgoing | None, load: float, rail_v: float
) -> str:
    """Add the diode across the coil and return its reference; "" where the device has one or none can be."""
    if contact.flyback == "fitted":
        return ""
    if supply is None:
        draft.fault(
            "flyback",
            Severity.ERROR,
            f"the coil on {contact.signal} hangs on a rail that no contact brings to the board: fit a diode "
            'across the coil, cathode to its rail, and say flyback = "fitted"',
            contact.signal,
        )
        return ""
    known = draft.known(*FLYBACKS)
    fitting = [
        d for d in known if d.figure("if_max_a") >= load and dict(d.figures).get("vr_max_v", 0.0) > rail_v
    ]
    if not fitting:
        draft.fault(
            "flyback",
            Severity.ERROR,
            f"no diode of the catalogue takes the {load:.2f} A of {contact.signal}'s coil at {rail_v:g} V",
            contact.signal,
        )
        return ""
    diode = fitting[0]
    pins = {"anode": net, "cathode": supply.contact_net}
    why = f"takes the {load * 1000:.0f} mA of the coil on {contact.signal} when it is switched off"
    return draft.add_part("D", diode, diode.value or diode.name, pins, contact.number, why)


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
