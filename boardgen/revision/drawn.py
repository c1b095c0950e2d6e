"""What a person drew on the legend of a CAD board: lines, arcs, rectangles, circles and polygons."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from shapely import Polygon

from boardgen.board.model import Placement
from boardgen.catalog.model import FabClass
from boardgen.design.model import StrokeWish
from boardgen.export.standing_data import stroke_digest
from boardgen.footprint.model import Circle, Line
from boardgen.footprint.model import Polygon as DrawnPolygon
from boardgen.footprint.reading import Reader
from boardgen.footprint.sexpr import Node, head
from boardgen.layout.legend_room import graphic_paths
from boardgen.readback.cad_board.layers import LEGEND, layer_of
from boardgen.readback.cad_board.notes import Notes
from boardgen.readback.cad_board.printing import read_graphic
from boardgen.revision.remark import Remark, at_words
from boardgen.units import ORIGIN, Nm, Point

MOST_POINTS = 500  # of one stroke in a design
MOST_STROKES = 400
WIDEST = 20_000_000  # nm


@dataclass(frozen=True, slots=True)
class Ways:
    """The way from the sheet to the board axes of the record, and the next board's top left in these."""

    way: Point
    corner: Point


def drawn_strokes(
    tree: Node,
    ways: Ways,
    fab: FabClass,
    earlier: tuple[Sequence[StrokeWish], Mapping[str, Any]],
    remarks: list[Remark],
) -> tuple[StrokeWish, ...]:
    """Return what the next design has drawn on the legend; what a person did is told in *remarks*.

    *earlier* are the strokes of the design, with the record that tells what of them the run printed. What of
    these nobody touched stays as it was; of one that was changed, what is left counts as drawn by hand.
    """
    wishes, data = earlier
    read = _read(tree, ways.way, fab.legend_stroke_min, remarks)
    there = Counter(_digest(item) for item in read if len(item.points) == 2)
    found = []
    for wish, row in zip(wishes, data.get("standing", {}).get("strokes", ()), strict=False):
        pieces = Counter(str(row).split())
        if pieces - there:
            remarks.append(Remark(f"{_thing(wish, ways)}, changed or taken off"))
            continue
        there -= pieces
        found.append(replace(wish, points=tuple(at.minus(ways.corner) for at in wish.points), line=None))
    left = []
    for item in read:
        if len(item.points) == 2:
            digest = _digest(item)
            if not there[digest]:
                continue  # a piece of an earlier stroke
            there[digest] -= 1
        left.append(item)
    for item in _chained(left):
        thing = _thing(item, ways)
        if len(item.points) > MOST_POINTS:
            why = f"it has more than {MOST_POINTS} points: draw it in pieces"
            remarks.append(Remark(thing, why))
        elif item.width > WIDEST or (item.filled and not _encloses(item.points)):
            why = (
                f"its pen is wider than {WIDEST / 1e6:g} mm"
                if item.width > WIDEST
                else "its rim crosses itself"
            )
            remarks.append(Remark(thing, f"{why}: draw it otherwise"))
        elif len(found) >= MOST_STROKES:
            remarks.append(Remark(thing, f"a design takes {MOST_STROKES} strokes: draw fewer, longer ones"))
        else:
            remarks.append(Remark(thing))
            found.append(replace(item, points=tuple(at.minus(ways.corner) for at in item.points)))
    return tuple(found)


def _thing(item: StrokeWish, ways: Ways) -> str:
    what = "area" if item.filled else "line"
    return f"{what} on the {item.side.value} legend at {at_words(item.points[0].minus(ways.corner))}"


def _encloses(points: Sequence[Point]) -> bool:
    ring = points[:-1] if points[0] == points[-1] else points
    return len(ring) > 2 and bool((area := Polygon(ring)).is_valid) and area.area > 1e6


def _digest(item: StrokeWish) -> str:
    return stroke_digest(item.side, item.width, item.points[0], item.points[-1])


def _read(tree: Node, way: Point, pen: Nm, remarks: list[Remark]) -> list[StrokeWish]:
    """Return every graphic of the legend layers in order, in the axes of the record."""
    reader = Reader("")
    found = []
    for node in tree:
        if not isinstance(node, list) or not head(node).startswith("gr_") or head(node) == "gr_text":
            continue
        side = LEGEND.get(layer_of(node))
        if side is None:
            continue
        drawn = read_graphic(reader, node, Notes())  # the board's own reading notes what cannot be read
        if drawn is None or not hasattr(drawn, "width"):
            continue
        filled = isinstance(drawn, Circle | DrawnPolygon) and drawn.filled
        bare = replace(drawn, filled=False) if isinstance(drawn, Circle | DrawnPolygon) else drawn
        width = drawn.width if drawn.width > 0 else pen
        if isinstance(drawn, Line) and drawn.start == drawn.end:
            points: tuple[Point, ...] = (drawn.start, drawn.end)
        else:
            points = graphic_paths(bare, width, Placement(ORIGIN))[0]
        found.append(StrokeWish(side, width, tuple(at.plus(way) for at in points), filled))
    return found


def _chained(items: Sequence[StrokeWish]) -> list[StrokeWish]:
    """Return *items* with straight lines joined that follow each other end to start."""
    found: list[StrokeWish] = []
    for item in items:
        last = found[-1] if found else None
        if (
            last is not None
            and len(item.points) == 2
            and not (item.filled or last.filled)
            and (item.side, item.width, item.points[0]) == (last.side, last.width, last.points[-1])
            and last.points[0] != last.points[-1]
            and len(last.points) < MOST_POINTS
        ):
            found[-1] = replace(last, points=(*last.points, item.points[1]))
        else:
            found.append(item)
    return found
