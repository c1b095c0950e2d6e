"""The least track length that any choice of pins allows: bound L2 of a whole design."""

from __future__ import annotations

from boardgen.board.geometry import pad_centre
from boardgen.board.model import Board, PartKind
from boardgen.circuit.assign import usable_pins
from boardgen.circuit.model import PinMap
from boardgen.design.model import BoundDesign
from boardgen.layout.route.bounds import (
    bound_l1,
    cheapest_choice,
    net_points,
    octilinear_bound,
    steiner_bound,
)
from boardgen.units import Point


def design_bound(
    bound: BoundDesign,
    board: Board,
    pinmap: PinMap,
    routed: tuple[str, ...],
    octilinear: bool = False,
) -> float:
    """Return bound L2 in nm for the nets in *routed*, parts standing where they stand.

    With *octilinear* it is the least of tracks in 45-degree steps, which no such board can beat.

    Signals with one GPIO and one or two pads more count with the cheapest choice
    of distinct pins that their needs allow (fixed pins kept, groups and buses let
    go, so that it stays a bound), each with the Steiner length its pin would
    give; every other net counts with its Steiner bound.
    """
    least = octilinear_bound if octilinear else steiner_bound
    module = next(part for part in board.parts if part.kind is PartKind.MODULE)
    fixed = {item.signal: item.pin for item in bound.design.fixed}
    place = {pad.number: pad_centre(module, pad) for pad in module.footprint.pads if pad.number}
    costs: list[dict[Point, float]] = []
    free: set[str] = set()
    for choice in pinmap.choices:
        net = choice.request.net
        if net not in routed:
            continue
        here = place[choice.pin_number]
        points = net_points(board, net)
        others = tuple(point for point in points if point != here)
        if len(others) != len(points) - 1 or not 1 <= len(others) <= 2 or net in free:
            continue
        if choice.request.signal in fixed or choice.fixed:
            candidates: tuple[Point, ...] = (here,)
        else:
            pins = usable_pins(bound.module, choice.request, bound.design.waivers)
            candidates = tuple(place[pin.number] for pin in pins)
        costs.append({spot: least((*others, spot)) for spot in candidates})
        free.add(net)
    kept = tuple(net for net in routed if net not in free)
    return cheapest_choice(tuple(costs), bound_l1(board, kept, octilinear))
