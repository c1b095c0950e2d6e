"""Read ``.kicad_mod`` files, ours and those of part makers and CAD libraries.

What the model cannot hold is never passed over in silence: copper that would
come out wrong is an error that names the pad; a drawing that is left out is
named in ``Footprint.warnings``.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable

from boardgen.errors import InputError
from boardgen.footprint import sexpr
from boardgen.footprint.model import (
    Arc,
    Circle,
    Face,
    Footprint,
    Graphic,
    Line,
    Pad,
    PadKind,
    PadShape,
    PartLayer,
    Polygon,
    Text,
)
from boardgen.footprint.sexpr import Node, child, children, head, to_degrees, to_length, words
from boardgen.units import ORIGIN, ZERO, Nm, Point, Size, mm, nm

MAX_PADS = 5000
MAX_GRAPHICS = 50_000
_LAYERS: dict[str, tuple[PartLayer, Face]] = {
    "F.SilkS": (PartLayer.LEGEND, Face.NEAR),
    "F.Silkscreen": (PartLayer.LEGEND, Face.NEAR),
    "B.SilkS": (PartLayer.LEGEND, Face.FAR),
    "B.Silkscreen": (PartLayer.LEGEND, Face.FAR),
    "F.Fab": (PartLayer.DRAWING, Face.NEAR),
    "B.Fab": (PartLayer.DRAWING, Face.FAR),
    "F.CrtYd": (PartLayer.COURTYARD, Face.NEAR),
    "F.Courtyard": (PartLayer.COURTYARD, Face.NEAR),
    "B.CrtYd": (PartLayer.COURTYARD, Face.FAR),
    "B.Courtyard": (PartLayer.COURTYARD, Face.FAR),
}
_KINDS = {
    "thru_hole": PadKind.PLATED,
    "np_thru_hole": PadKind.UNPLATED,
    "smd": PadKind.SURFACE,
    "connect": PadKind.SURFACE,
}
_SHAPES = {shape.value: shape for shape in PadShape}
_NOTES = ("Dwgs.User", "Cmts.User", "Eco1.User", "Eco2.User")  # remarks among designers, no loss


class _Reader:
    """One reading: the file's name for errors, and what had to be left out."""

    def __init__(self, where: str) -> None:
        self.where = where
        self.warnings: list[str] = []
        self.skipped: Counter[tuple[str, str]] = Counter()

    def fail(self, message: str, key: str, found: str = "", allowed: str = "") -> InputError:
        return InputError(message, self.where, key, found=found, allowed=allowed)

    def point(self, node: Node, name: str, key: str) -> Point:
        given = child(node, name)
        values = [] if given is None else given[1:3]
        if len(values) != 2:
            raise self.fail(f"'{name}' needs an x and a y", key)
        return Point(self.length(values[0], key), self.length(values[1], key))

    def length(self, text: object, key: str) -> Nm:
        try:
            return to_length(text)
        except ValueError as error:
            raise self.fail(str(error), key, allowed="a length in mm") from None

    def angle(self, node: Node, key: str) -> float:
        given = child(node, "at") or []
        if len(given) < 4 or str(given[3]) == "unlocked":
            return 0.0
        try:
            return to_degrees(given[3])
        except ValueError as error:
            raise self.fail(str(error), key, allowed="an angle in degrees") from None

    def size(self, values: list[object], key: str, name: str) -> Size:
        if len(values) == 1:
            values = values * 2
        if len(values) < 2:
            raise self.fail(f"'{name}' needs a width and a height", key)
        size = Size(self.length(values[0], key), self.length(values[1], key))
        if size.w <= 0 or size.h <= 0:
            raise self.fail(f"'{name}' must be larger than 0", key, found=f"{size.w.mm} x {size.h.mm} mm")
        return size

    def layer(self, node: Node) -> tuple[PartLayer, Face] | None:
        """Return where a graphic belongs; None, and noted, where we have no such layer."""
        named = words(child(node, "layer"))
        name = named[0] if named else ""
        if name in _LAYERS:
            return _LAYERS[name]
        if name not in _NOTES:
            self.skipped[head(node).removeprefix("fp_"), name or "no layer"] += 1
        return None

    def stroke(self, node: Node, key: str) -> Nm:
        given = child(node, "width") or child(child(node, "stroke") or [], "width")
        width = ZERO if given is None or len(given) < 2 else self.length(given[1], key)
        if width < 0:
            raise self.fail("a stroke cannot be narrower than 0", key, found=f"{width.mm} mm")
        return width


