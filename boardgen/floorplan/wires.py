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
from boardgen.footprint.model import Footprint
from boardgen.matching import cheapest_pairing
from boardgen.units import NM_PER_MM

FORBIDDEN = 1e6  # mm; above any sum of distances on a board
STRAIGHT = 0.05  # share of the straight distance in what a way costs


@dataclass(frozen=True, slots=True)
class WireModel:
    """Terminal positions in the parts' own frames, mm: shape (n, 2).

    *pins* are the module's GPIO pads, *contacts* one connector contact a request.
    *forbidden* (requests x pins) is True where a request must not take a pin.
    *rails* are pairs (module pads of the net, contacts of the net) for supplies.
    """

    pins: Floats
    contacts: Floats
    forbidden: np.ndarray
    rails: tuple[tuple[Floats, Floats], ...]


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
    kinds = {net.name: net.kind for net in plan.nets}
    rails = []
    for net in sorted({net for _, net in plan.module_nets if kinds.get(net) is NetKind.SUPPLY}):
        ours = [number for number, name in plan.module_nets if name == net]
        theirs = [number for number, name in plan.contact_nets if name == net and number in known]
        if theirs:
            rails.append((pad_positions(module_print, ours), pad_positions(connector_print, theirs)))
    return WireModel(
        pad_positions(module_print, [pin.number for pin in pins]),
        pad_positions(connector_print, [r.anchor for r in requests]),
        forbidden,
        tuple(rails),
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
    if len(contacts) and len(pins):
        cost = track_gaps(contacts, pins)
        cost = np.where(np.isfinite(cost), cost, FORBIDDEN)
        cost[model.forbidden] = FORBIDDEN
        if len(contacts) <= len(pins):
            columns = cheapest_pairing(cost)
            assert columns is not None  # FORBIDDEN is dear, not infinite
            chosen = cost[np.arange(len(columns)), columns]
            total += float(chosen[chosen < FORBIDDEN].sum())
            crossed = crossings(contacts, pins[columns])
        else:
            total += float(np.minimum(cost.min(axis=1), 1e3).sum())
    for ours, theirs in model.rails:
        away = track_gaps(place_rows(theirs, connector), place_rows(ours, module))
        total += float(np.nan_to_num(away.min(axis=1)).sum())
    return total, crossed


def crossings(starts: Floats, ends: Floats) -> int:
    """Return how many pairs of straight segments cross properly; shape (n, 2) each."""
    if len(starts) < 2:
        return 0
    way = ends - starts

    def side(points: Floats) -> Floats:
        rel = points[None, :, :] - starts[:, None, :]
        return np.asarray(way[:, None, 0] * rel[:, :, 1] - way[:, None, 1] * rel[:, :, 0])

    split = side(starts) * side(ends) < 0
    return int(np.triu(split & split.T, 1).sum())
