"""A voltage for an ADC: straight with a capacitor, through a divider, or refused with the numbers."""

from __future__ import annotations

from dataclasses import dataclass

from boardgen.design.model import BoundDesign, Contact
from boardgen.electrical import levels
from boardgen.electrical.device import device_supply
from boardgen.electrical.draft import GROUND, Draft
from boardgen.electrical.ends import pin_end
from boardgen.electrical.eseries import E12, ohms_text
from boardgen.electrical.model import PinRequest, SignalPlan
from boardgen.electrical.prove import RESISTOR_TOLERANCE
from boardgen.electrical.ways.build import CAPACITOR, RESISTOR
from boardgen.errors import Severity

ADC_INPUT_OHMS = 100_000.0  # the least input resistance of a module's ADC
ADC_SOURCE_MOST_OHMS = 10_000.0  # behind a capacitor: 9 % low at 100 kohm, the limit of sense
TOPS = (10_000.0, 4_700.0, 2_200.0, 1_000.0)  # the largest loads a pot least


@dataclass(frozen=True, slots=True)
class _Divider:
    """A pair of resistors, the share it leaves at most, and what the ADC sees as its source."""

    top: float
    down: float
    share: float
    source_ohms: float


def plan_analog(bound: BoundDesign, draft: Draft, contact: Contact) -> SignalPlan:
    """Plan an ANALOG contact; adds its parts, net and request to *draft*."""
    net = draft.new_net(contact.signal)
    supply = device_supply(bound, contact)
    volts = supply.high_v if supply is not None and contact.rail else levels.contact_volts(bound, contact)
    fault = levels.over_voltage(bound, contact, volts, analog=True)
    divider = _divider(bound, contact, volts)
    wanted = contact.way == "divider" or (contact.way == "auto" and fault is not None)
    own = supply is not None and supply.own
    if contact.way not in ("auto", "direct", "divider"):
        draft.fault(
            "level",
            Severity.ERROR,
            f"contact {contact.number} ({contact.signal}) is analog and cannot be carried by "
            f"{contact.way}: direct or divider",
            contact.signal,
        )
    if wanted and divider is not None:
        inner, refs = _divided(draft, contact, net, divider)
        fault = None
    else:
        divider, inner, refs = None, net, ()
        if fault is not None:
            draft.findings.append(fault)
        elif wanted:
            draft.fault(
                "level",
                Severity.ERROR,
                f"contact {contact.number} ({contact.signal}): no divider brings {volts:.2f} V down to "
                f"what the ADC takes with a source of {ADC_SOURCE_MOST_OHMS:.0f} ohm or less",
                contact.signal,
            )
    if own:
        _idle(bound, draft, contact, volts, divider)
    source = _source(contact) if divider is None else divider.source_ohms
    _check_source(draft, contact, source)
    why = f"holds {inner} still while the ADC samples it"
    ref = draft.add_part("C", draft.lookup(CAPACITOR), "100n", {"a": inner, "b": GROUND}, "", why)
    special = fault is None and divider is None and volts > bound.module.logic_volts + levels.TOLERANCE_V
    draft.requests.append(
        PinRequest(
            contact.signal,
            inner,
            reads=True,
            drives=False,
            analog=True,
            function=contact.function,
            min_max_volts=volts if special else 0.0,
            anchor=contact.number,
            via_part=divider is not None,
        )
    )
    parts = (*refs, ref)
    if divider is not None:
        text = (
            f"up to {volts:.2f} V, of which {refs[0]} and {refs[1]} leave at most "
            f"{volts * divider.share:.2f} V at an ADC pin; {ref} of 100 nF serves the sampling"
        )
        return SignalPlan(contact, net, "divider", text, parts, inner)
    text = f"up to {volts:.3g} V into an ADC pin, {ref} of 100 nF serves the sampling"
    return SignalPlan(contact, net, "direct with capacitor", text, parts, net)


def _source(contact: Contact) -> float | None:
    return None if contact.ohms is None else contact.ohms / 4  # a pot's wiper at mid travel


def _check_source(draft: Draft, contact: Contact, source: float | None) -> None:
    if source is None or source <= ADC_SOURCE_MOST_OHMS:
        return
    error = source / (source + ADC_INPUT_OHMS)
    draft.fault(
        "source-resistance",
        Severity.WARNING,
        f"{contact.signal}: a {contact.ohms or 0:.0f} ohm pot is a source of up to {source:.0f} ohm; "
        f"an ADC input of {ADC_INPUT_OHMS:.0f} ohm reads up to {error:.0%} low. "
        "Use a buffer or a smaller pot.",
        contact.signal,
    )


def _divider(bound: BoundDesign, contact: Contact, volts: float) -> _Divider | None:
    """Return the pair that leaves the most within the ADC's range, None where it needs none or finds none."""
    adc = bound.module.adc
    full = bound.module.logic_volts if adc is None else adc.reference_v
    before = _source(contact) or 0.0
    for top in TOPS:
        best: _Divider | None = None
        for down in (v * 10.0**decade for decade in range(1, 6) for v in E12):
            high = down * (1 + RESISTOR_TOLERANCE)
            share = high / (high + top * (1 - RESISTOR_TOLERANCE))
            source = (before + top) * down / (before + top + down)
            fits = share * volts <= full + 1e-9 and source <= ADC_SOURCE_MOST_OHMS
            if fits and (best is None or share > best.share):
                best = _Divider(top, down, share, source)
        if best is not None:
            return best
    return None


def _divided(draft: Draft, contact: Contact, net: str, pair: _Divider) -> tuple[str, tuple[str, ...]]:
    inner = draft.new_net(f"{contact.signal}_M")
    part, near = draft.lookup(RESISTOR), contact.number
    why = f"with the next brings {contact.signal} down to what the ADC takes"
    first = draft.add_part("R", part, ohms_text(pair.top), {"a": net, "b": inner}, near, why)
    why = f"lower half of the divider on {contact.signal}"
    second = draft.add_part("R", part, ohms_text(pair.down), {"a": inner, "b": GROUND}, near, why)
    return inner, (first, second)


def _idle(bound: BoundDesign, draft: Draft, contact: Contact, volts: float, pair: _Divider | None) -> None:
    """Refuse what a device with its own supply drives into a pin of a module that is off."""
    pins = levels.candidate_pins(bound, contact, analog=True)
    if not pins:
        return
    ends = [pin_end(bound.module, pin).logic for pin in pins]
    idle = max(logic.idle_max_v for logic in ends)
    inject = max(logic.inject_a for logic in ends)
    most = volts if pair is None else volts * pair.share
    ohms = (_source(contact) or 0.0) if pair is None else pair.source_ohms
    amps = (most - idle) / (ohms * (1 - RESISTOR_TOLERANCE)) if ohms > 0 else float("inf")
    if most <= idle + 1e-9 or amps <= inject:
        return
    flow = f", {amps * 1000:.2f} mA into an input made for {inject * 1000:.2g} mA" if ohms > 0 else ""
    draft.fault(
        "over-voltage",
        Severity.ERROR,
        f"contact {contact.number} ({contact.signal}) brings {most:.2f} V from a supply of the device's own; "
        f"the ADC inputs of {bound.module.name} take {idle:.2f} V while it is off{flow}. "
        "Feed the device from the board.",
        contact.signal,
    )
