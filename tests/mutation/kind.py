"""What a kind of fault is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from random import Random

from shapely.geometry.base import BaseGeometry

from boardgen.board.model import Board
from boardgen.circuit.model import Netlist
from boardgen.footprint.model import Footprint, Pad
from tests.mutation.boards import Ground
from tests.mutation.judge import Judge

UM = 1_000  # nm


@dataclass(frozen=True)
class Planted:
    """A board with one fault. *where*: a finding with a place must be within 1 mm of it (nm)."""

    ground: Ground
    where: BaseGeometry


@dataclass(frozen=True)
class Job:
    """What a planter gets. *by* is -UM for the fault, UM for the same thing 1 um inside its limit.

    *coarse*: for a CAD board, whose loops are closed and whose patterns are compared within some um.
    """

    ground: Ground
    judge: Judge
    draw: Random
    by: int
    coarse: bool = False

    @property
    def board(self) -> Board:
        return self.ground.board

    def shuffled(self, things):
        """The *things* in an order of the seed's own."""
        listed = list(things)
        self.draw.shuffle(listed)
        return listed

    def planted(self, where: BaseGeometry, netlist: Netlist | None = None, **changes: object) -> Planted:
        """The board with *changes*."""
        ground = replace(self.ground, board=replace(self.board, **changes))  # type: ignore[arg-type]
        return Planted(ground if netlist is None else replace(ground, netlist=netlist), where)


Planter = Callable[[Job], Planted | None]


@dataclass(frozen=True)
class Kind:
    """One kind of fault: the *rule* that must be named, whether there is a limit to be 1 um inside of.

    *bare*: planted on the board without its pour and printing.
    """

    name: str
    rule: str
    plant: Planter
    limited: bool
    bare: bool


KINDS: dict[str, Kind] = {}


def kind(rule: str, limited: bool = True, bare: bool = True) -> Callable[[Planter], Planter]:
    """Register a planter under its own name."""

    def register(plant: Planter) -> Planter:
        name = plant.__name__.replace("_", "-")
        KINDS[name] = Kind(name, rule, plant, limited, bare)
        return plant

    return register


def with_pad(ground: Ground, ref: str, number: int, pad: Pad | None, library_too: bool) -> Ground:
    """The board with pad *number* (in pad order) of *ref* replaced, or left out.

    *library_too*: the netlist's own land pattern is as wrong as the board's.
    """

    def changed(footprint: Footprint) -> Footprint:
        pads = [p for i, p in enumerate(footprint.pads) if i != number or pad is not None]
        if pad is not None:
            pads[number] = pad
        return replace(footprint, pads=tuple(pads))

    parts = tuple(
        replace(p, footprint=changed(p.footprint)) if p.ref == ref else p for p in ground.board.parts
    )
    netlist = ground.netlist
    if netlist is not None and library_too:
        wanted = tuple(
            replace(p, footprint=changed(p.footprint)) if p.ref == ref else p for p in netlist.parts
        )
        netlist = replace(netlist, parts=wanted)
    return replace(ground, board=replace(ground.board, parts=parts), netlist=netlist)
