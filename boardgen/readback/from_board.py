"""What the board model and the netlist want of the files."""

from __future__ import annotations

import itertools

from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from boardgen.board.geometry import (
    Shape,
    hole_shape,
    loop_points,
    pad_centre,
    pad_shape,
    piece_polygon,
    sides_of,
)
from boardgen.board.model import Board, LegendText, Outline, PartKind
from boardgen.board.strokes import text_strokes
from boardgen.catalog.model import FabClass
from boardgen.circuit.model import Netlist
from boardgen.footprint.model import PadKind
from boardgen.readback.model import CHORD, NETLIST, Fill, Pad, Stroke, Via, Wanted
from boardgen.units import Point

SCORE_PEN = 100_000.0  # nm; the width a score line is drawn in, which means nothing


def _xy(at: Point) -> tuple[float, float]:
    return float(at.x), float(at.y)


def area_of(outline: Outline) -> BaseGeometry:
    """Return the board's area, arcs within CHORD nm; empty for a broken outline."""
    loops = [loop_points(loop, CHORD) for loop in (outline.outer, *outline.cutouts)]
    if len(loops[0]) < 3:
        return Polygon()
    return Polygon(loops[0], [loop for loop in loops[1:] if len(loop) >= 3])


def printed(board: Board) -> tuple[Stroke, ...]:
    """Return every stroke of the printing."""
    strokes: list[Stroke] = []
    for item in (*board.legend, *(text for _, text in board.references)):
        if isinstance(item, LegendText):
            mirrored = item.side.value == "bottom"
            paths = text_strokes(item.text, item.at, item.height, item.stroke, item.rotation, mirrored)
        else:
            paths = (item.points,)
        for path in paths:
            ends = itertools.pairwise(path) if len(path) > 1 else ((path[0], path[0]),)
            strokes.extend(Stroke(item.side, _xy(a), _xy(b), float(item.stroke)) for a, b in ends)
    return tuple(strokes)


def _nets(board: Board, netlist: Netlist | None) -> dict[tuple[str, str], str | None]:
    """Return the net of each contact: the netlist's word where it knows the part, else the board's."""
    nets: dict[tuple[str, str], str | None] = {
        (part.ref, pad.number): part.net_of(pad.number) for part in board.parts for pad in part.footprint.pads
    }
    for known in netlist.parts if netlist is not None else ():
        for pin in known.pins:
            nets[known.ref, pin.number] = pin.net
    return nets


def wanted_by_board(board: Board, netlist: Netlist | None, fab: FabClass) -> Wanted:
    """Return what *board* and *netlist* want; every length exact."""
    nets = _nets(board, netlist)
    pads: list[Pad] = []
    bare: list[tuple[str, Shape]] = []
    links: list[tuple[str, str, str]] = []
    for part in board.parts:
        numbers = []
        for pad in part.footprint.pads:
            hole = hole_shape(part, pad) if pad.hole is not None else None
            if pad.kind is PadKind.UNPLATED:
                if hole is not None:
                    bare.append((f"hole of {part.ref}", hole))
                continue
            sides = sides_of(part, pad, board.copper)
            net = nets.get((part.ref, pad.number))
            plated = hole is not None and board.plated
            at = _xy(pad_centre(part, pad))
            numbers.append(pad.number)
            own = None if pad.mask_margin is None else float(pad.mask_margin)
            shape = pad_shape(part, pad)
            pads.append(Pad(part.ref, pad.number, net, at, sides, shape, hole, plated, own, pad.paste))
        if part.kind is PartKind.LINK:
            links.extend((part.ref, numbers[0], other) for other in numbers[1:])
    return Wanted(
        name=NETLIST,
        grid=0.0,
        pads=tuple(pads),
        vias=tuple(Via(v.net, _xy(v.at), float(v.diameter), float(v.hole)) for v in board.vias),
        copper=board.copper,
        plated=board.plated,
        bare=tuple(bare),
        tracks=tuple(Stroke(t.side, _xy(t.start), _xy(t.end), float(t.width), t.net) for t in board.tracks),
        fills=tuple(
            Fill(pour.side, pour.net, piece_polygon(piece)) for pour in board.pours for piece in pour.pieces
        ),
        outline=area_of(board.outline),
        legend=printed(board),
        links=tuple(links),
        mask_margin=float(fab.mask_margin),
        scores=tuple(Stroke(None, _xy(s.start), _xy(s.end), SCORE_PEN) for s in board.scores),
    )
