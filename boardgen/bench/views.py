"""From what a person saw to one truth: the numbers on the mating face of the catalogue's connector.

A plug and the socket it mates with carry the same number on contacts that meet,
so a printed number is the truth whatever it was read from. A counted place is
not: the two halves' mating faces are mirror images of each other, and so is a
half's solder side of its own mating face. Wide side or key up in each view.
"""

from __future__ import annotations

from boardgen.bench.model import Half, View
from boardgen.catalog.model import Connector, FaceContact, Gender
from boardgen.errors import InputError
from boardgen.units import mm

NEAR = mm("0.4")  # contacts this near in height stand in one row


def mirrored(connector: Connector, view: View, half: Half) -> bool:
    """Return whether *view* of *half* shows the connector's own mating face mirrored left to right."""
    return (half.value != connector.gender.value) != (view is View.SOLDER_SIDE)


def as_seen(connector: Connector, view: View, half: Half) -> tuple[str, ...]:
    """Return the contact numbers in the order a person counts places: row by row, left to right.

    Raises InputError for a connector without halves.
    """
    if connector.gender is Gender.NEUTRAL:
        raise InputError(
            f"{connector.id} has no plug and socket half, so a place cannot be turned into a contact",
            key="numbers",
            allowed="printed",
        )
    sign = -1 if mirrored(connector, view, half) else 1
    return tuple(c.number for row in _rows(connector) for c in sorted(row, key=lambda c: sign * c.at.x))


def _rows(connector: Connector) -> list[list[FaceContact]]:
    rows: list[list[FaceContact]] = []
    for contact in sorted(connector.contacts, key=lambda c: (c.at.y, c.at.x)):
        if rows and contact.at.y - rows[-1][0].at.y <= NEAR:
            rows[-1].append(contact)
        else:
            rows.append([contact])
    return rows


def by_conductor(connector: Connector) -> tuple[str, ...]:
    """Return the contact that each conductor of a flat cable meets, from the marked edge on.

    A flat cable's conductors meet the two rows in turn: where numbers run to and
    fro between the rows (box headers), conductor n is contact n; where they run
    row by row (D-sub), odd n is (n + 1)/2 and even n is n/2 into the second row.
    Raises InputError for a connector that is no two rows of numbers.
    """
    rows = _rows(connector)
    numbers = [[int(c.number) for c in row if c.number.isdecimal()] for row in rows]
    count = len(connector.contacts)
    if len(rows) != 2 or sorted(n for row in numbers for n in row) != list(range(1, count + 1)):
        raise InputError(
            f"{connector.id} has no two rows of contacts that a flat cable's conductors meet in turn",
            key="numbers",
            allowed="printed, position",
        )
    first, second = sorted((sorted(row) for row in numbers), key=lambda row: row[0])
    if second[0] == 2:
        return tuple(str(n) for n in range(1, count + 1))
    return tuple(str((second if n % 2 else first)[n // 2]) for n in range(count))
