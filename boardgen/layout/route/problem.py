"""A board and its rules as plain arrays: what is in the way, and what is to be joined."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from boardgen.board.geometry import loop_points, sides_of
from boardgen.board.model import Board, OutlineArc, Part, Side, Track
from boardgen.footprint.model import Pad, PadKind, PadShape
from boardgen.layout.route.locked import Reach, joints, lines_of
from boardgen.layout.route.rules import RoutingRules
from boardgen.units import Nm, Point

Array = Any


@dataclass(frozen=True, slots=True)
class Pin:
    """One pad that a net has to reach. *sides* are indices into ``rules.sides``.

    Copper that is joined already (by locked tracks) is one pin with *more* places it may be reached at.
    """

    net: int
    ref: str
    number: str
    at: Point
    sides: tuple[int, ...]
    bars: tuple[int, int]  # the rows of Bars that are its copper
    more: tuple[Pin, ...] = ()

    @property
    def places(self) -> tuple[Pin, ...]:
        """Every place the pin may be reached at, its first one first."""
        return (self, *self.more)


@dataclass(frozen=True, slots=True)
class Bars:
    """Obstacles, each a segment with a radius; lengths in nm.

    ``line`` (n, 4) float; *radius*; *gap* what its own side asks for; *copper*
    whether the other side's spacing counts too; *net* its index or -1; *mask*
    bit i set where it lies on ``rules.sides[i]``.
    """

    line: Array
    radius: Array
    gap: Array
    copper: Array
    net: Array
    mask: Array


@dataclass(frozen=True, slots=True)
class Problem:
    """A board to be routed. Index n of *names*, *half*, *spacing* is net n.

    *holes* are all drilled holes as rows (ax, ay, bx, by, radius). *rings*
    close areas: (points, whether the inside is closed). *kinds* gives each
    net's row in *classes* (half width, spacing). *todo* lists nets to route.
    """

    names: tuple[str, ...]
    half: Array
    spacing: Array
    kinds: Array
    classes: tuple[tuple[float, float], ...]
    pins: tuple[tuple[Pin, ...], ...]
    todo: tuple[int, ...]
    bars: Bars
    holes: Array
    rings: tuple[tuple[Array, bool], ...]
    box: tuple[float, float, float, float]
    unreachable: tuple[tuple[int, str], ...]  # (net, "ref pad n"): no copper on a side in use


def _corners(pad: Pad) -> tuple[list[tuple[float, float]], float]:
    """The pad's skeleton (1 or 2 points or a ring of more, about its place, unturned) and its radius."""
    w, h = float(pad.size.w), float(pad.size.h)
    if pad.shape is PadShape.CUSTOM:
        return [(float(p.x), float(p.y)) for p in pad.outline], float(pad.corner_radius)
    if pad.shape is PadShape.CIRCLE or (pad.shape is PadShape.OVAL and w == h):
        return [(0.0, 0.0)], w / 2
    if pad.shape is PadShape.OVAL:
        return _slot(w, h)
    r = float(pad.corner_radius) if pad.shape is PadShape.ROUNDRECT else 0.0
    r = min(r, w / 2, h / 2)
    a, b = w / 2 - r, h / 2 - r
    return [(-a, -b), (a, -b), (a, b), (-a, b)], r


def _slot(w: float, h: float) -> tuple[list[tuple[float, float]], float]:
    if w == h:
        return [(0.0, 0.0)], w / 2
    half = abs(w - h) / 2
    return ([(-half, 0.0), (half, 0.0)], h / 2) if w > h else ([(0.0, -half), (0.0, half)], w / 2)


def _unit(degrees: float) -> tuple[float, float]:
    quarter, rest = divmod(degrees % 360.0, 90.0)
    if rest == 0.0:
        return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarter)]
    return math.cos(math.radians(degrees)), math.sin(math.radians(degrees))