def read_footprint(text: str, where: str = "") -> Footprint:
    """Return the footprint that *text* holds; *where* names the file in errors.

    Accepts the generations from the old ``module`` form on. Raises InputError
    for broken text and for a pad whose copper the model cannot hold (free
    shapes, trapezoids, a hole off the pad's middle); what is left out of the
    drawing is listed in ``warnings``.
    """
    root = sexpr.parse(text, where)
    if head(root) not in ("footprint", "module") or len(root) < 2 or isinstance(root[1], list):
        raise InputError("this is not a footprint file", where, line=1, allowed="(footprint NAME ...)")
    reader = _Reader(where)
    name = str(root[1]).rpartition(":")[2]
    if not name:
        raise InputError("the footprint has no name", where, line=1)
    pads: list[Pad] = []
    graphics: list[Graphic] = []
    places = {"reference": ORIGIN, "value": ORIGIN}
    for item in root[2:]:
        kind = head(item)
        if not isinstance(item, list):
            continue
        if kind == "pad":
            pad = _pad(reader, item, len(pads) + 1)
            if pad is not None:
                pads.append(pad)
        elif kind in ("fp_text", "property"):
            _text(reader, item, places, graphics)
        elif kind in _GRAPHICS:
            drawn = _GRAPHICS[kind](reader, item, f"{kind} {len(graphics) + 1}")
            if drawn is not None:
                graphics.append(drawn)
        elif kind in ("zone", "fp_curve", "fp_text_box", "image", "dimension", "table"):
            reader.skipped[kind.removeprefix("fp_"), "this footprint"] += 1
    if len(pads) > MAX_PADS or len(graphics) > MAX_GRAPHICS:
        raise InputError(
            "the footprint has too many pads or graphics",
            where,
            found=f"{len(pads)} pads, {len(graphics)} graphics",
            allowed=f"at most {MAX_PADS} and {MAX_GRAPHICS}",
        )
    for (what, layer), count in sorted(reader.skipped.items()):
        reader.warnings.append(f"{count} {what} item{'s' if count > 1 else ''} on {layer} left out")
    attr = words(child(root, "attr"))
    surface = any(pad.kind is PadKind.SURFACE for pad in pads)
    return Footprint(
        name=name,
        pads=tuple(pads),
        graphics=tuple(graphics),
        description=" ".join(words(child(root, "descr"))),
        tags=tuple(" ".join(words(child(root, "tags"))).split()),
        through_hole="through_hole" in attr or ("smd" not in attr and not surface),
        reference_at=places["reference"],
        value_at=places["value"],
        warnings=tuple(reader.warnings),
    )


