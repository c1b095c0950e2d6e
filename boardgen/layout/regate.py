"""Which signal takes which gate of a chip, once the chip stands: gates are alike, so no lines need cross."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from boardgen.board.geometry import pad_centre
from boardgen.board.model import Board, Part, PartKind
from boardgen.electrical.model import ElectricalPlan, PlannedPart
from boardgen.matching import cheapest_pairing
from boardgen.units import Point

Spots = dict[str, list[Point]]  # of the pads of a net


def has_gates(plan: ElectricalPlan) -> bool:
    """Whether a chip of *plan* has gates that could be exchanged."""
    return any(len(part.component.gates) > 1 for part in plan.parts)


def regated(plan: ElectricalPlan, board: Board, held: frozenset[str] = frozenset()) -> ElectricalPlan:
    """Return *plan* with the signals of each chip on the gates that make the lines to the contacts shortest.

    Lines that are shortest in sum do not cross. The module's pins follow the gates,
    so a net that ends there has no say, but for those whose pin is *held* by the design.
    """
    standing = {part.ref: part for part in board.parts}
    parts = []
    for item in plan.parts:
        chip = standing.get(item.ref)
        if len(item.component.gates) > 1 and chip is not None:
            parts.append(_regated(item, chip, _spots(board.parts, item.ref, held)))
        else:
            parts.append(item)
    return replace(plan, parts=tuple(parts))


def _spots(parts: tuple[Part, ...], but: str, held: frozenset[str]) -> Spots:
    found: Spots = {}
    for part in parts:
        if part.ref == but:
            continue
        for pad in part.footprint.pads:
            net = part.net_of(pad.number)
            if net is not None and (part.kind is not PartKind.MODULE or net in held):
                found.setdefault(net, []).append(pad_centre(part, pad))
    return found


def _bundles(item: PlannedPart) -> list[tuple[tuple[str, ...], tuple[str | None, ...]]]:
    """Return pads and nets of each gate: input, output, then its own ties."""
    nets, pads = dict(item.nets), dict(item.component.pins)
    found = []
    for gate in item.component.gates:
        on = (pads[gate.input], pads[gate.output], *(pads[pin] for pin, _ in gate.ties))
        found.append((on, tuple(nets.get(pad) for pad in on)))
    return found


def _regated(item: PlannedPart, chip: Part, spots: Spots) -> PlannedPart:
    gates = _bundles(item)
    centre = {pad.number: pad_centre(chip, pad) for pad in chip.footprint.pads}
    used = [nets for _, nets in gates if nets[1] is not None]
    idle = [nets for _, nets in gates if nets[1] is None]
    cost = np.array([[_length(pads, nets, centre, spots) for pads, _ in gates] for nets in used])
    chosen = cheapest_pairing(cost.reshape(len(used), len(gates)))
    if chosen is None:
        return item
    taken = dict(zip(chosen.tolist(), used, strict=True))
    rest = iter(idle)
    nets = dict(item.nets)
    for place, (pads, _) in enumerate(gates):
        for pad, net in zip(pads, taken[place] if place in taken else next(rest), strict=True):
            nets.pop(pad, None)
            if net is not None:
                nets[pad] = net
    return replace(item, nets=tuple(sorted(nets.items())))


def _length(
    pads: tuple[str, ...], nets: tuple[str | None, ...], centre: dict[str, Point], spots: Spots
) -> float:
    """The straight way from a gate's pads to where its two nets go, nm."""
    total = 0.0
    for pad, net in zip(pads[:2], nets[:2], strict=True):
        ends = spots.get(net or "", [])
        if ends:
            total += min((centre[pad].distance(end) for end in ends), default=math.inf)
    return total
