"""Whether things cross each other without end: following all crossings would take all time and memory."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

_SAMPLE = 200
_FEW = 300  # corners: all their crossings are soon found
_CROSSINGS = 25  # box pairs a corner; a fill with a thousand holes has some five


def box_pairs(items: Sequence[BaseGeometry] | npt.NDArray[np.object_]) -> float:
    """Return about how many pairs of *items* have boxes that meet, from an even sample of them."""
    if not len(items):
        return 0.0
    tree = shapely.STRtree(items)
    count = min(_SAMPLE, len(items))
    chosen = [items[i] for i in np.linspace(0, len(items) - 1, count).astype(int).tolist()]
    met = sum(len(tree.query(item)) for item in chosen)
    return met / count * len(items) / 2


def is_tangled(ring: Sequence[tuple[float, float]] | npt.NDArray[np.float64]) -> bool:
    """Return whether a ring crosses itself so often that it is no outline of anything."""
    if len(ring) < _FEW:
        return False
    corners = np.array(ring, dtype=float)
    lines = np.asarray(shapely.linestrings(np.stack([corners, np.roll(corners, -1, axis=0)], axis=1)))
    return box_pairs(lines) > _CROSSINGS * len(ring)
