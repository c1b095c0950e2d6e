"""Identification straps: a resistor a bit, and the proof that each is read on the pins it may get.

Firmware switches the internal pull Rp on. A resistor R against it leaves, for a pull-up, VOL = V R / (R + Rp)
+ I R Rp / (R + Rp) with the least Rp and the leakage I of the pin; one the way of the pull leaves R I.
"""

from __future__ import annotations

from boardgen.catalog.model import Component, ModulePin
from boardgen.design.model import BoundDesign, Identity
from boardgen.design.needs import strap_pins
from boardgen.electrical.draft import GROUND, Draft
from boardgen.electrical.ends import logic_supply, pin_end
from boardgen.electrical.eseries import ohms_text
from boardgen.electrical.levels import pins_for
from boardgen.electrical.model import LevelProof, PinRequest, Strap
from boardgen.electrical.passive import FITTED_TOLERANCE, INTERNAL_PULL_OHMS
from boardgen.electrical.prove import faults
from boardgen.electrical.rails import Rail, logic_rail
from boardgen.errors import Severity

RULE = "identity-strap"


def plan_identity(bound: BoundDesign, draft: Draft) -> tuple[Strap, ...]:
    """Plan the straps of the design, the least bit first; adds resistors, nets and requests to *draft*."""
    identity = bound.design.identity
    if identity is None:
        return ()
    rail = logic_rail(bound.module)
    if rail is None:
        draft.fault(
            RULE,
            Severity.ERROR,
            f"the straps hold pins high, and {bound.module.name} gives no logic rail",
            bound.module.name,
        )
        return ()
    part = draft.lookup(identity.part)
    return tuple(_strap(bound, draft, identity, place, part, rail) for place in range(identity.bits))


def _strap(
    bound: BoundDesign, draft: Draft, identity: Identity, place: int, part: Component, rail: Rail
) -> Strap:
    signal, bit = identity.signals[place], identity.bit(place)
    high = (identity.pull == "up") != bool(bit)
    net = draft.new_net(signal)
    to = draft.rail_net(rail.name) if high else GROUND
    rows = [(pin, strap_proof(bound, pin, identity, part, high)) for pin in _candidates(bound, signal)]
    proved = [(pin, proof) for pin, proof in rows if proof.passes]
    shown = [proof for _, proof in proved or rows]
    worst = min(shown, key=_margin, default=None)
    if not proved:
        why = "; ".join(faults(worst)) if worst is not None else "the module has no pin for it"
        draft.fault(RULE, Severity.ERROR, f"strap {signal} of {ohms_text(identity.ohms)}: {why}", net)
    assumed = _assumed(bound, identity, [pin for pin, _ in proved or rows])
    for text in assumed:
        draft.fault(RULE, Severity.WARNING, f"strap {signal} is proved for {text} alone", net)
    if high:
        draft.carry(to, 0.0 if not bit else bound.module.logic_volts / identity.ohms)
    way = "against" if bit else "the way of"
    why = f"bit {place} of the board's code is {bit}: holds {net} {'high' if high else 'low'}, {way} the pull"
    ref = draft.add_part(
        "R", part, ohms_text(identity.ohms), dict(zip(_pads(part), (to, net), strict=True)), "", why
    )
    draft.requests.append(
        PinRequest(
            signal,
            net,
            reads=True,
            drives=False,
            pull=identity.pull,
            via_part=True,
            pins=tuple(pin.number for pin, _ in proved) if proved else None,
            pins_why="the strap is not read for certain, or it decides at boot or serves the module too",
        )
    )
    return Strap(place, signal, net, bit, high, ref, to, worst, assumed)


def _pads(part: Component) -> tuple[str, str]:
    first, second = (function for function, _ in sorted(part.pins))
    return first, second


def _candidates(bound: BoundDesign, signal: str) -> tuple[ModulePin, ...]:
    """Pins with the pull that decide nothing at boot and have nothing of the module's on them."""
    identity = bound.design.identity
    fit = {} if identity is None else {p.number: p for p in strap_pins(bound.module, identity.pull)}
    pins = pins_for(bound, signal, reads=True, drives=False)
    return tuple(pin for pin in pins if pin.number in fit)


def _margin(proof: LevelProof) -> float:
    margins = [m for m in (proof.margin_high_v, proof.margin_low_v) if m is not None]
    return min(margins)


def _assumed(bound: BoundDesign, identity: Identity, pins: list[ModulePin]) -> tuple[str, ...]:
    if all(bound.module.pull_ohms(pin, identity.pull) is not None for pin in pins):
        return ()
    least, most = INTERNAL_PULL_OHMS
    text = f"pull-{identity.pull}s inside {bound.module.name} of {least / 1000:g} to {most / 1000:g} kohm"
    return (f"{text}, which no source states,",)


def strap_proof(
    bound: BoundDesign, pin: ModulePin, identity: Identity, part: Component, high: bool
) -> LevelProof:
    """Return the proof of one strap on *pin*: its own level at the worst, and the level of the pull alone.

    *high* says which level the resistor gives. The other level is that of a board without straps where the
    resistor stands against the pull: V - Rp I for a pull-up at its most, Rp I for a pull-down.
    """
    module, supply = bound.module, logic_supply(bound.module)
    volts, end = supply.volts, pin_end(bound.module, pin)
    point, logic = end.at(volts), end.logic
    tolerance = dict(part.figures).get("tolerance", FITTED_TOLERANCE)
    ohms = identity.ohms * (1 + tolerance)
    least, most = module.pull_ohms(pin, identity.pull) or INTERNAL_PULL_OHMS
    against = high != (identity.pull == "up")
    share = ohms / (ohms + least) if against else 0.0
    leak = logic.high_a if high else logic.low_a
    source = ohms * (1 - share)  # R Rp / (R + Rp) against the pull; with it, the pull counts for nothing
    held = volts * (1 - share) - source * leak if high else volts * share + source * leak
    alone = volts - most * logic.high_a if identity.pull == "up" else most * logic.low_a
    high_v, low_v = (held, alone) if high else (alone, held)
    both = against  # the pull alone gives the other level
    return LevelProof(
        direction="in",
        driver=f"strap of {ohms_text(identity.ohms)}",
        driver_supply=supply.words(),
        reader=end.name,
        reader_supply=end.supply.words(),
        voh_v=high_v if high or both else volts,
        vih_v=point.vih_v,
        vol_v=low_v if not high or both else 0.0,
        vil_v=point.vil_v,
        margin_high_v=(high_v if high or both else volts) - point.vih_v,
        margin_low_v=point.vil_v - (low_v if not high or both else 0.0),
        most_v=volts,
        allowed_v=logic.most_v(volts),
        idle_allowed_v=None,
        high_a=logic.high_a,
        low_a=volts / (ohms + least) if against else logic.low_a,
    )
