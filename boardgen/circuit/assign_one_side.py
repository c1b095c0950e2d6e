"""What one copper side costs: pads in the way of a straight line cannot be passed under."""

from __future__ import annotations

import numpy as np

from boardgen.catalog.model import Module
from boardgen.circuit.assign_problem import Floats
from boardgen.footprint.model import Footprint

BLOCKED_NM = 8_000_000  # nm a pad in the way is worth: the way round it, and the room it takes from others
CROSSING_ONE_SIDE_NM = 15_000_000  # nm a crossing is worth where each takes a wire link


def pad_radii(footprint: Footprint, module: Module) -> Floats:
    """Return half the lesser side of each module pin's pad, nm; 0 where it has none."""
    radii = []
    for pin in module.pins:
        pads = footprint.numbered(pin.number)
        radii.append(min(int(pads[0].size.w), int(pads[0].size.h)) / 2 if pads else 0.0)
    return np.array(radii, dtype=float)


def blocked(starts: Floats, ends: Floats, radii: Floats, reach: float) -> Floats:
    """Return how many module pads stand in the way of each straight line, shape (starts, ends).

    A pad is in the way where the line's axis comes nearer to its rim than
    *reach* (gap plus half a track, nm). *starts* and *ends* are positions in
    nm, *ends* those of the module's pads; a pad never blocks its own line.
    """
    a = starts[:, None, None, :]
    b = ends[None, :, None, :]
    p = ends[None, None, :, :]
    way = b - a
    square = np.maximum((way**2).sum(axis=-1), 1.0)
    along = np.clip(((p - a) * way).sum(axis=-1) / square, 0.0, 1.0)
    gap = np.hypot(*np.moveaxis(a + along[..., None] * way - p, -1, 0))
    with np.errstate(invalid="ignore"):
        hit = gap < radii[None, None, :] + reach
    hit &= ~np.eye(len(ends), dtype=bool)[None, :, :]
    return np.asarray(hit.sum(axis=-1), dtype=float)
