"""How a buyer or an assembly house wants its lists: frozen values."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class BomField(StrEnum):
    """What a column of a parts list may hold."""

    LINE = "line"  # counts the rows from 1
    DESIGNATORS = "designators"
    PER_BOARD = "per-board"
    TOTAL = "total"  # for all boards, without spares
    ORDER = "order"  # for all boards, with spares
    VALUE = "value"
    FOOTPRINT = "footprint"
    MANUFACTURER = "manufacturer"
    MPN = "mpn"
    SUPPLIER_PART = "supplier-part"
    FITTED = "fitted"  # "DNP" where the part is left out
    NOTE = "note"
    FIXED = "fixed"  # the column's own text


class PositionField(StrEnum):
    """What a column of a position file may hold."""

    DESIGNATOR = "designator"
    VALUE = "value"
    PACKAGE = "package"
    X = "x"
    Y = "y"
    ROTATION = "rotation"
    SIDE = "side"
    TYPE = "type"


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its heading, and what stands in it (*text* for a fixed one)."""

    title: str
    holds: str
    text: str = ""


@dataclass(frozen=True, slots=True)
class Spares:
    """Spares of the rows whose designators start with one of *prefixes* (none: every other row).

    *percent* of the total, rounded up, and no fewer than *least*.
    """

    prefixes: tuple[str, ...]
    percent: float
    least: int


@dataclass(frozen=True, slots=True)
class Turn:
    """Degrees counter-clockwise to add for packages whose name matches *package* (with * and ?)."""

    package: str
    degrees: float


@dataclass(frozen=True, slots=True)
class Profile:
    """Lists in one buyer's form."""

    id: str
    name: str
    description: str
    bom: tuple[Column, ...]
    separator: str
    joiner: str
    whole_parts: bool  # rows without an order number, modules among them, are listed as well
    spares: tuple[Spares, ...]
    positions: tuple[Column, ...]
    unit: str
    sides: tuple[str, str]
    types: tuple[str, ...]
    turns: tuple[Turn, ...]
    origin: str = ""

    def spares_of(self, designator: str) -> Spares | None:
        """Return the rule for a row that begins with *designator*: the first to name it, or the rest's."""
        letters = designator.rstrip("0123456789")
        for rule in self.spares:
            if letters in rule.prefixes:
                return rule
        return next((rule for rule in self.spares if not rule.prefixes), None)
