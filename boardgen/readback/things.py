"""Rules ``readback-pad``, ``readback-copper``, ``readback-layer``: what is drawn against what is wanted."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from shapely import Point as ShapelyPoint

from boardgen.board.geometry import Shape
from boardgen.board.model import Side
from boardgen.errors import Finding, Severity
from boardgen.readback.match import XY, Difference, difference, pairs_by_place
from boardgen.readback.model import FabLayer, Kind, Role, Stroke, Wanted
from boardgen.units import Point, format_mm, nm

LIMIT = 20  # findings of one kind and file told one by one; the rest as a number


def spot(at: XY) -> Point:
    """Return a place in whole nm."""
    return Point(nm(at[0]), nm(at[1]))


def limited(found: list[Finding]) -> list[Finding]:
    """Return the first of *found*, and one more that counts the rest."""
    if len(found) <= LIMIT:
        return found
    first = found[0]
    words = f"and {len(found) - LIMIT} more like it in {first.items[-1]}"
    rest = Finding(first.rule, first.severity, words, None, first.layer, (first.items[-1],))
    return [*found[:LIMIT], rest]


def _flash_words(layer: FabLayer, name: str, apart: Difference) -> str:
    return f"{layer.path}: {name} {apart.words} on the {layer.name}"


def check_flashes(
    layer: FabLayer, wanted: Sequence[tuple[str, XY, Shape | None, float]], source: str
) -> tuple[list[Finding], int]:
    """Compare the flashes of *layer* with *wanted* (name, place, shape, grown by), one to one.

    Returns the findings and how many agree.
    """
    flashes = [thing for thing in layer.things if thing.kind is Kind.FLASH]
    pairs, missing, extra = pairs_by_place([item[1] for item in wanted], [thing.start for thing in flashes])
    found: list[Finding] = []
    agreed = 0
    for i, j in pairs:
        name, at, shape, grown = wanted[i]
        if shape is None:
            agreed += 1
            continue
        apart = difference([Shape(shape.skeleton, shape.radius + grown)], flashes[j].parts)
        if apart is None:
            agreed += 1
            continue
        words = _flash_words(layer, name, apart)
        found.append(_pad(words, at, layer, name, apart.moved))
    for i in missing:
        name, at, _shape, _grown = wanted[i]
        words = f"{layer.path}: {name} of the {source} is not on the {layer.name}"
        found.append(_pad(words, at, layer, name))
    for j in extra:
        at = flashes[j].start
        words = f"{layer.path}: a flash on the {layer.name} that belongs to no pad of the {source}"
        found.append(_pad(words, at, layer, "flash"))
    return limited(found), agreed


def _pad(message: str, at: XY, layer: FabLayer, name: str, measured: float | None = None) -> Finding:
    off = None if measured is None else nm(measured)
    items = (name, layer.path)
    return Finding("readback-pad", Severity.ERROR, message, spot(at), layer.name, items, off)


StrokeKey = tuple[XY, XY, int, bool]  # both ends, width, whether it is bent


def _stroke_key(start: XY, end: XY, width: float, bent: bool = False) -> StrokeKey:
    a, b = (round(start[0]), round(start[1])), (round(end[0]), round(end[1]))
    return (min(a, b), max(a, b), round(width), bent)


def _strokes_of(layer: FabLayer) -> Counter[StrokeKey]:
    return Counter(
        _stroke_key(t.start, t.end, t.width, len(t.parts[0].skeleton.coords) > 2)
        for t in layer.things
        if t.kind is Kind.STROKE
    )


def _kept_strokes(strokes: Sequence[Stroke], side: Side | None) -> dict[StrokeKey, list[Stroke]]:
    kept: dict[StrokeKey, list[Stroke]] = {}
    for stroke in strokes:
        if stroke.side is side:
            kept.setdefault(_stroke_key(stroke.start, stroke.end, stroke.width), []).append(stroke)
    return kept


def check_strokes(
    layer: FabLayer, strokes: Sequence[Stroke], source: str, rule: str, what: str
) -> tuple[list[Finding], int]:
    """Compare the strokes of *layer* with the wanted *strokes* of its side, as multisets.

    Returns the findings, of *rule*, and how many agree. A wanted stroke found with another width is said so.
    """
    kept = _kept_strokes(strokes, layer.side)
    there = _strokes_of(layer)
    lost = Counter({key: len(items) for key, items in kept.items()}) - there
    over = there - Counter({key: len(items) for key, items in kept.items()})
    agreed = sum(there.values()) - sum(over.values())
    found: list[Finding] = []
    for key in sorted(lost):
        stroke = kept[key][0]
        of = f" of {stroke.net}" if stroke.net else ""
        twin = next((other for other in sorted(over) if other[:2] == key[:2]), None)
        at = ((key[0][0] + key[1][0]) / 2, (key[0][1] + key[1][1]) / 2)
        if twin is not None and twin[3]:
            over -= Counter([twin])
            words = f"{layer.path}: the {what}{of} on the {layer.name} is bent, not straight"
        elif twin is not None:
            over -= Counter([twin])
            widths = f"{format_mm(twin[2])} mm wide, not {format_mm(key[2])} mm"
            words = f"{layer.path}: the {what}{of} on the {layer.name} is {widths}"
        else:
            words = f"{layer.path}: a {what}{of} of the {source} is missing on the {layer.name}"
        found.append(_drawn(rule, words, at, layer, f"{what}{of}"))
    for key in sorted(over):
        at = ((key[0][0] + key[1][0]) / 2, (key[0][1] + key[1][1]) / 2)
        words = f"{layer.path}: a {what} on the {layer.name} that the {source} has not"
        found.append(_drawn(rule, words, at, layer, what))
    return limited(found), agreed


def _drawn(rule: str, message: str, at: XY | None, layer: FabLayer, item: str) -> Finding:
    place = None if at is None else spot(at)
    return Finding(rule, Severity.ERROR, message, place, layer.name, (item, layer.path))


_DRAWN = {Kind.FLASH: "flash", Kind.STROKE: "drawn line", Kind.AREA: "filled area"}
_KINDS = {
    Role.COPPER: (Kind.FLASH, Kind.STROKE, Kind.AREA),
    Role.MASK: (Kind.FLASH,),
    Role.PASTE: (Kind.FLASH,),
    Role.LEGEND: (Kind.STROKE,),
    Role.PROFILE: (Kind.STROKE,),
    Role.SCORE: (Kind.STROKE,),
}


def check_kinds(layer: FabLayer) -> list[Finding]:
    """Return what is drawn as nothing on such a layer is: openings are flashed, printing is stroked."""
    found = []
    for thing in layer.things:
        if thing.kind not in _KINDS[layer.role]:
            inside = thing.parts[0].skeleton.representative_point()
            what = _DRAWN[thing.kind]
            message = f"{layer.path}: a {what} on the {layer.name}, where none belongs"
            found.append(_drawn("readback-layer", message, (inside.x, inside.y), layer, what))
    return limited(found)


def wanted_copper(wanted: Wanted, side: Side) -> list[tuple[str, XY, Shape | None, float]]:
    """Return the flashes that *wanted* has on the copper of *side*: pads and vias."""
    rows: list[tuple[str, XY, Shape | None, float]] = [
        (pad.name, pad.at, pad.shape, 0.0) for pad in wanted.pads if side in pad.sides
    ]
    return rows + [(f"via of {via.net}", via.at, via_shape(via.at, via.diameter), 0.0) for via in wanted.vias]


def via_shape(at: XY, diameter: float) -> Shape:
    """Return the copper of a via."""
    return Shape(ShapelyPoint(at), diameter / 2)


def wanted_mask(wanted: Wanted, side: Side) -> list[tuple[str, XY, Shape | None, float]]:
    """Return the openings that *wanted* has in the mask of *side*: pads and bare holes, grown."""
    margin = wanted.mask_margin or 0.0
    rows: list[tuple[str, XY, Shape | None, float]] = [
        (pad.name, pad.at, pad.shape, margin if pad.mask_margin is None else pad.mask_margin)
        for pad in wanted.pads
        if side in pad.sides
    ]
    for name, hole in wanted.bare or ():
        left, top, right, bottom = hole.bounds
        rows.append((name, ((left + right) / 2, (top + bottom) / 2), hole, margin))
    return rows


def wanted_paste(wanted: Wanted, side: Side) -> list[tuple[str, XY, Shape | None, float]]:
    """Return the paste openings that *wanted* has on *side*: pads without a hole."""
    return [
        (p.name, p.at, p.shape, 0.0) for p in wanted.pads if side in p.sides and p.hole is None and p.paste
    ]


def expected_layers(wanted: Wanted) -> list[tuple[Role, Side | None]]:
    """Return every layer that the board needs, as far as *wanted* tells."""
    rows: list[tuple[Role, Side | None]] = [(Role.PROFILE, None)]
    for side in wanted.copper:
        rows += [(Role.COPPER, side), (Role.MASK, side)]
        if wanted_paste(wanted, side):
            rows.append((Role.PASTE, side))
    if wanted.legend is not None:
        rows += [(Role.LEGEND, side) for side in Side if any(s.side is side for s in wanted.legend)]
    if wanted.scores:
        rows.append((Role.SCORE, None))
    return rows
