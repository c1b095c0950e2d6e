"""A board file put together as a board model."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from boardgen.board.model import Board, Front, LegendItem, PartKind, Placement, Serving, Side
from boardgen.catalog.model import FabClass
from boardgen.errors import InputError
from boardgen.footprint.reading import Reader
from boardgen.footprint.sexpr import Node, child, head, words
from boardgen.readback.cad_board.bounds import refuse_crowds
from boardgen.readback.cad_board.copper import read_copper
from boardgen.readback.cad_board.footprints import read_parts
from boardgen.readback.cad_board.layers import LEGEND, layer_of
from boardgen.readback.cad_board.model import CadBoard
from boardgen.readback.cad_board.nets import Nets, classes_of
from boardgen.readback.cad_board.notes import Notes
from boardgen.readback.cad_board.outline import read_outline
from boardgen.readback.cad_board.printing import printed_paths, read_graphic, read_text
from boardgen.readback.cad_board.tree import read_tree, version_of
from boardgen.readback.cad_board.zones import read_zones
from boardgen.units import ORIGIN, Nm, Point, mm

_PEN = mm("0.15")  # where a fab class that does not print names no least stroke
_NO_KINDS: Mapping[str, PartKind] = {}
_NO_STANDOFFS: Mapping[str, Nm] = {}
_NO_FRONTS: Mapping[str, Front] = {}
_NOTHING_SERVED: Mapping[str, Serving] = {}


def read_cad_board(
    data: bytes,
    where: str,
    fab: FabClass,
    kinds: Mapping[str, PartKind] = _NO_KINDS,
    project: bytes | None = None,
    name: str = "",
    standoffs: Mapping[str, Nm] = _NO_STANDOFFS,
    fronts: Mapping[str, Front] = _NO_FRONTS,
    serving: Mapping[str, Serving] = _NOTHING_SERVED,
) -> CadBoard:
    """Return the board that a ``.kicad_pcb`` file holds, of generation 6 to 9.

    *where* names the file in errors; *kinds* gives the role of the parts the design knows (others are guessed
    from their pads), *standoffs* how high their bodies stand over the board (nm), *fronts* where connectors
    need the board's edge, *serving* which capacitors stand by which chip; the file says none of it.
    *project* is the project file beside it. Pure: from bytes alone. Raises InputError for what is no board,
    is damaged or too large; a thing that cannot be read is a finding ``cad-unread``.
    """
    notes = Notes()
    tree = read_tree(data, where, notes)
    version = version_of(tree, where, notes)
    sides = (Side.TOP, Side.BOTTOM) if fab.copper_layers > 1 else (Side.BOTTOM,)
    nets = Nets(tree, notes)
    pen = fab.legend_stroke_min if fab.legend_stroke_min > 0 else _PEN
    parts = read_parts(where, tree, nets, kinds, sides, pen, notes)
    copper = read_copper(where, tree, nets, parts.parts, sides, notes)
    zones = read_zones(where, tree, nets, sides, notes)
    outline = read_outline(where, tree, parts.edges, notes)
    legend = [*parts.legend, *_legend(where, tree, pen, notes)]
    used = {net for part in parts.parts for _, net in part.nets}
    used |= {track.net for track in copper.tracks} | {via.net for via in copper.vias}
    used |= {pour.net for pour in zones.pours}
    names = sorted(used | set(nets.all_names()))
    board_nets, classes, said = classes_of(project, names, fab)
    title = child(tree, "title_block") or []
    board = Board(
        name=name or where,
        revision=" ".join(words(child(title, "rev"))),
        title=" ".join(words(child(title, "title"))),
        outline=outline,
        parts=tuple(
            replace(
                part,
                standoff=standoffs.get(part.ref, part.standoff),
                front=fronts.get(part.ref),
                serves=serving.get(part.ref),
            )
            for part in parts.parts
        ),
        nets=board_nets,
        classes=classes,
        tracks=tuple(copper.tracks),
        vias=tuple(copper.vias),
        pours=tuple(zones.pours),
        legend=tuple(legend),
        references=tuple(parts.references),
        keepouts=tuple(zones.keepouts),
        copper=sides,
        plated=fab.plated,
        thickness=_thickness(where, tree, fab),
    )
    refuse_crowds(board, where)
    counts = (
        ("parts", len(board.parts)),
        ("pads", sum(len(part.footprint.pads) for part in board.parts)),
        ("tracks", len(board.tracks)),
        ("of these from arcs", copper.arcs),
        ("vias", len(board.vias)),
        ("pours", len(board.pours)),
        ("locked", len(notes.locked)),
    )
    return CadBoard(
        board, (*notes.findings(), *said), tuple(notes.locked), _origin(where, tree), version, counts
    )


def _thickness(where: str, tree: Node, fab: FabClass) -> Nm:
    given = words(child(child(tree, "general") or [], "thickness"))
    try:
        return Reader(where).length(given[0], "thickness") if given else fab.thickness
    except InputError:
        return fab.thickness


def _origin(where: str, tree: Node) -> Point | None:
    setup = child(tree, "setup")
    if setup is None or child(setup, "aux_axis_origin") is None:
        return None
    return Reader(where).point(setup, "aux_axis_origin", "setup")


def _legend(where: str, tree: Node, pen: Nm, notes: Notes) -> list[LegendItem]:
    """Return the board's own printing."""
    reader = Reader(where)
    made: list[LegendItem] = []
    here = Placement(ORIGIN)
    for item in tree:
        kind = head(item)
        if not isinstance(item, list) or not (
            kind.startswith("gr_") or kind in ("dimension", "image", "table")
        ):
            continue
        if layer_of(item) not in LEGEND:
            continue
        if kind != "gr_text":
            drawn = read_graphic(reader, item, notes)
            made += printed_paths(drawn, here, pen, "board", notes) if drawn is not None else []
        elif len(item) > 1 and not isinstance(item[1], list):
            try:
                text = read_text(reader, item, lambda at: at, str(item[1]), "board", notes)
            except InputError as error:
                notes.failed("a text of the board", error, False)
                continue
            made += [text] if text is not None else []
    return made
