"""A small board with one of everything, and an independent way back from files to areas."""

from __future__ import annotations

import math
from types import SimpleNamespace

import shapely
from gerbonara import GerberFile
from gerbonara.graphic_primitives import Arc, ArcPoly, Circle, Line, Rectangle
from gerbonara.utils import MM
from shapely import LineString, Polygon
from shapely.affinity import rotate
from shapely.geometry.base import BaseGeometry

from boardgen.board.model import (
    Board,
    LegendLine,
    LegendText,
    Net,
    NetKind,
    Part,
    Placement,
    Pour,
    PourPiece,
    Side,
    Track,
    Via,
    rectangle_outline,
)
from boardgen.catalog.load import load_catalog
from boardgen.footprint.model import Face, Footprint, Pad, PadKind, PadShape
from boardgen.units import ZERO, Box, Size, mm, point_mm

SIZE = Size(mm(1.8), mm(1.2))


def odd_footprint() -> Footprint:
    """Every pad shape and kind, turned every way."""
    hole = Size(mm(0.8), mm(0.8))
    pads = [
        Pad("1", PadKind.PLATED, PadShape.RECT, point_mm(-6, 0), Size(mm(1.8), mm(1.8)), hole),
        Pad("2", PadKind.PLATED, PadShape.CIRCLE, point_mm(-3, 0), Size(mm(1.8), mm(1.8)), hole),
        Pad("3", PadKind.PLATED, PadShape.OVAL, point_mm(0, 0), SIZE, hole, rotation=30),
        Pad("4", PadKind.PLATED, PadShape.OVAL, point_mm(3, 0), SIZE, Size(mm(1.2), mm(0.6)), rotation=90),
        Pad(
            "5",
            PadKind.SURFACE,
            PadShape.ROUNDRECT,
            point_mm(-6, 4),
            SIZE,
            corner_radius=mm(0.3),
            rotation=45,
        ),
        Pad("6", PadKind.SURFACE, PadShape.RECT, point_mm(-3, 4), SIZE, rotation=15, face=Face.FAR),
        Pad("7", PadKind.SURFACE, PadShape.ROUNDRECT, point_mm(0, 4), SIZE, corner_radius=mm(0.2)),
        Pad("", PadKind.UNPLATED, PadShape.CIRCLE, point_mm(4, 4), Size(mm(2), mm(2)), Size(mm(2), mm(2))),
    ]
    return Footprint("odd", tuple(pads))


def odd_board(**changes: object) -> Board:
    """A 40 x 30 mm board: three turned copies of the odd part, tracks, a via, pours with holes."""
    footprint = odd_footprint()
    nets = (("1", "GND"), ("2", "SIGNAL_WITH_A_LONG_NAME"), ("3", "A"))
    parts = tuple(
        Part(f"X{i}", "odd", footprint, Placement(point_mm(*at), turn, side), nets=nets)
        for i, (at, turn, side) in enumerate(
            [((12, 8), 0, Side.TOP), ((26, 14), 90, Side.TOP), ((12, 22), 30, Side.BOTTOM)], 1
        )
    )
    ring = (point_mm(30, 20), point_mm(38, 20), point_mm(38, 28), point_mm(30, 28))
    hole = (point_mm(32, 22), point_mm(36, 22), point_mm(36, 26), point_mm(32, 26))
    island = (point_mm(33, 23), point_mm(35, 23), point_mm(35, 25))
    pour = Pour(
        "GND",
        Side.TOP,
        ring,
        (PourPiece(island), PourPiece(ring, (hole,))),
        mm(0.3),
        mm(0.25),
        mm(0.3),
        mm(0.4),
    )
    board = Board(
        name="odd-board",
        revision="A",
        title="An odd board, 100 % odd*",
        outline=rectangle_outline(Box(ZERO, ZERO, mm(40), mm(30)), mm(2)),
        parts=parts,
        nets=(Net("A"), Net("GND", NetKind.GROUND), Net("SIGNAL_WITH_A_LONG_NAME"), Net("lower")),
        tracks=(
            Track("A", Side.TOP, point_mm(20, 25), point_mm(24, 21), mm(0.25)),
            Track("A", Side.TOP, point_mm(24, 21), point_mm(28, 21), mm(0.25)),
            Track("lower", Side.BOTTOM, point_mm(31, 4), point_mm(31, 9), mm(0.4)),
        ),
        vias=(Via("lower", point_mm(31, 9), mm(0.6), mm(0.3)),),
        pours=(pour,),
        legend=(
            LegendText(Side.TOP, "TOP 1", point_mm(34, 5), mm(1), mm(0.15)),
            LegendText(Side.BOTTOM, "LOW 2", point_mm(34, 12), mm(1), mm(0.15), 90),
            LegendLine(Side.TOP, (point_mm(2, 28), point_mm(8, 28), point_mm(8, 26)), mm(0.15)),
        ),
    )
    return Board(**{**{f: getattr(board, f) for f in Board.__dataclass_fields__}, **changes})  # type: ignore[arg-type]


