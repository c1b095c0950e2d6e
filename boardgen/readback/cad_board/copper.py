"""Tracks, arcs of tracks and vias of a CAD board."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field

from boardgen.board.model import Part, PartKind, Side, Track, Via
from boardgen.errors import InputError, Severity
from boardgen.footprint.arcs import CHORD, chord_points
from boardgen.footprint.reading import Reader
from boardgen.footprint.sexpr import Node, child, head
from boardgen.readback.cad_board.footprints import is_locked
from boardgen.readback.cad_board.layers import COPPER, is_copper, layer_of, layers_of
from boardgen.readback.cad_board.nets import NO_NET, Nets
from boardgen.readback.cad_board.notes import Notes
from boardgen.readback.cad_board.printing import bare_words
from boardgen.units import Nm, Point, format_mm

MOST_TRACKS = 200_000


@dataclass(slots=True)
class Copper:
    """Tracks and vias read so far; *arcs* counts those that were arcs in the file."""

    tracks: list[Track] = field(default_factory=list)
    vias: list[Via] = field(default_factory=list)
    arcs: int = 0


def _width(reader: Reader, node: Node, name: str, key: str) -> Nm:
    given = child(node, name)
    if given is None or len(given) < 2:
        raise reader.fail(f"a {key} needs its {name}", "")
    width = reader.length(given[1], "")
    if width <= 0:
        raise reader.fail(f"the {name} must be larger than 0", "", f"{format_mm(width)} mm")
    return width


def read_copper(
    where: str, board: Node, nets: Nets, parts: list[Part], sides: tuple[Side, ...], notes: Notes
) -> Copper:
    """Return tracks and vias; *sides* are those the fab class makes.

    A track's arc becomes chords that stand on it, each within :data:`CHORD` of it toward its centre; its ends
    are exact. On one side, a line on the other is the drawing of a wire link where it joins one's pads.
    """
    reader = Reader(where)
    found = Copper()
    wires = _wires(parts) if len(sides) == 1 else set()
    for node in board:
        kind = head(node)
        if not isinstance(node, list):
            continue
        try:
            if kind in ("segment", "arc"):
                _track(reader, node, nets, sides, wires, notes, found)
            elif kind == "via":
                _via(reader, node, nets, sides, notes, found)
            elif kind in ("gr_line", "gr_arc") and layer_of(node) in COPPER and child(node, "net"):
                _track(reader, node, nets, sides, wires, notes, found)
            elif kind.startswith("gr_") and any(is_copper(layer) for layer in layers_of(node)):
                notes.unread("a graphic or text on copper is not read", True, None, layer_of(node))
            elif kind == "generated":
                continue  # a group of tracks that also stand for themselves
        except InputError as error:
            notes.failed(
                f"a {'track' if kind != 'via' else 'via'} on {layer_of(node) or 'copper'}", error, True
            )
        if len(found.tracks) > MOST_TRACKS or len(found.vias) > MOST_TRACKS:
            raise InputError("the board has too many tracks", where, allowed=f"at most {MOST_TRACKS}")
    return found


def _wires(parts: list[Part]) -> set[frozenset[Point]]:
    ends = set()
    for part in parts:
        if part.kind is PartKind.LINK:
            places = [part.placement.place(pad.at) for pad in part.footprint.pads if pad.number]
            ends |= {frozenset(pair) for pair in itertools.pairwise(places)}
    return ends


def _track(
    reader: Reader,
    node: Node,
    nets: Nets,
    sides: tuple[Side, ...],
    wires: set[frozenset[Point]],
    notes: Notes,
    found: Copper,
) -> None:
    layer = layer_of(node)
    start, end = reader.point(node, "start", ""), reader.point(node, "end", "")
    net = nets.of(node, f"a track on {layer}") or NO_NET
    side = COPPER.get(layer)
    if side not in sides or side is None:
        if frozenset((start, end)) not in wires:
            message = f"a track of {net} is on {layer}, which the fab class does not make"
            notes.tell("cad-layer", Severity.ERROR, message, start, layer)
        return
    stroke = child(node, "stroke")
    width = _width(reader, stroke if stroke is not None else node, "width", "track")
    if is_locked(node):
        notes.locked.append(f"track of {net} at {format_mm(start.x, 3)}, {format_mm(start.y, 3)} mm")
    points = [start, end]
    if child(node, "mid") is not None:
        found.arcs += 1
        points = chord_points(start, reader.point(node, "mid", ""), end, CHORD)
    if len(points) == 2 and start == end:
        found.tracks.append(Track(net, side, start, end, width))
    found.tracks += [Track(net, side, a, b, width) for a, b in itertools.pairwise(points) if a != b]


def _via(
    reader: Reader, node: Node, nets: Nets, sides: tuple[Side, ...], notes: Notes, found: Copper
) -> None:
    at = reader.point(node, "at", "")
    net = nets.of(node, "a via") or NO_NET
    size, drill = _width(reader, node, "size", "via"), _width(reader, node, "drill", "via")
    kinds = {"blind", "micro", "buried"} & set(bare_words(node))
    layers = set(layers_of(node))
    if len(sides) == 1:
        notes.tell(
            "cad-layer", Severity.ERROR, f"a via of {net}, which the fab class does not make", at, "drill"
        )
    elif kinds or not layers >= {"F.Cu", "B.Cu"}:
        word = "/".join(sorted(kinds)) or "from " + " to ".join(sorted(layers))[:60]
        message = f"a {word} via of {net}: two copper sides have through vias alone"
        notes.tell("cad-layer", Severity.ERROR, message, at, "drill")
    if is_locked(node):
        notes.locked.append(f"via of {net} at {format_mm(at.x, 3)}, {format_mm(at.y, 3)} mm")
    found.vias.append(Via(net, at, size, drill))
