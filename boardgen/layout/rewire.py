"""The way back from placed parts to pins: where driver nets end, and the same parts on other pins."""

from __future__ import annotations

from dataclasses import replace

from boardgen.board.geometry import pad_centre
from boardgen.board.model import Board, PartKind
from boardgen.circuit.model import Netlist
from boardgen.electrical.model import ElectricalPlan
from boardgen.units import Point


def driver_ends(plan: ElectricalPlan, board: Board) -> dict[str, Point]:
    """Return for each requested net that ends at a small part the pad nearest the module's middle.

    Nets that run straight to a contact are not in it.
    """
    module = next(part for part in board.parts if part.kind is PartKind.MODULE)
    middle = module.placement.at
    found: dict[str, Point] = {}
    for request in plan.requests:
        if not request.via_part:
            continue
        spots = [
            pad_centre(part, pad)
            for part in board.parts
            if part.kind is PartKind.COMPONENT
            for pad in part.footprint.pads
            if part.net_of(pad.number) == request.net
        ]
        if spots:
            found[request.net] = min(spots, key=lambda at: (at.distance(middle), at))
    return found


def with_nets(board: Board, netlist: Netlist) -> Board:
    """Return *board* with every part on the nets that *netlist* gives it, all else as it was."""
    nets = {
        part.ref: tuple(sorted((pin.number, pin.net) for pin in part.pins if pin.net is not None))
        for part in netlist.parts
    }
    parts = tuple(replace(part, nets=nets[part.ref]) if part.ref in nets else part for part in board.parts)
    return replace(board, parts=parts)
