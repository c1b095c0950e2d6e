"""Read one pad of a footprint, of a library file or of a board."""

from __future__ import annotations

from boardgen.errors import InputError
from boardgen.footprint.model import Face, Pad, PadKind, PadShape
from boardgen.footprint.pad_outline import CORNERS, Blob, chamfered, joined, moved, reach_of, trapezoid
from boardgen.footprint.pad_primitives import primitives
from boardgen.footprint.reading import Reader
from boardgen.footprint.sexpr import Node, child, to_degrees, words
from boardgen.units import ORIGIN, ZERO, Nm, Point, Size, nm

_KINDS = {
    "thru_hole": PadKind.PLATED,
    "np_thru_hole": PadKind.UNPLATED,
    "smd": PadKind.SURFACE,
    "connect": PadKind.SURFACE,
}
_SHAPES = {shape.value: shape for shape in PadShape if shape is not PadShape.CUSTOM}
_FORMS = (*_SHAPES, "custom", "trapezoid")


def read_pad(reader: Reader, node: Node, index: int) -> Pad | None:
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
    if shape_word not in _FORMS:
        raise reader.fail("a pad of this shape cannot be taken over exactly", key, shape_word, _allowed())
    size_node = child(node, "size")
    size = reader.size(list(size_node[1:]) if size_node else [], key, "size")
    hole = _hole(reader, node, kind, key)
    _strange(reader, node, key)
    if kind is PadKind.UNPLATED:
        if (
            hole is not None
            and (size.w > hole.w or size.h > hole.h)
            and any(w.endswith(".Cu") for w in layers)
        ):
            reader.lose(f"copper ring round the unplated hole {key} left out")
        if number:
            reader.warnings.append(f"number of the unplated hole {key} left out")
        assert hole is not None
        shape = PadShape.CIRCLE if hole.w == hole.h else PadShape.OVAL
        return Pad("", kind, shape, reader.point(node, "at", key), hole, hole, reader.angle(node, key))
    face = _pad_face(reader, kind, layers, key)
    at, angle = reader.point(node, "at", key), reader.angle(node, key)
    off = _offset(reader, node, key)
    if hole is None and off != ORIGIN:  # without a hole the copper alone has a place
        at, off = at.plus(off.turned(angle)), ORIGIN
    shape, outline, radius, size = _form(reader, node, shape_word, size, off, key)
    if hole is not None and (hole.w > size.w or hole.h > size.h):
        raise reader.fail("the hole is larger than the pad", key)
    return Pad(number, kind, shape, at, size, hole, angle, radius, face, outline)


def _strange(reader: Reader, node: Node, key: str) -> None:
    """Take down what a pad may have that the model has not."""
    if child(node, "padstack") is not None:
        reader.lose(f"{key} has copper of its own on each layer; taken as the same on all")
    if words(child(node, "remove_unused_layers")) == ["yes"] and words(child(node, "keep_end_layers")) == [
        "no"
    ]:
        reader.lose(f"{key} may lack copper where nothing joins it; taken as whole")
    for margin in ("solder_mask_margin", "solder_paste_margin"):
        given = words(child(node, margin))
        if given and reader.length(given[0], key) != 0:
            reader.warnings.append(f"{margin.replace('_', ' ')} of {key} left out; the fab class has its own")


def _form(
    reader: Reader, node: Node, word: str, size: Size, off: Point, key: str
) -> tuple[PadShape, tuple[Point, ...], Nm, Size]:
    """Return shape, outline, radius and size of a pad's copper, which stands *off* the pad's place."""
    radius = ZERO
    if word == "roundrect":
        radius = _corner(reader, node, size, key)
    cut, corners = _chamfer(reader, node, size, key)
    plain = _SHAPES.get(word)
    if word == "circle" and size.w != size.h:
        size = Size(size.w, size.w)
    if plain is not None and off == ORIGIN and not (corners and cut):
        return plain, (), radius, size
    try:
        blobs = [moved(blob, off) for blob in _blobs(reader, node, word, size, radius, cut, corners, key)]
        outline, radius = joined(blobs)
    except InputError as error:
        raise reader.fail(error.message, key, error.found, error.allowed) from None
    return PadShape.CUSTOM, outline, radius, reach_of(outline, radius)


