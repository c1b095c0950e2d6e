"""What a person changed by hand in a run's CAD board, as entries for the next revision's design."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import shapely
from shapely import Polygon

from boardgen.board.geometry import loop_points, outline_polygon
from boardgen.board.model import LegendText, Outline, OutlineArc, Part, Placement, Side, Via
from boardgen.catalog.model import FabClass
from boardgen.errors import InputError
from boardgen.layout.history import same_place
from boardgen.readback.cad_board import CadBoard, read_cad_board
from boardgen.readback.cad_board.notes import Notes
from boardgen.readback.cad_board.tree import read_tree
from boardgen.revision.locked import Locked, locked_tracks, locked_vias
from boardgen.revision.remark import Remark
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
    cutouts: tuple[tuple[Point, ...], ...] = ()


@dataclass(frozen=True, slots=True)
class Printed:
    """A text that a person printed or moved."""

    text: str
    at: Point
    height: Nm
    turn: float
    side: Side


@dataclass(frozen=True, slots=True)
class HandWork:
    """Everything that is carried from one revision to the next, in the board axes of the next one."""

    parts: tuple[Stand, ...]
    frame: Frame | None
    holes: tuple[Point, ...]
    tracks: tuple[Locked, ...]
    texts: tuple[Printed, ...]
    remarks: tuple[Remark, ...]
    vias: tuple[Via, ...] = ()


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
    tree = read_tree(data, where, Notes())
    _references(board, run.data, remarks)
    frame, corner = _frame(board, way, run.data, remarks)
    way = way.minus(corner)  # the next board has its own top left at (0, 0)
    return HandWork(
        parts=_parts(board, way, corner, run.data, remarks),
        frame=frame,
        holes=_holes(board, way, corner, run.data, remarks),
        tracks=locked_tracks(tree, where, way, remarks),
        vias=locked_vias(tree, where, way, remarks),
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


def _holes(
    board: CadBoard, way: Point, corner: Point, data: Mapping[str, Any], remarks: list[Remark]
) -> tuple[Point, ...]:
    before = [
        _place(row).at.minus(corner)
        for row in data["places"]
        if not row["nets"] and str(row["ref"]).startswith("H")
    ]
    places = [
        part.placement.at.plus(way)
        for part in board.board.parts
        if not part.footprint.numbers() and part.ref.startswith("H")
    ]
    new = [at for at in places if all(at.distance(was) > NEAR for was in before)]
    gone = [was for was in before if all(at.distance(was) > NEAR for at in places)]
    remarks += [Remark(f"mounting hole, now at {_at(at)}") for at in sorted(new)]
    remarks += [Remark(f"mounting hole taken from {_at(was)}") for was in sorted(gone)]
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
    radius = _radius(outline, size)
    was = float(data["board"]["width_mm"]) * 1e6, float(data["board"]["height_mm"]) * 1e6
    hand = corner != Point(Nm(0), Nm(0)) or any(
        abs(float(a) - b) > OUTLINE_OFF for a, b in zip(size, was, strict=True)
    )
    cutouts, cut_hand = _cutouts(outline, way, corner, data, remarks)
    hand = hand or cut_hand
    if radius is not None:
        frame = Frame(size, radius, (), hand, cutouts)
    else:
        ring = tuple(at.minus(corner) for at in points)
        if len(ring) > MOST_CORNERS:
            remarks.append(
                Remark("outline", f"it has more than {MOST_CORNERS} corners: give it as a DXF file")
            )
            return None, corner
        frame = Frame(None, Nm(0), ring, hand, cutouts)
    if hand:
        remarks.append(Remark(f"outline, now {size[0].mm:.2f} x {size[1].mm:.2f} mm"))
    return frame, corner


def _cutouts(
    outline: Outline, way: Point, corner: Point, data: Mapping[str, Any], remarks: list[Remark]
) -> tuple[tuple[tuple[Point, ...], ...], bool]:
    """Return the cut-outs by their corners, and whether a person changed how many there are or their area."""
    rings = tuple(
        tuple(at.plus(way).minus(corner) for at in loop_points(loop, ROUND)) for loop in outline.cutouts
    )
    was = float(data["board"].get("cutouts_mm2", 0.0))
    area = sum(float(Polygon(ring).area) for ring in rings) / 1e12
    hand = abs(area - was) > 0.05 + 0.01 * was
    if any(len(ring) > MOST_CORNERS for ring in rings):
        remarks.append(
            Remark("cut-outs of the outline", f"more than {MOST_CORNERS} corners: give a DXF file")
        )
        return (), False
    if hand:
        size = f"{len(rings)} now, {area:.2f} mm2 in all"
        remarks.append(Remark(f"cut-outs of the outline, {size}, round edges within {ROUND / 1e6:.2f} mm"))
    return rings, hand


def _radius(outline: Outline, size: tuple[Nm, Nm]) -> Nm | None:
    """Return the corner radius of a rectangle with equal corners (0: sharp), None for another shape."""
    arcs = [piece for piece in outline.outer if isinstance(piece, OutlineArc)]
    radius = 0.0
    if arcs:
        radii = [abs(float(arc.end.x - arc.start.x)) for arc in arcs]
        radius = radii[0]
        if len(arcs) != 4 or max(radii) - min(radii) > OUTLINE_OFF:
            return None
    area = Polygon(outline_polygon(outline, 100.0).exterior)
    left, top, right, bottom = area.bounds
    inner = shapely.box(left + radius, top + radius, right - radius, bottom - radius)
    whole = inner.buffer(radius, quad_segs=64) if radius else shapely.box(left, top, right, bottom)
    if float(shapely.hausdorff_distance(whole.boundary, area.boundary)) > 2 * OUTLINE_OFF:
        return None
    return Nm(round(radius / 1000) * 1000)


def _references(board: CadBoard, data: Mapping[str, Any], remarks: list[Remark]) -> None:
    """Tell of reference texts that no longer stand where they stood from their parts."""
    rows = {str(row["ref"]): row for row in data.get("references", ())}
    now = dict(board.board.references)
    for part in board.board.parts:
        row = rows.get(part.ref)
        if row is None:
            continue
        thing = f"reference text of {part.ref}"
        why = "references are printed anew where there is room on each board"
        text = now.get(part.ref)
        if text is None:
            remarks.append(Remark(f"{thing}, taken off", why))
            continue
        off = text.at.minus(part.placement.at)
        turned = any(r["ref"] == part.ref and _turned(part, r) for r in data["places"])
        if not turned and max(abs(off.x.mm - row["dx_mm"]), abs(off.y.mm - row["dy_mm"])) > NEAR / 1e6:
            remarks.append(Remark(f"{thing}, moved", why))


def _turned(part: Part, row: Mapping[str, Any]) -> bool:
    """Whether the part was turned or changed sides, and its reference with it."""
    was = _place(row)
    return was.side is not part.placement.side or abs(was.rotation - part.placement.rotation) % 360 > 0.01


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
