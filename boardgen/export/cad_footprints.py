"""Footprints of the CAD project: library entries, and the same ones placed on the board.

A part on the bottom is written as the file wants it: the other side's layers,
local y negated, pad and text angles as they stand on the board, texts mirrored.
"""

from __future__ import annotations

from dataclasses import replace

from boardgen.board.model import Board, LegendText, Part, PartKind, Placement, Side
from boardgen.catalog.model import FabClass
from boardgen.circuit.model import CircuitPart
from boardgen.export.cad_nodes import at_node, node, order_fields, plain_name, stamp, word, xy
from boardgen.export.cad_trim import barred_areas, trimmed
from boardgen.footprint.kicad_mod import VERSION, attr_node, graphic_node, pad_node
from boardgen.footprint.model import Footprint, PadKind
from boardgen.footprint.sexpr import Node, Sym, child, degrees, head, length, to_degrees
from boardgen.units import ORIGIN, Nm, Point, mm

_PLACES = ("at", "start", "mid", "end", "center", "xy", "offset")
_TEXT = mm(1)


def named_footprints(board: Board, fab: FabClass, cut: bool = True) -> dict[str, Footprint]:
    """Return each part's footprint, its printing cut to this board, under a name no other one has.

    Without *cut* the printing is taken as it is: that of a panel's copies was cut with their board.
    """
    barred = barred_areas(board, fab) if cut else {}
    chosen: dict[str, Footprint] = {}
    taken: dict[str, tuple[Footprint, bool]] = {}
    for part in sorted(board.parts, key=lambda part: part.ref):
        own = trimmed(part, barred) if cut else part.footprint
        base, count = plain_name(own.name), 1
        name = base
        key = (own, part.kind is PartKind.LINK)
        while taken.setdefault(name, key) != key:
            count += 1
            name = f"{base}_{count}"
        chosen[part.ref] = replace(own, name=name)
    return chosen


def library_nodes(part: Part, footprint: Footprint, board: Board, fab: FabClass, lone: bool) -> Node:
    """Return the library file's content for the footprint of *part*."""
    made = node("footprint", footprint.name, node("version", VERSION), node("generator", word("boardgen")))
    made.append(node("layer", "F.Cu"))
    made += _about(footprint)
    made.append(_attr(part, footprint, lone))
    size = text_size(fab)
    made.append(_field("reference", "REF**", "F.Fab", footprint.reference_at, 0.0, size, False))
    made.append(_field("value", footprint.name, "F.Fab", footprint.value_at, 0.0, size, False))
    made += [graphic_node(item) for item in footprint.graphics]
    made += [_pad(part, pad_node(pad), pad.kind, board) for pad in footprint.pads]
    return made


