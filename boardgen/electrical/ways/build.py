"""A chosen way put on the board: its parts, nets and the pin it asks for."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from boardgen.board.model import NetKind
from boardgen.catalog.model import Component
from boardgen.electrical.draft import GROUND, Draft
from boardgen.electrical.ends import Supply
from boardgen.electrical.eseries import ohms_text
from boardgen.electrical.model import PinRequest
from boardgen.electrical.ways.choose import Chosen
from boardgen.electrical.ways.model import Line, Offer
from boardgen.errors import InputError

RESISTOR, CAPACITOR = "resistor-axial-quarter", "capacitor-disc-5"
CHIP_SUPPLY_A = 0.001  # quiescent and what a slow line switches; outputs drive CMOS inputs only


@dataclass(slots=True)
class Bank:
    """A chip while its gates are being given away; *place* is its place among the draft's parts."""

    ref: str
    part: Component
    rail: str
    place: int
    nets: dict[str, str] = field(default_factory=dict)
    used: set[int] = field(default_factory=set)
    signals: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Carried:
    """Where a built line ends: nets at the contact and at the module, parts on the way."""

    net: str
    module_net: str
    parts: tuple[str, ...]


def build(draft: Draft, chosen: Chosen, banks: dict[int, Bank], volts: float) -> Carried:
    """Add the parts, nets and the pin request of *chosen* to *draft*.

    *volts* is what the pin must take on a direct line (0: nothing special).
    """
    line, offer = chosen.line, chosen.offer
    net = draft.new_net(line.contact.signal)
    way = offer.way if offer.drawable else "direct"
    carried = Carried(net, net, ())
    if way == "pull-up" and offer.ohms and line.upper is not None:
        carried = Carried(net, net, (_up(draft, net, offer.ohms[0], line.upper, line),))
    elif way == "series" and offer.ohms:
        carried = _series(draft, line, offer, net)
    elif way == "divider" and offer.ohms:
        carried = _divider(draft, line, offer, net)
    elif way == "open-drain" and offer.chip is not None:
        carried = _fet(draft, line, offer, net)
    elif way == "buffer" and offer.chip is not None and chosen.bank is not None:
        carried = _gate(draft, chosen, net, banks)
    straight = carried.net == carried.module_net
    function = line.contact.function
    draft.requests.append(
        PinRequest(
            line.contact.signal,
            carried.module_net,
            reads=line.reads,
            drives=line.drives,
            function=function,
            bus=function.split(".")[0] if "." in function else "",
            min_max_volts=volts if straight and line.reads and offer.passes else 0.0,
            anchor=line.contact.number,
            via_part=not straight,
            pins=offer.pins,
            pins_why=offer.pins_why,
        )
    )
    return carried


def rail_of(draft: Draft, supply: Supply) -> str:
    """Return the net of *supply*: a rail of the module, or what the device brings itself."""
    if not supply.own:
        return draft.rail_net(supply.name)
    net = draft.device_nets.get(supply.name.casefold())
    if net is None:
        raise InputError(f"no contact brings the supply {supply.name}")
    return net


def _up(draft: Draft, net: str, ohms: float, supply: Supply, line: Line, near: str = "") -> str:
    top = rail_of(draft, supply)
    draft.carry(top, supply.high_v / ohms)
    why = f"pulls {net} up to {supply.volts:g} V"
    return draft.add_part("R", draft.lookup(RESISTOR), ohms_text(ohms), {"a": top, "b": net}, near, why)


def _series(draft: Draft, line: Line, offer: Offer, net: str) -> Carried:
    inner = draft.new_net(f"{line.contact.signal}_M")
    why = f"stands in {line.contact.signal}: damps its edges and limits what a clamp would carry"
    nets = {"a": net, "b": inner}
    part = draft.lookup(RESISTOR)
    ref = draft.add_part("R", part, ohms_text(offer.ohms[0]), nets, line.contact.number, why)
    return Carried(net, inner, (ref,))


