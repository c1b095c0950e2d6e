"""Whether an entry and its footprint speak of the same pads."""

from __future__ import annotations

from boardgen.catalog.load import Catalog
from boardgen.catalog.model import Component, Connector, Entry, FabClass, LogicFamily, Module
from boardgen.errors import InputError

MOST_NAMED = 8


def pad_problems(entry: Entry, catalog: Catalog) -> tuple[InputError, ...]:
    """Return what of *entry* has no pad in its footprint; empty where all is well.

    Each pin number of a module, contact and shell number of a connector, and pin
    of a small part must be the number of a pad. Raises InputError where the
    footprint itself cannot be read.
    """
    if isinstance(entry, FabClass | LogicFamily):
        return ()
    pads = set(catalog.footprint(entry.footprint).numbers())
    if isinstance(entry, Module):
        asked = [("pins", pin.number) for pin in entry.pins]
    elif isinstance(entry, Connector):
        asked = [("contacts", number) for number in entry.numbers()]
        asked += [("shell", number) for number in entry.shell]
    else:
        assert isinstance(entry, Component)
        asked = [("pins", number) for _, number in entry.pins]
    missing: dict[str, list[str]] = {}
    for key, number in asked:
        if number not in pads:
            missing.setdefault(key, []).append(number)
    return tuple(
        InputError(
            f"no pad in footprint {entry.footprint} for {_listed(numbers)}",
            entry.origin or entry.id,
            key,
        )
        for key, numbers in sorted(missing.items())
    )


def _listed(numbers: list[str]) -> str:
    named = ", ".join(numbers[:MOST_NAMED])
    more = len(numbers) - MOST_NAMED
    return f"{named} and {more} more" if more > 0 else named
