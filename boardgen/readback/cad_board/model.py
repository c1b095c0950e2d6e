"""What the reader of a CAD board hands on, and what a design wants of such a board."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from shapely.geometry.base import BaseGeometry

from boardgen.board.model import Board, Front, PartKind, Serving, Side
from boardgen.catalog.model import FabClass
from boardgen.design.model import FindingWaiver
from boardgen.errors import Finding
from boardgen.footprint.model import Footprint
from boardgen.units import ZERO, Nm, Point


@dataclass(frozen=True, slots=True)
class CadBoard:
    """A board file as a model. Places are the file's own: nm from the sheet's corner, y down.

    *findings* name what could not be read (``cad-unread``) and what a model cannot be; *locked* names what
    a person fixed in its place; *origin* is the auxiliary origin; *version* the file's own number; *counts*
    what was read, for the evidence.
    """

    board: Board
    findings: tuple[Finding, ...]
    locked: tuple[str, ...]
    origin: Point | None
    version: int
    counts: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class WantedPart:
    """A part the design has. *footprint* and *side* are None where the source does not tell.

    *standoff* is how high its body stands over the board, *front* where it needs the board's edge and
    *serves* which chip it stands by: no CAD board says any of it.
    """

    ref: str
    kind: PartKind
    footprint: Footprint | None = None
    side: Side | None = None
    standoff: Nm = ZERO
    front: Front | None = None
    serves: Serving | None = None


@dataclass(frozen=True, slots=True)
class Intent:
    """What a design wants of its board, and at which fab class.

    *nets* maps (reference, pad number) to a net, None for a pad left open; *outline* is the area of the board
    (nm, board axes), *origin* the place in those axes that the CAD file's auxiliary origin marks.
    *ref_width* and *pad_width* tell how many characters of either the source of the nets keeps.
    """

    name: str
    revision: str
    source: str
    fab: FabClass
    parts: tuple[WantedPart, ...]
    nets: Mapping[tuple[str, str], str | None]
    outline: BaseGeometry | None
    origin: tuple[float, float]
    accepted: tuple[FindingWaiver, ...] = ()
    ref_width: int | None = None
    pad_width: int | None = None

    @property
    def copper(self) -> tuple[Side, ...]:
        """The copper sides the fab class makes."""
        return (Side.TOP, Side.BOTTOM) if self.fab.copper_layers > 1 else (Side.BOTTOM,)

    def kinds(self) -> dict[str, PartKind]:
        """Return each part's role by reference."""
        return {part.ref: part.kind for part in self.parts}

    def standoffs(self) -> dict[str, Nm]:
        """Return how high each part's body stands over the board (nm), by reference; those alone that do."""
        return {part.ref: part.standoff for part in self.parts if part.standoff > 0}

    def fronts(self) -> dict[str, Front]:
        """Return where parts need the board's edge, by reference; those alone that do."""
        return {part.ref: part.front for part in self.parts if part.front is not None}

    def serving(self) -> dict[str, Serving]:
        """Return which parts stand by a chip's supply pin, by reference."""
        return {part.ref: part.serves for part in self.parts if part.serves is not None}
