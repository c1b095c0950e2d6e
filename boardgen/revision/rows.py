"""Rows of two revisions held against each other; a row is a thing with named words about it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from boardgen.revision.model import Change

Row = Mapping[str, str]


def natural(text: str) -> tuple[tuple[int, int, str], ...]:
    """Return a sort key in which R2 comes before R10."""
    bits = re.findall(r"[0-9]+|[^0-9]+", text)
    # of two numbers the one of more digits is larger; int() takes no more than 4300 of them
    plain = [bit.lstrip("0") if bit[0] <= "9" and bit[0] >= "0" else None for bit in bits]
    return tuple(
        (1, 0, bit) if digits is None else (0, len(digits), digits)
        for bit, digits in zip(bits, plain, strict=True)
    )


def words(row: Row, keys: Iterable[str]) -> str:
    """Return what *row* says of *keys*, those it says nothing of left out."""
    return ", ".join(f"{key} {row[key]}".strip() for key in keys if row.get(key))


def changes(section: str, a: Mapping[str, Row], b: Mapping[str, Row]) -> list[Change]:
    """Return what differs from *a* to *b*, in natural order of the things.

    A changed thing names the keys that differ, and no others.
    """
    found = []
    for thing in sorted(set(a) | set(b), key=lambda thing: (natural(thing), thing)):
        one, two = a.get(thing), b.get(thing)
        if one is None and two is not None:
            found.append(Change(section, thing, None, words(two, two) or "there"))
        elif two is None and one is not None:
            found.append(Change(section, thing, words(one, one) or "there", None))
        elif one is not None and two is not None:
            keys = sorted(key for key in {*one, *two} if one.get(key, "") != two.get(key, ""))
            if keys:
                found.append(
                    Change(section, thing, words(one, keys) or "nothing", words(two, keys) or "nothing")
                )
    return found


def length(value: float) -> str:
    """Return a length in mm to 1 um."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return f"{'0' if text in ('-0', '') else text} mm"


def number(value: object, unit: str, digits: int = 3) -> str:
    """Return a number with its unit, "" for None."""
    if value is None or value == "":
        return ""
    return f"{float(str(value)):.{digits}f}".rstrip("0").rstrip(".") + f" {unit}"