def _pad(reader: _Reader, node: Node, index: int) -> Pad | None:
    """Return one pad, or None (and a warning) for an opening without copper."""
    if len(node) < 4 or any(isinstance(item, list) for item in node[1:4]):
        raise reader.fail("a pad needs number, kind and shape", f"pad no. {index}")
    number, kind_word, shape_word = (str(item) for item in node[1:4])
    key = f"pad {number!r}" if number else f"pad no. {index}"
    if kind_word not in _KINDS:
        raise reader.fail("unknown kind of pad", key, found=kind_word, allowed=", ".join(sorted(_KINDS)))
    kind = _KINDS[kind_word]
    layers = words(child(node, "layers"))
    if kind is PadKind.SURFACE and not any(layer.endswith(".Cu") for layer in layers):
        reader.warnings.append(f"{key} has no copper ({' '.join(layers) or 'no layer'}); left out")
        return None
    if shape_word not in _SHAPES:
        raise reader.fail("a pad of this shape cannot be taken over exactly", key, shape_word, _allowed())
    shape = _SHAPES[shape_word]
    size_node = child(node, "size")
    size = reader.size(list(size_node[1:]) if size_node else [], key, "size")
    hole = _hole(reader, node, kind, key)
    if kind is PadKind.PLATED and hole is not None and (hole.w > size.w or hole.h > size.h):
        raise reader.fail("the hole is larger than the pad", key)
    if kind is PadKind.UNPLATED:
        if hole is not None and (size.w > hole.w or size.h > hole.h):
            reader.warnings.append(f"copper ring round the unplated hole {key} left out")
        if number:
            reader.warnings.append(f"number of the unplated hole {key} left out")
        assert hole is not None
        number, size = "", hole
        shape = PadShape.CIRCLE if hole.w == hole.h else PadShape.OVAL
    if child(node, "chamfer_ratio") or child(node, "chamfer"):
        reader.warnings.append(f"cut corners of {key} are taken as whole corners")
    radius = ZERO
    if shape is PadShape.ROUNDRECT:
        radius = _corner(reader, node, size, key)
    if shape is PadShape.CIRCLE and size.w != size.h:
        size = Size(size.w, size.w)
    return Pad(
        number=number,
        kind=kind,
        shape=shape,
        at=reader.point(node, "at", key),
        size=size,
        hole=hole,
        rotation=reader.angle(node, key),
        corner_radius=radius,
        face=_pad_face(reader, kind, layers, key),
    )


def _allowed() -> str:
    return ", ".join(sorted(_SHAPES)) + "; redraw the pad, or split it into pads of the same number"


def _pad_face(reader: _Reader, kind: PadKind, layers: list[str], key: str) -> Face:
    if kind is PadKind.SURFACE:
        faces = {"F.Cu", "B.Cu"} & set(layers)
        if len(faces) != 1:
            allowed = "F.Cu or B.Cu"
            raise reader.fail(
                "a pad without a hole must have copper on one face", key, " ".join(layers), allowed
            )
        return Face.NEAR if "F.Cu" in faces else Face.FAR
    if kind is PadKind.PLATED and "*.Cu" not in layers and not {"F.Cu", "B.Cu"} <= set(layers):
        reader.warnings.append(f"{key} had copper on some layers only; it gets it on all")
    return Face.NEAR


def _hole(reader: _Reader, node: Node, kind: PadKind, key: str) -> Size | None:
    drill = child(node, "drill")
    if kind is PadKind.SURFACE:
        return None
    if drill is None:
        raise reader.fail("a pad of this kind needs a drill", key)
    values: list[object] = [item for item in drill[1:] if not isinstance(item, list) and str(item) != "oval"]
    offset = child(drill, "offset")
    if offset is not None and any(reader.length(value, key) for value in offset[1:]):
        raise reader.fail(
            "the hole is off the pad's middle", key, found=" ".join(words(offset)), allowed="no drill offset"
        )
    return reader.size(values, key, "drill")


def _corner(reader: _Reader, node: Node, size: Size, key: str) -> Nm:
    ratio_words = words(child(node, "roundrect_rratio")) or ["0.25"]
    try:
        ratio = to_degrees(ratio_words[0])
    except ValueError as error:
        raise reader.fail(str(error), key, allowed="a ratio from 0 to 0.5") from None
    if not 0 <= ratio <= 0.5:
        raise reader.fail("the corner ratio is out of range", key, ratio_words[0], "0 to 0.5")
    return nm(ratio * min(size.w, size.h))


