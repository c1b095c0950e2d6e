"""Boards for the router alone: a 40-pin module, an N-pin connector, pins as asked."""

from __future__ import annotations

import random
from dataclasses import dataclass

import numpy as np
from scipy.optimize import linear_sum_assignment

from boardgen.board.model import Board, Net, NetClass, Part, PartKind, Placement, Side, rectangle_outline
from boardgen.footprint.model import Footprint, Pad, PadKind, PadShape
from boardgen.layout.route import NetRule, RoutingRules
from boardgen.units import Box, Nm, Point, Size, mm, point_mm


def pads(spots: list[tuple[float, float]], size: str = "1.7", hole: str = "1.0") -> Footprint:
    """A footprint of round plated pads numbered from 1."""
    return Footprint(
        "pads",
        tuple(
            Pad(
                str(i + 1),
                PadKind.PLATED,
                PadShape.CIRCLE,
                point_mm(x, y),
                Size(mm(size), mm(size)),
                Size(mm(hole), mm(hole)),
            )
            for i, (x, y) in enumerate(spots)
        ),
    )


def module40() -> Footprint:
    """Two rows of 20 at 2.54, 17.78 apart, counted round."""
    left = [(-8.89, -24.13 + 2.54 * i) for i in range(20)]
    right = [(8.89, 24.13 - 2.54 * i) for i in range(20)]
    return pads(left + right)


def connector(kind: str, pins: int) -> Footprint:
    """A D-sub of 25, 37 or 50 contacts, a box header, or a row."""
    if kind == "dsub" and pins == 50:
        rows = [(17, 0.0), (16, 1.0), (17, 2.0)]
        spots = [(-22.16 + 2.77 * i + (1.385 if n == 16 else 0), 2.84 * y) for n, y in rows for i in range(n)]
        return pads(spots, "1.6", "1.0")
    if kind == "dsub":
        top = (pins + 1) // 2
        spots = [(-2.77 * (top - 1) / 2 + 2.77 * i, 0.0) for i in range(top)]
        spots += [(-2.77 * (top - 2) / 2 + 2.77 * i, 2.84) for i in range(pins - top)]
        return pads(spots, "1.6", "1.0")
    if kind == "box":
        return pads([(-2.54 * (pins // 2 - 1) / 2 + 2.54 * (i // 2), 2.54 * (i % 2)) for i in range(pins)])
    return pads([(-2.54 * (pins - 1) / 2 + 2.54 * i, 0.0) for i in range(pins)])


def snapped(value: float, step: float = 0.254) -> float:
    """Round to the grid."""
    return round(round(value / step) * step, 6)


@dataclass(frozen=True)
class Case:
    """A board with its rules and the assignment's least length (nm)."""

    board: Board
    rules: RoutingRules
    bound: float
    octile_bound: float


def standard_rules(board: Board, width: str = "0.25", gap: str = "0.2", **changes: object) -> RoutingRules:
    """Rules of a common fab for *board*."""
    rule = NetRule(mm(width), mm(gap))
    values: dict[str, object] = {
        "nets": tuple((n.name, rule) for n in board.nets),
        "default": rule,
        "edge": mm("0.3"),
        "npth": mm("0.3"),
        "hole_gap": mm("0.45"),
        "via_diameter": mm("0.6"),
        "via_hole": mm("0.3"),
        "allow_vias": True,
        "sides": (Side.TOP, Side.BOTTOM),
    }
    values.update(changes)
    return RoutingRules(**values)  # type: ignore[arg-type]


def make_board(parts: list[Part], width: float, height: float, nets: list[str]) -> Board:
    """A rectangular board of *parts*."""
    return Board(
        "bench",
        "A",
        "bench",
        rectangle_outline(Box(Nm(0), Nm(0), mm(width), mm(height))),
        tuple(parts),
        tuple(Net(n) for n in sorted(nets)),
        (NetClass("signal", mm("0.25"), mm("0.2")),),
    )


def synthetic(
    seed: int,
    kind: str = "dsub",
    pins: int = 25,
    size: tuple[float, float] = (60.0, 60.0),
    mode: str = "matched",
    turn: float = 90.0,
    fixed: float = 0.0,
    jitter: float = 0.0,
) -> Case:
    """One case. *mode*: matched, in-order or random pins; *fixed*: share of nets tied at random."""
    draw = random.Random(seed)
    width, height = size
    plug = connector(kind, pins)
    y_plug = height - 8.0
    module_y = (y_plug - 3.0) / 2 if turn == 90.0 else 27.0 + (y_plug - 57.0) / 2
    at_m = point_mm(
        snapped(width / 2 + draw.uniform(-jitter, jitter)), snapped(module_y + draw.uniform(-jitter, 0) / 2)
    )
    at_c = point_mm(snapped(width / 2 + draw.uniform(-jitter, jitter)), snapped(y_plug))
    place_m, place_c = Placement(at_m, turn), Placement(at_c)
    socket = module40()
    free = list(range(40))
    count = min(pins, 38)
    spots = [place_m.place(p.at) for p in socket.pads]
    contacts = list(range(pins))
    draw.shuffle(contacts)
    contacts = sorted(contacts[:count])
    ends = [place_c.place(plug.pads[c].at) for c in contacts]
    cost = np.array([[e.distance(spots[f]) for f in free] for e in ends])
    chosen: dict[int, int] = {}
    if mode == "matched":
        tied = [i for i in range(count) if draw.random() < fixed]
        pool = draw.sample(free, len(tied))
        chosen = dict(zip(tied, pool, strict=True))
        rows = [i for i in range(count) if i not in chosen]
        cols = [f for f in free if f not in set(pool)]
        a, b = linear_sum_assignment(cost[np.ix_(rows, cols)])
        chosen.update({rows[i]: cols[j] for i, j in zip(a, b, strict=True)})
    elif mode == "in-order":
        chosen = {i: free[i] for i in range(count)}
    else:
        chosen = dict(zip(range(count), draw.sample(free, count), strict=True))
    bound = sum(cost[i, f] for i, f in chosen.items())
    names = {i: f"S{contacts[i] + 1:02d}" for i in range(count)}
    nets_m = tuple(sorted((str(f + 1), names[i]) for i, f in chosen.items()))
    nets_c = tuple(sorted((str(contacts[i] + 1), names[i]) for i in range(count)))
    board = make_board(
        [
            Part("U1", "module", socket, place_m, PartKind.MODULE, nets_m),
            Part("J1", "plug", plug, place_c, PartKind.CONNECTOR, nets_c),
        ],
        width,
        height,
        list(names.values()),
    )
    octo = 0.0
    for i, f in chosen.items():
        dx, dy = abs(ends[i].x - spots[f].x), abs(ends[i].y - spots[f].y)
        octo += max(dx, dy) + (2**0.5 - 1) * min(dx, dy)
    return Case(board, standard_rules(board), float(bound), float(octo))


__all__ = ["Case", "Point", "connector", "make_board", "module40", "pads", "standard_rules", "synthetic"]
