"""The finished printing: part outlines, references, title, names beside contacts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from shapely import LineString

from boardgen.board.geometry import outline_polygon, pad_shape, part_courtyard
from boardgen.board.model import Board, LegendItem, LegendText, Part, PartKind, Side
from boardgen.catalog.model import FabClass
from boardgen.design.model import LegendWish, StrokeWish
from boardgen.footprint.model import Pad, PadKind
from boardgen.layout.labels import Label
from boardgen.layout.legend_place import MARGIN, Sheet, Wish, text_extent
from boardgen.layout.legend_room import clipped, openings_and_holes, part_printing, printable
from boardgen.layout.legend_strokes import stroke_area, strokes_in
from boardgen.layout.pour_field import geometries
from boardgen.units import Nm, Point, mm

REFERENCE_HEIGHT = mm("1.0")
TITLE_HEIGHTS = (mm("2.0"), mm("1.5"), mm("1.2"), mm("1.0"))
_STEP = 500_000.0  # nm between places tried
_LARGE = (PartKind.MODULE, PartKind.CONNECTOR)
_FAR = 6  # steps a reference may stand off its part

Bounds = tuple[float, float, float, float]
Place = tuple[float, float, float]


def _heights(fab: FabClass, wanted: Sequence[Nm]) -> tuple[Nm, ...]:
    """Return the *wanted* heights the fab can print, and its least, largest first."""
    usable = {h for h in wanted if h >= fab.legend_height_min} | {fab.legend_height_min}
    return tuple(sorted(usable, reverse=True))


def _body(part: Part) -> Bounds:
    """Return the box round the part's courtyard, else round its pads."""
    room = part_courtyard(part, part.placement.side)
    if not room.is_empty:
        left, top, right, bottom = room.bounds
        return (left, top, right, bottom)
    boxes = np.array([pad_shape(part, pad).bounds for pad in part.footprint.pads])
    if not len(boxes):
        x, y = part.placement.at
        return (float(x), float(y), float(x), float(y))
    low, high = boxes.min(axis=0), boxes.max(axis=0)
    return (float(low[0]), float(low[1]), float(high[2]), float(high[3]))


def _around(body: Bounds, extent: Bounds, turn: float) -> list[Place]:
    """Return places beside *body* for a text of *extent*, nearest first; above goes before below."""
    left, top, right, bottom = body
    up, down = top - MARGIN - extent[3], bottom + MARGIN - extent[1]
    before, behind = left - MARGIN - extent[2], right + MARGIN - extent[0]
    x, y = (left + right) / 2, (top + bottom) / 2
    ranked: list[tuple[float, int, Place]] = []
    for off in range(_FAR + 1):
        away = off * _STEP
        for along, half in (("level", (right - left) / 2), ("upright", (bottom - top) / 2)):
            count = int(half / _STEP) + 1
            for k in range(-count, count + 1):
                slide = k * _STEP
                # A step off the part costs as much as two along it.
                cost = 2 * away + abs(slide)
                if along == "level":
                    ranked.append((cost, 0, (x + slide, up - away, turn)))
                    ranked.append((cost, 1, (x + slide, down + away, turn)))
                else:
                    ranked.append((cost + _STEP, 2, (before - away, y + slide, turn)))
                    ranked.append((cost + _STEP, 3, (behind + away, y + slide, turn)))
    return [place for _, _, place in sorted(ranked)]


def _inside(body: Bounds, turn: float) -> list[Place]:
    """Return places on the part itself, from its middle outwards."""
    left, top, right, bottom = body
    x, y = (left + right) / 2, (top + bottom) / 2
    columns = np.arange(0, (right - left) / 2, 2 * _STEP)
    rows = np.arange(0, (bottom - top) / 2, 2 * _STEP)
    grid = [
        (x + sx * c, y + sy * r, turn)
        for c in columns.tolist()
        for r in rows.tolist()
        for sx in (1, -1)
        for sy in (1, -1)
    ]
    return sorted(dict.fromkeys(grid), key=lambda p: ((p[0] - x) ** 2 + (p[1] - y) ** 2, p))


