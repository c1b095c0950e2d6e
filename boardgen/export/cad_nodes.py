"""Words, stamps and names shared by the files of the CAD project.

The CAD program's syntax is that of its version 7 files: board 20221018,
schematic 20230121, symbols 20220914; later versions read it unchanged.
"""

from __future__ import annotations

import uuid
from dataclasses import dataclass

from boardgen.circuit.model import CircuitPart, Netlist
from boardgen.circuit.partnumber import number_and_note
from boardgen.footprint.sexpr import Atom, Node, Sym, degrees, length
from boardgen.units import Point

BOARD_VERSION = 20221018
SCHEMATIC_VERSION = 20230121
SYMBOL_VERSION = 20220914
GENERATOR = "boardgen"

_SPACE = uuid.uuid5(uuid.NAMESPACE_DNS, "boardgen.cad")


def node(name: str, *items: Atom | Node) -> Node:
    """Return the list *name* followed by *items*."""
    return [Sym(name), *items]


def word(text: str) -> Sym:
    """Return a bare word."""
    return Sym(text)


def xy(name: str, at: Point) -> Node:
    """Return a point in mm under *name*."""
    return node(name, length(at.x), length(at.y))


def order_fields(part: CircuitPart | None) -> list[tuple[str, str]]:
    """Return the fields a part is bought by, those it has: the same on its symbol and on the board."""
    if part is None:
        return []
    number, _note = number_and_note(part)
    fields = (("Manufacturer", part.manufacturer), ("MPN", number))
    return [(label, text) for label, text in fields if text]


def at_node(at: Point, angle: float = 0.0, always: bool = False) -> Node:
    """Return a place in mm with its angle in degrees, the angle left out where it is 0 unless *always*."""
    turn = degrees(angle % 360.0)
    if turn == "0" and not always:
        return xy("at", at)
    return node("at", length(at.x), length(at.y), turn)


def stamp(*names: str) -> str:
    """Return a uuid that depends on *names* alone."""
    return str(uuid.uuid5(_SPACE, "\x1f".join(names)))


def part_stamp(design: str, part: CircuitPart) -> str:
    """Return the uuid that ties the part's symbol to its footprint."""
    return part.stamp or stamp(design, "part", part.ref)


@dataclass(frozen=True, slots=True)
class NetNames:
    """How the board file spells nets; *local* are those the sheet names by a local label."""

    local: frozenset[str] = frozenset()

    def spell(self, net: str) -> str:
        """Return *net* as the file has it: a slash in a name is a word there, a local net starts with one."""
        return ("/" if net in self.local else "") + net.replace("/", "{slash}")


def open_pin_net(ref: str, name: str, number: str) -> str:
    """Return the net name the CAD program gives a pin that is left open."""
    bare = name in ("", "~", number)
    text = f"unconnected-({ref}-Pad{number})" if bare else f"unconnected-({ref}-{name}-Pad{number})"
    return text.replace("/", "{slash}").replace(" ", "_")


def connected(netlist: Netlist) -> dict[tuple[str, str], str]:
    """Return (ref, pin number) to net for every pin whose net joins two pins or more.

    A net with one pin joins nothing: both files treat that pin as left open.
    """
    members: dict[str, list[tuple[str, str]]] = {}
    for part in netlist.parts:
        for pin in part.pins:
            if pin.net is not None:
                members.setdefault(pin.net, []).append((part.ref, pin.number))
    return {pin: net for net, pins in members.items() if len(pins) > 1 for pin in pins}


def plain_name(text: str) -> str:
    """Return *text* as a library item's name: letters, digits and a few marks, others as "_"."""
    kept = "".join(c if c.isalnum() or c in "._-+" else "_" for c in text)
    return kept or "_"
