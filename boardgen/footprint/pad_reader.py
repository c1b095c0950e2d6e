"""Read one pad of a footprint, of a library file or of a board."""

from __future__ import annotations

from boardgen.footprint.model import Face, Pad, PadKind, PadShape
from boardgen.footprint.reading import Reader
from boardgen.footprint.sexpr import Node, child, to_degrees, words
from boardgen.units import ZERO, Nm, Size, nm

_KINDS = {
    "thru_hole": PadKind.PLATED,
    "np_thru_hole": PadKind.UNPLATED,
    "smd": PadKind.SURFACE,
    "connect": PadKind.SURFACE,
}
_SHAPES = {shape.value: shape for shape in PadShape}


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
            reader.lose(f"copper ring round the unplated hole {key} left out")
        if number:
            reader.warnings.append(f"number of the unplated hole {key} left out")
        assert hole is not None
        number, size = "", hole
        shape = PadShape.CIRCLE if hole.w == hole.h else PadShape.OVAL
    if child(node, "chamfer_ratio") or child(node, "chamfer"):
        reader.lose(f"cut corners of {key} are taken as whole corners")
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
    offset = child(drill, "offset")
    if offset is not None and any(reader.length(value, key) for value in offset[1:]):
        raise reader.fail(
            "the hole is off the pad's middle", key, found=" ".join(words(offset)), allowed="no drill offset"
        )
    return reader.size(values, key, "drill")


def _corner(reader: Reader, node: Node, size: Size, key: str) -> Nm:
    ratio_words = words(child(node, "roundrect_rratio")) or ["0.25"]
    try:
        ratio = to_degrees(ratio_words[0])
    except ValueError as error:
        raise reader.fail(str(error), key, allowed="a ratio from 0 to 0.5") from None
    if not 0 <= ratio <= 0.5:
        raise reader.fail("the corner ratio is out of range", key, ratio_words[0], "0 to 0.5")
    return nm(ratio * min(size.w, size.h))
