"""Small parts drawn in blocks: a chain from left to right with its wires, labels at the ends.

A block holds the parts that belong to one purpose. Its chain starts at one net,
runs through series parts and a switch's control input, and goes on from the
switch's upper terminal; parts to ground hang down from it, parts to a rail stand
up. What does not fit a chain stands beside it with a label at each pin.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from boardgen.circuit.model import CircuitPart
from boardgen.export.cad_drawing import (
    DOWN,
    LEFT,
    RIGHT,
    UP,
    Item,
    Label,
    Mark,
    Note,
    Placed,
    Wire,
    bounds,
    moved,
    power_symbol,
    rooted,
    snapped,
)
from boardgen.export.cad_parts import Sheet
from boardgen.export.cad_shapes import REACH, ground, rail
from boardgen.export.cad_symbols import GRID, TEXT, text_width
from boardgen.units import ORIGIN, ZERO, Nm, Point

STEP = GRID * 2


@dataclass(frozen=True, slots=True)
class Job:
    """One block to draw: *title* above it, *start* the net its chain begins with."""

    title: str
    parts: tuple[CircuitPart, ...]
    start: str | None


def _text_beside(part: CircuitPart) -> Nm:
    return max(text_width(part.ref), text_width(part.value))


def place(sheet: Sheet, part: CircuitPart, at: Point, rotation: int) -> Placed:
    """Return a two-terminal part or a transistor with its texts where they are read level."""
    symbol = sheet.symbols[part.ref]
    two = len(symbol.pins) == 2
    if two and rotation in (0, 180):
        lift = GRID * 2 if symbol.name.startswith(("Resistor", "Fuse", "Wire")) else TEXT + GRID * 2
        return Placed(
            part.ref, part.value, symbol, at, rotation, Point(at.x, at.y - lift), Point(at.x, at.y + GRID * 2)
        )
    side = max(p.turned(rotation).x for p in symbol.body().corners())
    x = at.x + max(STEP, snapped(side)) if two else at.x + GRID * 3
    ref_at = Point(x + text_width(part.ref) // 2, at.y - GRID)
    return Placed(
        part.ref,
        part.value,
        symbol,
        at,
        rotation,
        ref_at,
        Point(x + text_width(part.value) // 2, at.y + GRID),
    )


def pin_end(sheet: Sheet, net: str | None, at: Point, direction: int, shape: str = "passive") -> list[Item]:
    """Return what a lone pin end at *at* gets: a ground or rail symbol, a label, or the open mark."""
    if net is None:
        return [Mark("open", at)]
    if net in sheet.grounds:
        return [power_symbol(ground(net), at, direction, DOWN)]
    if net in sheet.rails:
        return [power_symbol(rail(net), at, direction, UP)]
    return [Label(net, at, direction, shape)]


def dressed(
    sheet: Sheet, part: CircuitPart, placed: Placed, shapes: dict[str, str] | None = None
) -> list[Item]:
    """Return *placed* with something at each of its pin ends; *shapes* maps pin numbers to label shapes."""
    items: list[Item] = [placed]
    for pin in placed.symbol.pins:
        shape = (shapes or {}).get(pin.number, "passive")
        net = sheet.net(part, pin.number)
        items += pin_end(sheet, net, placed.end(pin.number), placed.outward(pin.number), shape)
    return items


@dataclass(slots=True)
class _Chain:
    """The pen of one block, local to one call of :func:`block`."""

    sheet: Sheet
    left: list[CircuitPart]
    outside: frozenset[str]  # nets that go on beyond the block
    at: Point = ORIGIN
    items: list[Item] = field(default_factory=list)
    labelled: set[str] = field(default_factory=set)
    clear: Nm = ZERO  # nothing may hang or stand left of here
    loose: bool = False  # the pen stands at a part's end that nothing else meets yet

    def wire_to(self, x: Nm, net: str) -> None:
        if x > self.at.x:
            end = Point(x, self.at.y)
            self.items.append(Wire(self.at, end, net))
            self.at = end

    def ends(self, part: CircuitPart) -> tuple[str | None, ...]:
        return tuple(self.sheet.net(part, pin.number) for pin in self.sheet.symbols[part.ref].pins)

    def begin(self, net: str) -> None:
        self.items += pin_end(self.sheet, net, self.at, LEFT if not self.sheet.is_power(net) else UP)
        self.labelled.add(net)

    def shunts(self, net: str) -> list[CircuitPart]:
        """Parts from *net* to ground or a rail, to be hung on the chain here."""
        found = []
        for part in self.left:
            ends = self.ends(part)
            if len(ends) == 2 and net in ends and ends[0] != ends[1]:
                other = ends[1] if ends[0] == net else ends[0]
                if other is not None and self.sheet.is_power(other) and not self.sheet.is_power(net):
                    found.append(part)
        return found

    def hang(self, part: CircuitPart, net: str, last: bool) -> None:
        """Draw a shunt at the next free place along the wire."""
        symbol = self.sheet.symbols[part.ref]
        first, second = symbol.pins
        near, far = (first, second) if self.sheet.net(part, first.number) == net else (second, first)
        other = self.sheet.net(part, far.number) or ""
        down = other in self.sheet.grounds
        self.wire_to(max(self.at.x + STEP, self.clear), net)
        middle = Point(self.at.x, self.at.y + (REACH if down else -REACH))
        # the first terminal lies on the left unturned: 270 turns it up, 90 turns it down
        near_up = down
        rotation = 270 if (near is first) == near_up else 90
        placed = place(self.sheet, part, middle, rotation)
        self.items.append(placed)
        self.items += pin_end(self.sheet, other, placed.end(far.number), DOWN if down else UP)
        if not last:
            self.items.append(Mark("junction", self.at))
        self.clear = snapped(max(box.right for box in placed.boxes())) + GRID
        self.loose = False
        self.left.remove(part)

    def name_wire(self, net: str) -> None:
        """Write the name of a net that stays inside the block over its wire."""
        start = Point(self.at.x + GRID, self.at.y)
        self.items.append(Label(net, start, RIGHT, "local"))
        self.labelled.add(net)
        end = snapped(start.x + text_width(net))
        self.wire_to(end, net)
        self.clear = max(self.clear, end)

    def series(self, net: str) -> tuple[CircuitPart, str] | None:
        """The next part on the way and the number of its pin on *net*: a switch's control first."""
        for part in self.left:
            pins = self.sheet.symbols[part.ref].pins
            if (
                len(pins) == 3
                and self.sheet.net(part, pins[0].number) == net
                and _is_switch(self.sheet, part)
            ):
                return part, pins[0].number
        for part in self.left:
            pins = self.sheet.symbols[part.ref].pins
            nets = [self.sheet.net(part, pin.number) for pin in pins]
            if len(pins) != 2 or net not in nets or nets[0] == nets[1]:
                continue
            other = nets[1 - nets.index(net)]
            if other is not None and not (self.sheet.is_power(net) and other in self.sheet.grounds):
                return part, pins[nets.index(net)].number
        return None

    def pass_through(self, part: CircuitPart, number: str, net: str) -> str | None:
        """Draw a series part; returns the net it leads to."""
        symbol = self.sheet.symbols[part.ref]
        self.left.remove(part)
        self.loose = True
        half = snapped(_text_beside(part)) // 2 if len(symbol.pins) == 2 else ZERO
        middle_x = max(self.at.x + STEP + REACH, snapped(self.clear + half))
        self.wire_to(middle_x - REACH, net)
        middle = Point(middle_x, self.at.y)
        if len(symbol.pins) == 2:
            first, second = symbol.pins
            placed = place(self.sheet, part, middle, 0 if first.number == number else 180)
            far = second if first.number == number else first
            self.items.append(placed)
            self.at = placed.end(far.number)
            self.clear = max(self.at.x + GRID, snapped(middle_x + half) + GRID)
            return self.sheet.net(part, far.number)
        placed = place(self.sheet, part, middle, 0)
        _, upper, lower = symbol.pins
        self.items.append(placed)
        below = self.sheet.net(part, lower.number)
        self.items += pin_end(self.sheet, below, placed.end(lower.number), DOWN)
        self.outside |= {below} if below is not None else set()
        self.at = placed.end(upper.number)
        self.clear = snapped(middle_x + GRID * 3 + _text_beside(part)) + GRID
        return self.sheet.net(part, upper.number)

    def finish(self, net: str | None) -> None:
        """End the chain: its net's label, where it goes on and has none yet."""
        if net is None:
            self.items.append(Mark("open", self.at))
            return
        if not self.loose and (net in self.labelled or net not in self.outside):
            return
        self.wire_to(self.at.x + STEP, net)
        direction = RIGHT
        if self.sheet.is_power(net):
            direction = DOWN if net in self.sheet.grounds else UP
        self.items += pin_end(self.sheet, net, self.at, direction)
        self.labelled.add(net)


