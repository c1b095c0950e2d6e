"""How much wire an arrangement needs: the cheapest pin choice by the ways of 45-degree tracks.

An estimate for the search alone; the pin map proper is made one floor up.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from boardgen.board.model import NetKind, Placement, Side
from boardgen.catalog.model import Module, PinKind
from boardgen.design.model import BoundDesign
from boardgen.electrical.model import ElectricalPlan
from boardgen.floorplan.rooms import Floats
from boardgen.footprint.model import Face, Footprint, PadKind
from boardgen.matching import cheapest_pairing
from boardgen.units import NM_PER_MM

FORBIDDEN = 1e6  # mm; above any sum of distances on a board
BOTH = 3  # copper sides of a plated contact
STRAIGHT = 0.05  # share of the straight distance in what a way costs


@dataclass(frozen=True, slots=True)
class WireModel:
    """Terminal positions in the parts' own frames, mm: shape (n, 2).

    *pins* are the module's GPIO pads, *contacts* one connector contact a request.
    *forbidden* (requests x pins) is True where a request must not take a pin.
    *rails* are pairs (module pads of the net, contacts of the net) for supplies.
    *faces* and *rail_faces* say on which copper sides the tracks of a request or
    rail can lie (bits, see :func:`pad_faces`); None where every contact has both.
    """

    pins: Floats
    contacts: Floats
    forbidden: np.ndarray
    rails: tuple[tuple[Floats, Floats], ...]
    faces: np.ndarray | None = None
    rail_faces: tuple[np.ndarray, ...] = ()


def pad_positions(footprint: Footprint, numbers: list[str]) -> Floats:
    """Return the mean pad centre of each contact number, mm; NaN where it has no pad."""
    rows = []
    for number in numbers:
        pads = footprint.numbered(number)
        if pads:
            rows.append([sum(int(p.at[axis]) for p in pads) / len(pads) / NM_PER_MM for axis in (0, 1)])
        else:
            rows.append([np.nan, np.nan])
    return np.array(rows, dtype=float).reshape(-1, 2)


def pad_faces(footprint: Footprint, numbers: list[str]) -> np.ndarray:
    """Return for each number the copper sides of its pads: 1 the part's own, 2 the far one, 3 both."""
    bits = {Face.NEAR: 1, Face.FAR: 2}
    found = []
    for number in numbers:
        sides = 0
        for pad in footprint.numbered(number):
            sides |= bits[pad.face] if pad.kind is PadKind.SURFACE else 3
        found.append(sides or 3)
    return np.array(found, dtype=np.int64)


def rail_pads(plan: ElectricalPlan, known: set[str]) -> list[tuple[list[str], list[str]]]:
    """Return for each supply net that runs from module to connector its module pads and its contacts."""
    kinds = {net.name: net.kind for net in plan.nets}
    found = []
    for net in sorted({net for _, net in plan.module_nets if kinds.get(net) is NetKind.SUPPLY}):
        ours = [number for number, name in plan.module_nets if name == net]
        theirs = [number for number, name in plan.contact_nets if name == net and number in known]
        if theirs:
            found.append((ours, theirs))
    return found


def wire_model(
    bound: BoundDesign, plan: ElectricalPlan, module_print: Footprint, connector_print: Footprint
) -> WireModel:
    """Return the terminals that matter for the length of an arrangement."""
    module: Module = bound.module
    waived = {waiver.pin for waiver in bound.design.waivers}
    fixed = {item.signal: item.pin for item in bound.design.fixed}
    pins = [
        pin
        for pin in module.pins
        if pin.kind is PinKind.GPIO
        and (not (pin.strap or pin.shared) or pin.number in waived or pin.number in fixed.values())
    ]
    known = set(connector_print.numbers())
    requests = [r for r in plan.requests if r.anchor in known]
    forbidden = np.zeros((len(requests), len(pins)), dtype=bool)
    for row, request in enumerate(requests):
        tied = fixed.get(request.signal)
        for column, pin in enumerate(pins):
            bad = (request.drives and not pin.can_drive) or (request.analog and not pin.analog)
            if tied is not None:
                bad = tied != pin.number
            forbidden[row, column] = bad
    rails = rail_pads(plan, known)
    faces = pad_faces(connector_print, [r.anchor for r in requests])
    one_faced = bound.fab.copper_layers > 1 and bool((faces != BOTH).any())
    return WireModel(
        pad_positions(module_print, [pin.number for pin in pins]),
        pad_positions(connector_print, [r.anchor for r in requests]),
        forbidden,
        tuple((pad_positions(module_print, a), pad_positions(connector_print, b)) for a, b in rails),
        faces if one_faced else None,
        tuple(pad_faces(connector_print, theirs) for _, theirs in rails) if one_faced else (),
    )


def place_rows(rows: Floats, placement: Placement) -> Floats:
    """Return positions (mm, shape (n, 2)) of a part's frame in their place (quarter turns)."""
    x, y = rows[:, 0], rows[:, 1]
    if placement.side is Side.BOTTOM:
        y = -y
    for _ in range(round(placement.rotation / 90.0) % 4):
        x, y = y, -x
    return np.stack([x + placement.at.x / NM_PER_MM, y + placement.at.y / NM_PER_MM], axis=1)


