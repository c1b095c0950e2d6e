"""Small parts that stand where they stood: put by hand, or as the revision before had them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from shapely.geometry.base import BaseGeometry

from boardgen.board.model import Part, Placement
from boardgen.circuit.model import CircuitPart
from boardgen.design.model import BoundDesign, PlacedPart
from boardgen.floorplan.model import Floorplan
from boardgen.layout.place_room import part_area, usable
from boardgen.layout.place_shape import board_part

TOUCH = 1e6  # nm2: rooms that meet by less do not get in each other's way


@dataclass(frozen=True, slots=True)
class Wish:
    """A part that is asked to stand somewhere; *ref* is its name now, *hand* says that a person put it."""

    ref: str
    placed: PlacedPart
    hand: bool


def nets_of(part: CircuitPart) -> frozenset[str]:
    """Return the nets the part is on."""
    return frozenset(pin.net for pin in part.pins if pin.net is not None)


def matched(
    placed: Sequence[PlacedPart], nets: Mapping[str, frozenset[str]], taken: set[str] | None = None
) -> dict[str, PlacedPart]:
    """Return which part now (by reference) each of *placed* means; what is no longer there is left out.

    *nets* are those of each part now. A part is known by its nets, since references are given out anew; where
    none has the same nets, the one that shares most, the same reference first.
    """
    taken = set() if taken is None else taken
    found: dict[str, PlacedPart] = {}
    scores: list[tuple[float, int, str, int]] = []
    for n, item in enumerate(placed):
        wanted = frozenset(item.nets)
        for ref, own in nets.items():
            if ref.rstrip("0123456789") != item.ref.rstrip("0123456789"):
                continue
            share = len(wanted & own) / len(wanted | own) if wanted else float(ref == item.ref)
            if share > 0:
                scores.append((-share, int(ref != item.ref), ref, n))
    done: set[int] = set()
    for _share, _other, ref, n in sorted(scores):
        if ref not in taken and n not in done:
            taken.add(ref)
            done.add(n)
            found[ref] = placed[n]
    return found


def wishes(bound: BoundDesign, parts: Sequence[CircuitPart]) -> list[Wish]:
    """Return where parts are asked to stand: those put by hand first, then those that stay."""
    nets = {part.ref: nets_of(part) for part in parts}
    design = bound.design
    taken: set[str] = set()
    hand = matched(design.placed, nets, taken)
    stays = matched(design.stays.parts, nets, taken) if design.stays is not None else {}
    found = [Wish(ref, hand[ref], True) for ref in sorted(hand)]
    return found + [Wish(ref, stays[ref], False) for ref in sorted(stays)]


def obstacle(bound: BoundDesign, floorplan: Floorplan, part: Part, others: Sequence[Part]) -> str:
    """Return why *part* cannot stand where it is ("" where it can): the edge, or whose room it is in."""
    area = part_area(part)
    inside: BaseGeometry = usable(floorplan.outline, bound.fab.edge_copper_min)
    if area.difference(inside).area > TOUCH:
        return "it would reach over the edge of the board"
    for other in others:
        if other.ref != part.ref and area.intersection(part_area(other)).area > TOUCH:
            return f"{other.ref} stands there"
    return ""


def standing(
    bound: BoundDesign,
    floorplan: Floorplan,
    big: Sequence[Part],
    small: Sequence[CircuitPart],
) -> dict[str, Placement]:
    """Return the places of the small parts that can stand where they are asked to."""
    by_ref = {part.ref: part for part in small}
    there: list[Part] = [*big, *floorplan.holes]
    found: dict[str, Placement] = {}
    for wish in wishes(bound, small):
        part = board_part(by_ref[wish.ref], wish.placed.placement)
        if not obstacle(bound, floorplan, part, there):
            there.append(part)
            found[wish.ref] = wish.placed.placement
    return found