def _reference(part: Part, sheet: Sheet, fab: FabClass) -> LegendText | None:
    body = _body(part)
    places: list[Place] = []
    upright: list[Place] = []
    for turn, found in ((0.0, places), (90.0, upright)):
        extent = text_extent(part.ref, REFERENCE_HEIGHT, sheet.stroke, turn, sheet.side)
        found.extend(_around(body, extent, turn))
    large = part.kind in _LARGE
    within = _inside(body, 0.0) + _inside(body, 90.0)
    ordered = (*places, *upright, *within) if not large else (*places[:64], *within, *places[64:], *upright)
    return sheet.put(Wish(part.ref, ordered, _heights(fab, (REFERENCE_HEIGHT,))))


def _beside_pad(part: Part, pad: Pad, label: Label, sheet: Sheet, fab: FabClass) -> LegendText | None:
    """Return *label* next to its pad, off the pads' own row where it can, turned if need be."""
    left, top, right, bottom = pad_shape(part, pad).bounds
    x, y = (left + right) / 2, (top + bottom) / 2
    gap = float(fab.legend_pad_gap_min + fab.mask_margin) + 20_000.0
    body = _body(part)
    room = np.array([y - body[1], body[3] - y, x - body[0], body[2] - x])
    heights = _heights(fab, (REFERENCE_HEIGHT,))
    wishes: list[Place] = []
    height = heights[-1]
    extents = {turn: text_extent(label.text, height, sheet.stroke, turn, sheet.side) for turn in (0.0, 90.0)}
    for away in range(8):
        off = gap + away * _STEP / 2
        for direction in np.argsort(room, kind="stable").tolist():
            # Along the way out of the part the text runs away from the pad.
            turn = 90.0 if direction in (0, 1) else 0.0
            e = extents[turn]
            if direction == 0:
                wishes.append((x, top - off - e[3], turn))
            elif direction == 1:
                wishes.append((x, bottom + off - e[1], turn))
            elif direction == 2:
                wishes.append((left - off - e[2], y, turn))
            else:
                wishes.append((right + off - e[0], y, turn))
    return sheet.put(Wish(label.text, tuple(wishes), (height,)))


def _title(label: Label, sheet: Sheet, board: Board, fab: FabClass) -> LegendText | None:
    left, top, right, bottom = outline_polygon(board.outline).bounds
    x, y = (left + right) / 2, (top + bottom) / 2
    xs = np.arange(left, right, 2 * _STEP).tolist()
    ys = np.arange(top, bottom, 2 * _STEP).tolist()
    # Level before upright, toward the middle of the width and the top of the board.
    grid = sorted(((a, b) for a in xs for b in ys), key=lambda p: (abs(p[0] - x) + abs(p[1] - y) / 4, p))
    places = tuple((a, b, turn) for turn in (0.0, 90.0) for a, b in grid)
    heights = _heights(fab, TITLE_HEIGHTS if label.rank == 0 else (REFERENCE_HEIGHT,))
    # Where it can still be read once the parts are fitted, else anywhere.
    bodies = tuple(_body(p) for p in board.parts if p.placement.side is sheet.side)
    seen = sheet.put(Wish(label.text, places, heights, bodies))
    return seen or sheet.put(Wish(label.text, places, heights))


def _sheet(board: Board, fab: FabClass, side: Side) -> tuple[Sheet, list[LegendItem]]:
    """Return *side* with what the parts print on it."""
    room = printable(board, fab)
    blocked = openings_and_holes(board, fab, side)
    paths = [path for part in board.parts for path in part_printing(part, fab, side)]
    lines: list[LegendItem] = list(clipped(paths, side, room, blocked))
    # Texts keep off the parts' printing as drawn, clipped or not: a CAD program prints it whole.
    inked = [LineString(points).buffer(stroke / 2, quad_segs=4) for points, stroke in paths]
    return Sheet(side, room, blocked, geometries(list(inked)), fab.legend_stroke_min), lines


def unsaid(board: Board, labels: Sequence[Label], wishes: Sequence[LegendWish]) -> list[Label]:
    """Return *labels* less those whose place *wishes* take: each the nearest that says the same.

    How near a label is, its pad tells; one of the board itself has no pad, and is near to all.
    """
    parts = {part.ref: part for part in board.parts}
    left = list(labels)
    for wish in wishes:
        same = [label for label in left if label.text == (wish.instead_of or wish.text)]
        if same:
            left.remove(min(same, key=lambda label: _way_to(parts.get(label.ref), label.pad, wish.at)))
    return left


