"""Rails of a module, and what a design hangs on them."""

from __future__ import annotations

import re
from dataclasses import dataclass

from boardgen.catalog.model import Module, ModulePin, PinKind, SupplyPin
from boardgen.design.model import LOADS, Contact, ContactKind, Design


@dataclass(frozen=True, slots=True)
class Rail:
    """A rail the module gives to the outside: its name, volts, budget in A and pins."""

    name: str
    volts: float
    budget_a: float | None
    pins: tuple[str, ...]


def supply_pins(module: Module) -> tuple[tuple[ModulePin, SupplyPin], ...]:
    """Return the supply pins with their supplies, in pin order."""
    return tuple((p, p.supply) for p in module.pins if p.kind is PinKind.SUPPLY and p.supply is not None)


def given_rails(module: Module) -> tuple[Rail, ...]:
    """Return the rails that come out of the module, in pin order.

    Where several pins carry one rail the largest stated budget counts: the
    pins share one source.
    """
    found: dict[str, Rail] = {}
    for pin, supply in supply_pins(module):
        if supply.role not in {"out", "both"}:
            continue
        old = found.get(supply.rail)
        pins = (*(old.pins if old else ()), pin.number)
        budgets = [b for b in (old.budget_a if old else None, supply.budget_a) if b is not None]
        found[supply.rail] = Rail(supply.rail, supply.volts, max(budgets, default=None), pins)
    return tuple(found.values())


def find_rail(module: Module, name: str) -> Rail | None:
    """Return the given rail called *name* (case does not matter), or None."""
    for rail in given_rails(module):
        if rail.name.casefold() == name.strip().casefold():
            return rail
    return None


def rail_volts(module: Module, name: str) -> float | None:
    """Return the volts of the rail called *name*.

    A name the module does not carry is read as a voltage where it spells one
    ("5V", "3V3", "+12 V"); None where it does not.
    """
    for _, supply in supply_pins(module):
        if supply.rail.casefold() == name.strip().casefold():
            return supply.volts
    return spelled_volts(name)


def spelled_volts(name: str) -> float | None:
    """Return the volts that *name* spells ("5V", "3V3", "+12 V"); None where it spells none."""
    match = re.fullmatch(r"\+?(\d+)(?:[.vV](\d+))?\s*[vV]?", name.strip())
    if match is None or not re.search(r"[vV]", name):
        return None
    return float(f"{match[1]}.{match[2] or 0}")


def logic_rail(module: Module) -> Rail | None:
    """Return the rail that carries the logic supply (for pull-ups), or None.

    A rail with a stated budget comes first: an analog reference is no supply.
    """
    fitting = [r for r in given_rails(module) if abs(r.volts - module.logic_volts) < 0.2]
    fitting = [r for r in fitting if "REF" not in r.name.upper()] or fitting
    return min(fitting, key=lambda r: r.budget_a is None, default=None)


def load_rail(design: Design, load: Contact) -> str:
    """Return the rail *load* hangs on: its own word, else the one rail the board gives, else ""."""
    given = sorted({c.rail for c in design.contacts if c.kind is ContactKind.SUPPLY})
    return load.rail or (given[0] if len(given) == 1 else "")


def rail_loads(design: Design) -> tuple[tuple[str, float], ...]:
    """Return (rail name as the design writes it, load in A), in contact order.

    The load is the larger of what the rail's supply contacts state and what
    the lamps, relays and buzzers that hang on the rail draw: a stated current includes them.
    """
    stated: dict[str, float] = {}
    loads: dict[str, float] = {}
    for contact in design.contacts:
        if contact.kind is ContactKind.SUPPLY:
            stated[contact.rail] = stated.get(contact.rail, 0.0) + (contact.current_a or 0.0)
        elif contact.kind in LOADS:
            rail = load_rail(design, contact)
            amps = contact.current_a or 0.0
            if not amps and contact.ohms:
                amps = (spelled_volts(rail) or 0.0) / contact.ohms
            loads[rail] = loads.get(rail, 0.0) + amps
    return tuple((rail, max(amps, loads.get(rail, 0.0))) for rail, amps in stated.items())
