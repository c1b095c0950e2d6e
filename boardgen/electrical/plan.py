"""From a bound design to the plan of how each signal is carried, and why."""

from __future__ import annotations

from boardgen.board.model import NetKind
from boardgen.catalog.model import PinKind
from boardgen.design.model import LOADS, BoundDesign, Contact, ContactKind
from boardgen.electrical.auto_rail import settled, wants_rail
from boardgen.electrical.digital import Digital, digital_lines
from boardgen.electrical.draft import GROUND, Draft
from boardgen.electrical.identity import plan_identity
from boardgen.electrical.incoming import Incoming, plan_incoming
from boardgen.electrical.matrix.findings import matrix_findings
from boardgen.electrical.matrix.study import study_matrices
from boardgen.electrical.model import ElectricalPlan, SignalPlan
from boardgen.electrical.power.tree import plan_power
from boardgen.electrical.rails import find_rail, load_rail
from boardgen.electrical.shelf import Shelf
from boardgen.electrical.signals import Pulls, plan_signal
from boardgen.electrical.supplies import Outgoing, plan_supplies, rail_use
from boardgen.errors import Severity

_NEEDS_GROUND = {ContactKind.SWITCH, ContactKind.ANALOG, ContactKind.DIGITAL}
_GIVES_GROUND = {ContactKind.GROUND, ContactKind.SHIELD}


def plan_signals(bound: BoundDesign, shelf: Shelf) -> ElectricalPlan:
    """Return how each contact's signal is carried; *shelf* gives parts and logic families by id.

    Where a supply contact leaves its rail open, the lowest one on which every
    signal proves safe is taken, else the one with the fewest errors.

    Parts, nets and requests come in contact order. Raises InputError for a
    rail the module does not give or a part the catalogue lacks; what is wrong
    with a signal's level or a load is a finding.
    """
    return _planned(settle_rails(bound, shelf), shelf)


def settle_rails(bound: BoundDesign, shelf: Shelf) -> BoundDesign:
    """Return *bound* with every rail that its design leaves open filled in; *bound* itself where none is.

    The lowest rail that the device's logic tables allow and on which every
    signal proves safe is taken, else the one with the fewest errors. Raises as
    :func:`plan_signals` does.
    """
    if not wants_rail(bound):
        return bound
    best: tuple[int, BoundDesign] | None = None
    for there in settled(bound, shelf):
        plan = _planned(there, shelf)
        errors = sum(f.severity is Severity.ERROR for f in plan.findings)
        if best is None or errors < best[0]:
            best = (errors, there)
        if not errors:
            break
    return bound if best is None else best[1]


def _planned(bound: BoundDesign, shelf: Shelf) -> ElectricalPlan:
    draft = Draft(shelf)
    draft.new_net(GROUND, NetKind.GROUND)
    supplies = plan_supplies(bound, draft)
    incoming = plan_incoming(bound, draft)
    draft.device_nets.update({item.contact.rail.strip().casefold(): item.net for item in incoming})
    draft.carry(GROUND, sum(out.load_a for out in dict.fromkeys(supplies.values())))
    pulls = Pulls.of(bound)
    digital = digital_lines(bound, draft)
    nets: dict[str, str | None] = {}
    seen: dict[str, SignalPlan] = {}
    for contact in bound.design.contacts:
        if contact.kind is ContactKind.SUPPLY:
            plan = _plan_supply(draft, supplies, incoming, contact)
        else:
            plan = _plan_contact(bound, draft, supplies, pulls, digital, contact, seen)
        draft.signals.append(plan)
        nets[contact.number] = plan.net or None
    digital.close(draft)
    straps = plan_identity(bound, draft)
    _check_ground(bound, draft)
    _check_contacts(bound, draft)
    power = plan_power(bound, draft, supplies, incoming)
    matrices = study_matrices(bound, draft.requests, shelf.component)
    return ElectricalPlan(
        signals=tuple(draft.signals),
        nets=tuple(draft.nets.values()),
        parts=tuple(draft.parts),
        requests=tuple(draft.requests),
        contact_nets=_contact_nets(bound, nets),
        module_nets=_module_nets(bound, draft),
        rails=tuple(rail_use(out) for out in dict.fromkeys(supplies.values())),
        power=power,
        findings=(*draft.findings, *(f for study in matrices for f in matrix_findings(study))),
        matrices=matrices,
        straps=straps,
    )


def _plan_contact(
    bound: BoundDesign,
    draft: Draft,
    supplies: dict[str, Outgoing],
    pulls: Pulls,
    digital: Digital,
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
    first = seen.get(contact.signal)
    if first is not None:
        why = f"the same signal as contact {first.contact.number}"
        return SignalPlan(contact, first.net, "joined", why, first.parts, first.module_net)
    plan = plan_signal(bound, draft, pulls, digital, contact, supplies)
    seen[contact.signal] = plan
    return plan


def _plan_supply(
    draft: Draft, supplies: dict[str, Outgoing], incoming: tuple[Incoming, ...], contact: Contact
) -> SignalPlan:
    if contact.source == "device":
        net = draft.device_nets.get(contact.rail.casefold(), "")
        if net:
            why = "a supply of the device's own that feeds the chips at its level, and nothing else"
            return SignalPlan(contact, net, "own supply", why)
        why = "a supply of the device's own: the board leaves it apart, only ground is shared"
        return SignalPlan(contact, "", "own supply", why)
    if contact.source == "feeds":
        item = next(item for item in incoming if item.contact is contact)
        return SignalPlan(contact, item.net, "feeds the module", item.why, (item.diode,), item.rail_net)
    out = supplies[contact.rail]
    return SignalPlan(contact, out.contact_net, "rail", out.why, out.parts, out.rail_net)


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
            if rail is not None and pin.number not in rail.pins:
                continue
            net = draft.rail_nets.get(pin.supply.rail if rail is None else rail.name)
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