def _is_switch(sheet: Sheet, part: CircuitPart) -> bool:
    return sheet.symbols[part.ref].name.startswith(("NPN", "NMOS"))


def block(sheet: Sheet, job: Job, outside: frozenset[str]) -> list[Item]:
    """Return the block's items, its upper left corner at the origin; *outside* are nets that go on."""
    groups: list[list[Item]] = []
    left = list(job.parts)
    start = job.start
    while left:
        nets = {sheet.net(part, pin.number) for part in left for pin in sheet.symbols[part.ref].pins}
        if start is None or start not in nets:
            start = _another_start(sheet, left, outside)
        before = len(left)
        if start is not None:
            chain = _Chain(sheet, left, outside)
            _run(chain, start)
            if len(left) < before:
                groups.append(chain.items)
        if len(left) == before:
            groups.append(_alone(sheet, left.pop(0)))
        start = None
    items: list[Item] = []
    x = ZERO
    for group in groups:
        box = bounds(group)
        items += moved(group, Point(snapped(x - box.left), ZERO))
        x = bounds(items).right + STEP
    items = _agreed(items)
    if job.title:
        box = bounds(items)
        items.append(Note(job.title, Point(snapped(box.left), snapped(box.top - GRID * 2))))
    return rooted(items, ORIGIN)


