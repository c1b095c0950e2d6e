"""Write footprints as ``.kicad_mod`` text; :func:`read_footprint` is re-exported from the reader.

The syntax is the one of board files of version 20221018, which every program
that reads newer generations still accepts. Reading back what was written gives
the same footprint.
"""

from __future__ import annotations

from boardgen.footprint.kicad_mod_reader import read_footprint
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
)
from boardgen.footprint.pad_outline import anchor
from boardgen.footprint.sexpr import Node, Sym, degrees, dump, length
from boardgen.units import Nm, Point, Size, mm

VERSION = 20221018
LAYERS: dict[tuple[PartLayer, Face], str] = {
    (PartLayer.LEGEND, Face.NEAR): "F.SilkS",
    (PartLayer.LEGEND, Face.FAR): "B.SilkS",
    (PartLayer.DRAWING, Face.NEAR): "F.Fab",
    (PartLayer.DRAWING, Face.FAR): "B.Fab",
    (PartLayer.COURTYARD, Face.NEAR): "F.CrtYd",
    (PartLayer.COURTYARD, Face.FAR): "B.CrtYd",
}
KINDS: dict[PadKind, str] = {
    PadKind.PLATED: "thru_hole",
    PadKind.UNPLATED: "np_thru_hole",
    PadKind.SURFACE: "smd",
}
RATIO_DIGITS = 12  # of a corner radius to the pad's shorter side: exact to 1 nm up to half a metre
_TEXT_HEIGHT = mm(1)
_TEXT_STROKE = mm("0.15")


def write_footprint(footprint: Footprint) -> str:
    """Return *footprint* as the text of a library file, the same for the same value."""
    root: Node = [
        Sym("footprint"),
        footprint.name,
        [Sym("version"), VERSION],
        [Sym("generator"), Sym("boardgen")],
        *footprint_nodes(footprint),
    ]
    return dump(root)


def footprint_nodes(footprint: Footprint) -> list[Node]:
    """Return what stands inside a footprint after its name: layer, texts, attr, graphics, pads.

    Nothing is flipped or turned. The board writer may take the pieces singly
    (:func:`attr_node`, :func:`graphic_node`, :func:`pad_node`), so that board
    and library agree.
    """
    nodes: list[Node] = [[Sym("layer"), "F.Cu"]]
    if footprint.description:
        nodes.append([Sym("descr"), footprint.description])
    if footprint.tags:
        nodes.append([Sym("tags"), " ".join(footprint.tags)])
    nodes.append(attr_node(footprint))
    nodes.append(_field("reference", "REF**", footprint.reference_at, "F.SilkS"))
    nodes.append(_field("value", footprint.name, footprint.value_at, "F.Fab"))
    nodes.extend(graphic_node(item) for item in footprint.graphics)
    nodes.extend(pad_node(pad) for pad in footprint.pads)
    return nodes


def attr_node(footprint: Footprint) -> Node:
    """Return the ``attr`` list; a part without numbered pads is a hole: on no list, on no schematic."""
    node: Node = [Sym("attr"), Sym("through_hole" if footprint.through_hole else "smd")]
    if not footprint.numbers():
        node.extend(Sym(word) for word in ("board_only", "exclude_from_pos_files", "exclude_from_bom"))
    return node


def _field(kind: str, text: str, at: Point, layer: str) -> Node:
    return [
        Sym("fp_text"),
        Sym(kind),
        text,
        _at(at),
        [Sym("layer"), layer],
        _font(_TEXT_HEIGHT, _TEXT_STROKE),
    ]


def _font(height: Nm, stroke: Nm, mirrored: bool = False) -> Node:
    node: Node = [
        Sym("effects"),
        [Sym("font"), [Sym("size"), length(height), length(height)], [Sym("thickness"), length(stroke)]],
    ]
    if mirrored:
        node.append([Sym("justify"), Sym("mirror")])
    return node


def _at(point: Point, rotation: float = 0.0) -> Node:
    node: Node = [Sym("at"), length(point.x), length(point.y)]
    if rotation:
        node.append(degrees(rotation))
    return node


def _xy(name: str, point: Point) -> Node:
    return [Sym(name), length(point.x), length(point.y)]


