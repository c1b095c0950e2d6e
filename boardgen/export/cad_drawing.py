"""What stands on a schematic sheet, as values that know the room they take."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from boardgen.export.cad_symbols import GRID, TEXT, Symbol, text_width
from boardgen.units import ORIGIN, ZERO, Box, Nm, Point, mm

RIGHT, UP, LEFT, DOWN = 0, 90, 180, 270
LABEL_MARGIN = mm("0.5")


def toward(direction: int, by: Nm) -> Point:
    """Return the vector of length *by* toward *direction* (degrees counter-clockwise)."""
    return Point(by, ZERO).turned(direction)


def centred_box(at: Point, width: Nm, height: Nm) -> Box:
    """Return the box of that size round *at*."""
    return Box(at.x - width // 2, at.y - height // 2, at.x + width // 2, at.y + height // 2)


@dataclass(frozen=True, slots=True)
class Placed:
    """A symbol in its place; *ref_at* and *value_at* are where its texts are centred."""

    ref: str
    value: str
    symbol: Symbol
    at: Point
    rotation: int
    ref_at: Point
    value_at: Point

    def end(self, number: str) -> Point:
        """Return where pin *number* ends on the sheet."""
        return self.symbol.pin(number).at.turned(self.rotation).plus(self.at)

    def outward(self, number: str) -> int:
        """Return the direction away from the body at pin *number*."""
        return (self.symbol.pin(number).inward + 180 + self.rotation) % 360

    def boxes(self) -> list[Box]:
        """The room of body, pins and shown texts."""
        body = self.symbol.body()
        points = [p.turned(self.rotation).plus(self.at) for p in body.corners()]
        points += [self.end(pin.number) for pin in self.symbol.pins]
        found = [Box.around(points)]
        if not self.symbol.power:
            found.append(centred_box(self.ref_at, text_width(self.ref), TEXT))
        if self.value:
            found.append(centred_box(self.value_at, text_width(self.value), TEXT))
        return found

    def moved(self, by: Point) -> Placed:
        """Return the same thing moved by *by*."""
        return replace(
            self, at=self.at.plus(by), ref_at=self.ref_at.plus(by), value_at=self.value_at.plus(by)
        )


@dataclass(frozen=True, slots=True)
class Wire:
    """A straight wire of *net*."""

    start: Point
    end: Point
    net: str = ""

    def boxes(self) -> list[Box]:
        """The room of the line."""
        return [Box.around([self.start, self.end])]

    def moved(self, by: Point) -> Wire:
        """Return the same thing moved by *by*."""
        return replace(self, start=self.start.plus(by), end=self.end.plus(by))


@dataclass(frozen=True, slots=True)
class Label:
    """A net's label; its text runs from *at* toward *direction*.

    *shape* is the file's word for a global label's flag; "local" is a bare name
    over a wire, for a net that no other place on the sheet meets.
    """

    net: str
    at: Point
    direction: int
    shape: str = "passive"

    def boxes(self) -> list[Box]:
        """The room of the flag round the text, or of the bare text on its wire."""
        if self.shape == "local":
            top = self.at.y - TEXT - mm("0.4")
            return [Box(self.at.x, top, self.at.x + text_width(self.net), self.at.y)]
        reach = text_width(self.net) + LABEL_MARGIN * 2 + (ZERO if self.shape == "passive" else TEXT)
        half = TEXT // 2 + LABEL_MARGIN
        side = toward(self.direction + 90, half)
        tip = self.at.plus(toward(self.direction, reach))
        corners = [self.at.plus(side), self.at.minus(side), tip.plus(side), tip.minus(side)]
        return [Box.around(corners)]

    def moved(self, by: Point) -> Label:
        """Return the same thing moved by *by*."""
        return replace(self, at=self.at.plus(by))


@dataclass(frozen=True, slots=True)
class Mark:
    """A junction dot, or a cross on a pin that is left open ("open")."""

    kind: str
    at: Point

    def boxes(self) -> list[Box]:
        """The room of the mark."""
        size = mm("0.9") if self.kind == "junction" else GRID
        return [centred_box(self.at, size, size)]

    def moved(self, by: Point) -> Mark:
        """Return the same thing moved by *by*."""
        return replace(self, at=self.at.plus(by))


@dataclass(frozen=True, slots=True)
class Note:
    """Plain text from its left end; *at* is the left end of the base line of the first line."""

    text: str
    at: Point
    height: Nm = TEXT

    def boxes(self) -> list[Box]:
        """The room of the text, a line being 1.62 of the height apart from the next."""
        lines = self.text.split("\n")
        width = max(text_width(line, self.height) for line in lines)
        pitch = Nm(round(self.height * 1.62))
        return [
            Box(self.at.x, self.at.y - self.height, self.at.x + width, self.at.y + self.height // 3).grown(0)
            if len(lines) == 1
            else Box(
                self.at.x,
                self.at.y - self.height - pitch * (len(lines) - 1),
                self.at.x + width,
                self.at.y + self.height // 3,
            )
        ]

    def moved(self, by: Point) -> Note:
        """Return the same thing moved by *by*."""
        return replace(self, at=self.at.plus(by))


Item = Placed | Wire | Label | Mark | Note


def bounds(items: Iterable[Item]) -> Box:
    """Return the box round all *items*; a box of no size at the origin for none."""
    corners = [corner for item in items for box in item.boxes() for corner in box.corners()]
    return Box.around(corners or [ORIGIN])


def moved(items: Sequence[Item], by: Point) -> list[Item]:
    """Return *items* moved by *by*."""
    return [item.moved(by) for item in items]


def snapped(value: int) -> Nm:
    """Return *value* rounded up to the 1.27 mm grid."""
    return GRID * -(-int(value) // int(GRID))


def rooted(items: Sequence[Item], corner: Point) -> list[Item]:
    """Return *items* moved by whole grid steps so that their box starts at or just after *corner*."""
    box = bounds(items)
    return moved(items, Point(snapped(corner.x - box.left), snapped(corner.y - box.top)))


def power_symbol(symbol: Symbol, at: Point, direction: int, upright: int) -> Placed:
    """Return a net symbol at *at*, its body toward *direction*; *upright* is its unturned direction."""
    rotation = (direction - upright) % 360
    reach = abs(symbol.value_at.y)
    if direction in (LEFT, RIGHT):
        reach = reach - TEXT // 2 + text_width(symbol.value) // 2
    text = at.plus(toward(direction, reach))
    return Placed("", symbol.value, symbol, at, rotation, text, text)
