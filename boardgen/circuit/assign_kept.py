"""What comes before short tracks: pins that firmware uses already, and pins that no waiver is needed for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from boardgen.catalog.model import ModulePin
from boardgen.design.model import Design

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


def kept_places(
    design: Design, rows: Mapping[str, int], pins: Sequence[ModulePin], allowed: Bools
) -> tuple[tuple[int, int], ...]:
    """Return (row, column) of each signal of ``[[keep]]`` that may have its old pin at all.

    *rows* tells each signal's request, *pins* and *allowed* are the problem's. A kept pin is named as printed
    on the module, or "#N" for its number.
    """
    columns = {f"#{pin.number}": k for k, pin in enumerate(pins)}
    columns |= {pin.number: k for k, pin in enumerate(pins)}
    columns |= {pin.name: k for k, pin in enumerate(pins)}
    found = []
    for keep in design.keep:
        row, column = rows.get(keep.signal), columns.get(keep.pin)
        if row is not None and column is not None and allowed[row, column]:
            found.append((row, column))
    return tuple(sorted(found))


def with_kept(cost: Floats, kept: Sequence[tuple[int, int]], price: int) -> Floats:
    """Return *cost* (nm) with a price on leaving a kept pin that no saving of track can pay.

    The choice that costs least then changes the fewest kept pins, and among those is the cheapest by *cost*
    and crossings, *price* nm each: the price of one change exceeds all lengths and crossings together.
    """
    if not kept:
        return cost
    count = len(cost)
    change = 1.0 + float(cost.max(axis=1).sum()) + float(price) * count * (count - 1) / 2
    told = cost.copy()
    for row, column in kept:
        told[row, :] += change
        told[row, column] -= change
    return told


def with_spared(cost: Floats, spared: Sequence[int], price: int) -> Floats:
    """Return *cost* (nm) with a price on each column of *spared* that no saving of track can pay.

    The choice that costs least then uses the fewest of them, as :func:`with_kept` has the fewest changes.
    """
    if not spared:
        return cost
    count = len(cost)
    told = cost.copy()
    told[:, list(spared)] += 1.0 + float(cost.max(axis=1).sum()) + float(price) * count * (count - 1) / 2
    return told
