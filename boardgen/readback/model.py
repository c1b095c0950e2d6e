"""What read-back hands on: the geometry of written files, what is expected of it, and a report.

Lengths are nm. A :class:`FabGeometry` comes out of the reader in the files' axes (x right, y UP, origin as
written); :func:`boardgen.readback.place.on_board` turns it to the board's axes, in which all else is given.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from shapely.geometry.base import BaseGeometry

from boardgen.board.geometry import Shape
from boardgen.board.model import Side
from boardgen.errors import Finding
from boardgen.export.summary import Check

TOUCH = 2.0  # nm: copper this near is one conductor; turned parts stand on whole nm, two may be 1 nm off each
SAME = 10.0  # nm: what is written and what is wanted may differ by rounding, not by more
NETLIST = "netlist"  # the source that is no file: the board model with its netlist
CHORD = 50.0  # nm: how far a chord may stand from an arc where a polygon is unavoidable


class Kind(StrEnum):
    """How a thing is drawn."""

    FLASH = "flash"
    STROKE = "stroke"
    AREA = "area"


class Role(StrEnum):
    """What a Gerber layer is for."""

    COPPER = "copper"
    MASK = "mask"
    LEGEND = "legend"
    PASTE = "paste"
    PROFILE = "profile"
    SCORE = "score lines"


@dataclass(frozen=True, slots=True)
class Thing:
    """One drawn thing; its area is the union of *parts*, each exact.

    A flash stands at *start*; a stroke runs from *start* to *end* and is *width* wide. *net* and *pad*
    (reference, number) are what the file's own attributes say of it, "" where they say nothing.
    """

    kind: Kind
    parts: tuple[Shape, ...]
    start: tuple[float, float] = (0.0, 0.0)
    end: tuple[float, float] = (0.0, 0.0)
    width: float = 0.0
    net: str = ""
    pad: tuple[str, str] = ("", "")


@dataclass(frozen=True, slots=True)
class FabLayer:
    """One Gerber file: *things* are what is dark in the end, erased parts taken away."""

    path: str
    role: Role
    side: Side | None
    things: tuple[Thing, ...]

    @property
    def name(self) -> str:
        """The layer as findings call it: "top copper", "profile"."""
        return f"{self.side.value} {self.role.value}" if self.side is not None else self.role.value

    @property
    def flashes(self) -> tuple[Thing, ...]:
        """The flashes alone."""
        return tuple(thing for thing in self.things if thing.kind is Kind.FLASH)


@dataclass(frozen=True, slots=True)
class FabHole:
    """One drilled hole or routed slot; *start* and *end* are equal for a drilled one."""

    path: str
    plated: bool
    diameter: float
    start: tuple[float, float]
    end: tuple[float, float]
    shape: Shape


@dataclass(frozen=True, slots=True)
class FabGeometry:
    """Everything the fabrication files hold. *findings* are about what could not be read as it should."""

    layers: tuple[FabLayer, ...]
    holes: tuple[FabHole, ...]
    drills: tuple[tuple[str, bool], ...]  # each drill file read, and whether it plates
    findings: tuple[Finding, ...]

    def layer(self, role: Role, side: Side | None) -> FabLayer | None:
        """Return the first layer of that *role* and *side*, or None."""
        for layer in self.layers:
            if layer.role is role and layer.side is side:
                return layer
        return None


@dataclass(frozen=True, slots=True)
class Pad:
    """A place where a part's contact is joined to copper on *sides*.

    *shape* is its copper, None where the source does not say; *hole* its finished hole.
    """

    ref: str
    number: str
    net: str | None
    at: tuple[float, float]
    sides: tuple[Side, ...]
    shape: Shape | None = None
    hole: Shape | None = None
    plated: bool = False
    mask_margin: float | None = None  # None: the source's margin for all pads
    paste: bool = True

    @property
    def name(self) -> str:
        """The pad as findings call it."""
        return f"{self.ref} pad {self.number}"


@dataclass(frozen=True, slots=True)
class Via:
    """A via, with its finished hole."""

    net: str | None
    at: tuple[float, float]
    diameter: float
    hole: float


@dataclass(frozen=True, slots=True)
class Stroke:
    """A track or a printed line."""

    side: Side | None  # None: through the board, a score line
    start: tuple[float, float]
    end: tuple[float, float]
    width: float
    net: str | None = None


@dataclass(frozen=True, slots=True)
class Fill:
    """Copper filled on one side for one net: the area it covers, holes taken off (nm)."""

    side: Side
    net: str | None
    shape: BaseGeometry


@dataclass(frozen=True, slots=True)
class Wanted:
    """The board as one source describes it, in the board's axes.

    *name* is the file it came from, or "netlist". *grid* is how coarse its lengths are (0: exact).
    *links* are wires soldered in place of copper. None stands for what the source does not tell.
    """

    name: str
    grid: float
    pads: tuple[Pad, ...]
    vias: tuple[Via, ...]
    copper: tuple[Side, ...] = (Side.TOP, Side.BOTTOM)
    plated: bool = True
    bare: tuple[tuple[str, Shape], ...] | None = None
    tracks: tuple[Stroke, ...] | None = None
    fills: tuple[Fill, ...] | None = None
    outline: BaseGeometry | None = None
    legend: tuple[Stroke, ...] | None = None
    links: tuple[tuple[str, str, str], ...] = ()  # (reference, one pad's number, another's)
    mask_margin: float | None = None
    scores: tuple[Stroke, ...] | None = None

    @property
    def body(self) -> str:
        """What findings call the thing whose pads, tracks and holes these are."""
        return "board" if self.name == NETLIST else self.name


@dataclass(frozen=True, slots=True)
class ReadbackReport:
    """What read-back found, and the evidence that it looked."""

    findings: tuple[Finding, ...]
    checks: tuple[Check, ...]


Evidence = Mapping[str, object]
