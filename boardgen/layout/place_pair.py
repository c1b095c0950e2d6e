"""A chip and the capacitor that decouples it, placed as one: where the one may stand beside the other.

A chip that is scored alone takes a place at which its capacitor may find no room. So each place
of a chip is scored with the nearest place its capacitor could still have there.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from boardgen.layout.place_shape import Mover, Turned

REACH = 10_000_000  # nm from the supply pin to the capacitor's pad; places farther off are not looked at
STRIDE = 1_000_000  # nm between the places looked at; the capacitor's own search is finer
APART = 1_000_000_000  # nm of wire that a place costs which leaves none in reach: taken where all do

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]


class Beside:
    """Places of a capacitor about a chip's, the cheapest first.

    *at* (n, 3) holds the capacitor's turn and its first pad's columns and rows
    from the chip's, *cost* (n,) what standing there costs in nm of wire, *none* what
    a chip costs that has none of them.
    """

    def __init__(self, at: Ints, cost: Floats, none: float) -> None:
        self.at = at
        self.cost = cost
        self.none = none


ALONE = Beside(np.zeros((0, 3), np.int64), np.zeros(0), 0.0)


def mates_of(movers: Sequence[Mover]) -> dict[int, int]:
    """Return the capacitor of each chip that has one, both by index; the first where there are more."""
    mates: dict[int, int] = {}
    for index, mover in enumerate(movers):
        if mover.beside is not None:
            mates.setdefault(mover.beside, index)
    return mates


def fed_pad(mover: Mover, served: Turned) -> tuple[str, int, int] | None:
    """Return the pad of *served* that *mover* stands beside: of their first common net."""
    for net, _, _ in mover.turns[0].pads:
        for pad in served.pads:
            if pad[0] == net:
                return pad
    return None


def beside(chip: Turned, mover: Mover, step: int, gap: int) -> Beside:
    """Return the places of *mover* in reach of *chip*'s supply pin, on a grid of *step*, *gap* nm apart."""
    fed = fed_pad(mover, chip)
    if fed is None:
        return ALONE
    net, x, y = fed
    found: list[tuple[float, int, int, int]] = []
    stride = max(STRIDE // step, 1)
    reach = range(-(REACH // step // stride), REACH // step // stride + 1)
    left, top, right, bottom = chip.box
    for number, turned in enumerate(mover.turns):
        _, px, py = next(pad for pad in turned.pads if pad[0] == net)
        box = turned.box
        first_x, first_y = round((x - px) / step), round((y - py) / step)
        for column in (first_x + n * stride for n in reach):
            for row in (first_y + n * stride for n in reach):
                dx, dy = column * step, row * step
                if (
                    dx + box[0] - gap < right
                    and dx + box[2] + gap > left
                    and dy + box[1] - gap < bottom
                    and dy + box[3] + gap > top
                ):
                    continue
                wire = abs(dx + px - x) + abs(dy + py - y)
                found.append((wire * (1 + mover.weight), number, column, row))
    if not found:
        return ALONE
    found.sort()
    at = np.array([spot[1:] for spot in found], dtype=np.int64)
    cost = np.array([spot[0] for spot in found])
    return Beside(at, cost, float(cost[-1]) + APART)