def _drawn(item: Line | Arc | Circle | Polygon) -> list[Node]:
    """Return stroke, fill (where there can be one) and layer."""
    nodes: list[Node] = [[Sym("stroke"), [Sym("width"), length(item.width)], [Sym("type"), Sym("solid")]]]
    if isinstance(item, Circle | Polygon):
        nodes.append([Sym("fill"), Sym("solid" if item.filled else "none")])
    nodes.append([Sym("layer"), LAYERS[item.layer, item.face]])
    return nodes


def graphic_node(item: Graphic) -> Node:
    """Return one graphic as the file writes it, in the part's own frame."""
    if isinstance(item, Line):
        return [Sym("fp_line"), _xy("start", item.start), _xy("end", item.end), *_drawn(item)]
    if isinstance(item, Arc):
        ends = (_xy("start", item.start), _xy("mid", item.mid), _xy("end", item.end))
        return [Sym("fp_arc"), *ends, *_drawn(item)]
    if isinstance(item, Circle):
        rim = Point(item.centre.x + item.radius, item.centre.y)
        return [Sym("fp_circle"), _xy("center", item.centre), _xy("end", rim), *_drawn(item)]
    if isinstance(item, Polygon):
        points: Node = [Sym("pts"), *(_xy("xy", point) for point in item.points)]
        return [Sym("fp_poly"), points, *_drawn(item)]
    return [
        Sym("fp_text"),
        Sym("user"),
        item.text,
        _at(item.at, item.rotation),
        [Sym("layer"), LAYERS[item.layer, item.face]],
        _font(item.height, item.stroke, item.face is Face.FAR),
    ]


def pad_node(pad: Pad) -> Node:
    """Return one pad as the file writes it, in the part's own frame and without a net."""
    size = pad.size
    if pad.shape is PadShape.CUSTOM:
        size = Size(*(anchor(pad.outline, pad.corner_radius),) * 2)
    node: Node = [
        Sym("pad"),
        pad.number,
        Sym(KINDS[pad.kind]),
        Sym(pad.shape.value),
        _at(pad.at, pad.rotation),
        [Sym("size"), length(size.w), length(size.h)],
    ]
    if pad.hole is not None:
        if pad.hole.w == pad.hole.h:
            node.append([Sym("drill"), length(pad.hole.w)])
        else:
            node.append([Sym("drill"), Sym("oval"), length(pad.hole.w), length(pad.hole.h)])
    side = "F" if pad.face is Face.NEAR else "B"
    if pad.kind is PadKind.SURFACE:
        paste = [f"{side}.Paste"] if pad.paste else []
        node.append([Sym("layers"), f"{side}.Cu", *paste, f"{side}.Mask"])
    else:
        node.append([Sym("layers"), "*.Cu", "*.Mask"])
    if pad.shape is PadShape.CUSTOM:
        node += _free_form(pad)
    if pad.mask_margin is not None:
        node.append([Sym("solder_mask_margin"), length(pad.mask_margin)])
    if pad.shape is PadShape.ROUNDRECT:
        ratio = pad.corner_radius / min(pad.size.w, pad.size.h)
        text = f"{ratio:.{RATIO_DIGITS}f}".rstrip("0").rstrip(".")
        node.append([Sym("roundrect_rratio"), Sym(text)])
    return node


def _free_form(pad: Pad) -> list[Node]:
    """Return a CUSTOM pad's copper: one outline with a pen as wide as its corners are round."""
    wide: Node = [Sym("width"), length(Nm(2 * pad.corner_radius))]
    points = pad.outline
    if len(points) < 3:
        ends: list[Node] = [_xy("start", points[0]), _xy("end", points[-1])]
        drawn: Node = [Sym("gr_line"), *ends, wide]
    else:
        ring: Node = [Sym("pts"), *(_xy("xy", point) for point in points)]
        drawn = [Sym("gr_poly"), ring, wide, [Sym("fill"), Sym("yes")]]
    options: Node = [Sym("options"), [Sym("clearance"), Sym("outline")], [Sym("anchor"), Sym("circle")]]
    return [options, [Sym("primitives"), drawn]]


__all__ = [
    "KINDS",
    "LAYERS",
    "VERSION",
    "attr_node",
    "footprint_nodes",
    "graphic_node",
    "pad_node",
    "read_footprint",
    "write_footprint",
]
