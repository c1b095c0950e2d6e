"""Branch points of taut nets: moved to where the tracks that meet there are shortest, or made anew."""

from __future__ import annotations

import math
from itertools import combinations

from boardgen.layout.route.kernels import is_clear
from boardgen.layout.route.tautstate import Taut

Spot = tuple[int, int]

GAIN = 2_000.0  # nm a move must save
NEW = 100_000.0  # nm a new branch point must save
SHORTEST = 100_000.0  # nm; no track is shorter
APART = 0.5  # most cosine between tracks that meet at a branch: 60 degrees at least
BACK = -0.2  # least cosine of a turn


def balance(spots: list[Spot], start: tuple[float, float]) -> tuple[float, float]:
    """Return the point of least total distance to *spots* (Weiszfeld; one of them where it is best)."""
    for i, here in enumerate(spots):
        pull_x = pull_y = 0.0
        same = 0
        for k, there in enumerate(spots):
            length = math.dist(here, there)
            if k == i or length == 0.0:
                same += k == i or length == 0.0
                continue
            pull_x += (there[0] - here[0]) / length
            pull_y += (there[1] - here[1]) / length
        if math.hypot(pull_x, pull_y) <= same:
            return float(here[0]), float(here[1])
    x, y = start
    for _ in range(200):
        sum_x = sum_y = weight = 0.0
        for there in spots:
            pull = 1.0 / max(1.0, math.dist((x, y), there))
            sum_x += there[0] * pull
            sum_y += there[1] * pull
            weight += pull
        step = math.dist((x, y), (sum_x / weight, sum_y / weight))
        x, y = sum_x / weight, sum_y / weight
        if step < 100.0:
            break
    return x, y


def _wide(centre: Spot, others: list[Spot]) -> bool:
    """Whether tracks from *centre* to *others* are long enough and 60 degrees or more apart."""
    if any(math.dist(centre, other) < SHORTEST for other in others):
        return False
    for a, b in combinations(others, 2):
        ax, ay, bx, by = a[0] - centre[0], a[1] - centre[1], b[0] - centre[0], b[1] - centre[1]
        if ax * bx + ay * by > APART * math.hypot(ax, ay) * math.hypot(bx, by):
            return False
    return True


def _smooth(state: Taut, link: int, end: int, centre: Spot) -> bool:
    """Whether *link*, its *end* moved to *centre*, turns no sharper than tracks may at the next corner."""
    way = state.wiring.link(link)
    way = way if end == 0 else way[::-1]
    if len(way) < 3:
        return True
    (bx, by), (cx, cy) = way[1], way[2]
    ux, uy, vx, vy = bx - centre[0], by - centre[1], cx - bx, cy - by
    return ux * vx + uy * vy >= BACK * math.hypot(ux, uy) * math.hypot(vx, vy)


def _clear(state: Taut, link: int, a: Spot, b: Spot) -> bool:
    wiring = state.wiring
    net, layer = int(wiring.nets[link]), int(wiring.layers[link])
    return bool(is_clear(net, layer, *a, *b, state.nobody, *state.copper()))


def _set_end(state: Taut, link: int, end: int, spot: Spot, joint: int) -> None:
    """Move one end of *link*; a next point on the same place falls away."""
    way = state.wiring.link(link)
    way = way if end == 0 else way[::-1]
    way = [spot, *way[2:]] if way[1] == spot else [spot, *way[1:]]
    state.put(link, way if end == 0 else way[::-1])
    state.wiring.joints[link, end] = joint


def move_tees(state: Taut) -> bool:
    """Move every branch point to where its tracks are shortest and clear; returns whether any moved."""
    moved = False
    for joint in sorted({int(j) for j in state.wiring.joints.ravel().tolist() if j >= 0}):
        moved |= _move(state, joint)
    return moved


def _move(state: Taut, joint: int) -> bool:
    meeting = state.meeting(joint)
    if len(meeting) < 3 or len({link for link, _ in meeting}) < len(meeting):
        return False
    here = state.leaving(*meeting[0])[0]
    if here in state.fast or any(state.leaving(*one)[0] != here for one in meeting):
        return False
    nexts = [state.leaving(*one)[1] for one in meeting]
    now = sum(math.dist(here, spot) for spot in nexts)
    fx, fy = balance(nexts, (float(here[0]), float(here[1])))
    best = (round(fx), round(fy))
    if best in nexts and _join(state, meeting, nexts, best, joint, now):
        return True
    for share in (1.0, 0.7, 0.4, 0.2, 0.1, 0.05):
        spot = (round(here[0] + share * (fx - here[0])), round(here[1] + share * (fy - here[1])))
        if sum(math.dist(spot, other) for other in nexts) > now - GAIN or not _wide(spot, nexts):
            continue
        if all(
            _smooth(state, link, end, spot) and _clear(state, link, spot, other)
            for (link, end), other in zip(meeting, nexts, strict=True)
        ):
            for link, end in meeting:
                _set_end(state, link, end, spot, joint)
            return True
    return False


