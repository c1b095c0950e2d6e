"""The level that a bare contact to ground gives: a pull-up against a worn contact."""

from __future__ import annotations

from boardgen.design.model import BoundDesign, Contact
from boardgen.electrical.ends import logic_supply, pin_end
from boardgen.electrical.levels import candidate_pins
from boardgen.electrical.model import LevelProof

CONTACT_OHMS = 1_000.0  # a carbon or badly worn contact; sound metal is far under 100 ohm
INTERNAL_PULL_OHMS = (20_000.0, 80_000.0)  # of common chips, where the module's entry gives none
FITTED_TOLERANCE = 0.05


def switch_proof(
    bound: BoundDesign, contact: Contact, fitted_ohms: float | None
) -> tuple[tuple[LevelProof, ...], tuple[str, ...]]:
    """Return the proof that a switch to ground is read, and what was assumed for it.

    Closed: VOL = V Rc / (Rc + Rpull) at the least pull-up; open: VOH = V - Rpull I
    at the largest. *fitted_ohms* is the resistor on the board, None for the pin's own.
    """
    pins = [p for p in candidate_pins(bound, contact) if fitted_ohms is not None or "up" in p.pulls]
    if not pins:
        return (), ()
    module, volts = bound.module, logic_supply(bound.module).volts
    assumed = [f"the contact of {contact.signal} closes with {CONTACT_OHMS:g} ohm or less"]
    rows = []
    for pin in pins:
        if fitted_ohms is not None:
            least, most = fitted_ohms * (1 - FITTED_TOLERANCE), fitted_ohms * (1 + FITTED_TOLERANCE)
        else:
            stated = module.pull_ohms(pin, "up")
            least, most = stated or INTERNAL_PULL_OHMS
            if stated is None:
                text = f"pull-ups inside {module.name} of {least / 1000:g} to {most / 1000:g} kohm"
                assumed += [text] if text not in assumed else []
        end = pin_end(module, pin)
        point = end.at(volts)
        high = volts - most * end.logic.high_a
        low = volts * CONTACT_OHMS / (CONTACT_OHMS + least)
        rows.append((high - point.vih_v, point.vil_v - low, high, low, most, least, end))
    margin_high, margin_low, high, low, most, least, end = min(rows, key=lambda row: min(row[:2]))
    point = end.at(volts)
    proof = LevelProof(
        direction="in",
        driver="a contact to ground",
        driver_supply=logic_supply(module).words(),
        reader=end.name,
        reader_supply=end.supply.words(),
        voh_v=high,
        vih_v=point.vih_v,
        vol_v=low,
        vil_v=point.vil_v,
        margin_high_v=margin_high,
        margin_low_v=margin_low,
        most_v=volts,
        allowed_v=end.logic.most_v(volts),
        idle_allowed_v=None,
        high_a=end.logic.high_a,
        low_a=volts / (CONTACT_OHMS + least),
    )
    return (proof,), tuple(assumed)
