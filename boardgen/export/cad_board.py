"""Write the board file: layers, nets, footprints, copper, pours with their fills, legend, outline."""

from __future__ import annotations

import itertools
from collections.abc import Collection
from dataclasses import replace

from boardgen.board.geometry import outline_polygon
from boardgen.board.model import (
    Board,
    LegendLine,
    LegendText,
    OutlineArc,
    OutlinePiece,
    PartKind,
    Side,
    Track,
    Via,
)
from boardgen.board.move import moved_board
from boardgen.catalog.model import FabClass
from boardgen.export.bundle import FabBundle
from boardgen.export.cad_footprints import placed_node
from boardgen.export.cad_nodes import (
    BOARD_VERSION,
    GENERATOR,
    NetNames,
    at_node,
    connected,
    node,
    open_pin_net,
    part_stamp,
    stamp,
    word,
    xy,
)
from boardgen.export.cad_pours import keepout_node, pour_node
from boardgen.export.identity import identity_text
from boardgen.footprint.model import Footprint
from boardgen.footprint.sexpr import Node, Sym, dump, length
from boardgen.units import NM_PER_MM, Nm, Point, mm

COPPER = {Side.TOP: "F.Cu", Side.BOTTOM: "B.Cu"}
_LEGEND = {Side.TOP: "F.SilkS", Side.BOTTOM: "B.SilkS"}
_EDGE_LINE = mm("0.1")
_LINK_WIRE = mm("0.6")  # a bare wire's usual diameter

# number, file name, kind, shown name
_LAYERS: tuple[tuple[int, str, str, str], ...] = (
    (0, "F.Cu", "signal", "Top copper"),
    (31, "B.Cu", "signal", "Bottom copper"),
    (34, "B.Paste", "user", ""),
    (35, "F.Paste", "user", ""),
    (36, "B.SilkS", "user", "Bottom legend"),
    (37, "F.SilkS", "user", "Top legend"),
    (38, "B.Mask", "user", ""),
    (39, "F.Mask", "user", ""),
    (40, "Dwgs.User", "user", ""),
    (41, "Cmts.User", "user", ""),
    (44, "Edge.Cuts", "user", ""),
    (45, "Margin", "user", ""),
    (46, "B.CrtYd", "user", "Bottom courtyard"),
    (47, "F.CrtYd", "user", "Top courtyard"),
    (48, "B.Fab", "user", ""),
    (49, "F.Fab", "user", ""),
)


def pad_nets(bundle: FabBundle, names: NetNames) -> dict[str, dict[str, str]]:
    """Return, by reference and pad number, the net as the board file spells it.

    Parts of the netlist follow it, so that board and schematic cannot differ; a
    part that only the board has (a wire link, say) follows the board.
    """
    joined = connected(bundle.netlist)
    found: dict[str, dict[str, str]] = {}
    for part in bundle.netlist.parts:
        pins = {pin.number: pin.name for pin in part.pins}
        mine = found.setdefault(part.ref, {})
        for number in dict.fromkeys((*part.footprint.numbers(), *pins)):
            net = joined.get((part.ref, number))
            open_net = open_pin_net(part.ref, pins.get(number, ""), number)
            mine[number] = open_net if net is None else names.spell(net)
    for placed in bundle.board.parts:
        if placed.ref not in found:
            found[placed.ref] = {number: names.spell(net) for number, net in placed.nets}
    return found


def net_numbers(bundle: FabBundle, pads: dict[str, dict[str, str]], names: NetNames) -> dict[str, int]:
    """Return every net's code, from 1 without a gap, by name."""
    board = bundle.board
    found = {names.spell(net.name) for net in board.nets}
    found |= {net for mine in pads.values() for net in mine.values() if net}
    found |= {names.spell(track.net) for track in board.tracks}
    found |= {names.spell(via.net) for via in board.vias}
    found |= {names.spell(pour.net) for pour in board.pours}
    return {name: number for number, name in enumerate(sorted(found), 1)}


# name, width and height in mm
_SHEETS = (("A4", 297, 210), ("A3", 420, 297), ("A2", 594, 420), ("A1", 841, 594))


