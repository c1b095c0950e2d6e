"""Trees of taut nets rearranged: a link given up where another joins the two halves in less track."""

from __future__ import annotations

import math
from collections.abc import Callable

from boardgen.layout.route.tautstate import Taut, way_cost

Spot = tuple[int, int]
Node = tuple[int, int, int]  # a tee: (its id, -1, -1); a pad: (-1, x, y)
Search = Callable[[int, int, float], list[Spot]]

GAIN = 50_000.0  # nm an exchange must save
TRIED = 5  # nearest pairs of places tried


def rearrange(state: Taut, shortest: Search) -> bool:
    """Exchange links of nets with three pads or more; returns whether any was.

    *shortest* gives the best way for a link on a layer that costs less than a limit.
    """
    moved = False
    for link in range(state.links):
        net = int(state.wiring.nets[link])
        if state.wiring.count[link] > 1 and len(state.problem.pins[net]) > 2:
            moved |= reconnect(state, link, shortest, state.cost(link) - GAIN)
    return moved


def _node(state: Taut, link: int, end: int) -> Node:
    joint = int(state.wiring.joints[link, end])
    return (joint, -1, -1) if joint >= 0 else (-1, *state.leaving(link, end)[0])


def _halves(state: Taut, link: int) -> tuple[dict[Node, tuple[Spot, int]], ...]:
    """Places, with the sides they are on, joined to either end of *link* when it is gone."""
    wiring = state.wiring
    net = int(wiring.nets[link])
    edges: dict[Node, list[Node]] = {}
    places: dict[Node, tuple[Spot, int]] = {}
    for other in range(state.links):
        if int(wiring.nets[other]) != net or wiring.count[other] < 2:
            continue
        nodes = [_node(state, other, end) for end in range(2)]
        for end, node in enumerate(nodes):
            spot = state.leaving(other, end)[0]
            on = 1 << int(wiring.layers[other]) if node[0] >= 0 else state.sides_at.get((net, *spot), 0)
            places[node] = spot, on
        if other != link:
            edges.setdefault(nodes[0], []).append(nodes[1])
            edges.setdefault(nodes[1], []).append(nodes[0])
    found = []
    for end in range(2):
        seen = {_node(state, link, end)}
        work = sorted(seen)
        while work:
            for node in edges.get(work.pop(), []):
                if node not in seen:
                    seen.add(node)
                    work.append(node)
        found.append({node: places[node] for node in sorted(seen)})
    return tuple(found)


def reconnect(state: Taut, link: int, shortest: Search, most: float) -> bool:
    """Join the two halves that *link* joins by the best way between any two of their places.

    Returns whether there is one that costs less than *most* nm; if not, all stays as it was.
    """
    wiring = state.wiring
    one, two = _halves(state, link)
    if set(one) & set(two):
        return False
    was = wiring.link(link), wiring.joints[link].copy(), int(wiring.layers[link])
    ends = [_node(state, link, end) for end in range(2)]
    pairs = sorted(
        (math.dist(a, b), m, n)
        for m, (a, on_a) in one.items()
        for n, (b, on_b) in two.items()
        if on_a & on_b and math.dist(a, b) < most
    )
    best = most
    chosen: tuple[list[Spot], Node, Node, int] | None = None
    for length, m, n in pairs[:TRIED]:
        if length >= best:
            break
        common = one[m][1] & two[n][1]
        state.put(link, [one[m][0], two[n][0]])
        wiring.joints[link] = m[0], n[0]
        for layer in range(len(state.rules.sides)):
            if (common >> layer) & 1:
                wiring.layers[link] = layer
                way = shortest(link, layer, best)
                if way and way_cost(way) < best:
                    best = way_cost(way)
                    chosen = way, m, n, layer
    if chosen is None:
        state.put(link, was[0])
        wiring.joints[link], wiring.layers[link] = was[1], was[2]
        return False
    way, m, n, layer = chosen
    state.put(link, way)
    wiring.joints[link], wiring.layers[link] = (m[0], n[0]), layer
    for joint, _, _ in ends:
        if joint >= 0:
            merge(state, joint)
    return True


def merge(state: Taut, joint: int) -> None:
    """Make one link of the two at a tee without a third, unless a wire or via is soldered there."""
    meeting = state.meeting(joint)
    if len(meeting) != 2 or meeting[0][0] == meeting[1][0]:
        return
    if state.leaving(*meeting[0])[0] in state.fast:
        return  # a wire link or a via ends here, and one track would be pulled away from it
    (a, end_a), (b, end_b) = meeting
    first, second = state.wiring.link(a), state.wiring.link(b)
    first = first if end_a == 1 else first[::-1]
    second = second if end_b == 0 else second[::-1]
    if len(first) + len(second) - 1 > state.room(a) or state.wiring.layers[a] != state.wiring.layers[b]:
        return
    far = int(state.wiring.joints[a, 1 - end_a]), int(state.wiring.joints[b, 1 - end_b])
    state.put(a, first + second[1:])
    state.wiring.joints[a] = far
    state.wiring.count[b] = 0
    state.wiring.joints[b] = -1