def _divider(draft: Draft, line: Line, offer: Offer, net: str) -> Carried:
    inner = draft.new_net(f"{line.contact.signal}_M")
    part, (top, down) = draft.lookup(RESISTOR), offer.ohms
    why = f"with the next brings {line.contact.signal} down to {down / (top + down):.0%} of its level"
    first = draft.add_part("R", part, ohms_text(top), {"a": net, "b": inner}, line.contact.number, why)
    why = f"lower half of the divider on {line.contact.signal}"
    second = draft.add_part("R", part, ohms_text(down), {"a": inner, "b": GROUND}, line.contact.number, why)
    return Carried(net, inner, (first, second))


def _fet(draft: Draft, line: Line, offer: Offer, net: str) -> Carried:
    part, upper, near = offer.chip, line.upper, line.contact.number
    if part is None or upper is None:
        return Carried(net, net, ())
    inner = draft.new_net(f"{line.contact.signal}_M")
    nets = {"gate": rail_of(draft, upper), "source": inner, "drain": net}
    why = f"joins {line.contact.signal} at both its levels while either side pulls it low"
    refs = [draft.add_part("Q", part, part.value or part.name, nets, near, why)]
    refs.append(_up(draft, inner, offer.ohms[0], upper, line))
    if len(offer.ohms) > 1 and offer.supply is not None:
        refs.append(_up(draft, net, offer.ohms[1], offer.supply, line, near))
    return Carried(net, inner, tuple(refs))


def _gate(draft: Draft, chosen: Chosen, net: str, banks: dict[int, Bank]) -> Carried:
    line, offer, number = chosen.line, chosen.offer, chosen.bank
    part, supply = offer.chip, offer.supply
    if part is None or supply is None or number is None:
        return Carried(net, net, ())
    if number not in banks:
        banks[number] = _bank(draft, part, supply, line.contact.number)
    bank = banks[number]
    inner = draft.new_net(f"{line.contact.signal}_M")
    gate = part.gates[chosen.gate]
    bank.nets[gate.input], bank.nets[gate.output] = (net, inner) if line.reads else (inner, net)
    bank.nets.update({pin: bank.rail if to == "supply" else GROUND for pin, to in gate.ties})
    bank.used.add(chosen.gate)
    bank.signals.append(line.contact.signal)
    return Carried(net, inner, (bank.ref,))


def _bank(draft: Draft, part: Component, supply: Supply, near: str) -> Bank:
    rail = rail_of(draft, supply)
    draft.carry(rail, CHIP_SUPPLY_A)
    draft.counts.setdefault("U", 1)  # U1 is the module
    value = part.value or part.name
    ref = draft.add_part("U", part, value, {"supply": rail, "ground": GROUND}, "", "")
    place = len(draft.parts) - 1
    nets = {"a": rail, "b": GROUND}
    draft.add_part("C", draft.lookup(CAPACITOR), "100n", nets, "", f"decouples {ref}", beside=ref)
    return Bank(ref, part, rail, place)


def close_banks(draft: Draft, banks: dict[int, Bank]) -> None:
    """Give every chip its ties, and its spare gates a level: inputs to ground, enables off, outputs open."""
    for _, bank in sorted(banks.items()):
        part, nets = bank.part, dict(bank.nets)
        level = {"supply": bank.rail, "ground": GROUND}
        off = {"supply": GROUND, "ground": bank.rail}
        nets.update({pin: level[to] for pin, to in part.ties})
        nets.update({"supply": bank.rail, "ground": GROUND})
        for number, gate in enumerate(part.gates):
            if number not in bank.used:
                nets[gate.input] = GROUND
                nets.update({pin: off[to] for pin, to in gate.ties})
        pads = tuple(sorted((part.pad(function), net) for function, net in nets.items()))
        spare = len(part.gates) - len(bank.used)
        rest = f", {spare} spare gate{'' if spare == 1 else 's'} tied" if spare else ""
        why = f"carries {', '.join(bank.signals)} at {bank.rail}{rest}"
        draft.parts[bank.place] = replace(draft.parts[bank.place], nets=pads, why=why)


def device_net(draft: Draft, rail: str) -> str:
    """Return the net of a supply that the device brings, added where it is not there yet."""
    key = rail.casefold()
    if key not in draft.device_nets:
        draft.device_nets[key] = draft.new_net(f"{rail}_DEV", NetKind.SUPPLY)
    return draft.device_nets[key]