def board_text(
    bundle: FabBundle,
    footprints: dict[str, Footprint],
    names: NetNames,
    locked: Collection[Track | Via] = (),
) -> str:
    """Return NAME.kicad_pcb; *footprints* are the parts' own under their library names.

    Copper among *locked* is marked so. The board stands in the middle of the sheet; its lower left corner,
    which the fabrication files count from, is the file's auxiliary origin.
    """
    fab = bundle.bound.fab
    paper, way = sheet_place(bundle.board)
    board = moved_board(bundle.board, way)
    pads = pad_nets(bundle, names)
    numbers = net_numbers(bundle, pads, names)
    circuit = {part.ref: part for part in bundle.netlist.parts}
    symbols = {part.ref: part_stamp(board.name, part) for part in bundle.netlist.parts}
    made = node("kicad_pcb", node("version", BOARD_VERSION), node("generator", word(GENERATOR)))
    made.append(node("general", node("thickness", length(board.thickness))))
    made.append(node("paper", paper))
    title = node("title_block", node("title", board.title), node("rev", board.revision))
    title += [node("comment", 1, bundle.tool), node("comment", 2, identity_text(bundle))]
    made += [title, _layers(), _setup(board, fab), node("net", 0, "")]
    made += [node("net", number, net) for net, number in numbers.items()]
    for part in sorted(board.parts, key=lambda part: part.ref):
        symbol = None if part.kind is PartKind.HOLE else symbols.get(part.ref)
        own = footprints[part.ref]
        made.append(
            placed_node(part, own, board, fab, symbol, numbers, pads.get(part.ref, {}), circuit.get(part.ref))
        )
    made += [*_outline(board), *_scores(board)]
    made += _legend(board)
    made += _copper(board, numbers, names, frozenset(_moved(item, way) for item in locked))
    for rank, pour in enumerate(board.pours):
        net = names.spell(pour.net)
        made.append(pour_node(board, pour, rank, numbers[net], net))
    made += [keepout_node(board, area, rank) for rank, area in enumerate(board.keepouts)]
    return dump(made)


def sheet_place(board: Board) -> tuple[str, Point]:
    """Return the sheet the board fits on with room to spare, and the way (nm) to its middle.

    The way is a whole number of mm, so that what was on a grid stays on it.
    """
    left, top, right, bottom = outline_polygon(board.outline).bounds
    fitting = [s for s in _SHEETS if right - left <= mm(s[1] - 60) and bottom - top <= mm(s[2] - 60)]
    name, wide, high = (fitting or _SHEETS[-1:])[0]
    dx = round((mm(wide) - left - right) / 2 / NM_PER_MM)
    dy = round((mm(high) - top - bottom) / 2 / NM_PER_MM)
    return name, Point(mm(dx), mm(dy))


def _layers() -> Node:
    made = node("layers")
    for number, name, kind, shown in _LAYERS:
        row: Node = [Sym(str(number)), name, word(kind)]
        if shown:
            row.append(shown)
        made.append(row)
    return made


def _setup(board: Board, fab: FabClass) -> Node:
    """Return mask expansion and the stack: what the fab builds."""
    masked = fab.mask_colour not in ("", "none")
    middle = Nm(max(board.thickness - fab.copper_um * 2000, 0))
    copper = length(Nm(fab.copper_um * 1000))
    rows: list[Node] = []
    for side, word_ in (("F", "Top"), ("B", "Bottom")):
        outer = [node("layer", f"{side}.SilkS", node("type", f"{word_} Silk Screen"))]
        outer.append(node("layer", f"{side}.Paste", node("type", f"{word_} Solder Paste")))
        mask = node("layer", f"{side}.Mask", node("type", f"{word_} Solder Mask"))
        if masked:
            mask.append(node("color", fab.mask_colour.capitalize()))
        outer.append([*mask, node("thickness", Sym("0.01"))])
        outer.append(node("layer", f"{side}.Cu", node("type", "copper"), node("thickness", copper)))
        if side == "F":
            rows += outer
            core = node("layer", "dielectric 1", node("type", "core"), node("thickness", length(middle)))
            rows.append([*core, node("material", "FR4")])
        else:
            rows += reversed(outer)
    stack = node("stackup", *rows, node("copper_finish", fab.finish))
    left, _top, _right, bottom = outline_polygon(board.outline).bounds
    origin = Point(Nm(round(left)), Nm(round(bottom)))
    return node(
        "setup",
        stack,
        node("pad_to_mask_clearance", length(fab.mask_margin)),
        node("solder_mask_min_width", length(fab.mask_web_min)),
        xy("aux_axis_origin", origin),
    )


