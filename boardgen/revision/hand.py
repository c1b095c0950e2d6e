"""What a person changed by hand in a run's CAD board, as entries for the next revision's design."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import shapely
from shapely import Polygon

from boardgen.board.geometry import loop_points
from boardgen.board.model import Keepout, LegendText, Outline, OutlineArc, Placement, Via
from boardgen.catalog.model import FabClass
from boardgen.design.model import Design, LegendWish, PlacedPart, StrokeWish
from boardgen.errors import InputError
from boardgen.layout.held import matched
from boardgen.layout.history import same_place
from boardgen.layout.labels import PINS, REVISION
from boardgen.readback.cad_board import CadBoard, read_cad_board
from boardgen.readback.cad_board.notes import Notes
from boardgen.readback.cad_board.tree import read_tree
from boardgen.revision.areas import kept_free, tell_pours
from boardgen.revision.beyond import tell_drawings, tell_parts, tell_sheet, tell_unlocked, tell_unread
from boardgen.revision.drawn import Ways, drawn_strokes
from boardgen.revision.lettering import place_of, printed_texts, tell_references, words_of
from boardgen.revision.locked import Locked, locked_tracks, locked_vias
from boardgen.revision.mounting import Hole, hole_of, standing_holes
from boardgen.revision.remark import Remark, at_words
from boardgen.revision.runs import OpenedRun
from boardgen.units import ZERO, Nm, Point

MOST_CORNERS = 500
OUTLINE_OFF = 5_000.0  # nm
ROUND = 10_000.0  # nm: how far chords of a round edge may stand off it once it is given by points


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
class HandWork:
    """Everything that is carried from one revision to the next, in the board axes of the next one."""

    parts: tuple[Stand, ...]
    frame: Frame | None
    holes: tuple[Hole, ...]
    tracks: tuple[Locked, ...]
    texts: tuple[LegendWish, ...]
    remarks: tuple[Remark, ...]
    vias: tuple[Via, ...] = ()
    strokes: tuple[StrokeWish, ...] = ()
    keepouts: tuple[Keepout, ...] = ()


def hand_work(run: OpenedRun, fab: FabClass, design: Design | None = None) -> HandWork:
    """Return how the board of *run* stands now, and what of that a person did.

    Places of the record are the measure. What *design*, from which the run was made, has by hand already
    stays so, where the board still has it. Raises InputError for a CAD file that is no board.
    """
    path = run.path(".kicad_pcb")
    where = f"{run.where}/{path}"
    data = run.files[path]
    board = read_cad_board(data, where, fab, name=run.record.design)
    if board.origin is None:
        raise InputError("the board has no auxiliary origin, so its places cannot be told", where)
    sheet = Point(Nm(round(run.record.origin[0])), Nm(round(run.record.origin[1]))).minus(board.origin)
    remarks: list[Remark] = []
    tree = read_tree(data, where, Notes())
    tell_references(board.board, run.data, remarks)
    frame, corner = _frame(board, sheet, run.data, remarks)
    way = sheet.minus(corner)  # the next board has its own top left at (0, 0)
    ways = Ways(sheet, corner)
    parts = _parts(board, way, corner, run.data, design.placed if design is not None else (), remarks)
    holes = standing_holes(board.board, way, corner, run.data, remarks)
    tracks, vias = locked_tracks(tree, where, way, remarks), locked_vias(tree, where, way, remarks)
    texts = _texts(board, way, corner, run, design, remarks)
    drawn = (design.strokes if design is not None else (), run.data)
    strokes = drawn_strokes(tree, ways, fab, drawn, remarks)
    free = kept_free(board.board, ways, design.keepouts if design is not None else (), run.data, remarks)
    tell_pours(board.board, sheet, run.data, remarks)
    tell_unlocked(board.board, way, corner, (tracks, vias), run.data, remarks)
    tell_parts(board.board, run.data, remarks)
    tell_drawings(tree, remarks)
    tell_sheet(tree, run.data, remarks)
    tell_unread(board.findings, remarks)
    return HandWork(parts, frame, holes, tracks, texts, tuple(remarks), vias, strokes, free)


def _texts(
    board: CadBoard,
    way: Point,
    corner: Point,
    run: OpenedRun,
    design: Design | None,
    remarks: list[Remark],
) -> tuple[LegendWish, ...]:
    items = [
        replace(item, at=item.at.plus(way))
        for item in board.board.legend
        if isinstance(item, LegendText) and item.origin == "board"
    ]
    words = words_of(run.record.design, run.record.revision, run.name.pin_map)

    def said(text: str) -> str:
        return text.replace(REVISION, run.record.revision).replace(PINS, run.name.pin_map)

    earlier = (design.legend if design is not None else (), said)
    return printed_texts(items, run.data, words, earlier, corner, remarks)


def _parts(
    board: CadBoard,
    way: Point,
    corner: Point,
    data: Mapping[str, Any],
    put: Sequence[PlacedPart],
    remarks: list[Remark],
) -> tuple[Stand, ...]:
    rows = {str(row["ref"]): row for row in data["places"]}
    by_hand = matched(put, {ref: frozenset(map(str, row["nets"])) for ref, row in rows.items()})
    found = []
    for part in board.board.parts:
        row = rows.pop(part.ref, None)
        place = Placement(part.placement.at.plus(way), part.placement.rotation, part.placement.side)
        if row is None:
            if hole_of(part) is None:
                remarks.append(Remark(f"part {part.ref}", "it is not of the design: add it there"))
            continue
        stood = place_of(row)
        was = Placement(stood.at.minus(corner), stood.rotation, stood.side)
        moved = not same_place(place, was)
        nets = tuple(str(net) for net in row["nets"])
        wish = by_hand.get(part.ref)
        hand = moved or (wish is not None and same_place(stood, wish.placement))
        if nets:
            found.append(Stand(part.ref, place if moved else was, nets, hand))
        if moved and nets:
            remarks.append(Remark(f"part {part.ref}, moved from {at_words(was.at)} to {at_words(place.at)}"))
    for ref in sorted(rows):
        if rows[ref]["nets"]:
            remarks.append(Remark(f"part {ref}", "it was taken off the board: take it out of the design"))
    return tuple(sorted(found, key=lambda stand: stand.ref))


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
        tuple(at.plus(way).minus(corner) for at in points)
        for points in (loop_points(loop, ROUND) for loop in outline.cutouts)
        if len(points) >= 3
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
    area = Polygon(loop_points(outline.outer, 100.0))
    left, top, right, bottom = area.bounds
    inner = shapely.box(left + radius, top + radius, right - radius, bottom - radius)
    whole = inner.buffer(radius, quad_segs=64) if radius else shapely.box(left, top, right, bottom)
    if float(shapely.hausdorff_distance(whole.boundary, area.boundary)) > 2 * OUTLINE_OFF:
        return None
    return Nm(round(radius / 1000) * 1000)
