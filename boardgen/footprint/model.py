"""A footprint as frozen values, in the part's own frame.

Frame: x right, y down, seen from the side the part is mounted on, unturned.
"Front" is the end that meets the world: for a module its USB end, which looks
to -y (up); for an edge connector its mating end, which looks to +y (down,
toward the reader), so that left-right order equals the mating face's.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from boardgen.units import ORIGIN, ZERO, Nm, Point, Size


class PadKind(StrEnum):
    """How a pad is made."""

    PLATED = "plated"  # through hole with copper on every copper side, soldered
    UNPLATED = "unplated"  # a bare hole: peg, screw; no copper, no number
    SURFACE = "surface"  # copper on one face, no hole


class PadShape(StrEnum):
    """Outline of a pad's copper."""

    CIRCLE = "circle"
    OVAL = "oval"
    RECT = "rect"
    ROUNDRECT = "roundrect"
    CUSTOM = "custom"


class Face(StrEnum):
    """A face of the board as the part sees it."""

    NEAR = "near"  # the side the part is mounted on
    FAR = "far"


class PartLayer(StrEnum):
    """What a graphic of a footprint is for."""

    LEGEND = "legend"  # printed beside the part
    DRAWING = "drawing"  # assembly drawing only, not on the board
    COURTYARD = "courtyard"  # room kept for the part


@dataclass(frozen=True, slots=True)
class Pad:
    """One pad. *hole* is the finished hole (a slot where w != h); SURFACE pads use *face*.

    *number* is the contact number; it may repeat (shield pads) and is "" for an
    UNPLATED hole. *rotation* in degrees counter-clockwise, in the part's frame.

    The copper of a CUSTOM pad is all within *corner_radius* of its *outline* about *at*, unturned: a point,
    two ends of a segment, or a ring with its inside. Its *size* is twice its reach from *at*. The hole stands
    at *at*, so a pad whose copper is not about its hole is CUSTOM too.

    *mask_margin* is how far its mask opening reaches beyond the copper (None: as the fab's class has it);
    *paste* says whether a SURFACE pad gets solder paste.
    """

    number: str
    kind: PadKind
    shape: PadShape
    at: Point
    size: Size
    hole: Size | None = None
    rotation: float = 0.0
    corner_radius: Nm = ZERO
    face: Face = Face.NEAR
    outline: tuple[Point, ...] = ()
    mask_margin: Nm | None = None
    paste: bool = True


@dataclass(frozen=True, slots=True)
class Line:
    """A straight stroke with round ends."""

    layer: PartLayer
    start: Point
    end: Point
    width: Nm
    face: Face = Face.NEAR


@dataclass(frozen=True, slots=True)
class Arc:
    """A circular stroke through three points."""

    layer: PartLayer
    start: Point
    mid: Point
    end: Point
    width: Nm
    face: Face = Face.NEAR


@dataclass(frozen=True, slots=True)
class Circle:
    """A round stroke; *filled* makes it a disc."""

    layer: PartLayer
    centre: Point
    radius: Nm
    width: Nm
    filled: bool = False
    face: Face = Face.NEAR


@dataclass(frozen=True, slots=True)
class Polygon:
    """A closed outline through *points*; *filled* makes it an area."""

    layer: PartLayer
    points: tuple[Point, ...]
    width: Nm
    filled: bool = False
    face: Face = Face.NEAR


@dataclass(frozen=True, slots=True)
class Text:
    """A fixed text centred on *at* (pin-1 digits, corner pin names)."""

    layer: PartLayer
    text: str
    at: Point
    height: Nm
    stroke: Nm
    rotation: float = 0.0
    face: Face = Face.NEAR


Graphic = Line | Arc | Circle | Polygon | Text


@dataclass(frozen=True, slots=True)
class Footprint:
    """Land pattern of one part: pads, graphics, and where its reference may stand.

    *through_hole* says how the part is fitted as a whole. *warnings* names what
    the reader of a foreign file had to leave out.
    """

    name: str
    pads: tuple[Pad, ...]
    graphics: tuple[Graphic, ...] = ()
    description: str = ""
    tags: tuple[str, ...] = ()
    through_hole: bool = True
    reference_at: Point = ORIGIN
    value_at: Point = ORIGIN
    warnings: tuple[str, ...] = field(default=())

    def numbered(self, number: str) -> tuple[Pad, ...]:
        """Return the pads that carry *number*; empty where there is none."""
        return tuple(pad for pad in self.pads if pad.number == number)

    def numbers(self) -> tuple[str, ...]:
        """Return each contact number once, in pad order."""
        return tuple(dict.fromkeys(pad.number for pad in self.pads if pad.number))
