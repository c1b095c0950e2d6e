"""The parts of a CAD board: each footprint taken back to its own frame, and its printing."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from boardgen.board.model import LegendItem, LegendText, Part, PartKind, Placement, Side
from boardgen.errors import InputError, Severity
from boardgen.footprint.kicad_mod_reader import MAX_GRAPHICS, MAX_PADS
from boardgen.footprint.model import Footprint, Graphic, Pad, PadKind
from boardgen.footprint.pad_reader import read_pad
from boardgen.footprint.reading import Reader
from boardgen.footprint.sexpr import Node, Sym, child, children, degrees, head, words
from boardgen.readback.cad_board.layers import COPPER, EDGE, is_copper, layer_of, layers_of, turned_over
from boardgen.readback.cad_board.nets import Nets
from boardgen.readback.cad_board.notes import Notes
from boardgen.readback.cad_board.printing import bare_words, printed_paths, read_graphic, read_text
from boardgen.units import Nm, Point

_PLACES = ("at", "start", "mid", "end", "center", "xy", "offset", "rect_delta")
_ROWS = {"top_left": "bottom_left", "bottom_left": "top_left", "top_right": "bottom_right"}
_ROWS["bottom_right"] = "top_right"


@dataclass(slots=True)
class Parts:
    """Parts read so far, with their printing and their pieces of the board's profile."""

    parts: list[Part] = field(default_factory=list)
    legend: list[LegendItem] = field(default_factory=list)
    references: list[tuple[str, LegendText]] = field(default_factory=list)
    edges: list[tuple[Node, Placement]] = field(default_factory=list)  # in the file's child coordinates


def _flipped(node: Node) -> Node:
    """Return a child of a part on the bottom as it was before the part was turned over."""
    made: Node = []
    name = head(node)
    for rank, item in enumerate(node):
        if isinstance(item, list):
            made.append(_flipped(item))
        elif name in _PLACES and rank == 2:
            text = str(item)
            made.append(Sym(text[1:] if text.startswith("-") else f"-{text.removeprefix('+')}"))
        elif name in ("layer", "layers") and rank:
            made.append(turned_over(str(item)))
        elif name == "chamfer" and rank:
            made.append(Sym(_ROWS.get(str(item), str(item))))
        else:
            made.append(item)
    return made


def _own_turn(reader: Reader, node: Node, placement: Placement, key: str) -> Node:
    """Return a pad whose place carries its angle in the part's frame; the file has the one on the board."""
    angle = reader.angle(node, key)
    own = placement.rotation - angle if placement.side is Side.BOTTOM else angle - placement.rotation
    own %= 360.0
    made: Node = []
    for item in node:
        if isinstance(item, list) and head(item) == "at":
            made.append([*item[:3], degrees(own)])
        else:
            made.append(item)
    return made


def _field(node: Node, name: str) -> Node | None:
    """Return the text that is the footprint's reference or value, in either spelling."""
    for kind in ("property", "fp_text"):
        for item in children(node, kind):
            if len(item) > 2 and not isinstance(item[1], list) and str(item[1]).casefold() == name:
                return item
    return None


def _said(node: Node | None) -> str:
    return "" if node is None or isinstance(node[2], list) else str(node[2])


def is_locked(node: Node) -> bool:
    """Return whether a thing is fixed in its place."""
    return "locked" in bare_words(node) or words(child(node, "locked")) == ["yes"]


def read_parts(
    where: str,
    board: Node,
    nets: Nets,
    kinds: Mapping[str, PartKind],
    sides: tuple[Side, ...],
    pen: Nm,
    notes: Notes,
) -> Parts:
    """Return the parts on the board; *kinds* gives the role of those that the design knows."""
    found = Parts()
    copper = tuple(layer for layer, side in COPPER.items() if side in sides)
    taken: set[str] = set()
    pads = graphics = 0
    for number, node in enumerate(children(board, "footprint"), 1):
        ref = _said(_field(node, "reference")) or f"footprint {number}"
        if ref in taken:
            message = f"{ref} is on the board more than once"
            notes.tell("cad-part", Severity.ERROR, message, items=(ref,))
            count = 2
            while f"{ref} ({count})" in taken:
                count += 1
            ref = f"{ref} ({count})"
        taken.add(ref)
        try:
            part = _part(Reader(where, copper), node, ref, nets, kinds, pen, notes, found)
        except InputError as error:
            notes.failed(f"footprint {ref}", error, True)
            continue
        pads += len(part.footprint.pads)
        graphics += len(part.footprint.graphics)
        if pads > 20 * MAX_PADS or graphics > 4 * MAX_GRAPHICS:
            allowed = f"{20 * MAX_PADS} pads, {4 * MAX_GRAPHICS} graphics"
            raise InputError("the board has too many pads or graphics", where, allowed=f"at most {allowed}")
        found.parts.append(part)
    return found


def _placement(reader: Reader, node: Node, ref: str) -> Placement:
    layer = layer_of(node)
    if layer not in ("F.Cu", "B.Cu"):
        raise reader.fail("a footprint stands on F.Cu or B.Cu", "", layer[:40])
    side = Side.TOP if layer == "F.Cu" else Side.BOTTOM
    return Placement(reader.point(node, "at", ref), reader.angle(node, ref) % 360.0, side)


