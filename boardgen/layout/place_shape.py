"""A small part as the placer moves it: its box and pads in each of four turns."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from boardgen.board.model import Part, Placement, Side
from boardgen.circuit.model import CircuitPart
from boardgen.footprint.model import PadKind
from boardgen.layout.place_room import Rect, part_area
from boardgen.units import ORIGIN, Nm, Point

ANCHOR_WEIGHT = 0.5  # of a mm of wire for a mm away from the anchor
CAPACITOR_WEIGHT = 1.0  # a capacitor serves by standing near
SERVING_WEIGHT = 3.0  # and at a chip's supply pin by nothing else
PASSING = 325_000  # nm; half a 0.25 mm track and its 0.2 mm gap, which a wire past a pad needs
TURNS = (0.0, 90.0, 180.0, 270.0)


@dataclass(frozen=True, slots=True)
class Turned:
    """One turn: *box* round the part's room and *pads* (net, x, y), about the part's first pad.

    *copper* are boxes round all its pads with the room a passing track needs.
    *origin* is where the part's own origin lies, seen from that pad.
    """

    rotation: float
    box: Rect
    pads: tuple[tuple[str, int, int], ...]
    copper: tuple[Rect, ...]
    origin: tuple[int, int]


@dataclass(frozen=True, slots=True)
class Mover:
    """A part to place. *anchor* is the point it belongs beside, if any, and *weight* what
    a mm away from it costs in mm of wire. *beside* is the mover it serves, by
    index: once that stands, its pad of their common net is the anchor.
    """

    part: CircuitPart
    side: Side
    turns: tuple[Turned, ...]
    anchor: tuple[int, int] | None
    weight: float
    beside: int | None = None

    def held_by(self, turned: Turned) -> tuple[int, int]:
        """Return what is drawn to the anchor, seen from the first pad: the middle, or the pad that serves."""
        if self.part.beside and turned.pads:
            return turned.pads[0][1:]
        left, top, right, bottom = turned.box
        return (left + right) // 2, (top + bottom) // 2

    @property
    def area(self) -> int:
        """The room it takes, in nm2."""
        left, top, right, bottom = self.turns[0].box
        return (right - left) * (bottom - top)

    def placement(self, turn: int, x: int, y: int) -> Placement:
        """Return the placement with the first pad at *x*, *y*."""
        turned = self.turns[turn]
        at = Point(Nm(x + turned.origin[0]), Nm(y + turned.origin[1]))
        return Placement(at, turned.rotation, self.side)


def board_part(part: CircuitPart, placement: Placement) -> Part:
    """Return the netlist's *part* as a part of the board."""
    nets = tuple(sorted((pin.number, pin.net) for pin in part.pins if pin.net is not None))
    return Part(
        ref=part.ref,
        value=part.value,
        footprint=part.footprint,
        placement=placement,
        kind=part.kind,
        nets=nets,
        entry=part.entry,
        height=part.height,
    )


@dataclass(slots=True)
class Maker:
    """Makes movers, measuring each footprint once; meant to live for one placement.

    *ignored* are nets that pull no part anywhere: the pour reaches them wherever they are.
    """

    ignored: frozenset[str] = frozenset()
    _boxes: dict[tuple[int, Side], Rect] = field(default_factory=dict)

    def mover(self, part: CircuitPart, side: Side, anchor: tuple[int, int] | None) -> Mover:
        """Return *part* ready to be moved about on *side*; turns that look alike are listed once."""
        key = (id(part.footprint), side)
        if key not in self._boxes:
            self._boxes[key] = _box(part, side)
        turns: dict[object, Turned] = {}
        for rotation in TURNS:
            turned = _turned(part, side, rotation, self._boxes[key], self.ignored)
            turns.setdefault((turned.box, turned.pads, turned.copper), turned)
        weight = CAPACITOR_WEIGHT if part.ref.startswith("C") else ANCHOR_WEIGHT
        weight = SERVING_WEIGHT if part.beside else weight
        return Mover(part, side, tuple(turns.values()), anchor, weight)


def _box(part: CircuitPart, side: Side) -> Rect:
    """The box round the unturned part's room, about its origin."""
    area = part_area(board_part(part, Placement(ORIGIN, 0.0, side)))
    if area.is_empty:
        return (0, 0, 0, 0)
    left, top, right, bottom = area.bounds
    return (math.floor(left), math.floor(top), math.ceil(right), math.ceil(bottom))


def _turned(
    part: CircuitPart, side: Side, rotation: float, unturned: Rect, ignored: frozenset[str]
) -> Turned:
    frame = Placement(ORIGIN, rotation, side)
    nets = {pin.number: pin.net for pin in part.pins}
    fed = next((pin.number for pin in part.pins if pin.name == "supply"), "")
    copper = [pad for pad in part.footprint.pads if pad.kind is not PadKind.UNPLATED]
    first = frame.place(copper[0].at) if copper else ORIGIN
    x, y = int(first.x), int(first.y)
    pads: list[tuple[str, int, int]] = []
    boxes: list[Rect] = []
    for pad in copper:
        at = frame.place(pad.at)
        px, py, half = int(at.x) - x, int(at.y) - y, max(pad.size.w, pad.size.h) // 2 + PASSING
        boxes.append((px - half, py - half, px + half, py + half))
        net = nets.get(pad.number)
        if net is not None and net not in ignored:
            # the pad a decoupling capacitor belongs to comes before ties to the same rail
            pads.insert(0 if pad.number == fed else len(pads), (net, px, py))
    left, top, right, bottom = (Nm(value) for value in unturned)
    corners = [Point(left, top).turned(rotation), Point(right, bottom).turned(rotation)]
    xs, ys = sorted(int(p.x) - x for p in corners), sorted(int(p.y) - y for p in corners)
    return Turned(rotation, (xs[0], ys[0], xs[1], ys[1]), tuple(pads), tuple(boxes), (-x, -y))