def _blobs(
    reader: Reader,
    node: Node,
    word: str,
    size: Size,
    radius: Nm,
    cut: Nm,
    corners: tuple[str, ...],
    key: str,
) -> list[Blob]:
    """Return the shapes a pad's copper is made of, about its own middle."""
    if word == "custom":
        options = words(child(child(node, "options") or [], "anchor")) or ["circle"]
        whole = Size(size.w, size.w) if options[0] == "circle" else size
        return [*primitives(reader, node, key), *_blobs(reader, node, options[0], whole, ZERO, ZERO, (), key)]
    if word == "trapezoid":
        delta = _pair(reader, child(node, "rect_delta"), key)
        if abs(delta.x) > size.h or abs(delta.y) > size.w:
            raise reader.fail("the sides of the trapezoid cross", key)
        return [Blob(tuple(dict.fromkeys(trapezoid(size, delta))), 0.0, solid=True)]
    if corners and cut:
        return [chamfered(size, radius, cut, corners)]
    if word == "circle":
        return [Blob((ORIGIN,), size.w / 2)]
    if word == "oval":
        reach = Nm(abs(size.w - size.h) // 2)
        ends = (
            (Point(-reach, ZERO), Point(reach, ZERO))
            if size.w > size.h
            else (Point(ZERO, -reach), Point(ZERO, reach))
        )
        return [Blob(ends, min(size) / 2)]
    w, h = size.w / 2 - radius, size.h / 2 - radius
    box = tuple(Point(Nm(round(x)), Nm(round(y))) for x, y in ((-w, -h), (w, -h), (w, h), (-w, h)))
    return [Blob(tuple(dict.fromkeys(box)), float(radius), solid=len(set(box)) > 2)]


def _pair(reader: Reader, node: Node | None, key: str) -> Point:
    if node is None:
        return ORIGIN
    if len(node) < 3:
        raise reader.fail("two lengths are wanted", key)
    return Point(reader.length(node[1], key), reader.length(node[2], key))


def _offset(reader: Reader, node: Node, key: str) -> Point:
    """Return where the copper's middle stands from the pad's place, unturned."""
    return _pair(reader, child(child(node, "drill") or [], "offset"), key)


def _chamfer(reader: Reader, node: Node, size: Size, key: str) -> tuple[Nm, tuple[str, ...]]:
    """Return how much is cut off which corners."""
    corners = tuple(word for word in words(child(node, "chamfer")) if word in CORNERS)
    given = words(child(node, "chamfer_ratio"))
    if not given or not corners:
        return ZERO, ()
    return nm(_ratio(reader, given[0], key) * min(size)), tuple(sorted(set(corners)))


def _allowed() -> str:
    return ", ".join(sorted(_FORMS)) + "; redraw the pad, or split it into pads of the same number"


def _pad_face(reader: Reader, kind: PadKind, layers: list[str], key: str) -> Face:
    if kind is PadKind.SURFACE:
        faces = {"F.Cu", "B.Cu"} & set(layers)
        if len(faces) != 1:
            allowed = "F.Cu or B.Cu"
            raise reader.fail(
                "a pad without a hole must have copper on one face", key, " ".join(layers), allowed
            )
        return Face.NEAR if "F.Cu" in faces else Face.FAR
    if kind is PadKind.PLATED and "*.Cu" not in layers and not reader.sides <= set(layers):
        reader.lose(f"{key} had copper on some layers only; it gets it on all")
    return Face.NEAR


def _hole(reader: Reader, node: Node, kind: PadKind, key: str) -> Size | None:
    drill = child(node, "drill")
    if kind is PadKind.SURFACE:
        return None
    if drill is None:
        raise reader.fail("a pad of this kind needs a drill", key)
    values: list[object] = [item for item in drill[1:] if not isinstance(item, list) and str(item) != "oval"]
    return reader.size(values, key, "drill")


def _corner(reader: Reader, node: Node, size: Size, key: str) -> Nm:
    given = words(child(node, "roundrect_rratio")) or ["0.25"]
    return nm(_ratio(reader, given[0], key) * min(size.w, size.h))


def _ratio(reader: Reader, text: str, key: str) -> float:
    try:
        ratio = to_degrees(text)
    except ValueError as error:
        raise reader.fail(str(error), key, allowed="a ratio from 0 to 0.5") from None
    if not 0 <= ratio <= 0.5:
        raise reader.fail("the corner ratio is out of range", key, text, "0 to 0.5")
    return ratio
