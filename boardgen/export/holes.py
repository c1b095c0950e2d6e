"""Every hole of a board, as drill files, hole charts and test records meet it."""

from __future__ import annotations

from dataclasses import dataclass

from boardgen.board.model import Board
from boardgen.footprint.model import PadKind
from boardgen.units import ZERO, Nm, Point


@dataclass(frozen=True, slots=True, order=True)
class Hole:
    """One hole to drill or slot to rout, in board coordinates.

    *start* and *end* are equal for a drilled hole; *role* is "ComponentDrill",
    "ViaDrill" or "MechanicalDrill".
    """

    diameter: Nm
    role: str
    start: Point
    end: Point
    plated: bool
    owner: str


def board_holes(board: Board) -> tuple[Hole, ...]:
    """Return every hole of the board once, sorted by diameter, role and place.

    On a board without plated holes all of them count as unplated.
    """
    holes: list[Hole] = []
    for part in board.parts:
        for pad in part.footprint.pads:
            if pad.hole is None:
                continue
            w, h = pad.hole
            reach = Point((w - h) // 2, ZERO) if w > h else Point(ZERO, (h - w) // 2)
            turned = reach.turned(pad.rotation)
            ends = (part.placement.place(pad.at.minus(turned)), part.placement.place(pad.at.plus(turned)))
            plated = pad.kind is PadKind.PLATED and board.plated
            role = "ComponentDrill" if pad.kind is PadKind.PLATED else "MechanicalDrill"
            owner = f"{part.ref} pad {pad.number}" if pad.number else part.ref
            holes.append(Hole(Nm(min(w, h)), role, min(ends), max(ends), plated, owner))
    holes.extend(
        Hole(via.hole, "ViaDrill", via.at, via.at, board.plated, f"via of {via.net}") for via in board.vias
    )
    return tuple(sorted(holes))
