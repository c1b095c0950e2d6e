"""Are there pins enough of the class that straight lines need? If not, which line shall give way."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from boardgen.design.model import BoundDesign
from boardgen.design.needs import pin_needs, strap_pins, why_not
from boardgen.electrical.levels import pins_for
from boardgen.electrical.ways.choose import AUTO, Chosen
from boardgen.matching import largest_pairing


def gives_way(bound: BoundDesign, chosen: Mapping[str, Chosen]) -> str:
    """Return the last straight line that competes for too few pins, "" where there are enough.

    A line that may only land on some pins and could be carried another way gives
    way. Groups and buses are the pin assignment's to judge, not looked at here.
    """
    needs = list({need.signal: need for need in pin_needs(bound.design)}.values())
    if not needs:
        return ""
    pins = [pin.number for pin in bound.module.pins]
    column = {number: k for k, number in enumerate(pins)}
    identity = bound.design.identity
    straps = () if identity is None else identity.signals  # they take pins from the same module
    allowed = np.zeros((len(needs) + len(straps), len(pins)), dtype=bool)
    for row, signal in enumerate(straps, len(needs)):
        fit = (
            {pin.number for pin in strap_pins(bound.module, identity.pull)} if identity is not None else set()
        )
        for pin in pins_for(bound, signal, reads=True, drives=False):
            allowed[row, column[pin.number]] = pin.number in fit
    for row, need in enumerate(needs):
        offer = chosen[need.signal].offer if need.signal in chosen else None
        function = bound.design.contact(need.signal).function
        for pin in pins_for(bound, need.signal, reads=need.reads, drives=need.drives, function=function):
            fits = not why_not(pin, need)
            if fits and (offer is None or offer.pins is None or pin.number in offer.pins):
                allowed[row, column[pin.number]] = True
    match = largest_pairing(allowed)
    rows = _short(allowed, match)
    for row in sorted((row for row in rows if row < len(needs)), reverse=True):
        line = chosen.get(needs[row].signal)
        if line is None or line.offer.pins is None or line.offer.way != "direct":
            continue
        if line.line.contact.way == AUTO:
            return needs[row].signal
    return ""


def _short(allowed: np.ndarray, match: np.ndarray) -> set[int]:
    """Return the rows that share fewer columns than they are: those reached from an unmatched row."""
    owner = {int(column): row for row, column in enumerate(match) if column >= 0}
    todo = [row for row in range(len(match)) if match[row] < 0]
    reached = set(todo)
    while todo:
        for column in np.flatnonzero(allowed[todo.pop()]).tolist():
            other = owner.get(column)
            if other is not None and other not in reached:
                reached.add(other)
                todo.append(other)
    return reached