def odd_bundle(**changes: object) -> SimpleNamespace:
    """As much of a bundle as fabrication exporters look at."""
    fab = load_catalog().fab("economy-2l")
    return SimpleNamespace(
        pins="",
        board=odd_board(**changes),
        bound=SimpleNamespace(fab=fab),
        stem="odd-board-A",
        tool="boardgen 0.0",
        findings=(),
    )


def _primitive_area(item: object) -> BaseGeometry:
    if isinstance(item, Circle):
        return shapely.Point(item.x, item.y).buffer(item.r, quad_segs=64)
    if isinstance(item, Rectangle):
        box = shapely.box(item.x - item.w / 2, item.y - item.h / 2, item.x + item.w / 2, item.y + item.h / 2)
        return rotate(box, math.degrees(item.rotation), origin=(item.x, item.y))
    if isinstance(item, Line):
        line = LineString([(item.x1, item.y1), (item.x2, item.y2)])
        if line.length == 0:
            return shapely.Point(item.x1, item.y1).buffer(item.width / 2, quad_segs=64)
        return line.buffer(item.width / 2, quad_segs=64)
    if isinstance(item, Arc):
        radius = math.hypot(item.x1 - item.cx, item.y1 - item.cy)
        a = math.atan2(item.y1 - item.cy, item.x1 - item.cx)
        b = math.atan2(item.y2 - item.cy, item.x2 - item.cx)
        sweep = -((a - b) % math.tau) if item.clockwise else (b - a) % math.tau
        steps = [a + sweep * i / 64 for i in range(65)]
        line = LineString([(item.cx + radius * math.cos(t), item.cy + radius * math.sin(t)) for t in steps])
        return line.buffer(item.width / 2, quad_segs=16)
    assert isinstance(item, ArcPoly), item
    if any(bulge is not None for bulge in item.arc_centers):
        return Polygon([(p[0], p[1]) for p in _arc_points(item)])
    return Polygon(item.outline).buffer(0)


def _arc_points(poly: ArcPoly) -> list[tuple[float, float]]:
    points: list[tuple[float, float]] = []
    count = len(poly.outline)
    for i, start in enumerate(poly.outline):
        end = poly.outline[(i + 1) % count]
        arc = poly.arc_centers[i] if i < len(poly.arc_centers) else None
        points.append(start)
        if not arc or arc[0] is None:
            continue
        clockwise, (cx, cy) = arc
        radius = math.hypot(start[0] - cx, start[1] - cy)
        a, b = math.atan2(start[1] - cy, start[0] - cx), math.atan2(end[1] - cy, end[0] - cx)
        sweep = -((a - b) % math.tau) if clockwise else (b - a) % math.tau
        points += [
            (cx + radius * math.cos(a + sweep * k / 64), cy + radius * math.sin(a + sweep * k / 64))
            for k in range(1, 64)
        ]
    return points


def read_area(data: bytes) -> BaseGeometry:
    """Return what a Gerber file leaves dark, in mm, read by an independent reader, in file order."""
    layer = GerberFile.from_string(data.decode())
    dark: list[BaseGeometry] = []
    total: BaseGeometry = Polygon()
    for thing in layer.objects:
        for primitive in thing.to_primitives(unit=MM):
            area = _primitive_area(primitive)
            if primitive.polarity_dark:
                dark.append(area)
            else:
                total = shapely.union_all([total, *dark]).difference(area)
                dark = []
    return shapely.union_all([total, *dark])


def flipped(geometry: BaseGeometry, height_mm: float) -> BaseGeometry:
    """Return board geometry (nm, y down) in the files' axes (mm, y up)."""
    return shapely.transform(geometry, lambda r: r * [1e-6, -1e-6] + [0, height_mm])


def difference_area(a: BaseGeometry, b: BaseGeometry) -> float:
    """Return the area (mm2) that only one of the two covers, slivers under 5 um (chords) left out."""
    return float(a.symmetric_difference(b).buffer(-0.0025).area)