def _way_to(part: Part | None, number: str, at: Point) -> float:
    pads = () if part is None else part.footprint.numbered(number)
    return min((part.placement.place(pad.at).distance(at) for pad in pads if part is not None), default=0.0)


def add_legend(
    board: Board,
    fab: FabClass,
    labels: Sequence[Label],
    wishes: Sequence[LegendWish] = (),
    strokes: Sequence[StrokeWish] = (),
) -> Board:
    """Return *board* with its finished printing, in place of any it had.

    ``legend`` then holds the parts' own graphics (origin "footprint", clipped off
    openings, holes and the edge) and the board's texts; ``references`` one text for
    each part that has a reference and found room. References of small parts
    come first, then the labels by rank (title first), then references of modules
    and connectors; a label that finds no room is left
    out. *wishes*, texts that a person placed, come before all others and take the
    place of labels (:func:`unsaid`); then come *strokes* that a person drew, clipped
    as the parts' graphics are. A fab that does not print gets nothing.
    """
    if not fab.legend:
        return replace(board, legend=(), references=())
    sheets: dict[Side, Sheet] = {}
    items: list[LegendItem] = []
    for side in (Side.TOP, Side.BOTTOM):
        sheets[side], lines = _sheet(board, fab, side)
        items.extend(lines)
    top = sheets[Side.TOP]
    texts: list[LegendText | None] = []
    named: list[tuple[str, LegendText | None]] = []
    done: list[LegendWish] = []
    for wish in wishes:
        place = ((float(wish.at.x), float(wish.at.y), wish.rotation),)
        text = sheets[wish.side].put(Wish(wish.text, place, (wish.height,))) if wish.text else None
        texts.append(text)
        if text is not None or not wish.text:
            done.append(wish)
    labels = unsaid(board, labels, done)
    for stroke in strokes:
        sheet = sheets[stroke.side]
        items.extend(strokes_in(stroke, fab, sheet.room, sheet.blocked))
    for side in Side:
        sheets[side].keep_off([stroke_area(stroke, fab) for stroke in strokes if stroke.side is side])
    # Small parts are the hardest to serve: their references come first.
    waiting = [part for part in board.parts if part.kind is not PartKind.HOLE]
    sized = sorted(waiting, key=lambda p: (_area(_body(p)), p.ref))
    small = [part for part in sized if part.kind not in _LARGE]
    parts = {part.ref: part for part in board.parts}
    for part in small:
        named.append((part.ref, _reference(part, sheets[part.placement.side], fab)))
    for label in sorted(labels, key=lambda one: one.rank):
        if not label.ref:
            texts.append(_title(label, top, board, fab) or _title(label, sheets[Side.BOTTOM], board, fab))
        elif label.ref in parts:
            texts.append(_contact_name(parts[label.ref], label, sheets, fab))
    for part in sized:
        if part.kind in _LARGE:
            named.append((part.ref, _reference(part, sheets[part.placement.side], fab)))
    items.extend(text for text in texts if text is not None)
    order = {part.ref: i for i, part in enumerate(board.parts)}
    found = [(ref, text) for ref, text in named if text is not None]
    found.sort(key=lambda pair: order[pair[0]])
    return replace(board, legend=tuple(items), references=tuple(found))


def _contact_name(part: Part, label: Label, sheets: dict[Side, Sheet], fab: FabClass) -> LegendText | None:
    """Return *label* beside its pad on the part's side, else on the other where the pad shows there."""
    for pad in part.footprint.numbered(label.pad)[:1]:
        near = part.placement.side
        sides = (near, near.other) if pad.kind is PadKind.PLATED else (near,)
        for side in sides:
            text = _beside_pad(part, pad, label, sheets[side], fab)
            if text is not None:
                return text
    return None


def _area(body: Bounds) -> float:
    return (body[2] - body[0]) * (body[3] - body[1])


__all__ = ["Label", "add_legend"]
