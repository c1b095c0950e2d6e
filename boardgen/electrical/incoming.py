"""A supply the device brings itself: left apart, or let into the module through a diode."""

from __future__ import annotations

from dataclasses import dataclass

from boardgen.board.model import NetKind
from boardgen.design.model import BoundDesign, Contact, ContactKind
from boardgen.electrical import levels
from boardgen.electrical.draft import Draft
from boardgen.electrical.rails import supply_pins
from boardgen.errors import InputError

DIODES = ("diode-1n5819",)
BLOCKING_V = 0.45  # a Schottky diode's forward voltage, where its entry states none


@dataclass(frozen=True, slots=True)
class Incoming:
    """The device's supply at *contact*: its net there, the diode's reference, the rail it ends on."""

    contact: Contact
    net: str
    volts: float
    rail: str
    rail_net: str
    diode: str
    drop_v: float
    why: str


def plan_incoming(bound: BoundDesign, draft: Draft) -> tuple[Incoming, ...]:
    """Add the diode of each supply that shall feed the module; returns them in contact order.

    Raises InputError for a rail that the module does not take.
    """
    found: list[Incoming] = []
    for contact in bound.design.contacts:
        if contact.kind is ContactKind.SUPPLY and contact.source == "feeds":
            known = next((item for item in found if item.contact.rail == contact.rail), None)
            found.append(_joined(contact, known) if known is not None else _incoming(bound, draft, contact))
    return tuple(found)


def _joined(contact: Contact, first: Incoming) -> Incoming:
    why = f"the same supply as contact {first.contact.number}"
    return Incoming(
        contact, first.net, first.volts, first.rail, first.rail_net, first.diode, first.drop_v, why
    )


def _incoming(bound: BoundDesign, draft: Draft, contact: Contact) -> Incoming:
    rails = {s.rail: s for _, s in supply_pins(bound.module) if s.role in ("in", "both")}
    name = next((r for r in rails if r.casefold() == contact.rail.strip().casefold()), None)
    if name is None:
        raise InputError(
            f"contact {contact.number} ({contact.signal}) shall feed a rail that {bound.module.name} "
            "does not take",
            where=bound.design.origin,
            key="rail",
            line=contact.line,
            found=repr(contact.rail),
            allowed=", ".join(rails) or "none: the module takes no supply but USB",
        )
    volts = levels.volts_of(bound, contact, contact.rail)
    rail_net = draft.rail_net(name)
    net = draft.new_net(f"DEV_{name}", NetKind.SUPPLY, contact.current_a or 0.0)
    diode = draft.lookup(*DIODES)
    drop = dict(diode.figures).get("vf_v", BLOCKING_V)
    why = f"lets the device's {volts:g} V into {name} and nothing back out"
    pins = {"anode": net, "cathode": rail_net}
    ref = draft.add_part("D", diode, diode.value or diode.name, pins, contact.number, why)
    return Incoming(contact, net, volts, name, rail_net, ref, drop, f"through {ref}, which {why}")
