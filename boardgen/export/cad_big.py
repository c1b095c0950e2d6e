"""Symbols of the big parts: a module as a box with its pins in physical order, a
connector with its contact rows, any other part as a plain box.
"""

from __future__ import annotations

from boardgen.catalog.model import Connector, Gender
from boardgen.circuit.model import CircuitPart
from boardgen.export.cad_nodes import plain_name
from boardgen.export.cad_symbols import (
    GRID,
    TEXT,
    Graphic,
    Ring,
    Stroke,
    Symbol,
    SymbolPin,
    Words,
    box_stroke,
    text_width,
)
from boardgen.units import ZERO, Box, Nm, Point, mm

PITCH = GRID * 2
ROW_ALIKE = mm("0.1")  # contacts whose y differs by less stand in one row

Terminal = tuple[str, str, str]  # pad number, name, role


def _even_grid(width: int) -> Nm:
    return PITCH * -(-int(width) // int(PITCH))


def _lead(terminals: list[Terminal]) -> Nm:
    longest = max((len(number) for number, _, _ in terminals), default=1)
    return GRID * max(2, -(-int(text_width("0" * longest) + mm("0.6")) // int(GRID)))


def _column(terminals: list[Terminal], x: Nm, top: Nm, inward: int, lead: Nm) -> list[SymbolPin]:
    return [
        SymbolPin(number, name, role, Point(x, top + PITCH * row), inward, lead)
        for row, (number, name, role) in enumerate(terminals)
    ]


def box_symbol(
    name: str, prefix: str, value: str, left: list[Terminal], right: list[Terminal], front: str = ""
) -> Symbol:
    """Return a box with pins in two columns from the top; *front* is printed at its upper end."""
    lead = _lead(left + right)
    rows = max(len(left), len(right), 1)
    named = [text_width(name) for _, name, _ in left], [text_width(name) for _, name, _ in right]
    width = _even_grid(max(named[0], default=0) + max(named[1], default=0) + int(mm("5.08")))
    width = max(width, PITCH * 4)
    head = PITCH * 2 if front else PITCH
    height = head + PITCH * rows
    # an odd number of half steps would take the pins off the grid
    half_x, top = width // 2, -(GRID * (rows + (2 if front else 1)))
    body = Box(-half_x, top, half_x, top + height)
    graphics: list[Graphic] = [box_stroke(body)]
    if front:
        graphics.append(Words(front, Point(ZERO, top + TEXT + mm("0.4"))))
    pins = _column(left, -half_x - lead, top + head, 0, lead)
    pins += _column(right, half_x + lead, top + head, 180, lead)
    return Symbol(
        plain_name(name),
        prefix,
        value,
        tuple(pins),
        tuple(graphics),
        numbers=True,
        names=True,
        ref_at=Point(ZERO, body.top - GRID),
        value_at=Point(ZERO, body.bottom + GRID),
    )


def terminals(part: CircuitPart, roles: dict[tuple[str, str], str]) -> dict[str, Terminal]:
    """Return every pad number of *part* as a terminal, pads that no pin speaks of included."""
    known = {pin.number: pin for pin in part.pins}
    made: dict[str, Terminal] = {}
    for number in dict.fromkeys((*part.footprint.numbers(), *known)):
        pin = known.get(number)
        name = pin.name if pin is not None else ""
        role = roles.get((part.ref, number), "passive")
        made[number] = (number, name, role)
    return made


def module_symbol(part: CircuitPart, roles: dict[tuple[str, str], str], front: str) -> Symbol:
    """Return the module with its pins as they lie: left and right of the middle, front end up."""
    places = {pad.number: pad.at for pad in reversed(part.footprint.pads) if pad.number}
    given = terminals(part, roles)
    middle = (min(p.x for p in places.values()) + max(p.x for p in places.values())) // 2 if places else ZERO
    left: list[tuple[Nm, Terminal]] = []
    right: list[tuple[Nm, Terminal]] = []
    for number, terminal in given.items():
        at = places.get(number, Point(ZERO, ZERO))
        (left if at.x < middle else right).append((at.y, terminal))
    return box_symbol(
        part.value,
        "U",
        part.value,
        [terminal for _, terminal in sorted(left, key=lambda row: row[0])],
        [terminal for _, terminal in sorted(right, key=lambda row: row[0])],
        front,
    )


def plain_symbol(part: CircuitPart, roles: dict[tuple[str, str], str]) -> Symbol:
    """Return a box for a part without a shape of its own, its pins halved over two sides."""
    given = list(terminals(part, roles).values())
    half = -(-len(given) // 2)
    prefix = part.ref.rstrip("0123456789") or "U"
    return box_symbol(part.value or part.ref, prefix, part.value, given[:half], given[half:])


def contact_columns(connector: Connector) -> tuple[list[str], list[str]]:
    """Return the contact numbers of the left and right column.

    Two rows of the mating face give two columns; up to six rows are shared
    out in order; a ring of contacts, or one row, makes one column in number order.
    """
    rows: list[list[str]] = []
    last: Nm | None = None
    for contact in sorted(connector.contacts, key=lambda c: (c.at.y, c.at.x)):
        if last is None or contact.at.y - last > ROW_ALIKE:
            rows.append([])
        last = contact.at.y
        rows[-1].append(contact.number)
    regular = 2 <= len(rows) <= 6 and min(len(row) for row in rows) >= 2 and len(connector.contacts) > 8
    if not regular:
        return sorted(connector.numbers(), key=_natural), []
    columns: tuple[list[str], list[str]] = ([], [])
    ordered = [sorted(row, key=_natural) for row in sorted(rows, key=lambda row: min(map(_natural, row)))]
    for place, row in enumerate(ordered):
        columns[0 if place < len(ordered) / 2 else 1].extend(row)
    return columns


def _natural(number: str) -> tuple[int, str, int, str]:
    """Sort key: plain numbers first by size, then letters before their digits (A1, A2, A10)."""
    if number.isdigit():
        return (0, "", int(number), "")
    head = number.rstrip("0123456789")
    tail = number[len(head) :]
    return (1, head, int(tail) if tail else 0, number)


def connector_symbol(part: CircuitPart, connector: Connector, roles: dict[tuple[str, str], str]) -> Symbol:
    """Return the connector with its contacts in rows, the shell's pads below them.

    A pin contact is drawn as a filled dot, a receptacle as an open one. Of two
    columns of unlike length the shorter stands half a step lower, as a
    D-shaped face has it, and the outline narrows with it.
    """
    given = terminals(part, roles)
    left, right = contact_columns(connector)
    left = [number for number in left if number in given]
    right = [number for number in right if number in given]
    shell = sorted((n for n in given if n not in left and n not in right), key=_natural)
    lead = _lead(list(given.values()))
    half_x = PITCH * 2 if right else PITCH + GRID
    staggered = bool(right) and len(left) - len(right) == 1
    rows = max(len(left), len(right))
    top = -(GRID * (rows + 1))
    pins: list[SymbolPin] = []
    graphics: list[Graphic] = []
    columns = ((left, -half_x, 1, ZERO), (right, half_x, -1, GRID if staggered else ZERO))
    for numbers, edge, sign, drop in columns:
        for row, number in enumerate(numbers):
            y = top + PITCH * (row + 1) + drop
            pins.append(_contact(given[number], Point(edge - lead * sign, y), sign, lead))
            dot = Point(edge + mm("0.5") * sign, y)
            fill = "outline" if connector.gender is Gender.PLUG else "none"
            graphics.append(Ring(dot, mm("0.5"), mm("0.2"), fill))
    bottom = top + PITCH * (rows + 1)
    if staggered:
        narrow = GRID - mm("0.4")
        ring = (
            Point(-half_x, top),
            Point(half_x, top + narrow),
            Point(half_x, bottom - narrow),
            Point(-half_x, bottom),
            Point(-half_x, top),
        )
        graphics.insert(0, Stroke(ring, fill="background"))
    else:
        graphics.insert(0, box_stroke(Box(-half_x, top, half_x, bottom)))
    if shell:
        end = bottom + PITCH * len(shell)
        graphics.append(box_stroke(Box(-half_x, bottom, half_x, end), "none"))
        graphics.append(Words("shell", Point(GRID // 2, (bottom + end) // 2)))
        for row, number in enumerate(shell):
            pins.append(_contact(given[number], Point(-half_x - lead, bottom + PITCH * row + GRID), 1, lead))
        bottom = end
    return Symbol(
        plain_name(part.value or connector.id),
        part.ref.rstrip("0123456789") or "J",
        part.value,
        tuple(pins),
        tuple(graphics),
        numbers=True,
        ref_at=Point(ZERO, top - GRID),
        value_at=Point(ZERO, bottom + GRID),
    )


def _contact(terminal: Terminal, at: Point, sign: int, lead: Nm) -> SymbolPin:
    number, name, role = terminal
    return SymbolPin(number, name, role, at, 0 if sign > 0 else 180, lead)