def _part(
    reader: Reader,
    node: Node,
    ref: str,
    nets: Nets,
    kinds: Mapping[str, PartKind],
    pen: Nm,
    notes: Notes,
    found: Parts,
) -> Part:
    placement = _placement(reader, node, ref)
    bottom = placement.side is Side.BOTTOM
    pads: list[Pad] = []
    graphics: list[Graphic] = []
    joined: dict[str, str | None] = {}
    for item in node:
        kind = head(item)
        if not isinstance(item, list):
            continue
        if kind == "pad":
            _take_pad(reader, item, ref, placement, nets, notes, pads, joined)
        elif kind.startswith("fp_") and kind not in ("fp_text", "fp_text_box"):
            if layer_of(item) == EDGE:
                found.edges.append((item, placement))
            elif any(is_copper(layer) for layer in layers_of(item)):
                notes.unread(f"a graphic of {ref} on copper is not read", True, placement.at)
            else:
                drawn = read_graphic(reader, _flipped(item) if bottom else item, notes)
                if drawn is not None:
                    graphics.append(drawn)
                    found.legend += printed_paths(drawn, placement, pen, "footprint", notes)
        elif kind == "zone":
            notes.unread(
                f"an area of {ref} is not read", bool(children(item, "filled_polygon")), placement.at
            )
    name = str(node[1]) if len(node) > 1 and not isinstance(node[1], list) else ""
    _texts(reader, node, ref, placement, notes, found)
    attr = words(child(node, "attr"))
    surface = any(pad.kind is PadKind.SURFACE for pad in pads)
    footprint = Footprint(
        name=name.rpartition(":")[2],
        pads=tuple(pads),
        graphics=tuple(graphics),
        description=" ".join(words(child(node, "descr"))),
        tags=tuple(" ".join(words(child(node, "tags"))).split()),
        through_hole="through_hole" in attr or ("smd" not in attr and not surface),
    )
    if is_locked(node):
        notes.locked.append(ref)
    guess = PartKind.COMPONENT if footprint.numbers() else PartKind.HOLE
    if footprint.name.startswith("Link_") and len(pads) == 2:
        guess = PartKind.LINK
    return Part(
        ref=ref,
        value=_said(_field(node, "value")),
        footprint=footprint,
        placement=placement,
        kind=kinds.get(ref, guess),
        nets=tuple(sorted((number, net) for number, net in joined.items() if net is not None)),
    )


def _take_pad(
    reader: Reader,
    node: Node,
    ref: str,
    placement: Placement,
    nets: Nets,
    notes: Notes,
    pads: list[Pad],
    joined: dict[str, str | None],
) -> None:
    """Read one pad; what of it is not read is noted, copper as an error."""
    said = len(reader.warnings)
    try:
        own = _own_turn(reader, _flipped(node) if placement.side is Side.BOTTOM else node, placement, ref)
        pad = read_pad(reader, own, len(pads) + 1)
    except InputError as error:
        notes.failed(ref, error, True)
        return
    for text in reader.warnings[said:]:
        notes.unread(f"{ref}, {text}", text in reader.astray, placement.at)
    if pad is None:
        return
    pads.append(pad)
    if pad.kind is PadKind.UNPLATED:
        return
    name = f"{ref} pad {pad.number}"
    if not pad.number:
        if nets.of(node, name) is not None:
            notes.tell(
                "cad-net", Severity.ERROR, f"a pad of {ref} without a number is on a net", placement.at
            )
        return
    net = nets.of(node, name)
    if pad.number in joined and joined[pad.number] != net:
        message = f"{name} stands there more than once, on {joined[pad.number] or 'no net'} and on "
        notes.tell(
            "cad-net", Severity.ERROR, message + (net or "no net"), placement.place(pad.at), items=(name,)
        )
        return
    joined[pad.number] = net


def _texts(reader: Reader, node: Node, ref: str, placement: Placement, notes: Notes, found: Parts) -> None:
    """Take every text of the footprint that is printed; the reference apart."""
    value = _said(_field(node, "value"))

    def place(at: Point) -> Point:
        return at.turned(placement.rotation).plus(placement.at)

    for item in (*children(node, "fp_text"), *children(node, "property"), *children(node, "fp_text_box")):
        if head(item) == "fp_text_box":
            read_graphic(reader, item, notes)
            continue
        if len(item) < 3 or isinstance(item[1], list) or isinstance(item[2], list):
            continue
        if any(is_copper(layer) for layer in layers_of(item)):
            notes.unread(f"a text of {ref} on copper is not read", True, placement.at)
            continue
        kind, said = str(item[1]).casefold(), str(item[2])
        for variable, meant in (("${REFERENCE}", ref), ("${VALUE}", value), ("%R", ref), ("%V", value)):
            said = said.replace(variable, meant)
        try:
            text = read_text(
                reader, item, place, said, "board" if kind == "reference" else "footprint", notes
            )
        except InputError as error:
            notes.failed(f"a text of {ref}", error, False)
            continue
        if text is None:
            continue
        if kind == "reference":
            found.references.append((ref, text))
        else:
            found.legend.append(text)