def _put(points: list[tuple[float, float]], pad: Pad, part: Part, centre: Point) -> list[tuple[float, float]]:
    """Turn *points* with the pad and its part, and move them to *centre*."""
    c1, s1 = _unit(pad.rotation)
    c2, s2 = _unit(part.placement.rotation)
    flip = -1.0 if part.placement.side is Side.BOTTOM else 1.0
    placed = []
    for x, y in points:
        u, v = x * c1 + y * s1, (-x * s1 + y * c1) * flip
        placed.append((u * c2 + v * s2 + centre.x, -u * s2 + v * c2 + centre.y))
    return placed


class _Rows:
    """Obstacle rows while they are gathered."""

    def __init__(self) -> None:
        self.line: list[tuple[float, float, float, float]] = []
        self.rest: list[tuple[float, float, bool, int, int]] = []

    def add(
        self,
        points: list[tuple[float, float]],
        radius: float,
        gap: float,
        copper: bool,
        net: int,
        mask: int,
    ) -> tuple[int, int]:
        first = len(self.line)
        count = len(points)
        if count == 1:
            pairs = [(points[0], points[0])]
        elif count == 2:
            pairs = [(points[0], points[1])]
        else:
            pairs = [(points[i], points[(i + 1) % count]) for i in range(count)]
        for (ax, ay), (bx, by) in pairs:
            self.line.append((ax, ay, bx, by))
            self.rest.append((radius, gap, copper, net, mask))
        return first, len(self.line)

    def bars(self) -> Bars:
        count = len(self.line)
        line = np.array(self.line, np.float64).reshape(count, 4)
        rest = np.array(self.rest, np.float64).reshape(count, 5)
        return Bars(
            line,
            np.ascontiguousarray(rest[:, 0]),
            np.ascontiguousarray(rest[:, 1]),
            rest[:, 2] != 0,
            rest[:, 3].astype(np.int32),
            rest[:, 4].astype(np.int32),
        )


def build_problem(board: Board, rules: RoutingRules) -> Problem:
    """Return *board* as arrays; the copper it already carries beside its pads is left out.

    Nets come in the board's order. Pads of one net are its pins, in the order of
    parts and pads.
    """
    names = tuple(net.name for net in board.nets)
    index = {name: i for i, name in enumerate(names)}
    by_name = dict(rules.nets)
    ruled = [by_name.get(name, rules.default) for name in names]
    half = np.array([r.width / 2 for r in ruled], np.float64)
    spacing = np.array([float(r.spacing) for r in ruled], np.float64)
    skipped = frozenset(rules.skip)
    active = [i for i, name in enumerate(names) if name not in skipped]
    classes = tuple(sorted({(float(half[i]), float(spacing[i])) for i in active}))
    kind_of = {c: k for k, c in enumerate(classes)}
    kinds = np.array([kind_of.get((float(h), float(s)), 0) for h, s in zip(half, spacing, strict=True)])

    rows = _Rows()
    holes: list[tuple[float, float, float, float, float]] = []
    pins: list[list[Pin]] = [[] for _ in names]
    unreachable: list[tuple[int, str]] = []
    side_bit = {side: i for i, side in enumerate(rules.sides)}
    everywhere = (1 << len(rules.sides)) - 1
    for part in board.parts:
        nets = dict(part.nets)
        for pad in part.footprint.pads:
            centre = part.placement.place(pad.at)
            if pad.hole is not None:
                points, radius = _slot(float(pad.hole.w), float(pad.hole.h))
                points = _put(points, pad, part, centre)
                holes.append((*points[0], *points[-1], radius))
                if pad.kind is PadKind.UNPLATED:
                    rows.add(points, radius, float(rules.npth), False, -1, everywhere)
            if pad.kind is PadKind.UNPLATED:
                continue
            name = nets.get(pad.number)
            net = -1 if name is None else index.get(name, -1)
            on = tuple(side_bit[s] for s in sides_of(part, pad, board.copper) if s in side_bit)
            if net >= 0 and not on and name not in skipped:
                unreachable.append((net, f"{part.ref} pad {pad.number}"))
            if not on:
                continue
            points, radius = _corners(pad)
            gap = float(spacing[net]) if net >= 0 else float(rules.default.spacing)
            mask = sum(1 << i for i in on)
            span = rows.add(_put(points, pad, part, centre), radius, gap, True, net, mask)
            if net >= 0:
                pins[net].append(Pin(net, part.ref, pad.number, centre, on, span))
    if rules.locked:
        _lock(rules, index, spacing, side_bit, rows, pins, holes)
    rings: list[tuple[Array, bool]] = []
    for i, loop in enumerate((board.outline.outer, *board.outline.cutouts)):
        ring = [(float(p.x), float(p.y)) for p in loop_points(loop)]
        # chords of an arc that bulges into the copper stand up to 1 um off the curve
        slack = 1000.0 if any(isinstance(piece, OutlineArc) for piece in loop) and i > 0 else 0.0
        rows.add(ring, 0.0, float(rules.edge) + slack, False, -1, everywhere)
        rings.append((np.array(ring, np.float64), i > 0))
    for keepout in board.keepouts:
        ring = [(float(p.x), float(p.y)) for p in keepout.ring]
        rows.add(ring, 0.0, 0.0, False, -1, everywhere)
        rings.append((np.array(ring, np.float64), True))
    outer = rings[0][0]
    low, high = outer.min(axis=0), outer.max(axis=0)
    return Problem(
        names=names,
        half=half,
        spacing=spacing,
        kinds=kinds.astype(np.int32),
        classes=classes,
        pins=tuple(tuple(p) for p in pins),
        todo=tuple(i for i in active if len(pins[i]) > 1),
        bars=rows.bars(),
        holes=np.array(holes, np.float64).reshape(len(holes), 5),
        rings=tuple(rings),
        box=(float(low[0]), float(low[1]), float(high[0]), float(high[1])),
        unreachable=tuple(unreachable),
    )