def text_size(fab: FabClass) -> tuple[Nm, Nm]:
    """Return height and stroke of texts on the assembly layer, within the fab's legend limits."""
    height = Nm(max(int(_TEXT), int(fab.legend_height_min)))
    return height, Nm(max(int(height) * 15 // 100, int(fab.legend_stroke_min)))


def _about(footprint: Footprint) -> list[Node]:
    made = [node("descr", footprint.description)] if footprint.description else []
    return [*made, node("tags", " ".join(footprint.tags))] if footprint.tags else made


def _attr(part: Part, footprint: Footprint, lone: bool) -> Node:
    """Return the part's attributes; *lone* parts have no symbol and are on no list."""
    made = attr_node(footprint)
    if lone and word("board_only") not in made:
        made += [word("board_only"), word("exclude_from_pos_files"), word("exclude_from_bom")]
    elif part.kind is PartKind.LINK:
        made.append(word("exclude_from_bom"))
    return made


def _pad(part: Part, pad: Node, kind: PadKind, board: Board) -> Node:
    """Return *pad* with copper only where this board has it.

    Without plating a hole carries copper on the bottom alone; a link's wire is
    drawn on the top side, so its pads reach there.
    """
    if board.plated or kind is not PadKind.PLATED:
        return pad
    layers = ("*.Cu", "B.Mask") if part.kind is PartKind.LINK else ("B.Cu", "B.Mask")
    return [node("layers", *layers) if head(item) == "layers" else item for item in pad]


def _field(
    kind: str, text: str, layer: str, at: Point, angle: float, size: tuple[Nm, Nm], hidden: bool
) -> Node:
    made = node("fp_text", word(kind), text, at_node(at, angle), node("layer", layer))
    if hidden:
        made.append(word("hide"))
    font = node("font", node("size", length(size[0]), length(size[0])), node("thickness", length(size[1])))
    made.append(node("effects", font))
    if layer.startswith("B."):
        made[-1] = node("effects", font, node("justify", word("mirror")))
    return made


def unplaced(placement: Placement, at: Point) -> Point:
    """Return the file's child coordinates of a board position: unturned, but flipped for the bottom."""
    return at.minus(placement.at).turned(-placement.rotation)


def _other_side(layer: str) -> str:
    return {"F": "B", "B": "F"}.get(layer[:1], layer[:1]) + layer[1:] if layer[1:2] == "." else layer


def _flipped(item: Node) -> Node:
    """Return a graphic or pad as it looks from the other side of the board: y negated, layers swapped."""
    made: Node = []
    for inner in item:
        if not isinstance(inner, list):
            made.append(inner)
            continue
        name = head(inner)
        if name in _PLACES:
            x, y = inner[1], str(inner[2])
            turned = y[1:] if y.startswith("-") else ("0" if y == "0" else f"-{y}")
            made.append([inner[0], x, Sym(turned), *inner[3:]])
        elif name in ("layer", "layers"):
            made.append([inner[0], *(_other_side(str(layer)) for layer in inner[1:])])
        else:
            made.append(_flipped(inner))
    return made


def _turned(item: Node, placement: Placement) -> Node:
    """Return a pad or text with its angle as it stands on the board."""
    bottom = placement.side is Side.BOTTOM
    made: Node = []
    for inner in item:
        if isinstance(inner, list) and head(inner) == "at":
            own = to_degrees(inner[3]) if len(inner) > 3 else 0.0
            angle = degrees((placement.rotation + (-own if bottom else own)) % 360.0)
            made.append(inner[:3] if angle == "0" else [*inner[:3], angle])
        else:
            made.append(inner)
    return made


def _mirrored(text: Node) -> Node:
    """Return a text with the mirror that its layer asks for."""
    layer = child(text, "layer")
    back = layer is not None and str(layer[1]).startswith("B.")
    made: Node = []
    for inner in text:
        if isinstance(inner, list) and head(inner) == "effects":
            kept: Node = [item for item in inner if head(item) != "justify"]
            made.append([*kept, node("justify", word("mirror"))] if back else kept)
        else:
            made.append(inner)
    return made


def placed_node(
    part: Part,
    footprint: Footprint,
    board: Board,
    fab: FabClass,
    symbol: str | None,
    numbers: dict[str, int],
    nets: dict[str, str],
    circuit: CircuitPart | None,
) -> Node:
    """Return *part* on the board; *circuit* is its entry in the netlist, where it has one.

    *symbol* is the uuid of its symbol, None for a part without one; *nets* maps
    its pad numbers to net names as the file spells them, *numbers* those to net codes.
    """
    bottom = part.placement.side is Side.BOTTOM
    side = "B" if bottom else "F"
    made = node("footprint", f"{board.name}:{footprint.name}", node("layer", f"{side}.Cu"))
    made.append(node("tstamp", word(stamp(board.name, "footprint", part.ref))))
    made.append(at_node(part.placement.at, part.placement.rotation))
    made += _about(footprint)
    if symbol is not None:
        made += [node("property", label, text) for label, text in order_fields(circuit)]
        made.append(node("path", f"/{symbol}"))
    made.append(_attr(part, footprint, symbol is None))
    made += _texts(part, board, fab, side)
    functions = {pin.number: pin.name for pin in circuit.pins} if circuit is not None else {}
    solid = {pad for pour in board.pours for pad in pour.solid_pads}
    for item in footprint.graphics:
        drawn = graphic_node(item)
        if bottom:
            drawn = _flipped(drawn)
        if head(drawn) == "fp_text":
            drawn = _mirrored(_turned(drawn, part.placement))
        made.append(drawn)
    for pad in footprint.pads:
        written = _pad(part, pad_node(pad), pad.kind, board)
        if bottom:
            written = _flipped(written)
        written = _turned(written, part.placement)
        if (part.ref, pad.number) in solid:
            written.append(node("zone_connect", 2))  # joined to the pour without spokes
        net = nets.get(pad.number, "")
        if net and pad.kind is not PadKind.UNPLATED:
            written.append(node("net", numbers[net], net))
        function = functions.get(pad.number, "")
        if function not in ("", "~", pad.number):
            written.append(node("pinfunction", function))
        made.append(written)
    return _stamped(made, board.name, part.ref)


def _texts(part: Part, board: Board, fab: FabClass, side: str) -> list[Node]:
    """Return reference and value; the reference is printed where the legend stage put it."""
    size = text_size(fab)
    turn = part.placement.rotation
    printed: LegendText | None = dict(board.references).get(part.ref)

    def local(at: Point) -> Point:
        return Point(at.x, -at.y) if part.placement.side is Side.BOTTOM else at

    if printed is not None:
        face = "F" if printed.side is Side.TOP else "B"
        at = unplaced(part.placement, printed.at)
        own = (printed.height, printed.stroke)
        made = [_field("reference", part.ref, f"{face}.SilkS", at, printed.rotation, own, False)]
    else:
        at = local(part.footprint.reference_at)
        hidden = part.kind is PartKind.HOLE
        made = [_field("reference", part.ref, f"{side}.Fab", at, turn, size, hidden)]
    value_at = local(part.footprint.value_at)
    made.append(_field("value", part.value, f"{side}.Fab", value_at, turn, size, part.kind is PartKind.HOLE))
    return made


def _stamped(footprint: Node, design: str, ref: str) -> Node:
    """Return the footprint with a uuid in each of its texts, graphics and pads."""
    made: Node = []
    for place, item in enumerate(footprint):
        if isinstance(item, list) and (head(item) == "pad" or head(item).startswith("fp_")):
            own = node("tstamp", word(stamp(design, "item", ref, str(place))))
            made.append([*item, own])
        else:
            made.append(item)
    return made


__all__ = ["ORIGIN", "library_nodes", "named_footprints", "placed_node", "text_size", "unplaced", "xy"]
