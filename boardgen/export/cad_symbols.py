"""Schematic symbols as values, and the one function that writes them.

Frame of a symbol: x right, y down, as on the sheet; the library file's y looks
up and is turned here alone. Pin ends lie on the 1.27 mm grid.
"""

from __future__ import annotations

from dataclasses import dataclass

from boardgen.export.cad_nodes import node, word
from boardgen.footprint.sexpr import Node, Sym, degrees, length
from boardgen.units import ORIGIN, Box, Nm, Point, mm

GRID = mm("1.27")
TEXT = mm("1.27")  # height of names, values and labels
NAME_OFFSET = mm("0.762")
BODY_LINE = mm("0.254")

PIN_TYPES = {
    "passive": "passive",
    "bidirectional": "bidirectional",
    "power-in": "power_in",
    "power-out": "power_out",
    "no-connect": "no_connect",
    "input": "input",
    "output": "output",
}

_NARROW = {
    **dict.fromkeys("iljI.,:;'|!()[] ", 0.62),
    **dict.fromkeys("MW@%", 1.2),
    **dict.fromkeys("mw", 1.15),
}


def text_width(text: str, height: Nm = TEXT) -> Nm:
    """Return how wide *text* comes out in the CAD program's stroke font, a little generously.

    Its digits and most capitals advance by 20/21 of the height and a bit.
    """
    return Nm(round(sum(_NARROW.get(c, 0.96) for c in text) * height))


@dataclass(frozen=True, slots=True)
class SymbolPin:
    """One pin: *at* is the end that wires meet, *inward* the direction to the body (degrees CCW)."""

    number: str
    name: str
    role: str
    at: Point
    inward: int
    length: Nm


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line through *points*; *fill* is "none", "outline" (solid) or "background"."""

    points: tuple[Point, ...]
    width: Nm = BODY_LINE
    fill: str = "none"


@dataclass(frozen=True, slots=True)
class Ring:
    """A circle."""

    centre: Point
    radius: Nm
    width: Nm = BODY_LINE
    fill: str = "none"


@dataclass(frozen=True, slots=True)
class Bow:
    """An arc through three points."""

    start: Point
    mid: Point
    end: Point
    width: Nm = BODY_LINE


@dataclass(frozen=True, slots=True)
class Words:
    """A fixed text centred on *at*."""

    text: str
    at: Point
    height: Nm = TEXT


Graphic = Stroke | Ring | Bow | Words


@dataclass(frozen=True, slots=True)
class Symbol:
    """A schematic symbol. *power* marks a net symbol, whose *value* names the net.

    *numbers* and *names* say whether pin numbers and names are shown.
    """

    name: str
    prefix: str
    value: str
    pins: tuple[SymbolPin, ...]
    graphics: tuple[Graphic, ...]
    numbers: bool = False
    names: bool = False
    power: bool = False
    ref_at: Point = ORIGIN
    value_at: Point = ORIGIN

    def pin(self, number: str) -> SymbolPin:
        """Return the pin with *number*; raises KeyError."""
        for pin in self.pins:
            if pin.number == number:
                return pin
        raise KeyError(number)

    def body(self) -> Box:
        """Return the box round the drawn body, pins left out."""
        points: list[Point] = []
        for item in self.graphics:
            if isinstance(item, Stroke):
                points.extend(item.points)
            elif isinstance(item, Bow):
                points.extend((item.start, item.mid, item.end))
            elif isinstance(item, Ring):
                points.extend(
                    Box(item.centre.x, item.centre.y, item.centre.x, item.centre.y)
                    .grown(item.radius)
                    .corners()
                )
        return Box.around(points or [ORIGIN])


def effects(height: Nm = TEXT, hidden: bool = False, justify: str = "") -> Node:
    """Return the font of a text; *justify* in the file's words, centred where empty."""
    made = node("effects", node("font", node("size", length(height), length(height))))
    if justify:
        made.append(node("justify", *(word(item) for item in justify.split())))
    if hidden:
        made.append(word("hide"))
    return made


def _lib(name: str, at: Point) -> Node:
    return node(name, length(at.x), length(-at.y))


def _stroke(width: Nm) -> Node:
    return node("stroke", node("width", length(width)), node("type", word("default")))


def _fill(kind: str) -> Node:
    return node("fill", node("type", word(kind)))


def _graphic(item: Graphic) -> Node:
    if isinstance(item, Stroke):
        points = node("pts", *(_lib("xy", p) for p in item.points))
        return node("polyline", points, _stroke(item.width), _fill(item.fill))
    if isinstance(item, Ring):
        centre = _lib("center", item.centre)
        return node(
            "circle", centre, node("radius", length(item.radius)), _stroke(item.width), _fill(item.fill)
        )
    if isinstance(item, Bow):
        ends = (_lib("start", item.start), _lib("mid", item.mid), _lib("end", item.end))
        return node("arc", *ends, _stroke(item.width), _fill("none"))
    place = node("at", length(item.at.x), length(-item.at.y), Sym("0"))
    return node("text", item.text, place, effects(item.height))


def _pin(pin: SymbolPin) -> Node:
    place = node("at", length(pin.at.x), length(-pin.at.y), degrees(pin.inward))
    small = effects()
    return node(
        "pin",
        word(PIN_TYPES[pin.role]),
        word("line"),
        place,
        node("length", length(pin.length)),
        node("name", pin.name or "~", small),
        node("number", pin.number, effects()),
    )


def _property(name: str, text: str, at: Point, hidden: bool) -> Node:
    return node(
        "property", name, text, node("at", length(at.x), length(-at.y), Sym("0")), effects(hidden=hidden)
    )


def symbol_node(symbol: Symbol, library: str = "") -> Node:
    """Return the symbol as a library entry; with *library*, as the copy a schematic embeds."""
    made = node("symbol", f"{library}:{symbol.name}" if library else symbol.name)
    if symbol.power:
        made.append(node("power"))
    if not symbol.numbers:
        made.append(node("pin_numbers", word("hide")))
    offset = node("pin_names", node("offset", length(NAME_OFFSET)))
    if not symbol.names:
        offset.append(word("hide"))
    made += [offset, node("in_bom", word("yes")), node("on_board", word("yes"))]
    made += [
        _property("Reference", symbol.prefix, symbol.ref_at, symbol.power),
        _property("Value", symbol.value, symbol.value_at, False),
        _property("Footprint", "", ORIGIN, True),
        _property("Datasheet", "~", ORIGIN, True),
    ]
    made.append(node("symbol", f"{symbol.name}_0_1", *(_graphic(item) for item in symbol.graphics)))
    made.append(node("symbol", f"{symbol.name}_1_1", *(_pin(pin) for pin in symbol.pins)))
    return made


def box_stroke(box: Box, fill: str = "background") -> Stroke:
    """Return *box* as a closed line."""
    corners = box.corners()
    return Stroke((*corners, corners[0]), BODY_LINE, fill)
