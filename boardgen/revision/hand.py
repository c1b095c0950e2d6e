"""What a person changed by hand in a run's CAD board, as entries for the next revision's design."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import shapely

from boardgen.board.geometry import loop_points, outline_polygon
from boardgen.board.model import LegendText, Outline, OutlineArc, Placement, Side
from boardgen.catalog.model import FabClass
from boardgen.errors import InputError
from boardgen.footprint.reading import Reader
from boardgen.footprint.sexpr import Node, child, children, words
from boardgen.layout.history import same_place
from boardgen.readback.cad_board import CadBoard, read_cad_board
from boardgen.readback.cad_board.footprints import is_locked
from boardgen.readback.cad_board.layers import COPPER, layer_of
from boardgen.readback.cad_board.notes import Notes
from boardgen.readback.cad_board.tree import read_tree
from boardgen.readback.from_cad import plain_net
from boardgen.revision.runs import OpenedRun
from boardgen.units import ZERO, Nm, Point

MOST_CORNERS = 500
OUTLINE_OFF = 5_000.0  # nm
ROUND = 10_000.0  # nm: how far chords of a round edge may stand off it once it is given by points
NEAR = 1_500  # nm


@dataclass(frozen=True, slots=True)
class Stand:
    """A part with its place in board axes and its nets; *hand* says that a person moved it."""

    ref: str
    place: Placement
    nets: tuple[str, ...]
    hand: bool


@dataclass(frozen=True, slots=True)
class Frame:
    """The outline: a rectangle (*size* with *radius*) or corners."""

    size: tuple[Nm, Nm] | None = None
    radius: Nm = ZERO
    corners: tuple[Point, ...] = ()
    hand: bool = False


@dataclass(frozen=True, slots=True)
class Locked:
    """A locked track."""

    net: str
    side: Side
    width: Nm
    points: tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class Printed:
    """A text that a person printed or moved."""

    text: str
    at: Point
    height: Nm
    turn: float
    side: Side


@dataclass(frozen=True, slots=True)
class Remark:
    """What is carried over, or cannot be: *reason* says why, "" for what is carried."""

    thing: str
    reason: str = ""


@dataclass(frozen=True, slots=True)
class HandWork:
    """Everything that is carried from one revision to the next, in the board axes of the next one."""

    parts: tuple[Stand, ...]
    frame: Frame | None
    holes: tuple[Point, ...]
    tracks: tuple[Locked, ...]
    texts: tuple[Printed, ...]
    remarks: tuple[Remark, ...]


def hand_work(run: OpenedRun, fab: FabClass) -> HandWork:
    """Return how the board of *run* stands now, and what of that a person did.

    Places of the record are the measure. Raises InputError for a CAD file that is no board.
    """
    path = run.path(".kicad_pcb")
    where = f"{run.where}/{path}"
    data = run.files[path]
    board = read_cad_board(data, where, fab, name=run.record.design)
    origin = board.origin
    if origin is None:
        raise InputError("the board has no auxiliary origin, so its places cannot be told", where)
    way = Point(Nm(round(run.record.origin[0])), Nm(round(run.record.origin[1]))).minus(origin)
    remarks: list[Remark] = []
    frame, corner = _frame(board, way, run.data, remarks)
    way = way.minus(corner)  # the next board has its own top left at (0, 0)
    return HandWork(
        parts=_parts(board, way, corner, run.data, remarks),
        frame=frame,
        holes=_holes(board, way, run.data),
        tracks=_tracks(read_tree(data, where, Notes()), where, way),
        texts=_texts(board, way, corner, run.data, remarks),
        remarks=tuple(remarks),
    )


def _place(row: Mapping[str, Any]) -> Placement:
    at = Point(Nm(round(float(row["x_mm"]) * 1e6)), Nm(round(float(row["y_mm"]) * 1e6)))
    return Placement(at, float(row["turn"]) % 360.0, Side(str(row["side"])))


def _parts(
    board: CadBoard, way: Point, corner: Point, data: Mapping[str, Any], remarks: list[Remark]
) -> tuple[Stand, ...]:
    rows = {str(row["ref"]): row for row in data["places"]}
    found = []
    for part in board.board.parts:
        row = rows.pop(part.ref, None)
        place = Placement(part.placement.at.plus(way), part.placement.rotation, part.placement.side)
        if row is None:
            if part.footprint.numbers():
                remarks.append(Remark(f"part {part.ref}", "it is not of the design: add it there"))
            continue
        was = _place(row)
        was = Placement(was.at.minus(corner), was.rotation, was.side)
        hand = not same_place(place, was)
        nets = tuple(str(net) for net in row["nets"])
        if nets:
            found.append(Stand(part.ref, place if hand else was, nets, hand))
        if hand and nets:
            remarks.append(Remark(f"part {part.ref}, moved from {_at(was.at)} to {_at(place.at)}"))
    for ref in sorted(rows):
        if rows[ref]["nets"]:
            remarks.append(Remark(f"part {ref}", "it was taken off the board: take it out of the design"))
    return tuple(sorted(found, key=lambda stand: stand.ref))


def _at(at: Point) -> str:
    return f"{at.x.mm:.3f}, {at.y.mm:.3f} mm"


def _holes(board: CadBoard, way: Point, data: Mapping[str, Any]) -> tuple[Point, ...]:
    rows = {str(row["ref"]) for row in data["places"] if not row["nets"]}
    places = [
        part.placement.at.plus(way)
        for part in board.board.parts
        if not part.footprint.numbers() and (part.ref in rows or part.ref.startswith("H"))
    ]
    return tuple(sorted(places, key=lambda at: (at.y, at.x)))


def _frame(
    board: CadBoard, way: Point, data: Mapping[str, Any], remarks: list[Remark]
) -> tuple[Frame | None, Point]:
    """Return the outline, and where its top left stands in the board axes of before."""
    outline = board.board.outline
    points = [at.plus(way) for at in loop_points(outline.outer, ROUND)]
    if len(points) < 3:
        remarks.append(Remark("outline", "it does not close: the one of the design holds"))
        return None, Point(Nm(0), Nm(0))
    left, top = min(at.x for at in points), min(at.y for at in points)
    size = (Nm(max(at.x for at in points) - left), Nm(max(at.y for at in points) - top))
    corner = Point(Nm(left), Nm(top)) if max(abs(left), abs(top)) > OUTLINE_OFF else Point(Nm(0), Nm(0))
    if outline.cutouts:
        remarks.append(Remark("cut-outs of the outline", "put them in the design's DXF file"))
    radius = _radius(outline, size)
    was = float(data["board"]["width_mm"]) * 1e6, float(data["board"]["height_mm"]) * 1e6
    hand = corner != Point(Nm(0), Nm(0)) or any(
        abs(float(a) - b) > OUTLINE_OFF for a, b in zip(size, was, strict=True)
    )
    if radius is not None:
        frame = Frame(size, radius, (), hand)
    else:
        ring = tuple(at.minus(corner) for at in points)
        if len(ring) > MOST_CORNERS:
            remarks.append(
                Remark("outline", f"it has more than {MOST_CORNERS} corners: give it as a DXF file")
            )
            return None, corner
        frame = Frame(None, Nm(0), ring, hand)
    if hand:
        remarks.append(Remark(f"outline, now {size[0].mm:.2f} x {size[1].mm:.2f} mm"))
    return frame, corner


def _radius(outline: Outline, size: tuple[Nm, Nm]) -> Nm | None:
    """Return the corner radius of a rectangle with equal corners (0: sharp), None for another shape."""
    arcs = [piece for piece in outline.outer if isinstance(piece, OutlineArc)]
    radius = 0.0
    if arcs:
        radii = [abs(float(arc.end.x - arc.start.x)) for arc in arcs]
        radius = radii[0]
        if len(arcs) != 4 or max(radii) - min(radii) > OUTLINE_OFF:
            return None
    area = outline_polygon(outline, 100.0)
    left, top, right, bottom = area.bounds
    inner = shapely.box(left + radius, top + radius, right - radius, bottom - radius)
    whole = inner.buffer(radius, quad_segs=64) if radius else shapely.box(left, top, right, bottom)
    if float(shapely.hausdorff_distance(whole.boundary, area.boundary)) > 2 * OUTLINE_OFF:
        return None
    return Nm(round(radius / 1000) * 1000)


def _tracks(tree: Node, where: str, way: Point) -> tuple[Locked, ...]:
    """Return the straight tracks that are locked, one entry each."""
    reader = Reader(where)
    nets = {words(net)[0]: plain_net(str(net[2])) for net in children(tree, "net") if len(net) > 2}
    found = []
    for node in children(tree, "segment"):
        side = COPPER.get(layer_of(node))
        if side is None or not is_locked(node):
            continue
        named = words(child(node, "net"))
        net = nets.get(named[0], plain_net(named[0])) if named else None
        width = reader.length(words(child(node, "width"))[0], "width")
        if net is None or net not in nets.values():
            continue
        ends = tuple(reader.point(node, name, "").plus(way) for name in ("start", "end"))
        found.append(Locked(net, side, width, ends))
    return tuple(sorted(found, key=lambda t: (t.net, t.side.value, t.points)))


def _texts(
    board: CadBoard, way: Point, corner: Point, data: Mapping[str, Any], remarks: list[Remark]
) -> tuple[Printed, ...]:
    """Return texts that the run did not print, or not there."""
    before: Counter[tuple[str, str]] = Counter()
    places: dict[tuple[str, str], list[Point]] = {}
    for row in data["legend"]:
        key = str(row["text"]), str(row["side"])
        before[key] += 1
        at = Point(Nm(round(float(row["x_mm"]) * 1e6)), Nm(round(float(row["y_mm"]) * 1e6)))
        places.setdefault(key, []).append(at.minus(corner))
    found = []
    for item in board.board.legend:
        if not isinstance(item, LegendText) or item.origin != "board":
            continue
        key = item.text, item.side.value
        at = item.at.plus(way)
        before[key] -= 1
        if any(at.distance(there) <= NEAR for there in places.get(key, ())):
            continue
        found.append(Printed(item.text, at, item.height, item.rotation, item.side))
        done = "moved" if key in places else "added"
        remarks.append(Remark(f"text {item.text!r} on the legend, {done} at {_at(at)}"))
    for (text, _side), count in sorted(before.items()):
        if count > 0:
            remarks.append(Remark(f"text {text!r} on the legend", "it was taken off, and is printed again"))
    return tuple(sorted(found, key=lambda text: (text.side.value, text.text, text.at)))
