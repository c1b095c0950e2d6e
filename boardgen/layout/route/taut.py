"""Tracks at any angle: the links of a routed board pulled taut, one after the other, until none shortens.

Pads, holes, edges and the other links stand while one link is pulled; ends stay
at pad centres and no via is added. A link between pads may change sides. Then
what goes a long way round is given its way, and those it displaces another.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from boardgen.layout.route.kernels import crossed, taut_way
from boardgen.layout.route.problem import Problem
from boardgen.layout.route.rules import RoutingRules
from boardgen.layout.route.tautjoints import move_tees, part_at_pads
from boardgen.layout.route.tautstate import Taut, begin, way_cost
from boardgen.layout.route.tauttrees import merge, rearrange, reconnect
from boardgen.layout.route.trace import Wiring

Array = Any

ROUNDS = 8
LEAST = 1_000.0  # nm; a gain below is none
OTHER_SIDE = 500_000.0  # nm that changing sides must save
DETOUR, DETOUR_NM = 1.02, 800_000.0  # a link this much longer than its ends are apart takes a detour
DISPLACED = 4  # most links one that gets its way may displace
GETS_WAY = 200_000.0  # nm that must save, all told


def pull_taut(problem: Problem, wiring: Wiring, rules: RoutingRules) -> Wiring:
    """Return *wiring* with its links as short as they get at any angle, every clearance kept exactly."""
    state = begin(problem, wiring, rules)
    _rounds(state)
    if _give_way(state):
        _rounds(state)
    return state.wiring


def _rounds(state: Taut) -> None:
    for joint in sorted({int(j) for j in state.wiring.joints.ravel().tolist() if j >= 0}):
        merge(state, joint)

    def shortest(link: int, layer: int, most: float) -> list[tuple[int, int]]:
        return _shortest(state, link, layer, most, state.nobody)

    stale: set[int] = set()  # links that nothing has changed for since they could not be shortened
    for _ in range(ROUNDS):
        moved = False
        for link in range(state.links):
            if link in stale or state.wiring.count[link] < 2:
                continue
            if _pull(state, link):
                moved = True
                stale.clear()
            stale.add(link)
        if move_tees(state):
            moved = True
            stale.clear()
        if part_at_pads(state):
            moved = True
            stale.clear()
        if not moved and not rearrange(state, shortest):
            return
        if not moved:
            stale.clear()


def _sides(state: Taut, link: int) -> list[int]:
    """The layers *link* may run on, its own first."""
    own = int(state.wiring.layers[link])
    if (state.wiring.joints[link] >= 0).any():
        return [own]
    net = int(state.wiring.nets[link])
    way = state.wiring.link(link)
    common = state.sides_at.get((net, *way[0]), 0) & state.sides_at.get((net, *way[-1]), 0)
    return [own, *(s for s in range(len(state.rules.sides)) if s != own and (common >> s) & 1)]


def _shortest(
    state: Taut, link: int, layer: int, most: float, skip: Array, arms: bool = True
) -> list[tuple[int, int]]:
    """Return the best way for *link* on *layer* that costs less than *most*, none for []."""
    way = state.wiring.link(link)
    out = np.empty((state.room(link), 2), np.int64)
    none = np.empty((0, 2), np.float64)
    made = taut_way(
        link,
        layer,
        skip,
        np.array((way[0], way[-1]), np.int64),
        most,
        state.arms(link, 0) if arms else none,
        state.arms(link, 1) if arms else none,
        out,
        *state.copper(),
    )
    return [(x, y) for x, y in out[:made].tolist()]


def _pull(state: Taut, link: int) -> bool:
    """Give *link* the shortest way there is on either side; returns whether it got shorter."""
    wiring = state.wiring
    if wiring.count[link] == 2:
        return False
    best = state.cost(link)
    moved = False
    for layer in _sides(state, link):
        home = layer == int(wiring.layers[link])
        way = _shortest(state, link, layer, best - (LEAST if home else OTHER_SIDE), state.nobody)
        if way and way_cost(way) < best - (LEAST if home else OTHER_SIDE):
            state.put(link, way)
            wiring.layers[link] = layer
            best = way_cost(way)
            moved = True
    return moved


def _give_way(state: Taut) -> bool:
    """Let each detour have its way where those it displaces lose less; returns whether any did."""
    wiring = state.wiring
    over: list[tuple[float, int]] = []
    for link in range(state.links):
        if wiring.count[link] > 2:
            way = wiring.link(link)
            least = math.dist(way[0], way[-1])
            more = state.cost(link) - least
            if more > max((DETOUR - 1) * least, DETOUR_NM):
                over.append((-more, link))
    changed = False
    for _, link in sorted(over):
        if wiring.count[link] < 2:
            continue  # made one with another while one before it had its way
        for layer in _sides(state, link):
            if _displace(state, link, layer):
                changed = True
                break
    return changed


def _displace(state: Taut, link: int, layer: int) -> bool:
    """Try *link* on *layer* as if alone there, and the links in its way elsewhere."""
    wiring = state.wiring
    before = state.cost(link)
    alone = _shortest(state, link, layer, before - GETS_WAY, ~state.nobody)
    if not alone:
        return False
    hit = np.zeros(len(wiring.count), np.bool_)
    crossed(
        np.array(alone, np.int64), len(alone), int(wiring.nets[link]), layer, wiring.points, wiring.at,
        wiring.count, wiring.nets, wiring.layers, state.problem.half, state.problem.spacing, hit,
    )  # fmt: skip
    others = np.nonzero(hit)[0].tolist()
    if len(others) > DISPLACED:
        return False
    saved = (wiring.points.copy(), wiring.count.copy(), wiring.layers.copy(), wiring.joints.copy())
    gain = before - way_cost(alone)
    state.put(link, alone)
    wiring.layers[link] = layer
    for i, other in enumerate(others):
        if wiring.count[other] < 2:
            continue  # made one with another meanwhile
        skip = state.nobody.copy()
        skip[others[i + 1 :]] = True
        net = int(wiring.nets[other])
        old = state.total(net)
        if not _elsewhere(state, other, state.cost(other) + gain - GETS_WAY, skip):
            break
        gain -= state.total(net) - old
    else:
        crossed(
            np.array(alone, np.int64), len(alone), int(wiring.nets[link]), layer, wiring.points, wiring.at,
            wiring.count, wiring.nets, wiring.layers, state.problem.half, state.problem.spacing, hit,
        )  # fmt: skip
        if not hit.any() and gain >= GETS_WAY:
            return True
    wiring.points[:], wiring.count[:], wiring.layers[:], wiring.joints[:] = saved
    return False


def _elsewhere(state: Taut, link: int, most: float, skip: Array) -> bool:
    """Give *link* the best other way that costs less than *most*; returns whether there is one."""

    def shortest(one: int, layer: int, limit: float) -> list[tuple[int, int]]:
        return _shortest(state, one, layer, limit, skip)

    if len(state.problem.pins[int(state.wiring.nets[link])]) > 2:
        return reconnect(state, link, shortest, most)
    best, chosen = most, -1
    found: list[tuple[int, int]] = []
    for side in _sides(state, link):
        way = shortest(link, side, best - LEAST)
        if way and way_cost(way) < best:
            best, chosen, found = way_cost(way), side, way
    if chosen < 0:
        return False
    state.put(link, found)
    state.wiring.layers[link] = chosen
    return True
