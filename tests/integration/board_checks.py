"""What must hold on every finished board, measured without the rule check."""

from __future__ import annotations

from itertools import combinations

from shapely import Polygon, unary_union

from boardgen.board.geometry import (
    copper_items,
    hole_shape,
    outline_polygon,
    pad_centre,
    part_courtyard,
    piece_polygon,
)
from boardgen.board.model import Board, Part, PartKind, Side
from boardgen.catalog.model import Mounting
from boardgen.errors import Severity
from boardgen.footprint.model import PadKind
from boardgen.pipeline import Built
from boardgen.units import ZERO, Nm, Point, mm

LOOSE = 2_000  # nm, for rounded corners and turned points


def part_of(board: Board, kind: PartKind) -> Part:
    (found,) = (p for p in board.parts if p.kind is kind)
    return found


def reach(board: Board, at: Point) -> dict[str, int]:
    """How far inside each edge of the board's box *at* lies, in nm."""
    left, top, right, bottom = outline_polygon(board.outline).bounds
    return {
        "left": round(at.x - left),
        "right": round(right - at.x),
        "top": round(at.y - top),
        "bottom": round(bottom - at.y),
    }


def copper_area(board: Board):
    """All copper but the module's own pads (one may lie at its antenna): both sides as one area."""
    own = {
        f"{p.ref} pad {pad.number}"
        for p in board.parts
        for pad in p.footprint.pads
        if p.kind is PartKind.MODULE
    }
    pieces = [item.shape.polygon() for item in copper_items(board) if item.name not in own]
    pieces += [piece_polygon(piece) for pour in board.pours for piece in pour.pieces]
    return unary_union(pieces)


def assert_sound(done: Built) -> None:
    """Complete, no error, ends at their edges, holes and keepouts free, every signal joined."""
    board, bound = done.bundle.board, done.bundle.bound
    assert done.routing.unrouted == ()
    assert done.complete
    assert [f.message for f in done.bundle.findings if f.severity is Severity.ERROR] == []
    assert done.routing.vias == len(board.vias)
    _ends(done)
    _holes(board, bound.fab.edge_copper_min)
    copper = copper_area(board)
    for keepout in board.keepouts:
        area = Polygon([(p.x, p.y) for p in keepout.ring]).buffer(-LOOSE)
        assert copper.intersection(area).area < LOOSE**2, keepout.reason
    inside = outline_polygon(board.outline).buffer(LOOSE)
    drawn = unary_union([piece_polygon(piece) for pour in board.pours for piece in pour.pieces])
    assert drawn.is_empty or inside.contains(drawn)
    assert all(inside.contains(t_shape) for t_shape in _tracks(board))
    _signals(done)


def _tracks(board: Board):
    return [c.shape.polygon() for c in copper_items(board) if c.name.startswith("track")]


def _ends(done: Built) -> None:
    board, bound, plan = done.bundle.board, done.bundle.bound, done.bundle.floorplan
    module, connector = part_of(board, PartKind.MODULE), part_of(board, PartKind.CONNECTOR)
    if bound.module.usb is not None:
        jack = module.placement.place(Point(ZERO, bound.module.body.top))
        assert reach(board, jack)[plan.module_edge] <= max(bound.module.usb.overhang, 0) + mm(1)
    if bound.connector.mounting is not Mounting.STRAIGHT:
        assert bound.connector.edge is not None
        at = connector.placement.place(Point(ZERO, bound.connector.edge))
        assert abs(reach(board, at)[plan.connector_edge]) <= LOOSE
    courtyards = [(p.ref, part_courtyard(p, Side.TOP)) for p in board.parts]
    for (a, one), (b, other) in combinations(courtyards, 2):
        assert one.intersection(other).area <= LOOSE * LOOSE, (a, b)


def _holes(board: Board, edge: Nm) -> None:
    inside = outline_polygon(board.outline)
    for part in board.parts:
        for pad in part.footprint.pads:
            if pad.kind is PadKind.SURFACE:
                continue
            hole = hole_shape(part, pad).polygon()
            assert inside.contains(hole), f"{part.ref} {pad.number}"
            assert hole.distance(inside.exterior) >= edge - LOOSE or part.kind is PartKind.HOLE


def _signals(done: Built) -> None:
    board, bound = done.bundle.board, done.bundle.bound
    module = part_of(board, PartKind.MODULE)
    pins = [c.pin_number for c in done.bundle.pinmap.choices]
    assert len(pins) == len(set(pins))
    waived = {w.pin for w in bound.design.waivers}
    for choice in done.bundle.pinmap.choices:
        pin = bound.module.pin(choice.pin_number)
        assert pin.number in waived or not (pin.strap or pin.shared)
        assert pin.can_drive or not choice.request.drives
        assert pin.analog or not choice.request.analog
        assert module.net_of(pin.number) == choice.request.net
    for item in bound.design.fixed:
        assert item.pin in {
            c.pin_number for c in done.bundle.pinmap.choices if c.request.signal == item.signal
        }


def one_sided(done: Built) -> None:
    """Every joint can be soldered from the bottom, the only copper."""
    board = done.bundle.board
    assert board.copper == (Side.BOTTOM,)
    assert {t.side for t in board.tracks} == {Side.BOTTOM}
    assert board.vias == ()
    assert {p.side for p in board.pours} <= {Side.BOTTOM}
    for part in board.parts:
        for pad in part.footprint.pads:
            if part.net_of(pad.number) is not None:
                through = pad.kind is PadKind.PLATED
                assert through or part.placement.side is Side.BOTTOM, f"{part.ref} {pad.number}"
    assert done.routing.links == sum(p.kind is PartKind.LINK for p in board.parts)


def hole_places(board: Board) -> set[tuple[float, float]]:
    """Centres of the mounting holes in mm."""
    holes = [p for p in board.parts if p.kind is PartKind.HOLE]
    return {(c.x.mm, c.y.mm) for p in holes for c in (pad_centre(p, p.footprint.pads[0]),)}
