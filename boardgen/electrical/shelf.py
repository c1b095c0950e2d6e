"""What the electrical plan asks of the catalogue."""

from __future__ import annotations

from typing import Protocol

from boardgen.catalog.model import Component, LogicFamily


class Shelf(Protocol):
    """Small parts and logic families by id; both raise InputError(s) for an id there is not."""

    def component(self, entry_id: str) -> Component:
        """Return the small part called *entry_id*."""
        ...

    def logic_family(self, entry_id: str) -> LogicFamily:
        """Return the logic family called *entry_id*."""
        ...
