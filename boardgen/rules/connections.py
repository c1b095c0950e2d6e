"""Rules ``unconnected``, ``footprint``, ``isolated-copper`` and ``stub``: what the finished copper joins.

Two things are joined where their copper touches on a side; plated holes join
the sides; a wire link joins its ends. Nothing is taken from a net list but the
names of what should be joined.
"""

from __future__ import annotations

import numpy as np
import shapely

from boardgen.board.geometry import Copper
from boardgen.board.model import PartKind, Track, Via
from boardgen.errors import Finding, Severity
from boardgen.matching import connected
from boardgen.rules.parity import against_netlist, without_copper
from boardgen.rules.survey import (
    ROUNDING,
    Ints,
    Layer,
    Outcome,
    Survey,
    array_of,
    between,
    finding,
    near_pairs,
    near_pieces,
    pairs_of_pieces,
)
from boardgen.units import Point, format_mm, nm

Joint = tuple[int, int]


def _joints(layer: Layer) -> list[Joint]:
    """Return pairs of owners of one net whose copper touches on *layer*."""
    a, b, gaps = near_pairs(layer.skeletons, layer.radii, 2 * ROUNDING)
    met = (layer.keys[a] == layer.keys[b]) & (gaps <= ROUNDING)
    found = list(zip(layer.owners[a[met]].tolist(), layer.owners[b[met]].tolist(), strict=True))
    for number, near in enumerate(near_pieces(layer, layer.skeletons, layer.radii, ROUNDING)):
        own = int(layer.piece_owners[number])
        same = near[layer.keys[near] == layer.piece_keys[number]]
        found.extend((own, int(owner)) for owner in layer.owners[same])
    for number, follower in pairs_of_pieces(layer, ROUNDING):
        one, two = layer.pieces[number], layer.pieces[follower]
        same_net = layer.piece_keys[follower] == layer.piece_keys[number]
        if same_net and one.shape.skeleton.intersects(two.shape.skeleton):
            found.append((int(layer.piece_owners[number]), int(layer.piece_owners[follower])))
    return found


def _links(survey: Survey) -> list[Joint]:
    """Return the joints that wire links make between their own pads."""
    links = {part.ref for part in survey.board.parts if part.kind is PartKind.LINK}
    first: dict[tuple[str, str | None], int] = {}
    found = []
    for layer in survey.layers:
        for copper, owner in zip(layer.items, layer.owners.tolist(), strict=True):
            if copper.ref in links:
                found.append((first.setdefault((copper.ref, copper.net), owner), owner))
    return found


def bodies(survey: Survey) -> Ints:
    """Return for each owner the number of the joined body it belongs to."""
    joints = [joint for layer in survey.layers for joint in _joints(layer)] + _links(survey)
    size = survey.owner_count
    pairs = np.array(joints, dtype=np.int64).reshape(-1, 2)
    return connected(size, pairs[:, 0], pairs[:, 1])


def _by_net(survey: Survey, body: Ints) -> dict[str, dict[int, list[Copper]]]:
    """Return net -> body -> its copper, all in board order."""
    found: dict[str, dict[int, list[Copper]]] = {}
    for layer in survey.layers:
        copper = (*layer.items, *layer.pieces)
        owners = (*layer.owners.tolist(), *layer.piece_owners.tolist())
        for item, owner in zip(copper, owners, strict=True):
            if item.net is not None:
                found.setdefault(item.net, {}).setdefault(int(body[owner]), []).append(item)
    return found


def _nearest(group: list[Copper], rest: list[Copper]) -> tuple[Copper, Copper, float]:
    """Return the closest pair and its gap."""
    skeletons = array_of([c.shape.skeleton for c in rest])
    radii = np.array([c.shape.radius for c in rest])
    best: tuple[Copper, Copper, float] | None = None
    for copper in group:
        gaps = shapely.distance(copper.shape.skeleton, skeletons) - radii - copper.shape.radius
        i = int(np.argmin(gaps))
        if best is None or gaps[i] < best[2]:
            best = (copper, rest[i], float(gaps[i]))
    if best is None:
        raise ValueError("an empty body has no nearest copper")
    return best


def _names(group: list[Copper]) -> str:
    """Return the pads of a body in words, shortened."""
    pads = list(dict.fromkeys(c.name for c in group if c.ref))
    more = f" and {len(pads) - 3} more" if len(pads) > 3 else ""
    return ", ".join(pads[:3]) + more


