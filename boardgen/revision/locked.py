"""Copper that a person locked in a CAD board: straight tracks, arcs as chords, and through vias."""

from __future__ import annotations

from dataclasses import dataclass

from boardgen.board.model import Side, Via
from boardgen.footprint.arcs import chord_points
from boardgen.footprint.reading import Reader
from boardgen.footprint.sexpr import Node, child, children, words
from boardgen.readback.cad_board.footprints import is_locked
from boardgen.readback.cad_board.layers import COPPER, layer_of
from boardgen.readback.cad_board.printing import bare_words
from boardgen.readback.from_cad import plain_net
from boardgen.revision.remark import Remark, at_words
from boardgen.units import Nm, Point

ARC = 2_000.0  # nm: how far the chords of an arc may stand from it, toward its centre
MOST_POINTS = 200  # of one track in a design


@dataclass(frozen=True, slots=True)
class Locked:
    """A locked track."""

    net: str
    side: Side
    width: Nm
    points: tuple[Point, ...]


def _net(node: Node, tree: Node) -> str | None:
    """Return the net a track or via is on, None for none of the board's."""
    nets = {words(net)[0]: plain_net(str(net[2])) for net in children(tree, "net") if len(net) > 2}
    named = words(child(node, "net"))
    net = nets.get(named[0], plain_net(named[0])) if named else None
    return net if net in nets.values() else None


def locked_tracks(tree: Node, where: str, way: Point, remarks: list[Remark]) -> tuple[Locked, ...]:
    """Return the locked tracks of a board's *tree*, moved by *way*; each is told in *remarks*."""
    reader = Reader(where)
    found = []
    for node in (*children(tree, "segment"), *children(tree, "arc")):
        if not is_locked(node):
            continue
        start, end = (reader.point(node, name, "").plus(way) for name in ("start", "end"))
        side = COPPER.get(layer_of(node))
        net = _net(node, tree)
        if side is None or not net:
            remarks.append(
                Remark(f"locked track at {at_words(start)}", "it is on no net or no side of the board")
            )
            continue
        width = reader.length(words(child(node, "width"))[0], "width")
        points = [start, end]
        thing = f"locked track of {net} at {at_words(start)}"
        if child(node, "mid") is not None:
            points = chord_points(start, reader.point(node, "mid", "").plus(way), end, ARC)
            thing += f", an arc as {len(points) - 1} chords within {ARC / 1e6:.3f} mm of it"
        points = [at for i, at in enumerate(points) if i == 0 or at != points[i - 1]]
        if len(points) < 2 or len(points) > MOST_POINTS:
            why = "it has no length" if len(points) < 2 else f"it takes more than {MOST_POINTS - 1} chords"
            remarks.append(Remark(thing, why))
            continue
        remarks.append(Remark(thing))
        found.append(Locked(net, side, width, tuple(points)))
    return tuple(sorted(found, key=lambda t: (t.net, t.side.value, t.points)))


def locked_vias(tree: Node, where: str, way: Point, remarks: list[Remark]) -> tuple[Via, ...]:
    """Return the locked vias of a board's *tree*, moved by *way*; each is told in *remarks*."""
    reader = Reader(where)
    found = []
    for node in children(tree, "via"):
        if not is_locked(node):
            continue
        at = reader.point(node, "at", "").plus(way)
        net = _net(node, tree)
        thing = f"locked via of {net or 'no net'} at {at_words(at)}"
        if not net:
            remarks.append(Remark(thing, "it is on no net of the board"))
        elif {"blind", "micro", "buried"} & set(bare_words(node)):
            remarks.append(Remark(thing, "it does not go through the board"))
        else:
            size, hole = (reader.length(words(child(node, key))[0], key) for key in ("size", "drill"))
            remarks.append(Remark(thing))
            found.append(Via(net, at, size, hole))
    return tuple(sorted(found, key=lambda via: (via.net, via.at)))
