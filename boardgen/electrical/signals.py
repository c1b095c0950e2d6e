"""How a single signal gets from its contact to a module pin."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from boardgen.design.model import BoundDesign, Contact, ContactKind, Direction
from boardgen.electrical import levels
from boardgen.electrical.analog import plan_analog
from boardgen.electrical.digital import Digital, carry_line
from boardgen.electrical.draft import Draft
from boardgen.electrical.eseries import ohms_text
from boardgen.electrical.loads import plan_load
from boardgen.electrical.model import LevelProof, PinRequest, SignalPlan
from boardgen.electrical.passive import switch_proof
from boardgen.electrical.prove import faults
from boardgen.electrical.rails import logic_rail
from boardgen.electrical.supplies import Outgoing
from boardgen.electrical.ways.build import RESISTOR
from boardgen.errors import Severity

PULL_UP_OHMS = 10_000.0


@dataclass(slots=True)
class Pulls:
    """How many pins with an internal pull-up are still to be had."""

    left: int

    @staticmethod
    def of(bound: BoundDesign) -> Pulls:
        """Count the free pins that pull up, those of identification straps left out."""
        identity = bound.design.identity
        straps = identity.bits if identity is not None and identity.pull == "up" else 0
        return Pulls(sum(1 for pin in levels.free_pins(bound) if pin.can_read and "up" in pin.pulls) - straps)

    def take(self, bound: BoundDesign, contact: Contact) -> bool:
        """Take one for *contact*; False where its fixed pin has none, or none is left."""
        pins = levels.candidate_pins(bound, contact)
        if any(f.signal == contact.signal for f in bound.design.fixed):
            return any("up" in pin.pulls for pin in pins)
        if self.left <= 0:
            return False
        self.left -= 1
        return True


def plan_signal(
    bound: BoundDesign,
    draft: Draft,
    pulls: Pulls,
    digital: Digital,
    contact: Contact,
    supplies: Mapping[str, Outgoing],
) -> SignalPlan:
    """Plan a contact that needs a module pin; adds its parts, nets and request to *draft*.

    *digital* holds the ways chosen for logic lines, *supplies* are the rails
    the board gives, by the name the design uses.
    """
    match contact.kind:
        case ContactKind.ROW | ContactKind.COLUMN:
            if _driven(bound, contact):
                return _strobe(draft, contact)
            return _pulled_up(bound, draft, pulls, contact, "matrix line read by the module")
        case ContactKind.SWITCH:
            return _pulled_up(bound, draft, pulls, contact, "switch that closes to ground")
        case ContactKind.ANALOG:
            return plan_analog(bound, draft, contact)
        case ContactKind.LAMP | ContactKind.RELAY | ContactKind.BUZZER:
            return plan_load(bound, draft, contact, supplies)
        case _:
            return _digital(bound, draft, digital, contact)


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
    proofs: tuple[LevelProof, ...] = ()
    assumed: tuple[str, ...] = ()
    if contact.kind is ContactKind.SWITCH:
        proofs, assumed = switch_proof(bound, contact, None if internal else PULL_UP_OHMS)
        if not all(p.passes for p in proofs):
            wrong = "; ".join(text for p in proofs for text in faults(p))
            draft.fault("level", Severity.ERROR, f"contact {contact.number} ({contact.signal}): {wrong}", net)
    way = "direct" if internal else "pull-up resistor"
    return SignalPlan(contact, net, way, why, parts, net, proofs, assumed)


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


def _digital(bound: BoundDesign, draft: Draft, digital: Digital, contact: Contact) -> SignalPlan:
    _check_direction(draft, contact)
    return carry_line(bound, draft, digital, contact)


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