def _outline(board: Board) -> list[Node]:
    made: list[Node] = []
    for loop in (board.outline.outer, *board.outline.cutouts):
        for piece in loop:
            made.append(_edge(piece, stamp(board.name, "edge", str(len(made)))))
    return made


def _scores(board: Board) -> list[Node]:
    """Return a panel's score lines, as drawing only: the CAD program has no layer for cuts."""
    stroke = node("stroke", node("width", length(_EDGE_LINE)), node("type", word("solid")))
    return [
        node(
            "gr_line",
            xy("start", line.start),
            xy("end", line.end),
            stroke,
            node("layer", "Dwgs.User"),
            node("tstamp", word(stamp(board.name, "score", str(number)))),
        )
        for number, line in enumerate(board.scores)
    ]


def _edge(piece: OutlinePiece, own: str) -> Node:
    stroke = node("stroke", node("width", length(_EDGE_LINE)), node("type", word("solid")))
    tail = (stroke, node("layer", "Edge.Cuts"), node("tstamp", word(own)))
    if isinstance(piece, OutlineArc):
        return node("gr_arc", xy("start", piece.start), xy("mid", piece.mid), xy("end", piece.end), *tail)
    return node("gr_line", xy("start", piece.start), xy("end", piece.end), *tail)


def _legend(board: Board) -> list[Node]:
    """Return the board's own printing; footprints and references bring theirs along."""
    made: list[Node] = []
    references = {text for _, text in board.references}
    for item in board.legend:
        if item.origin == "board" and item not in references:
            made += _printed(board, item, len(made))
    return made


def _printed(board: Board, item: LegendText | LegendLine, first: int) -> list[Node]:
    layer = node("layer", _LEGEND[item.side])
    if isinstance(item, LegendText):
        size = node("size", length(item.height), length(item.height))
        effects = node("effects", node("font", size, node("thickness", length(item.stroke))))
        if item.side is Side.BOTTOM:
            effects.append(node("justify", word("mirror")))
        own = node("tstamp", word(stamp(board.name, "legend", str(first))))
        return [node("gr_text", item.text, at_node(item.at, item.rotation), layer, own, effects)]
    made = []
    for place, (start, end) in enumerate(itertools.pairwise(item.points), first):
        stroke = node("stroke", node("width", length(item.stroke)), node("type", word("solid")))
        own = node("tstamp", word(stamp(board.name, "legend", str(place))))
        made.append(node("gr_line", xy("start", start), xy("end", end), stroke, layer, own))
    return made


def _moved(item: Track | Via, way: Point) -> Track | Via:
    if isinstance(item, Via):
        return replace(item, at=item.at.plus(way))
    return replace(item, start=item.start.plus(way), end=item.end.plus(way))


def _copper(
    board: Board, numbers: dict[str, int], names: NetNames, locked: frozenset[Track | Via]
) -> list[Node]:
    made: list[Node] = []

    def segment(net: str, layer: str, start: Node, end: Node, width: Nm, fixed: bool = False) -> None:
        own = node("tstamp", word(stamp(board.name, "copper", str(len(made)))))
        what = (node("width", length(width)), node("layer", layer), node("net", numbers[net] if net else 0))
        made.append(node("segment", *[word("locked")] * fixed, start, end, *what, own))

    for track in board.tracks:
        ends = xy("start", track.start), xy("end", track.end)
        segment(names.spell(track.net), COPPER[track.side], *ends, track.width, track in locked)
    for via in board.vias:
        own = node("tstamp", word(stamp(board.name, "copper", str(len(made)))))
        size = node("size", length(via.diameter)), node("drill", length(via.hole))
        layers = node("layers", "F.Cu", "B.Cu")
        code = node("net", numbers[names.spell(via.net)])
        fixed = [word("locked")] * (via in locked)
        made.append(node("via", *fixed, xy("at", via.at), *size, layers, code, own))
    if not board.plated:
        for part in board.parts:
            if part.kind is PartKind.LINK:
                places = [part.placement.place(pad.at) for pad in part.footprint.pads if pad.number]
                net = next((net for _, net in part.nets), "")
                for start, end in itertools.pairwise(places):
                    segment(names.spell(net), "F.Cu", xy("start", start), xy("end", end), _LINK_WIRE)
    return made
