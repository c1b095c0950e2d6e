"""The board as frozen values; nothing here knows how any of it was decided.

Coordinates: nm, x right, y down, seen from the top; angles in degrees
counter-clockwise as seen from the top.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from enum import StrEnum

from boardgen.footprint.model import Footprint
from boardgen.units import ZERO, Box, Nm, Point


class Side(StrEnum):
    """A copper side of the board."""

    TOP = "top"
    BOTTOM = "bottom"

    @property
    def other(self) -> Side:
        """The opposite side."""
        return Side.BOTTOM if self is Side.TOP else Side.TOP


@dataclass(frozen=True, slots=True)
class Placement:
    """Where a part's origin stands, its turn, and the side it is mounted on.

    A part on the bottom is turned over about its own x axis first (local y
    changes sign), then rotated counter-clockwise as seen from the top.
    """

    at: Point
    rotation: float = 0.0
    side: Side = Side.TOP

    def place(self, local: Point) -> Point:
        """Return the board position of a point of the part's own frame."""
        if self.side is Side.BOTTOM:
            local = Point(local.x, -local.y)
        return local.turned(self.rotation).plus(self.at)


class PartKind(StrEnum):
    """What role a part plays on the board."""

    MODULE = "module"
    CONNECTOR = "connector"
    COMPONENT = "component"
    LINK = "link"  # a bare wire in place of copper, on boards without a second side
    HOLE = "hole"  # mounting hole: no symbol, no purchase


@dataclass(frozen=True, slots=True)
class Front:
    """Where an edge connector needs the board's edge, in its footprint's frame.

    The edge runs at y *edge*; its mate comes from beyond (+y), as wide as from x *left* to *right*.
    """

    edge: Nm
    left: Nm
    right: Nm


@dataclass(frozen=True, slots=True)
class Serving:
    """What a decoupling capacitor stands by: its pads *own* belong at the pads *fed* of the chip *ref*."""

    ref: str
    own: tuple[str, ...]
    fed: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Part:
    """One part in its place. *nets* maps pad numbers to net names, sorted by number.

    Pads whose number is not in *nets* are unconnected. *entry* is the catalogue
    id it came from. *standoff* is how high the body stands over the board on its
    sockets; below it, between the sockets, wire links may lie. *front* is set for a connector that stands
    at the board's edge, *serves* for a capacitor that decouples a chip.
    """

    ref: str
    value: str
    footprint: Footprint
    placement: Placement
    kind: PartKind = PartKind.COMPONENT
    nets: tuple[tuple[str, str], ...] = ()
    entry: str = ""
    height: Nm = ZERO
    standoff: Nm = ZERO
    front: Front | None = None
    serves: Serving | None = None

    def net_of(self, number: str) -> str | None:
        """Return the net on the pads with *number*, or None where unconnected."""
        for pad, net in self.nets:
            if pad == number:
                return net
        return None


@dataclass(frozen=True, slots=True)
class OutlineLine:
    """A straight piece of the profile."""

    start: Point
    end: Point


@dataclass(frozen=True, slots=True)
class OutlineArc:
    """A circular piece of the profile through three points."""

    start: Point
    mid: Point
    end: Point


OutlinePiece = OutlineLine | OutlineArc


@dataclass(frozen=True, slots=True)
class Outline:
    """The profile: one closed outer loop, and closed loops for cut-outs.

    Pieces follow each other end to start exactly.
    """

    outer: tuple[OutlinePiece, ...]
    cutouts: tuple[tuple[OutlinePiece, ...], ...] = ()


class NetKind(StrEnum):
    """What a net carries, which decides its class."""

    SIGNAL = "signal"
    SUPPLY = "supply"
    GROUND = "ground"


@dataclass(frozen=True, slots=True)
class NetClass:
    """Width and spacing for the nets of one class."""

    name: str
    width: Nm
    spacing: Nm


@dataclass(frozen=True, slots=True)
class Net:
    """A net by name; who is on it stands with the parts."""

    name: str
    kind: NetKind = NetKind.SIGNAL
    net_class: str = "signal"


@dataclass(frozen=True, slots=True)
class Track:
    """A straight copper track with round ends."""

    net: str
    side: Side
    start: Point
    end: Point
    width: Nm


@dataclass(frozen=True, slots=True)
class Via:
    """A plated hole that joins the sides. *hole* is the finished diameter."""

    net: str
    at: Point
    diameter: Nm
    hole: Nm


@dataclass(frozen=True, slots=True)
class PourPiece:
    """One filled area: an outer ring and the rings of its holes (not closed twice)."""

    outer: tuple[Point, ...]
    holes: tuple[tuple[Point, ...], ...] = ()


@dataclass(frozen=True, slots=True)
class Pour:
    """Copper filled round everything else on one side, as finished polygons.

    *area* is the outline the fill was asked for; the other lengths are the
    parameters it was made with (a CAD program needs them to refill).
    """

    net: str
    side: Side
    area: tuple[Point, ...]
    pieces: tuple[PourPiece, ...]
    spacing: Nm
    min_width: Nm
    thermal_gap: Nm
    spoke_width: Nm
    solid_pads: tuple[tuple[str, str], ...] = ()  # (ref, pad number) joined without spokes


