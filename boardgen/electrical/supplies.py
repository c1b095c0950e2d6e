"""Rails that leave the board: fuse, capacitors, load against budget."""

from __future__ import annotations

from dataclasses import dataclass

from boardgen.board.model import NetKind
from boardgen.design.model import BoundDesign, Contact, ContactKind
from boardgen.electrical.draft import GROUND, Draft
from boardgen.electrical.model import RailUse
from boardgen.electrical.rails import Rail, find_rail, given_rails, rail_loads
from boardgen.errors import InputError, Severity

FUSES = ("fuse-ptc-100ma", "fuse-ptc-250ma", "fuse-ptc-500ma", "fuse-ptc-750ma", "fuse-ptc-1100ma")
# Share of its holding current a polymer fuse keeps at 40 C, in a closed case. Makers' derating charts
# give 0.8 to 0.87 for radial types; the lower end is kept, the charts were not opened: not confirmed.
HOLD_AT_40C = 0.8
DECOUPLING = "capacitor-disc-5"
BULKS = ("capacitor-electrolytic-5", "capacitor-electrolytic-5-4u7")  # the most first
BULK_FROM_A = 0.1  # A; smaller loads do without a bulk capacitor


@dataclass(frozen=True, slots=True)
class Outgoing:
    """A rail as the device gets it: the net at the contacts and the parts in its way."""

    rail: Rail
    rail_net: str
    contact_net: str
    load_a: float
    parts: tuple[str, ...]
    why: str
    fuse: str = ""  # its reference
    fuse_ohms: float = 0.0  # the most it has, an hour after it tripped


def plan_supplies(bound: BoundDesign, draft: Draft) -> dict[str, Outgoing]:
    """Add the outgoing rails to *draft*; returns them by the name the design uses.

    Raises InputError for a rail that the module does not give.
    """
    loads = dict(rail_loads(bound.design))
    found: dict[str, Outgoing] = {}
    by_rail: dict[str, Outgoing] = {}
    for contact in bound.design.contacts:
        if contact.kind is not ContactKind.SUPPLY or contact.source != "board" or contact.rail in found:
            continue
        rail = find_rail(bound.module, contact.rail)
        if rail is None:
            raise InputError(
                f"contact {contact.number} ({contact.signal}) wants a rail {bound.module.name} does not give",
                where=bound.design.origin,
                key="rail",
                line=contact.line,
                found=repr(contact.rail),
                allowed=", ".join(r.name for r in given_rails(bound.module)),
            )
        if rail.name not in by_rail:
            names = [name for name in loads if find_rail(bound.module, name) == rail]
            load = sum(loads[name] for name in names)
            by_rail[rail.name] = _outgoing(bound, draft, contact, rail, load)
        found[contact.rail] = by_rail[rail.name]
    return found


def _outgoing(bound: BoundDesign, draft: Draft, contact: Contact, rail: Rail, load: float) -> Outgoing:
    rail_net = draft.rail_net(rail.name)
    draft.carry(rail_net, load)
    net, parts, why = rail_net, [], f"{rail.name} straight from the module"
    fuse, fuse_ohms = "", 0.0
    if bound.design.supply_fuse:
        net = draft.new_net(f"{rail.name}_OUT", NetKind.SUPPLY, load)
        fuse, fuse_ohms, why = _fuse(draft, contact, rail, load, rail_net, net)
        parts.append(fuse)
    disc = draft.lookup(DECOUPLING)
    parts.append(
        draft.add_part(
            "C", disc, "100n", {"a": net, "b": GROUND}, contact.number, f"decouples {net} at the contact"
        )
    )
    if load >= BULK_FROM_A:
        bulk = draft.lookup(*BULKS)
        pins = {"positive": net, "negative": GROUND}
        text = f"holds {net} up while a load of {load:.2f} A is switched"
        parts.append(draft.add_part("C", bulk, bulk.value or "10u", pins, contact.number, text))
    _check_budget(bound, draft, rail, load)
    return Outgoing(rail, rail_net, net, load, tuple(parts), why, fuse, fuse_ohms)


def _fuse(
    draft: Draft, contact: Contact, rail: Rail, load: float, rail_net: str, net: str
) -> tuple[str, float, str]:
    """Add the smallest fuse that holds *load* at 40 C; returns reference, most ohms, and why."""
    known = draft.known(*FUSES) or (draft.lookup(*FUSES),)
    ordered = sorted(known, key=lambda fuse: (fuse.figure("hold_a"), fuse.id))
    holding = (fuse for fuse in ordered if fuse.figure("hold_a") * HOLD_AT_40C >= load)
    chosen = next(holding, ordered[-1])
    rated = chosen.figure("hold_a")
    hold = rated * HOLD_AT_40C
    if hold < load:
        draft.fault(
            "fuse",
            Severity.ERROR,
            f"no fuse holds the {load:.2f} A on {rail.name}: the largest holds {hold:.2f} A at 40 C",
            rail.name,
        )
    trip = dict(chosen.figures).get("trip_a")
    if trip is not None and rail.budget_a is not None and trip > rail.budget_a:
        draft.fault(
            "fuse",
            Severity.NOTE,
            f"{chosen.name} trips at {trip:.2f} A, {rail.name} is good for {rail.budget_a:.2f} A: "
            "between the two the source's own limit has to protect",
            rail.name,
        )
    why = f"resettable fuse, holds {hold:.2f} A at 40 C ({rated:.2f} A at 23 C) against {load:.2f} A of load"
    value = chosen.value or f"{rated * 1000:.0f}mA"
    ref = draft.add_part("F", chosen, value, {"a": rail_net, "b": net}, contact.number, why)
    return ref, dict(chosen.figures).get("max_ohms", 0.0), f"{rail.name} through {ref}: {why}"


def _check_budget(bound: BoundDesign, draft: Draft, rail: Rail, load: float) -> None:
    if rail.budget_a is None:
        if load > 0:
            draft.fault(
                "supply-budget",
                Severity.WARNING,
                f"{rail.name} carries {load:.2f} A, no source says what {bound.module.name} can spare",
                rail.name,
            )
    elif load > rail.budget_a + 1e-9:
        draft.fault(
            "supply-budget",
            Severity.ERROR,
            f"{rail.name} carries {load:.2f} A, {bound.module.name} can spare {rail.budget_a:.2f} A: "
            f"{load - rail.budget_a:.2f} A too much",
            rail.name,
        )


def rail_use(outgoing: Outgoing) -> RailUse:
    """Return the row of the rails' table."""
    rail = outgoing.rail
    return RailUse(rail.name, rail.volts, outgoing.load_a, rail.budget_a, outgoing.rail_net)
