"""Every contact with how it is carried and the proof of each hop, as plain data for record and report."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import replace

from boardgen.circuit.model import PinChoice
from boardgen.electrical.ends import pin_end
from boardgen.electrical.matrix.model import MatrixStudy
from boardgen.electrical.model import LevelProof, SignalPlan
from boardgen.export.bundle import Bundle


def _rounded(value: float | None, digits: int = 4) -> float | None:
    """Return *value* as the record writes it: None where it is not known or without bound."""
    return None if value is None or not math.isfinite(value) else round(value, digits)


def hop_row(proof: LevelProof) -> dict[str, object]:
    """Return one hop in V, A and us: what the driver gives, what the reader needs and takes."""
    return {
        "direction": proof.direction,
        "driver": proof.driver,
        "driver_supply": proof.driver_supply,
        "reader": proof.reader,
        "reader_supply": proof.reader_supply,
        "high_least_v": _rounded(proof.voh_v),
        "high_most_v": _rounded(proof.most_v),
        "low_most_v": _rounded(proof.vol_v),
        "reads_high_from_v": _rounded(proof.vih_v),
        "reads_low_to_v": _rounded(proof.vil_v),
        "margin_high_v": _rounded(proof.margin_high_v),
        "margin_low_v": _rounded(proof.margin_low_v),
        "takes_powered_v": _rounded(proof.allowed_v),
        "takes_unpowered_v": _rounded(proof.idle_allowed_v),
        "over_a": _rounded(proof.over_a, 9),
        "over_allowed_a": _rounded(proof.over_allowed_a, 9),
        "settle_us": None if proof.settle_s is None else _rounded(proof.settle_s * 1e6),
        "settle_most_us": None if proof.settle_most_s is None else _rounded(proof.settle_most_s * 1e6),
        "passes": proof.passes,
    }


def choices_by_signal(bundle: Bundle) -> dict[str, PinChoice]:
    """Return the pin of each signal that has one."""
    return {choice.request.signal: choice for choice in bundle.pinmap.choices}


def proofs_by_signal(bundle: Bundle) -> dict[str, tuple[LevelProof, ...]]:
    """Return each signal's hops: those of the plan, and what its matrix gives a line that is read."""
    pins = choices_by_signal(bundle)
    found = {plan.contact.signal: plan.proofs for plan in bundle.plan.signals if plan.proofs}
    for study in bundle.plan.matrices:
        for line in (*study.wiring.read, *study.wiring.driven):
            if line not in found and line in pins:
                found[line] = (_line_proof(bundle, study, line, pins[line]),)
    return found


def _line_proof(bundle: Bundle, study: MatrixStudy, line: str, choice: PinChoice) -> LevelProof:
    """A matrix line at its worst: low through the weakest key, high through the weakest pull-up.

    A read line takes these levels from a key, a driven one gives them to read lines, which lift it when it
    is let go. Only a read line has to settle.
    """
    module, levels = bundle.bound.module, study.levels
    end = pin_end(module, module.pin(choice.pin_number))
    proof = LevelProof(
        direction="out",
        driver=end.name,
        driver_supply=end.supply.words(),
        reader=f"a read line of {study.name}, through a key",
        reader_supply=end.supply.words(),
        voh_v=study.high.high_v,
        vih_v=levels.vih_v,
        vol_v=study.level.low_v,
        vil_v=levels.vil_v,
        margin_high_v=study.high.margin_v,
        margin_low_v=study.level.margin_v,
        most_v=levels.supply_v,
        allowed_v=end.logic.most_v(levels.supply_v),
        idle_allowed_v=None,
    )
    if line not in study.wiring.read:
        return proof
    rise = next((item.rise_us * 1e-6 for item in study.timing.lines if item.line == line), None)
    wait = study.timing.wait_us * 1e-6
    return replace(proof, direction="in", driver="a key", reader=end.name, settle_s=rise, settle_most_s=wait)


def signal_row(
    plan: SignalPlan, choice: PinChoice | None, proofs: tuple[LevelProof, ...]
) -> dict[str, object]:
    """Return one contact: how it is carried, from where to which pin, and the proof of each hop."""
    contact = plan.contact
    return {
        "contact": contact.number,
        "signal": contact.signal,
        "kind": str(contact.kind),
        "wire": contact.wire,
        "known_by": str(contact.sure),
        "net": plan.net,
        "module_net": plan.module_net,
        "way": plan.way,
        "parts": list(plan.parts),
        "pin": choice.pin_name if choice is not None else "",
        "module_pin": choice.pin_number if choice is not None else "",
        "pin_why": choice.why if choice is not None else "",
        "why": plan.why,
        "hops": [hop_row(proof) for proof in proofs],
        "assumed": list(plan.assumed),
    }


def signal_rows(bundle: Bundle) -> list[dict[str, object]]:
    """Return every contact of the plan, in its order."""
    pins, proofs = choices_by_signal(bundle), proofs_by_signal(bundle)
    return [
        signal_row(plan, pins.get(plan.contact.signal), proofs.get(plan.contact.signal, ()))
        for plan in bundle.plan.signals
    ]


def least_margin(proofs: Mapping[str, tuple[LevelProof, ...]]) -> float | None:
    """Return the least noise margin of all hops in V, None where no hop has one."""
    known = [
        margin
        for hops in proofs.values()
        for proof in hops
        for margin in (proof.margin_high_v, proof.margin_low_v)
        if margin is not None and math.isfinite(margin)
    ]
    return min(known, default=None)


def assumptions(bundle: Bundle) -> list[tuple[str, tuple[str, ...]]]:
    """Return (what was assumed, for which signals) of levels, supplies and matrices, each said once.

    One thing assumed of several signals is said of "each line". What an assumption
    about supplies or a matrix is for stands in words.
    """
    found: dict[str, dict[str, None]] = {}
    lines: dict[str, dict[str, str]] = {}
    for plan in bundle.plan.signals:
        signal = plan.contact.signal
        for text in plan.assumed:
            alike = re.sub(rf"(?<!\w){re.escape(signal)}(?!\w)", "each line", text) if signal else text
            lines.setdefault(alike, {})[signal] = text
    for alike, said in lines.items():
        text = alike if len(said) > 1 else next(iter(said.values()))
        found[text] = dict.fromkeys(said)
    if bundle.plan.power is not None:
        for text in bundle.plan.power.assumed:
            found.setdefault(text, {})["supplies"] = None
    for study in bundle.plan.matrices:
        for text in study.assumed:
            found.setdefault(text, {})[f"matrix {study.name}"] = None
    return [(text, tuple(whose)) for text, whose in found.items()]
