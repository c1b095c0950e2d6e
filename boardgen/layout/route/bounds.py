"""Least lengths that no routing can beat."""

from __future__ import annotations

import math

import numpy as np

from boardgen.board.geometry import pad_centre, sides_of
from boardgen.board.model import Board
from boardgen.layout.route.steiner import MOST, least_tree, least_tree_of_many
from boardgen.matching import cheapest_pairing
from boardgen.units import Point

STEINER = 0.824  # proven least ratio of a Steiner tree to a spanning tree in the plane (Chung & Graham)
MANY = 16  # most points for which more than that ratio is looked for


def net_points(board: Board, net: str) -> tuple[Point, ...]:
    """Return the centres of the pads on *net* that have copper, in the order of parts and pads."""
    found: list[Point] = []
    for part in board.parts:
        for pad in part.footprint.pads:
            if part.net_of(pad.number) == net and sides_of(part, pad, board.copper):
                found.append(pad_centre(part, pad))
    return tuple(found)


def spanning_length(points: tuple[Point, ...], octilinear: bool = False) -> float:
    """Return the length in nm of a minimum spanning tree of *points* (Prim), 0 for fewer than two.

    *octilinear* measures along 45-degree tracks instead of straight lines.
    """
    if len(points) < 2:
        return 0.0
    metric = octile if octilinear else Point.distance
    rest = list(points[1:])
    reach = [metric(points[0], p) for p in rest]
    total = 0.0
    while rest:
        i = min(range(len(rest)), key=lambda k: (reach[k], k))
        total += reach.pop(i)
        here = rest.pop(i)
        reach = [min(r, metric(here, p)) for r, p in zip(reach, rest, strict=True)]
    return total


def octile(a: Point, b: Point) -> float:
    """Return the length in nm of the shortest 45-degree way from *a* to *b*."""
    dx, dy = abs(a.x - b.x), abs(a.y - b.y)
    return max(dx, dy) + (math.sqrt(2) - 1) * min(dx, dy)


def fermat_length(a: Point, b: Point, c: Point) -> float:
    """Return the least total length in nm that joins three points (Torricelli's construction)."""
    sides = sorted((a.distance(b), b.distance(c), c.distance(a)))
    short, mid, long = sides
    if short == 0.0:
        return long
    # an angle of 120 degrees or more: its two sides are the shortest tree
    if long * long >= short * short + mid * mid + short * mid:
        return short + mid
    s = (short + mid + long) / 2
    area = math.sqrt(max(0.0, s * (s - short) * (s - mid) * (s - long)))
    return math.sqrt((short**2 + mid**2 + long**2) / 2 + 2 * math.sqrt(3) * area)


def steiner_bound(points: tuple[Point, ...]) -> float:
    """Return a length in nm no tree over *points* can beat.

    Exact up to three, within a thousandth up to six; beyond that what a bounded
    search proves, and never less than 0.824 of the MST.
    """
    if len(points) == 3:
        return fermat_length(*points)
    tree = spanning_length(points)
    if len(points) < 3:
        return tree
    return max(STEINER * tree, _searched(tuple((float(p.x), float(p.y)) for p in points), tree))


def octilinear_bound(points: tuple[Point, ...]) -> float:
    """Return a length in nm no tree of 45-degree tracks over *points* can beat.

    Exact for two. A tree over three holds the way between any two of them, and each of its
    pieces lies on at most two of the three ways; beyond that straight lines are the bound.
    """
    if len(points) == 2:
        return octile(*points)
    if len(points) == 3:
        a, b, c = points
        return max(steiner_bound(points), (octile(a, b) + octile(b, c) + octile(c, a)) / 2)
    return steiner_bound(points)


def _searched(spots: tuple[tuple[float, float], ...], tree: float) -> float:
    if len(spots) <= MOST:
        return least_tree(spots)
    return least_tree_of_many(spots, tree) if len(spots) <= MANY else 0.0


def tree_length(board: Board, skip: tuple[str, ...], octilinear: bool) -> float:
    """Return what tracks of all nets but those in *skip* take at least, nm, by their spanning trees.

    Branches off the pads spare a tenth of one at most in practice.
    """
    points = (net_points(board, net.name) for net in board.nets if net.name not in skip)
    return math.fsum(spanning_length(p, octilinear) * (1.0 if len(p) < 3 else 0.9) for p in points)


def bound_l1(board: Board, nets: tuple[str, ...], octilinear: bool = False) -> float:
    """Return bound L1 in nm for *nets* with the pins as they are: the sum of their Steiner bounds.

    *octilinear* counts tracks in 45-degree steps.
    """
    least = octilinear_bound if octilinear else steiner_bound
    return math.fsum(least(net_points(board, net)) for net in nets)


def bound_l2(pairs: tuple[tuple[Point, tuple[Point, ...]], ...], others: float = 0.0) -> float:
    """Return bound L2 in nm: the cheapest choice of one distinct candidate for each point.

    *pairs* holds (point, candidates it may take); *others* is L1 of the nets
    whose pins are fixed. Raises ValueError where no choice exists.
    """
    costs = tuple({spot: start.distance(spot) for spot in candidates} for start, candidates in pairs)
    return cheapest_choice(costs, others)


def cheapest_choice(costs: tuple[dict[Point, float], ...], others: float = 0.0) -> float:
    """Return *others* plus the least sum over the nets of *costs*, each on a place of its own.

    Each net has the places it may take and its least length (nm) with each.
    Raises ValueError where no choice exists.
    """
    spots = sorted({spot for net in costs for spot in net})
    if not costs:
        return others
    column = {spot: i for i, spot in enumerate(spots)}
    cost = np.full((len(costs), len(spots)), np.inf)
    for row, net in enumerate(costs):
        for spot, length in net.items():
            cost[row, column[spot]] = length
    if len(spots) < len(costs):
        raise ValueError("fewer pins than signals")
    columns = cheapest_pairing(cost)
    if columns is None:
        raise ValueError("no assignment keeps every signal on a pin it may take")
    return others + math.fsum(cost[np.arange(len(costs)), columns].tolist())
