"""Independent judges of a routed board: clearances, connectivity and shape, from geometry alone."""

from __future__ import annotations

import shapely
from shapely import STRtree

from boardgen.board.geometry import (
    Shape,
    copper_items,
    hole_shape,
    outline_polygon,
    via_hole_shape,
)
from boardgen.board.model import Board
from boardgen.footprint.model import PadKind
from boardgen.layout.route import RoutingRules

NOISE = 0.5  # nm


def clearance_faults(board: Board, rules: RoutingRules) -> list[str]:
    """Every pair of items that stands nearer than the rules allow (new copper against all else)."""
    items = list(copper_items(board))
    faults: list[str] = []
    tree = STRtree([shapely.box(*item.shape.bounds) for item in items])
    reach = max([rules.default.spacing, *(r.spacing for _, r in rules.nets)]) + 1
    for item in items:
        if item.pad:
            continue
        left, top, right, bottom = item.shape.bounds
        window = shapely.box(left - reach, top - reach, right + reach, bottom + reach)
        for j in sorted(tree.query(window).tolist()):
            other = items[j]
            if other.side is not item.side or other.net == item.net:
                continue
            need = max(rules.rule(item.net).spacing, rules.rule(other.net).spacing)
            gap = item.shape.distance(other.shape)
            if gap < need - NOISE:
                faults.append(f"{item.name} to {other.name}: {gap:.0f} < {need}")
    area = outline_polygon(board.outline)
    for item in items:
        if item.pad:
            continue
        if not area.contains(item.shape.skeleton):
            faults.append(f"{item.name} leaves the board")
        gap = float(area.boundary.distance(item.shape.skeleton)) - item.shape.radius
        if gap < rules.edge - NOISE:
            faults.append(f"{item.name} to the edge: {gap:.0f}")
        for keepout in board.keepouts:
            if shapely.Polygon(keepout.ring).distance(item.shape.skeleton) - item.shape.radius < -NOISE:
                faults.append(f"{item.name} in a keepout")
    holes: list[tuple[str, Shape, bool]] = []
    for part in board.parts:
        for pad in part.footprint.pads:
            if pad.hole is not None:
                shape = hole_shape(part, pad)
                holes.append((f"{part.ref} {pad.number}", shape, False))
                if pad.kind is PadKind.UNPLATED:
                    for item in items:
                        if not item.pad and item.shape.distance(shape) < rules.npth - NOISE:
                            faults.append(f"{item.name} to bare hole")
    holes += [("via", via_hole_shape(via), True) for via in board.vias]
    for i, (name, shape, new) in enumerate(holes):
        for other, second, newer in holes[:i]:
            if (new or newer) and shape.distance(second) < rules.hole_gap - NOISE:
                faults.append(f"hole {name} to {other}")
    return faults


def open_nets(board: Board, skip: tuple[str, ...] = ()) -> list[str]:
    """Nets whose pads are not all joined by touching copper (links count as joined)."""
    items = list(copper_items(board))
    parent = list(range(len(items)))

    def root(i: int) -> int:
        while parent[i] != i:
            parent[i] = parent[parent[i]]
            i = parent[i]
        return i

    same: dict[tuple[str, int], int] = {}
    for i, item in enumerate(items):
        # the copper of one pad or via on both sides is one piece
        key = (item.ref, id(item.source))
        if key in same:
            parent[root(i)] = root(same[key])
        same.setdefault(key, i)
    for part in board.parts:
        if part.kind == "link":
            ends = [i for i, item in enumerate(items) if item.ref == part.ref]
            for i in ends[1:]:
                parent[root(i)] = root(ends[0])
    tree = STRtree([shapely.box(*item.shape.bounds) for item in items])
    for i, item in enumerate(items):
        for j in sorted(tree.query(shapely.box(*item.shape.bounds)).tolist()):
            other = items[j]
            if i < j and other.side is item.side and item.shape.distance(other.shape) <= 0:
                parent[root(i)] = root(j)
    nets: dict[str, set[int]] = {}
    for i, item in enumerate(items):
        if item.pad and item.net is not None:
            nets.setdefault(item.net, set()).add(root(i))
    return sorted(n for n, roots in nets.items() if len(roots) > 1 and n not in skip)


def shorted(board: Board) -> list[str]:
    """Pairs of nets whose copper touches."""
    items = list(copper_items(board))
    tree = STRtree([shapely.box(*item.shape.bounds) for item in items])
    found = set()
    for i, item in enumerate(items):
        for j in sorted(tree.query(shapely.box(*item.shape.bounds)).tolist()):
            other = items[j]
            near = i < j and other.side is item.side and other.net != item.net
            if near and item.shape.distance(other.shape) <= 0:
                found.add(f"{item.name} / {other.name}")
    return sorted(found)


def crooked(board: Board) -> list[str]:
    """Tracks that run in none of the eight directions, or have no length."""
    bad = []
    for t in board.tracks:
        dx, dy = abs(t.end.x - t.start.x), abs(t.end.y - t.start.y)
        if (dx == 0 and dy == 0) or not (dx == 0 or dy in (0, dx)):
            bad.append(f"{t.net} {t.start} {t.end}")
    return bad


def sharp_corners(board: Board) -> list[str]:
    """Places, pads and vias apart, where two tracks of a net meet at less than 90 degrees."""
    pads = {
        part.placement.place(pad.at) for part in board.parts for pad in part.footprint.pads if pad.number
    } | {via.at for via in board.vias}
    meet: dict[tuple[str, object, object], list[tuple[int, int]]] = {}
    for t in board.tracks:
        for a, b in ((t.start, t.end), (t.end, t.start)):
            if a not in pads:
                meet.setdefault((t.net, t.side, a), []).append((b.x - a.x, b.y - a.y))
    bad = []
    for (net, _, at), arms in meet.items():
        for i, u in enumerate(arms):
            for v in arms[:i]:
                if u[0] * v[0] + u[1] * v[1] > 0:
                    bad.append(f"{net} at {at}")
    return bad