def _join(
    state: Taut, meeting: list[tuple[int, int]], nexts: list[Spot], best: Spot, joint: int, now: float
) -> bool:
    """Let the branch point slide onto the next point of one of its links, a corner or a pad."""
    k = nexts.index(best)
    link, end = meeting[k]
    rest = [(one, spot) for one, spot in zip(meeting, nexts, strict=True) if one != meeting[k]]
    if sum(math.dist(best, spot) for _, spot in rest) > now - GAIN:
        return False
    if any(math.dist(best, spot) < SHORTEST for _, spot in rest):
        return False
    at_end = int(state.wiring.count[link]) == 2
    far = int(state.wiring.joints[link, 1 - end])
    if at_end and far >= 0:
        return False  # two branch points would fall together
    if not all(
        _smooth(state, other, side, best) and _clear(state, other, best, spot) for (other, side), spot in rest
    ):
        return False
    if not at_end:
        way = state.wiring.link(link)
        beyond = way[2] if end == 0 else way[-3]
        if not _wide(best, [beyond, *(spot for _, spot in rest)]):
            return False
        _set_end(state, link, end, best, joint)
    else:
        state.wiring.count[link] = 0
        state.wiring.joints[link] = -1
    for (other, side), _ in rest:
        _set_end(state, other, side, best, -1 if at_end else joint)
    return True


def part_at_pads(state: Taut) -> bool:
    """Let two tracks that leave a pad side by side share a piece of their way; returns whether any did."""
    ends: dict[tuple[int, int, Spot], list[tuple[int, int]]] = {}
    wiring = state.wiring
    for link in range(state.links):
        if wiring.count[link] < 2:
            continue
        for end in range(2):
            if wiring.joints[link, end] < 0:
                key = int(wiring.nets[link]), int(wiring.layers[link]), state.leaving(link, end)[0]
                ends.setdefault(key, []).append((link, end))
    moved = False
    for (_, _, pad), here in sorted(ends.items()):
        for one, two in combinations(here, 2):
            if one[0] != two[0] and _part(state, pad, one, two):
                moved = True
                break
    return moved


def _part(state: Taut, pad: Spot, one: tuple[int, int], two: tuple[int, int]) -> bool:
    wiring = state.wiring
    a, b = state.leaving(*one)[1], state.leaving(*two)[1]
    now = math.dist(pad, a) + math.dist(pad, b)
    fx, fy = balance([pad, a, b], ((pad[0] + a[0] + b[0]) / 3, (pad[1] + a[1] + b[1]) / 3))
    best = (round(fx), round(fy))
    for (link, end), spot, other, far in ((one, a, two, b), (two, b, one, a)):
        # the other link starts at this one's far pad instead
        if best == spot and wiring.count[link] == 2 and wiring.joints[link, 1 - end] < 0:
            if (
                math.dist(spot, far) < math.dist(pad, far) - GAIN
                and math.dist(spot, far) >= SHORTEST
                and _smooth(state, *other, spot)
                and _clear(state, other[0], spot, far)
            ):
                _set_end(state, *other, spot, -1)
                return True
            return False
    if best == pad or state.links >= len(wiring.count):
        return False
    for share in (1.0, 0.7, 0.4):
        spot = (round(pad[0] + share * (fx - pad[0])), round(pad[1] + share * (fy - pad[1])))
        if sum(math.dist(spot, other) for other in (pad, a, b)) > now - NEW or not _wide(spot, [pad, a, b]):
            continue
        if not all(
            _clear(state, link, spot, other) for link, other in ((one[0], pad), (one[0], a), (two[0], b))
        ):
            continue
        if not (_smooth(state, *one, spot) and _smooth(state, *two, spot)):
            continue
        joint = int(wiring.joints.max()) + 1
        new = state.links
        wiring.nets[new], wiring.layers[new] = wiring.nets[one[0]], wiring.layers[one[0]]
        state.put(new, [pad, spot])
        wiring.joints[new] = -1, joint
        for link, end in (one, two):
            _set_end(state, link, end, spot, joint)
        state.links += 1
        return True
    return False
