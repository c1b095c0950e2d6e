"""Two resistors that bring a device's level down to the module's."""

from __future__ import annotations

import math

from boardgen.electrical.eseries import E12
from boardgen.electrical.prove import Net, margin, prove
from boardgen.electrical.ways.model import RESISTOR_COST, Line, Offer, judge

TOPS = (10_000.0, 4_700.0, 2_200.0, 1_000.0)  # the largest that is fast enough loads the device least


def divider(line: Line) -> Offer:
    """Offer the pair that suits the most pins, then has the widest margin, at the largest values that settle.

    The top resistor is 10k to 1k, the lower one of the E12 series within a
    quarter of it and tenfold.
    """
    if line.drives:
        return Offer("divider", trouble=("a divider only brings a level down to the module",), drawable=False)
    nearest: tuple[tuple[float, ...], Offer] | None = None
    for top in TOPS:
        passing: list[tuple[tuple[float, float], Offer]] = []
        for down in _downs(top):
            offer = _pair(line, top, down)
            least = margin(offer.proofs)
            if offer.passes:
                passing.append(((math.inf if offer.pins is None else len(offer.pins), least), offer))
            rank = (float(offer.over_voltage), float(len(offer.reasons())), -least, -top)
            if nearest is None or rank < nearest[0]:
                nearest = (rank, offer)
        if passing:
            return max(passing, key=lambda item: item[0])[1]
    if nearest is None:
        return Offer("divider", drawable=False)
    return nearest[1]


def _downs(top: float) -> list[float]:
    values = [v * 10.0**decade for decade in range(1, 6) for v in E12]
    return [v for v in values if top / 4 <= v <= top * 10]


def _pair(line: Line, top: float, down: float) -> Offer:
    net = Net(top, down, line_pf=line.line_pf, settle_most_s=line.settle_most_s)
    judged = judge(line, lambda pin: (prove("in", line.device.end, pin, net),))
    return Offer("divider", judged.proofs, 2 * RESISTOR_COST, judged.pins, judged.why, ohms=(top, down))