@dataclass(frozen=True, slots=True)
class LegendText:
    """Printed text centred on *at*; on the bottom it is mirrored to read from below.

    *origin* says who draws it: "board", or "footprint" for a part's own graphic.
    """

    side: Side
    text: str
    at: Point
    height: Nm
    stroke: Nm
    rotation: float = 0.0
    origin: str = "board"


@dataclass(frozen=True, slots=True)
class LegendLine:
    """A printed stroke through *points*; *origin* as for :class:`LegendText`."""

    side: Side
    points: tuple[Point, ...]
    stroke: Nm
    origin: str = "board"


LegendItem = LegendText | LegendLine


@dataclass(frozen=True, slots=True)
class Keepout:
    """An area (closed ring) without copper on either side, with the reason why."""

    ring: tuple[Point, ...]
    reason: str
    parts_too: bool = False


@dataclass(frozen=True, slots=True)
class ScoreLine:
    """A straight V-cut from both faces, along which a panel is broken."""

    start: Point
    end: Point


@dataclass(frozen=True, slots=True)
class Board:
    """A whole board at some stage of the work.

    *copper* names the copper sides: both, or the bottom alone for a class
    without plated holes, where every joint is soldered from that side.
    *plated* says whether holes are plated through. *legend* holds the finished
    printing, the parts' own graphics included, once the legend stage has run;
    *references* says where each part's reference was put (ref to legend text).

    A panel is a board of *copies* boards with what holds them together (0: a
    board by itself); *scores* are its V-cuts.
    """

    name: str
    revision: str
    title: str
    outline: Outline
    parts: tuple[Part, ...] = ()
    nets: tuple[Net, ...] = ()
    classes: tuple[NetClass, ...] = ()
    tracks: tuple[Track, ...] = ()
    vias: tuple[Via, ...] = ()
    pours: tuple[Pour, ...] = ()
    legend: tuple[LegendItem, ...] = ()
    references: tuple[tuple[str, LegendText], ...] = ()
    keepouts: tuple[Keepout, ...] = ()
    copper: tuple[Side, ...] = (Side.TOP, Side.BOTTOM)
    plated: bool = True
    thickness: Nm = field(default=Nm(1_600_000))
    scores: tuple[ScoreLine, ...] = ()
    copies: int = 0

    def part(self, ref: str) -> Part:
        """Return the part with *ref*; raises KeyError where there is none."""
        for part in self.parts:
            if part.ref == ref:
                return part
        raise KeyError(ref)

    def net(self, name: str) -> Net:
        """Return the net called *name*; raises KeyError where there is none."""
        for net in self.nets:
            if net.name == name:
                return net
        raise KeyError(name)

    def class_of(self, net: str) -> NetClass:
        """Return the class of the net called *net*."""
        wanted = self.net(net).net_class
        for item in self.classes:
            if item.name == wanted:
                return item
        raise KeyError(wanted)

    def with_copper(
        self,
        tracks: tuple[Track, ...] | None = None,
        vias: tuple[Via, ...] | None = None,
        pours: tuple[Pour, ...] | None = None,
    ) -> Board:
        """Return the board with the given copper in place of its own."""
        return replace(
            self,
            tracks=self.tracks if tracks is None else tracks,
            vias=self.vias if vias is None else vias,
            pours=self.pours if pours is None else pours,
        )


def outline_from_ring(points: tuple[Point, ...]) -> Outline:
    """Return the outline whose outer loop joins *points* by straight lines."""
    pairs = zip(points, points[1:] + points[:1], strict=True)
    return Outline(tuple(OutlineLine(a, b) for a, b in pairs))


def rectangle_outline(box: Box, corner_radius: Nm = ZERO) -> Outline:
    """Return the outline of *box* with its corners rounded by *corner_radius*."""
    if corner_radius <= 0:
        return outline_from_ring(box.corners())
    r = corner_radius
    cut = Nm(round(r * (1 - 2**-0.5)))  # how far a 45-degree arc point stands from the box corner
    left, top, right, bottom = box
    pieces: list[OutlinePiece] = [
        OutlineLine(Point(left + r, top), Point(right - r, top)),
        OutlineArc(Point(right - r, top), Point(right - cut, top + cut), Point(right, top + r)),
        OutlineLine(Point(right, top + r), Point(right, bottom - r)),
        OutlineArc(Point(right, bottom - r), Point(right - cut, bottom - cut), Point(right - r, bottom)),
        OutlineLine(Point(right - r, bottom), Point(left + r, bottom)),
        OutlineArc(Point(left + r, bottom), Point(left + cut, bottom - cut), Point(left, bottom - r)),
        OutlineLine(Point(left, bottom - r), Point(left, top + r)),
        OutlineArc(Point(left, top + r), Point(left + cut, top + cut), Point(left + r, top)),
    ]
    return Outline(tuple(pieces))