def _lock(
    rules: RoutingRules,
    index: dict[str, int],
    spacing: Array,
    side_bit: dict[Side, int],
    rows: _Rows,
    pins: list[list[Pin]],
    holes: list[tuple[float, float, float, float, float]],
) -> None:
    """Add locked tracks and vias as copper, and leave of each net the pins that are still to be joined."""
    nets: dict[int, list[tuple[Track, int, tuple[int, int]]]] = {}
    for track in rules.locked:
        net = index.get(track.net)
        if net is None or track.side not in side_bit:
            continue
        bit = side_bit[track.side]
        ends = [(float(track.start.x), float(track.start.y)), (float(track.end.x), float(track.end.y))]
        span = rows.add(ends, track.width / 2, float(spacing[net]), True, net, 1 << bit)
        nets.setdefault(net, []).append((track, bit, span))
    vias: dict[int, list[Reach]] = {}
    for via in rules.locked_vias:
        net = index.get(via.net)
        if net is None:
            continue
        x, y = float(via.at.x), float(via.at.y)
        everywhere = (1 << len(rules.sides)) - 1
        rows.add([(x, y)], via.diameter / 2, float(spacing[net]), True, net, everywhere)
        holes.append((x, y, x, y, via.hole / 2))
        lines = lines_of([(x, y, x, y)])
        vias.setdefault(net, []).append(
            Reach(via.at, lines, via.diameter / 2, frozenset(range(len(rules.sides))))
        )
    for net, lying in sorted(nets.items()):
        pads = [
            Reach(
                pin.at,
                lines_of(rows.line[pin.bars[0] : pin.bars[1]]),
                rows.rest[pin.bars[0]][0],
                frozenset(pin.sides),
            )
            for pin in pins[net]
        ]
        left = []
        for piece in joints(pads, [(track, bit) for track, bit, _ in lying], vias.get(net, ())):
            places = []
            for joint in piece:
                if joint.pad is not None:
                    places.append(pins[net][joint.pad])
                elif joint.track is not None and joint.at is not None:
                    _track, bit, span = lying[joint.track]
                    places.append(Pin(net, "locked track", str(joint.track + 1), joint.at, (bit,), span))
            left.append(replace(places[0], more=tuple(places[1:])))
        pins[net] = left


def point(x: float, y: float) -> Point:
    """Return the point at whole nm (*x*, *y*)."""
    return Point(Nm(int(x)), Nm(int(y)))
