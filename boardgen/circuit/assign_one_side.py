"""What one copper side costs: pads in the way of a straight line cannot be passed under."""

from __future__ import annotations

import numpy as np

from boardgen.catalog.model import Module
from boardgen.circuit.assign_problem import Floats
from boardgen.footprint.model import Footprint

ROW_DEPTH = 500_000  # nm; contacts that differ by less in depth stand in one row
BLOCKED_NM = 8_000_000  # nm a pad in the way is worth: the way round it, and the room it takes from others
CROSSING_ONE_SIDE_NM = 15_000_000  # nm a crossing is worth where each takes a wire link


def pad_radii(footprint: Footprint, module: Module) -> Floats:
    """Return half the lesser side of each module pin's pad, nm; 0 where it has none."""
    radii = []
    for pin in module.pins:
        pads = footprint.numbered(pin.number)
        radii.append(min(int(pads[0].size.w), int(pads[0].size.h)) / 2 if pads else 0.0)
    return np.array(radii, dtype=float)


def pad_radius(footprint: Footprint) -> float:
    """Return half the lesser side of the footprint's first numbered pad, nm; 0 for none."""
    sizes = [min(int(pad.size.w), int(pad.size.h)) / 2 for pad in footprint.pads if pad.number]
    return sizes[0] if sizes else 0.0


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


def unfolded(starts: Floats, contacts: Floats, ends: Floats, gap_needed: float, radius: float) -> Floats:
    """Return where each line seems to start once it has gone round the end of the connector's near row.

    A contact behind a row whose pads leave less than *gap_needed* (nm, two gaps
    and a track) between rims of *radius* can only be reached round the row's
    end. Mirrored about the nearer end it lies, in the order the lines nest, on
    the near row's own line, and straight lines from there tell length and
    crossings rightly. *contacts* are all pads of the connector, nm, shape (n, 2).
    """
    known = contacts[~np.isnan(contacts[:, 0])]
    if len(known) < 3:
        return starts
    toward = np.nanmean(ends, axis=0) - known.mean(axis=0)
    depth = int(np.argmax(np.abs(toward)))
    along = 1 - depth
    sign = 1.0 if toward[depth] >= 0 else -1.0
    near = float((known[:, depth] * sign).max())
    row = np.sort(known[known[:, depth] * sign > near - ROW_DEPTH][:, along])
    if len(row) < 2 or float(np.diff(row).min()) - 2 * radius >= gap_needed:
        return starts
    low, high = float(row[0]), float(row[-1])
    seen = starts.copy()
    for place in seen:
        if np.isnan(place[0]) or place[depth] * sign > near - ROW_DEPTH:
            continue
        behind = near - place[depth] * sign
        left = place[along] - low <= high - place[along]
        place[along] = 2 * low - place[along] - behind if left else 2 * high - place[along] + behind
        place[depth] = near * sign
    return seen
