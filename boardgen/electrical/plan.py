"""From a bound design to the plan of how each signal is carried, and why."""

from __future__ import annotations

from collections.abc import Callable

from boardgen.board.model import NetKind
from boardgen.catalog.model import Component, PinKind
from boardgen.design.model import LOADS, BoundDesign, Contact, ContactKind
from boardgen.electrical.draft import GROUND, Draft
from boardgen.electrical.model import ElectricalPlan, SignalPlan
from boardgen.electrical.rails import find_rail, load_rail
from boardgen.electrical.signals import Pulls, plan_signal
from boardgen.electrical.supplies import Outgoing, plan_supplies, rail_use
from boardgen.errors import Severity

_NEEDS_GROUND = {ContactKind.SWITCH, ContactKind.ANALOG, ContactKind.DIGITAL}
_GIVES_GROUND = {ContactKind.GROUND, ContactKind.SHIELD}


def plan_signals(bound: BoundDesign, component: Callable[[str], Component]) -> ElectricalPlan:
    """Return how each contact's signal is carried; *component* looks a part up by id.

    Parts, nets and requests come in contact order. Raises InputError for a
    rail the module does not give or a part the catalogue lacks; what is wrong
    with a signal's level or a load is a finding.
    """
    draft = Draft(component)
    draft.new_net(GROUND, NetKind.GROUND)
    supplies = plan_supplies(bound, draft)
    draft.carry(GROUND, sum(out.load_a for out in dict.fromkeys(supplies.values())))
    pulls = Pulls.of(bound)
    nets: dict[str, str | None] = {}
    seen: dict[str, SignalPlan] = {}
    for contact in bound.design.contacts:
        plan = _plan_contact(bound, draft, supplies, pulls, contact, seen)
        draft.signals.append(plan)
        nets[contact.number] = plan.net or None
    _check_ground(bound, draft)
    _check_contacts(bound, draft)
    return ElectricalPlan(
        signals=tuple(draft.signals),
        nets=tuple(draft.nets.values()),
        parts=tuple(draft.parts),
        requests=tuple(draft.requests),
        contact_nets=_contact_nets(bound, nets),
        module_nets=_module_nets(bound, draft),
        rails=tuple(rail_use(out) for out in dict.fromkeys(supplies.values())),
        findings=tuple(draft.findings),
    )


def _plan_contact(
    bound: BoundDesign,
    draft: Draft,
    supplies: dict[str, Outgoing],
    pulls: Pulls,
    contact: Contact,
    seen: dict[str, SignalPlan],
) -> SignalPlan:
    kind = contact.kind
    if kind is ContactKind.UNUSED:
        return SignalPlan(contact, "", "open", "left open on purpose")
    if kind is ContactKind.GROUND:
        return SignalPlan(contact, GROUND, "ground", "joined to every ground pin of the module", (), GROUND)
    if kind is ContactKind.SHIELD:
        return SignalPlan(contact, GROUND, "ground", "shield joined to ground at the connector", (), GROUND)
    if kind is ContactKind.SUPPLY:
        out = supplies[contact.rail]
        return SignalPlan(contact, out.contact_net, "rail", out.why, out.parts, out.rail_net)
    first = seen.get(contact.signal)
    if first is not None:
        why = f"the same signal as contact {first.contact.number}"
        return SignalPlan(contact, first.net, "joined", why, first.parts, first.module_net)
    plan = plan_signal(bound, draft, pulls, contact, supplies)
    seen[contact.signal] = plan
    return plan


def _contact_nets(bound: BoundDesign, nets: dict[str, str | None]) -> tuple[tuple[str, str | None], ...]:
    """Nets by contact in face order; what the design leaves out is open, the shell is ground."""
    rows: dict[str, str | None] = {number: nets.get(number) for number in bound.connector.numbers()}
    rows.update({number: net for number, net in nets.items() if number not in rows})
    for number in bound.connector.shell:
        if rows.get(number) is None:
            rows[number] = GROUND
    return tuple(rows.items())


def _module_nets(bound: BoundDesign, draft: Draft) -> tuple[tuple[str, str], ...]:
    """Grounds, and all pins of each rail in use, in pin order."""
    rows: dict[str, str] = {}
    used = {net for part in draft.parts for _, net in part.nets} | {s.module_net for s in draft.signals}
    for pin in bound.module.pins:
        if pin.kind is PinKind.GROUND:
            rows[pin.number] = GROUND
        elif pin.kind is PinKind.SUPPLY and pin.supply is not None:
            rail = find_rail(bound.module, pin.supply.rail)
            if rail is None or pin.number not in rail.pins:
                continue
            net = draft.rail_nets.get(rail.name)
            if net is not None and net in used:
                rows[pin.number] = net
    return tuple(rows.items())


def _check_ground(bound: BoundDesign, draft: Draft) -> None:
    contacts = bound.design.contacts
    if not any(pin.kind is PinKind.GROUND for pin in bound.module.pins):
        draft.fault("ground", Severity.ERROR, f"{bound.module.name} has no ground pin", bound.module.name)
    if any(c.kind in _GIVES_GROUND for c in contacts):
        return
    given = {c.rail for c in contacts if c.kind is ContactKind.SUPPLY}
    # a lamp the device feeds itself returns through ground; one on our own rail does not leave the board
    stranded = [
        c.signal
        for c in contacts
        if c.kind in _NEEDS_GROUND or (c.kind in LOADS and load_rail(bound.design, c) not in given)
    ]
    if stranded:
        draft.fault(
            "ground",
            Severity.ERROR,
            f"{', '.join(stranded[:4])}{' and others' if len(stranded) > 4 else ''} need a ground "
            "to return to, but no contact is ground",
            *stranded,
        )


def _check_contacts(bound: BoundDesign, draft: Draft) -> None:
    """Compare each supply's and the ground's current with what the contacts may carry."""
    limit = bound.connector.current_a
    if limit is None:
        return
    shares: dict[str, int] = {}
    for plan in draft.signals:
        if plan.net:
            shares[plan.net] = shares.get(plan.net, 0) + 1
    for net, count in shares.items():
        amps = draft.nets[net].current_a / count
        if amps > limit:
            draft.fault(
                "contact-current",
                Severity.ERROR,
                f"{net} puts {amps:.2f} A on a contact, {bound.connector.name} is good for {limit:.2f} A",
                net,
            )
