"""Order numbers of parts; of those sold as a range by value, the value's code replaces the star."""

from __future__ import annotations

import re

from boardgen.board.model import PartKind
from boardgen.catalog.model import Component
from boardgen.circuit.model import CircuitPart

_OHM_LETTERS = {"": "R", "k": "K", "M": "M"}
_FARAD_POWERS = {"p": 0, "n": 3, "u": 6}


def resistor_code(value: str) -> str:
    """Return the IEC 60062 letter code of a resistance: "4.7k" is "4K7", "220" is "220R".

    Raises ValueError for a value that is not written that way.
    """
    match = re.fullmatch(r"(\d+)(?:\.(\d+))?([kM]?)", value)
    if match is None:
        raise ValueError(f"not a resistance: {value!r}")
    fraction = (match[2] or "").rstrip("0")  # makers write 1K2, not 1K20
    return f"{match[1]}{_OHM_LETTERS[match[3]]}{fraction}"


def capacitor_code(value: str) -> str:
    """Return the three-digit code of a capacitance in pF: "100n" is "104", "4.7u" is "475".

    Raises ValueError for a value under 10 pF or not written that way.
    """
    match = re.fullmatch(r"(\d+)(?:\.(\d+))?([pnu])", value)
    if match is None:
        raise ValueError(f"not a capacitance: {value!r}")
    fraction = match[2] or ""
    power = _FARAD_POWERS[match[3]] - len(fraction)
    digits = (match[1] + fraction).lstrip("0")
    zeros = len(digits) - 2 + power
    if not digits or zeros < 0 or digits[2:].strip("0"):
        raise ValueError(f"no three-digit code says {value!r}")
    return f"{digits[:2].ljust(2, '0')}{zeros}"


def order_number(component: Component, value: str) -> str:
    """Return the maker's order number for *value*; the entry's own where it has no star."""
    if "*" not in component.mpn:
        return component.mpn
    coders = {"resistor": resistor_code, "capacitor": capacitor_code}
    coder = coders.get(component.kind)
    try:
        return component.mpn.replace("*", coder(value)) if coder else component.mpn
    except ValueError:
        return component.mpn


def number_and_note(part: CircuitPart) -> tuple[str, str]:
    """Return what *part* is ordered by, and what else a buyer should read.

    A module is sold under many numbers: its note says which one is meant. A range's star that no value code
    could fill moves into the note: nobody can order by such a number.
    """
    if part.kind is PartKind.MODULE:
        return "", part.mpn or part.description
    if "*" not in part.mpn:
        return part.mpn, part.description
    told = f"order {part.mpn} with the maker's code for {part.value} in place of *"
    return "", "; ".join(filter(None, (part.description, told)))
