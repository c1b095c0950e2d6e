"""Hand-made copper for the tests of measure: pads, tracks, vias and pours without a router."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from boardgen.board.model import (
    Board,
    Net,
    NetKind,
    Part,
    PartKind,
    Placement,
    Pour,
    PourPiece,
    Side,
    Track,
    Via,
    rectangle_outline,
)
from boardgen.catalog.load import load_catalog
from boardgen.footprint.model import Footprint, Pad, PadKind, PadShape
from boardgen.units import ORIGIN, ZERO, Box, Nm, Point, Size, mm, point_mm

FAB = load_catalog().fab("economy-2l")
SQUARE = 1.72e-8 / 35e-6  # ohm; one square of 35 um at 20 C
OUTLINE = rectangle_outline(Box(mm(-100), mm(-100), mm(100), mm(100)))
DESIGNS = Path(__file__).parent.parent.parent / "designs"


def plated(ref: str, x: float, y: float, net: str = "V", size: float = 1.6, hole: float = 1.0) -> Part:
    """A part of one round plated pad, its body on top (soldered below)."""
    pad = Pad(
        "1", PadKind.PLATED, PadShape.CIRCLE, ORIGIN, Size(mm(size), mm(size)), Size(mm(hole), mm(hole))
    )
    return Part(ref, "", Footprint("one", (pad,)), Placement(point_mm(x, y)), nets=(("1", net),))


def surface(
    ref: str, x: float, y: float, w: float = 1.0, h: float = 1.0, net: str = "V", side: Side = Side.TOP
) -> Part:
    """A part of one rectangular surface pad."""
    pad = Pad("1", PadKind.SURFACE, PadShape.RECT, ORIGIN, Size(mm(w), mm(h)))
    return Part(ref, "", Footprint("flat", (pad,)), Placement(point_mm(x, y), 0.0, side), nets=(("1", net),))


def disc(ref: str, x: float, y: float, diameter: float, net: str = "V") -> Part:
    """A part of one round surface pad."""
    size = Size(mm(diameter), mm(diameter))
    pad = Pad("1", PadKind.SURFACE, PadShape.CIRCLE, ORIGIN, size)
    return Part(ref, "", Footprint("disc", (pad,)), Placement(point_mm(x, y)), nets=(("1", net),))


def track(
    x1: float, y1: float, x2: float, y2: float, width: float = 0.25, side: Side = Side.TOP, net: str = "V"
) -> Track:
    return Track(net, side, point_mm(x1, y1), point_mm(x2, y2), mm(width))


def via(x: float, y: float, net: str = "V") -> Via:
    return Via(net, point_mm(x, y), mm("0.6"), mm("0.3"))


def ring(*corners: tuple[float, float]) -> tuple[Point, ...]:
    return tuple(point_mm(x, y) for x, y in corners)


def box(left: float, top: float, right: float, bottom: float) -> tuple[Point, ...]:
    return ring((left, top), (right, top), (right, bottom), (left, bottom))


def pour(*pieces: PourPiece, side: Side = Side.TOP, net: str = "V") -> Pour:
    return Pour(net, side, pieces[0].outer, pieces, mm("0.25"), mm("0.25"), mm("0.3"), mm("0.4"))


def board(*parts: Part, **more: object) -> Board:
    names = sorted({net for part in parts for _, net in part.nets})
    nets = tuple(Net(n, NetKind.GROUND if n == "GND" else NetKind.SUPPLY) for n in names)
    return Board("test", "A", "Test", OUTLINE, parts, nets, **more)  # type: ignore[arg-type]


def bare(copper: Board, ref: str) -> Board:
    """The board without the part *ref*."""
    return replace(copper, parts=tuple(p for p in copper.parts if p.ref != ref))


__all__ = [name for name in globals() if not name.startswith("_")] + ["Nm", "ZERO", "PartKind"]
