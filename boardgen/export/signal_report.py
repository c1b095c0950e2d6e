"""The report's table of signals: each hop with its levels, margins and limits; and what was assumed."""

from __future__ import annotations

import math
from collections.abc import Mapping
from importlib import resources

from jinja2 import Environment, StrictUndefined

from boardgen.design.model import LOADS, ContactKind
from boardgen.electrical.model import PREFERRED_MARGIN_V, LevelProof, SignalPlan
from boardgen.export.bundle import Bundle
from boardgen.export.signal_data import assumptions, choices_by_signal, least_margin, proofs_by_signal

SAME_V = 0.005  # margins this near to the least are shown as the least


def part_html(name: str, **values: object) -> str:
    """Return the part of the report called *name*, filled with *values*; every word is escaped."""
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True)
    text = resources.files("boardgen.export").joinpath(f"report_{name}.html.j2").read_text("utf-8")
    return environment.from_string(text).render(**values)


def signals_html(bundle: Bundle) -> str:
    """Return the table of signals: a row a hop, the contacts and pins at its sides; open contacts last."""
    proofs = proofs_by_signal(bundle)
    least = least_margin(proofs)
    pins = choices_by_signal(bundle)
    driven = {line: study.name for study in bundle.plan.matrices for line in study.wiring.driven}
    rows = []
    for plan in bundle.plan.signals:
        signal = plan.contact.signal
        if plan.contact.kind is ContactKind.UNUSED:
            continue
        choice = pins.get(signal)
        rows.append(
            {
                "contact": plan.contact,
                "pin": "" if choice is None else choice.pin_name,
                "pad": "" if choice is None else choice.pin_number,
                "pin_why": "" if choice is None else choice.why,
                "way": plan.way,
                "parts": ", ".join(plan.parts),
                "why": plan.why,
                "bare": _bare(plan, driven.get(signal, "")),
                "hops": [_hop(proof, least) for proof in proofs.get(signal, ())],
            }
        )
    opened = [p.contact.number for p in bundle.plan.signals if p.contact.kind is ContactKind.UNUSED]
    settles = any(proof.settle_s is not None for hops in proofs.values() for proof in hops)
    return part_html(
        "signals",
        rows=rows,
        opened=", ".join(opened),
        summary=_summary(proofs, least),
        settles=int(settles),
    )


def _bare(plan: SignalPlan, matrix: str) -> str:
    """What is said of a contact without a level to prove."""
    if matrix:
        return f"strobe of {matrix}: its level is proved at the lines that are read"
    kind = plan.contact.kind
    if kind in LOADS:
        return f"{kind}, switched by its driver: no level is read"
    if kind is ContactKind.ANALOG:
        return "a voltage for an ADC: no threshold"
    return f"{kind}: no level"


def assumed_html(bundle: Bundle) -> str:
    """Return the list of what was taken for granted, "" where nothing was."""
    rows = [{"text": text, "whose": ", ".join(whose)} for text, whose in assumptions(bundle)]
    return part_html("assumed", rows=rows) if rows else ""


def _summary(proofs: Mapping[str, tuple[LevelProof, ...]], least: float | None) -> str:
    hops = [proof for found in proofs.values() for proof in found]
    if not hops or least is None:
        return "No line carries a logic level: contacts, lamps and supplies only."
    failed = sum(not proof.passes for proof in hops)
    weak = [
        signal
        for signal, found in proofs.items()
        if any(
            m is not None and m <= least + SAME_V
            for proof in found
            for m in (proof.margin_high_v, proof.margin_low_v)
        )
    ]
    weakest = weak[0] + (f" and {len(weak) - 1} more" if len(weak) > 1 else "")
    if failed:
        return f"{failed} of {len(hops)} levels NOT proved; the least margin is {least:+.2f} V, at {weakest}."
    count = f"{len(hops)} level{'s' if len(hops) > 1 else ''} proved at the worst of all tolerances"
    return f"{count}; the least margin is {least:+.2f} V, at {weakest}."


def _volts(value: float | None) -> str:
    if value is None:
        return "not stated"
    return f"{value:.2f}" if math.isfinite(value) else "any"


def _margin(value: float | None, least: float | None) -> dict[str, str]:
    if value is None or not math.isfinite(value):
        return {"text": "not proved", "mark": "fails"}
    worst = least is not None and value <= least + SAME_V
    mark = "fails" if value < -1e-9 else "thin" if value < PREFERRED_MARGIN_V - 1e-9 else ""
    return {"text": f"{value:+.2f}", "mark": f"{mark}{' worst' if worst else ''}".strip()}


def _hop(proof: LevelProof, least: float | None) -> dict[str, object]:
    return {
        "driver": _end(proof.driver, proof.driver_supply),
        "reader": _end(proof.reader, proof.reader_supply),
        "voh": _volts(proof.voh_v),
        "vih": _volts(proof.vih_v),
        "vol": _volts(proof.vol_v),
        "vil": _volts(proof.vil_v),
        "high": _margin(proof.margin_high_v, least),
        "low": _margin(proof.margin_low_v, least),
        "most": _volts(proof.most_v),
        "powered": _volts(proof.allowed_v),
        "powered_ok": proof.powered_ok,
        "idle": "" if proof.idle_allowed_v is None else _volts(proof.idle_allowed_v),
        "idle_ok": proof.idle_ok,
        "clamped": _clamped(proof),
        "settle": _settle(proof),
        "settle_ok": proof.settle_ok,
    }


def _end(name: str, supply: str) -> str:
    """Return "74LS at 5 V", the supply left out where the name says it or a bare contact has none."""
    bare = name.startswith(("a contact", "a key")) or name.endswith(supply)
    name = name.removeprefix("a ")
    supply = supply.replace(" V", "\u00a0V")  # a figure and its unit stay on one line
    return name if bare else f"{name} at\u00a0{supply}"


def _clamped(proof: LevelProof) -> str:
    """What flows into the reader's clamps where it takes the overshoot only because little flows."""
    over = proof.most_v > proof.allowed_v + 1e-9 or (
        proof.idle_allowed_v is not None and proof.most_v > proof.idle_allowed_v + 1e-9
    )
    if not over or not math.isfinite(proof.over_a):
        return ""
    return f"{proof.over_a * 1e3:.2g} mA into its clamps, {proof.over_allowed_a * 1e3:.2g} mA allowed"


def _settle(proof: LevelProof) -> str:
    if proof.settle_s is None:
        return ""
    if not math.isfinite(proof.settle_s):
        return "never"
    text = f"{proof.settle_s * 1e6:.2g}"
    most = proof.settle_most_s
    return f"{text} µs" if most is None else f"{text} of {most * 1e6:.3g} µs"
