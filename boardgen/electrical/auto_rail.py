"""Which rail a device runs from where the design leaves it to us: ``rail = "auto"`` on a supply contact."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from boardgen.design.model import BoundDesign, ContactKind
from boardgen.electrical.device import AUTO_RAIL, family_levels, supply_fault
from boardgen.electrical.ends import module_supply
from boardgen.electrical.rails import Rail, given_rails
from boardgen.electrical.shelf import Shelf


def wants_rail(bound: BoundDesign) -> bool:
    """Whether a supply contact leaves its rail to us."""
    return any(c.kind is ContactKind.SUPPLY and c.rail == AUTO_RAIL for c in bound.design.contacts)


def settled(bound: BoundDesign, shelf: Shelf) -> Iterator[BoundDesign]:
    """Yield *bound* with each rail that may stand for "auto", the lowest first.

    A rail may where every chip of the device that names no supply of its own
    runs from it; if none may, every rail is yielded and the findings say why.
    """
    rails = [r for r in given_rails(bound.module) if r.budget_a is not None or "REF" not in r.name.upper()]
    rails.sort(key=lambda r: (r.volts, r.name))
    fitting = [rail for rail in rails if _suits(bound, shelf, rail)]
    for rail in fitting or rails:
        yield _with_rail(bound, rail)


def _suits(bound: BoundDesign, shelf: Shelf, rail: Rail) -> bool:
    supply = module_supply(bound.module, rail)
    for table in bound.design.logic:
        if table.own_supply or table.rail not in ("", AUTO_RAIL):
            continue
        base, name = family_levels(bound, shelf, table, supply)
        if supply_fault(base, table, supply, name):
            return False
    return True


def _with_rail(bound: BoundDesign, rail: Rail) -> BoundDesign:
    design = bound.design
    contacts = tuple(
        replace(c, rail=rail.name, signal=rail.name if c.signal == AUTO_RAIL else c.signal)
        if c.rail == AUTO_RAIL
        else c
        for c in design.contacts
    )
    tables = tuple(
        replace(t, rail=rail.name) if t.rail in ("", AUTO_RAIL) and not t.own_supply else t
        for t in design.logic
    )
    return replace(bound, design=replace(design, contacts=contacts, logic=tables))