def _text(reader: _Reader, node: Node, places: dict[str, Point], graphics: list[Graphic]) -> None:
    """Take the place of reference or value, or add a fixed text that is shown."""
    atoms = words(node)
    if len(atoms) < 2:
        raise reader.fail("a text needs its kind and its words", head(node))
    kind, text = atoms[0].lower(), atoms[1]
    key = f"text {text[:40]!r}"
    if kind in places:
        places[kind] = reader.point(node, "at", key)
        return
    if head(node) == "property" or kind != "user" or "hide" in atoms[2:] or _hidden(node):
        return
    if text in ("%R", "%V", "${REFERENCE}", "${VALUE}") or not text:
        return
    layer = reader.layer(node)
    if layer is None:
        return
    font = child(child(node, "effects") or [], "font") or []
    if {"left", "right", "top", "bottom"} & set(words(child(child(node, "effects") or [], "justify"))):
        reader.warnings.append(f"{key} is now set about its middle")
    size_node = child(font, "size")
    size = reader.size(list(size_node[1:]), key, "size") if size_node else Size(mm(1), mm(1))
    thickness = words(child(font, "thickness"))
    stroke = reader.length(thickness[0], key) if thickness else size.h * 15 // 100
    at = reader.point(node, "at", key)
    graphics.append(Text(layer[0], text, at, size.h, stroke, reader.angle(node, key), layer[1]))


def _hidden(node: Node) -> bool:
    places = (node, child(node, "effects") or [])
    return any("hide" in words(place) or words(child(place, "hide")) == ["yes"] for place in places)


def _filled(node: Node) -> bool:
    fill = child(node, "fill")
    given = words(fill)
    return (bool(given) and given[0] in ("solid", "yes")) or words(child(fill or [], "type")) == ["solid"]


def _line(reader: _Reader, node: Node, key: str) -> Graphic | None:
    layer = reader.layer(node)
    if layer is None:
        return None
    start, end = (reader.point(node, name, key) for name in ("start", "end"))
    return Line(layer[0], start, end, reader.stroke(node, key), layer[1])


def _arc(reader: _Reader, node: Node, key: str) -> Graphic | None:
    layer = reader.layer(node)
    if layer is None:
        return None
    start, end = (reader.point(node, name, key) for name in ("start", "end"))
    if child(node, "mid") is not None:
        mid = reader.point(node, "mid", key)
    else:  # the old form: "start" is the centre, "end" one end, "angle" the sweep, clockwise as seen
        given = words(child(node, "angle"))
        try:
            sweep = to_degrees(given[0] if given else "")
        except ValueError as error:
            raise reader.fail(str(error), key, allowed="a mid point, or an angle in degrees") from None
        centre, spoke = start, end.minus(start)
        start = end
        mid = centre.plus(spoke.turned(-sweep / 2))
        end = centre.plus(spoke.turned(-sweep))
    return Arc(layer[0], start, mid, end, reader.stroke(node, key), layer[1])


def _circle(reader: _Reader, node: Node, key: str) -> Graphic | None:
    layer = reader.layer(node)
    if layer is None:
        return None
    centre, rim = (reader.point(node, name, key) for name in ("center", "end"))
    radius = nm(centre.distance(rim))
    return Circle(layer[0], centre, radius, reader.stroke(node, key), _filled(node), layer[1])


def _rect(reader: _Reader, node: Node, key: str) -> Graphic | None:
    layer = reader.layer(node)
    if layer is None:
        return None
    a, b = (reader.point(node, name, key) for name in ("start", "end"))
    points = (a, Point(b.x, a.y), b, Point(a.x, b.y))
    return Polygon(layer[0], points, reader.stroke(node, key), _filled(node), layer[1])


def _polygon(reader: _Reader, node: Node, key: str) -> Graphic | None:
    layer = reader.layer(node)
    if layer is None:
        return None
    points_node = child(node, "pts") or []
    if children(points_node, "arc"):
        reader.skipped["polygon with arcs", str(words(child(node, "layer"))[0])] += 1
        return None
    points: list[Point] = []
    for item in children(points_node, "xy"):
        if len(item) < 3:
            raise reader.fail("'xy' needs an x and a y", key)
        points.append(Point(reader.length(item[1], key), reader.length(item[2], key)))
    if len(points) < 3:
        raise reader.fail("a polygon needs three points", key, found=str(len(points)))
    return Polygon(layer[0], tuple(points), reader.stroke(node, key), _filled(node), layer[1])


_GRAPHICS: dict[str, Callable[[_Reader, Node, str], Graphic | None]] = {
    "fp_line": _line,
    "fp_arc": _arc,
    "fp_circle": _circle,
    "fp_rect": _rect,
    "fp_poly": _polygon,
}
