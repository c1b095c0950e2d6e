"""Bulk capacitors against what USB lets a device charge: the most that keeps the whole within it."""

from __future__ import annotations

import itertools
from collections.abc import Set
from dataclasses import replace

from boardgen.catalog.model import Component
from boardgen.electrical.draft import Draft
from boardgen.electrical.eseries import farads_of
from boardgen.electrical.power.verdicts import INRUSH_MOST_UF
from boardgen.electrical.supplies import BULKS


def charged_uf(draft: Draft, nets: Set[str]) -> float:
    """Return the capacitance of the board's own parts on *nets*, uF."""
    return 1e6 * sum(
        farads_of(part.value)
        for part in draft.parts
        if part.component.kind == "capacitor" and nets & {net for _, net in part.nets}
    )


def fit_bulk(draft: Draft, nets: Set[str], module_uf: float) -> tuple[str, ...]:
    """Give the bulk capacitors on *nets*, which USB charges, the most that keeps all within its limit.

    *module_uf* is what the module brings. Where even the least is too much, the least stands: a load that
    is switched needs it, and the note on inrush tells. Returns why, a sentence for each that is exchanged.
    """
    places = [
        number
        for number, part in enumerate(draft.parts)
        if part.component.id in BULKS and nets & {net for _, net in part.nets}
    ]
    before = module_uf + charged_uf(draft, nets)
    if not places or before <= INRUSH_MOST_UF + 1e-6:
        return ()
    known = draft.known(*BULKS)
    rest = before - sum(map(_uf, (draft.parts[n].component for n in places)))
    choices = list(itertools.product(known, repeat=len(places)))
    sums = [rest + sum(map(_uf, choice)) for choice in choices]
    within = [n for n, total in enumerate(sums) if total <= INRUSH_MOST_UF + 1e-6]
    best = max(within, key=lambda n: sums[n]) if within else min(range(len(sums)), key=lambda n: sums[n])
    said = []
    for place, component in zip(places, choices[best], strict=True):
        part = draft.parts[place]
        if component.id == part.component.id:
            continue
        why = (
            f"{_uf(component):g} uF, since with {_uf(part.component):g} uF USB would charge {before:.1f} uF "
            f"when plugged in, and {INRUSH_MOST_UF:.0f} uF are allowed"
        )
        said.append(f"{part.ref} has {why}")
        draft.parts[place] = replace(
            part, component=component, value=component.value, why=f"{part.why}: {why}"
        )
    return tuple(said)


def _uf(component: Component) -> float:
    return farads_of(component.value or "10u") * 1e6