def _agreed(items: list[Item]) -> list[Item]:
    """Make a net's bare name a flag where flags of the same net stand beside it."""
    flags = {item.net for item in items if isinstance(item, Label) and item.shape != "local"}
    return [
        replace(item, direction=UP, shape="passive")
        if isinstance(item, Label) and item.shape == "local" and item.net in flags
        else item
        for item in items
    ]


def _run(chain: _Chain, start: str) -> None:
    net: str | None = start
    if not chain.shunts(start) and chain.series(start) is None:
        return
    chain.begin(start)
    while net is not None:
        inside = net not in chain.outside and not chain.sheet.is_power(net)
        if inside and net not in chain.labelled and any(net in chain.ends(part) for part in chain.left):
            chain.name_wire(net)
        hung = chain.shunts(net)
        following = [part for part in chain.left if part not in hung]
        onward = any(net in chain.ends(part) for part in following) or (
            net not in chain.labelled and net in chain.outside
        )
        for place_in, part in enumerate(hung):
            chain.hang(part, net, last=place_in == len(hung) - 1 and not onward)
        found = chain.series(net)
        if found is None:
            break
        if net in chain.outside and net not in chain.labelled:
            chain.wire_to(max(chain.at.x + STEP, snapped(chain.clear)), net)
            chain.items.append(Label(net, chain.at, UP))
            chain.labelled.add(net)
        net = chain.pass_through(*found, net)
        if net is not None and chain.sheet.is_power(net):
            break
    chain.finish(net)


def _another_start(sheet: Sheet, left: list[CircuitPart], outside: frozenset[str]) -> str | None:
    """A net to begin with: one that leads out of the block, else a rail that feeds something."""
    nets = [
        net
        for part in left
        for pin in sheet.symbols[part.ref].pins
        if (net := sheet.net(part, pin.number)) is not None
    ]
    signals = [net for net in nets if net in outside and not sheet.is_power(net)]
    rails = [net for net in nets if net in sheet.rails]
    return next(iter(signals or rails), None)


def _alone(sheet: Sheet, part: CircuitPart) -> list[Item]:
    """A part by itself: between rail and ground upright, else as its symbol lies."""
    symbol = sheet.symbols[part.ref]
    nets = [sheet.net(part, pin.number) for pin in symbol.pins]
    if len(nets) == 2 and all(sheet.is_power(net) for net in nets):
        upper = 1 if nets[0] in sheet.grounds else 0
        return dressed(sheet, part, place(sheet, part, ORIGIN, 270 if upper == 0 else 90))
    if len(nets) == 2 or symbol.name.startswith(("NPN", "NMOS")):
        return dressed(sheet, part, place(sheet, part, ORIGIN, 0))
    placed = Placed(part.ref, part.value, symbol, ORIGIN, 0, symbol.ref_at, symbol.value_at)
    return dressed(sheet, part, placed)