def _separate(net: str, groups: list[list[Copper]]) -> list[Finding]:
    found = []
    for i, group in enumerate(groups[1:], start=1):
        rest = [c for j, other in enumerate(groups) if j != i for c in other]
        here, there, gap = _nearest(group, rest)
        message = f"net {net} is in {len(groups)} parts: {_names(group)} not joined to the rest; "
        message += f"nearest is {there.name}, {format_mm(nm(max(gap, 0.0)), 3)} mm away"
        layer = f"{here.side.value} copper"
        names = (here.name, there.name)
        found.append(finding("unconnected", message, between(here.shape, there.shape), layer, names, gap))
    return found


def _isolated(groups: list[list[Copper]]) -> list[Finding]:
    found = []
    for group in groups:
        copper = group[0]
        spot = copper.shape.skeleton.representative_point()
        message = f"{copper.name} reaches no pad"
        at = Point(nm(spot.x), nm(spot.y))
        layer = f"{copper.side.value} copper"
        found.append(
            finding("isolated-copper", message, at, layer, (copper.name,), severity=Severity.WARNING)
        )
    return found


def _loose_ends(layer: Layer) -> tuple[list[Finding], int]:
    """Return track ends on *layer* that meet no other copper of their net."""
    ends = [
        (i, end)
        for i, c in enumerate(layer.items)
        if isinstance(c.source, Track)
        for end in dict.fromkeys((c.source.start, c.source.end))
    ]
    if not ends:
        return [], 0
    points = shapely.points([(p.x, p.y) for _, p in ends])
    own = np.array([i for i, _ in ends], dtype=np.int64)
    reach = layer.radii[own]
    tree = shapely.STRtree(layer.skeletons)
    a, b = tree.query(points, predicate="dwithin", distance=reach + (layer.radii.max() + ROUNDING))
    gaps = shapely.distance(points[a], layer.skeletons[b]) - layer.radii[b] - reach[a]
    met = (
        (layer.owners[own[a]] != layer.owners[b]) & (layer.keys[own[a]] == layer.keys[b]) & (gaps <= ROUNDING)
    )
    joined = np.zeros(len(ends), dtype=bool)
    joined[a[met]] = True
    for number, near in enumerate(near_pieces(layer, points, reach, ROUNDING)):
        joined[near[layer.keys[own[near]] == layer.piece_keys[number]]] = True
    found = []
    for loose in np.flatnonzero(~joined):
        i, at = ends[loose]
        name = layer.items[i].name
        message = f"{name} ends in nothing"
        found.append(finding("stub", message, at, layer.word, (name,), severity=Severity.WARNING))
    return found, len(ends)


def _lone_vias(survey: Survey) -> tuple[list[Finding], int]:
    """Return vias joined on fewer than two sides."""
    met: dict[int, set[str]] = {}
    for layer in survey.layers:
        for a, b in _joints(layer):
            met.setdefault(a, set()).add(layer.word)
            met.setdefault(b, set()).add(layer.word)
    found = []
    first = survey.layers[0]
    count = 0
    for copper, owner in zip(first.items, first.owners.tolist(), strict=True):
        if not isinstance(copper.source, Via):
            continue
        count += 1
        sides = sorted(met.get(owner, set()))
        if len(sides) < min(2, len(survey.layers)):
            where = f"on {sides[0]} only" if sides else "on no side"
            message = f"{copper.name} is joined {where}"
            at = copper.source.at
            found.append(finding("stub", message, at, "drill", (copper.name,), severity=Severity.WARNING))
    return found, count


def check_connections(survey: Survey) -> tuple[Outcome, ...]:
    """Check rules ``unconnected``, ``footprint``, ``isolated-copper`` and ``stub``."""
    body = bodies(survey)
    open_nets: list[Finding] = []
    islands: list[Finding] = []
    nets = _by_net(survey, body)
    for net in sorted(nets):
        groups = list(nets[net].values())
        with_pads = [group for group in groups if any(c.ref for c in group)]
        with_pads.sort(key=lambda group: -sum(bool(c.ref) for c in group))
        open_nets += _separate(net, with_pads)
        islands += _isolated([group for group in groups if not any(c.ref for c in group)])
    parity, patterns, pins, pads = against_netlist(survey)
    open_nets += without_copper(survey.board)
    ends = [_loose_ends(layer) for layer in survey.layers]
    lone, vias = _lone_vias(survey)
    stubs = [f for found, _ in ends for f in found] + lone
    looked = sum(count for _, count in ends)
    return (
        Outcome("unconnected", tuple(open_nets + parity), len(nets), pins),
        Outcome("footprint", tuple(patterns), pads, 0),
        Outcome("isolated-copper", tuple(islands), sum(len(g) for g in nets.values()), 0),
        Outcome("stub", tuple(stubs), looked + vias, 0),
    )