def track_gaps(a: Floats, b: Floats) -> Floats:
    """Return what the way of a 45-degree track from each of *a* (n, 2) to each of *b* (m, 2) is worth.

    The longer side plus (sqrt 2 - 1) of the shorter, with a trace of the straight
    distance: of ways that tracks make equally long, those that do not cross are
    the straighter ones.
    """
    across = np.abs(a[:, None, 0] - b[None, :, 0])
    down = np.abs(a[:, None, 1] - b[None, :, 1])
    way = np.maximum(across, down) + (np.sqrt(2.0) - 1.0) * np.minimum(across, down)
    return np.asarray((1.0 - STRAIGHT) * way + STRAIGHT * np.hypot(across, down))


def wire_estimate(model: WireModel, module: Placement, connector: Placement) -> tuple[float, int]:
    """Return the least total length of 45-degree tracks in mm, and the crossings of that choice."""
    pins = place_rows(model.pins, module)
    contacts = place_rows(model.contacts, connector)
    total = 0.0
    crossed = 0
    chosen_ends = None
    if len(contacts) and len(pins):
        cost = track_gaps(contacts, pins)
        cost = np.where(np.isfinite(cost), cost, FORBIDDEN)
        cost[model.forbidden] = FORBIDDEN
        if len(contacts) <= len(pins):
            columns = cheapest_pairing(cost)
            assert columns is not None  # FORBIDDEN is dear, not infinite
            chosen = cost[np.arange(len(columns)), columns]
            total += float(chosen[chosen < FORBIDDEN].sum())
            chosen_ends = pins[columns]
            crossed = crossings(contacts, chosen_ends, model.faces)
        else:
            total += float(np.minimum(cost.min(axis=1), 1e3).sum())
    placed = [(place_rows(ours, module), place_rows(theirs, connector)) for ours, theirs in model.rails]
    for ours, theirs in placed:
        away = track_gaps(theirs, ours)
        total += float(np.nan_to_num(away.min(axis=1)).sum())
    if model.faces is not None and chosen_ends is not None and placed:
        starts, ends, faces = rail_wires(placed, model.rail_faces)
        over = rail_hits(contacts, chosen_ends, model.faces, starts, ends, faces)
        crossed += int(np.diagonal(over).sum())
    return total, crossed


def rail_wires(
    placed: list[tuple[Floats, Floats]], faces: tuple[np.ndarray, ...]
) -> tuple[Floats, Floats, np.ndarray]:
    """Return each rail contact, the module pad of its net that is nearest, and the copper sides between.

    *placed* are pairs (module pads, contacts), shape (n, 2), *faces* the sides of the contacts.
    """
    starts, ends = [], []
    for ours, theirs in placed:
        away = np.nan_to_num(track_gaps(theirs, ours), nan=np.inf)
        starts.append(theirs)
        ends.append(ours[away.argmin(axis=1)])
    return np.concatenate(starts), np.concatenate(ends), np.concatenate(faces)


def rail_hits(
    starts: Floats, ends: Floats, faces: np.ndarray, rails: Floats, rail_ends: Floats, rail_faces: np.ndarray
) -> np.ndarray:
    """Return [a, b]: how many rails the straight wire from start a to end b crosses on a side both need."""
    a, b = starts[:, None, None, :], ends[None, :, None, :]
    c, d = rails[None, None, :, :], rail_ends[None, None, :, :]

    def turn(p: Floats, q: Floats, r: Floats) -> Floats:
        along, away = q - p, r - p
        return np.asarray(along[..., 0] * away[..., 1] - along[..., 1] * away[..., 0])

    with np.errstate(invalid="ignore"):
        hit = (turn(a, b, c) * turn(a, b, d) < 0) & (turn(c, d, a) * turn(c, d, b) < 0)
    return np.asarray((hit & share(faces, rail_faces)[:, None, :]).sum(axis=2))


def share(faces: np.ndarray, others: np.ndarray) -> np.ndarray:
    """Return [a, b]: whether two wires have a copper side in common, so that they meet where they cross."""
    return np.asarray((faces[:, None] & others[None, :]) != 0)


def crossings(starts: Floats, ends: Floats, faces: np.ndarray | None = None) -> int:
    """Return how many pairs of straight segments cross properly; shape (n, 2) each.

    Pairs whose *faces* (:func:`pad_faces`) have no side in common do not meet.
    """
    if len(starts) < 2:
        return 0
    way = ends - starts

    def side(points: Floats) -> Floats:
        rel = points[None, :, :] - starts[:, None, :]
        return np.asarray(way[:, None, 0] * rel[:, :, 1] - way[:, None, 1] * rel[:, :, 0])

    split = side(starts) * side(ends) < 0
    meet = split & split.T
    if faces is not None:
        meet &= share(faces, faces)
    return int(np.triu(meet, 1).sum())
