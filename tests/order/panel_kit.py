"""Boards made by hand for panels: a box with holes, a net, printing, parts that hang over chosen sides."""

from __future__ import annotations

from dataclasses import replace

import shapely
from shapely.affinity import translate

from boardgen.board.model import (
    Board,
    LegendText,
    Net,
    NetClass,
    Part,
    PartKind,
    Placement,
    Side,
    Track,
    rectangle_outline,
)
from boardgen.catalog.load import load_catalog
from boardgen.catalog.model import FabClass
from boardgen.footprint.model import Footprint, Line, Pad, PadKind, PadShape, PartLayer
from boardgen.order.panel.edges import Unit, Way, unit_of
from boardgen.order.panel.shape import board_area
from boardgen.units import ZERO, Box, Size, mm, point_mm


def economy() -> FabClass:
    return load_catalog().fab("economy-2l")


def two_pads() -> Footprint:
    size, hole = Size(mm("1.8"), mm("1.8")), Size(mm("0.9"), mm("0.9"))
    pads = tuple(
        Pad(str(n), PadKind.PLATED, PadShape.CIRCLE, point_mm(5 * (n - 1), 0), size, hole) for n in (1, 2)
    )
    return Footprint("two-pads", pads)


def overhanging(length_mm: float, width_mm: float) -> Footprint:
    """A body from 2 mm inside the place it stands at to *length_mm* beyond it, towards +y."""
    x0, x1, y0, y1 = -width_mm / 2, width_mm / 2, -2.0, length_mm
    corners = [point_mm(x, y) for x, y in ((x0, y0), (x1, y0), (x1, y1), (x0, y1))]
    lines = tuple(
        Line(PartLayer.DRAWING, a, b, mm("0.1"))
        for a, b in zip(corners, corners[1:] + corners[:1], strict=True)
    )
    return Footprint("overhanging", (), lines)


def plain_board(
    width_mm: float, height_mm: float, radius_mm: float = 0.0, over: dict[Way, float] | None = None
) -> Board:
    """A board of that size; *over* says by how many mm a 4 mm wide body hangs over which side."""
    screw = Size(mm(2), mm(2))
    hole = Footprint("screw", (Pad("", PadKind.UNPLATED, PadShape.CIRCLE, point_mm(0, 0), screw, screw),))
    middle = point_mm(width_mm / 2, height_mm / 2)
    parts = [
        Part("H1", "hole", hole, Placement(point_mm(3, 3)), PartKind.HOLE),
        Part(
            "R1", "1k", two_pads(), Placement(middle.minus(point_mm(2.5, 0))), nets=(("1", "A"), ("2", "A"))
        ),
    ]
    spots = {
        Way.BOTTOM: (point_mm(width_mm / 2, height_mm), 0.0),
        Way.TOP: (point_mm(width_mm / 2, 0), 180.0),
        Way.RIGHT: (point_mm(width_mm, height_mm / 2), 90.0),
        Way.LEFT: (point_mm(0, height_mm / 2), 270.0),
    }
    for number, (way, beyond) in enumerate(sorted((over or {}).items()), 1):
        at, turn = spots[way]
        parts.append(
            Part(f"X{number}", "body", overhanging(beyond, 4.0), Placement(at, turn), PartKind.CONNECTOR)
        )
    return Board(
        name="plain",
        revision="A",
        title="A plain board",
        outline=rectangle_outline(Box(ZERO, ZERO, mm(width_mm), mm(height_mm)), mm(radius_mm)),
        parts=tuple(parts),
        nets=(Net("A"),),
        classes=(NetClass("signal", mm("0.25"), mm("0.2")),),
        tracks=(
            Track("A", Side.TOP, middle.minus(point_mm(2.5, 0)), middle.plus(point_mm(2.5, 0)), mm("0.25")),
        ),
        legend=(LegendText(Side.TOP, "R1", middle.plus(point_mm(0, 3)), mm(1), mm("0.15")),),
    )


def plain_unit(*args: object, **kwargs: object) -> Unit:
    return unit_of(plain_board(*args, **kwargs))  # type: ignore[arg-type]


def copies_of(unit: Unit, grid) -> list[shapely.Polygon]:
    """Return where the boards stand, worked out from the grid alone."""
    one = board_area(unit.board.outline)
    areas = []
    for row, column, turn in grid.cells():
        x, y = grid.place(row, column)
        turned = shapely.affinity.rotate(one, turn, origin=(unit.width / 2, unit.height / 2))
        areas.append(translate(turned, x, y))
    return areas


def with_panel(fab: FabClass, **changes: object) -> FabClass:
    assert fab.panel is not None
    return replace(fab, panel=replace(fab.panel, **changes))  # type: ignore[arg-type]
