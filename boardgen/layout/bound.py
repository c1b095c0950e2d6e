"""The least track length that any choice of pins allows: bound L2 of a whole design."""

from __future__ import annotations

from boardgen.board.geometry import pad_centre
from boardgen.board.model import Board, PartKind
from boardgen.circuit.assign import usable_pins
from boardgen.circuit.model import PinMap
from boardgen.design.model import BoundDesign
from boardgen.layout.route.bounds import bound_l1, bound_l2, net_points
from boardgen.units import Point


def design_bound(bound: BoundDesign, board: Board, pinmap: PinMap, routed: tuple[str, ...]) -> float:
    """Return bound L2 in nm for the nets in *routed*, parts standing where they stand.

    Signals that run from one contact to one GPIO count with the cheapest choice
    of pins that their needs allow (fixed pins kept, groups and buses let go, so
    that it stays a bound); every other net counts with its Steiner bound.
    """
    module = next(part for part in board.parts if part.kind is PartKind.MODULE)
    fixed = {item.signal: item.pin for item in bound.design.fixed}
    place = {pad.number: pad_centre(module, pad) for pad in module.footprint.pads if pad.number}
    pairs: list[tuple[Point, tuple[Point, ...]]] = []
    free: set[str] = set()
    for choice in pinmap.choices:
        net = choice.request.net
        if net not in routed:
            continue
        here = place[choice.pin_number]
        points = net_points(board, net)
        others = [point for point in points if point != here]
        if len(points) != 2 or len(others) != 1:
            continue
        if choice.request.signal in fixed or choice.fixed:
            candidates: tuple[Point, ...] = (here,)
        else:
            pins = usable_pins(bound.module, choice.request, bound.design.waivers)
            candidates = tuple(place[pin.number] for pin in pins)
        pairs.append((others[0], candidates))
        free.add(net)
    return bound_l2(tuple(pairs), bound_l1(board, tuple(net for net in routed if net not in free)))
