"""Whether two shapes are the same, how they differ, and the pairing of wanted and found things by place."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely

from boardgen.board.geometry import Shape
from boardgen.readback.model import SAME
from boardgen.units import format_mm, nm

XY = tuple[float, float]
_TURNS = np.arange(32) * (math.tau / 32)
_WAYS = np.column_stack([np.cos(_TURNS), np.sin(_TURNS)])
NEAR = 1_000_000.0  # nm: how far off a thing may stand and still be taken for the one that is missing


def reach(parts: Sequence[Shape]) -> npt.NDArray[np.float64]:
    """Return how far the union of *parts* reaches in each of 32 directions (its support function), nm.

    For the convex shapes pads have, equal reaches in all directions mean equal shapes; the directions of
    all edges at multiples of 11.25 degrees are among them.
    """
    best = np.full(len(_WAYS), -math.inf)
    for shape in parts:
        far = (shapely.get_coordinates(shape.skeleton) @ _WAYS.T).max(axis=0) + shape.radius
        np.maximum(best, far, out=best)
    return best


@dataclass(frozen=True, slots=True)
class Difference:
    """How a found shape differs: moved by a vector, and larger (or smaller) by so much."""

    dx: float
    dy: float
    width: float
    height: float

    @property
    def moved(self) -> float:
        """How far it stands off, nm."""
        return math.hypot(self.dx, self.dy)

    @property
    def words(self) -> str:
        """The difference in words, in mm."""
        bits = []
        if self.moved > SAME:
            bits.append(f"stands {format_mm(nm(self.moved), 4)} mm off")
        if abs(self.width) > SAME or abs(self.height) > SAME:
            sizes = (format_mm(nm(value), 4) for value in (self.width, self.height))
            bits.append(f"differs in size by {' x '.join(sizes)} mm")
        return " and ".join(bits) or "has another shape"


def difference(wanted: Sequence[Shape], found: Sequence[Shape]) -> Difference | None:
    """Return how *found* differs from *wanted*, or None where both are the same within SAME."""
    a, b = reach(wanted), reach(found)
    if not np.isfinite(b).all():
        return Difference(0.0, 0.0, 0.0, 0.0)
    if float(np.abs(a - b).max()) <= SAME:
        if len(found) > 1 and not _same_area(wanted, found):
            return Difference(0.0, 0.0, 0.0, 0.0)
        return None
    half, quarter = len(_WAYS) // 2, len(_WAYS) // 4
    gap = b - a
    dx, dy = (gap[0] - gap[half]) / 2, (gap[quarter] - gap[quarter + half]) / 2
    return Difference(dx, dy, gap[0] + gap[half], gap[quarter] + gap[quarter + half])


def _same_area(wanted: Sequence[Shape], found: Sequence[Shape]) -> bool:
    """Whether areas agree: a convex outline could still hide a gap inside a composed aperture."""
    a = shapely.union_all([shape.polygon(outside=False) for shape in wanted]).area
    b = shapely.union_all([shape.polygon(outside=False) for shape in found]).area
    return bool(abs(a - b) <= 0.002 * a)


def pairs_by_place(
    wanted: Sequence[XY], found: Sequence[XY]
) -> tuple[list[tuple[int, int]], list[int], list[int]]:
    """Return which of *found* stands where one of *wanted* should, then what is left of each.

    Places are the same within SAME; then what is left is paired by nearness, up to NEAR, nearest first.
    """
    pairs: list[tuple[int, int]] = []
    cells: dict[tuple[int, int], list[int]] = {}
    for j, (x, y) in enumerate(found):
        cells.setdefault((round(x / NEAR), round(y / NEAR)), []).append(j)
    close: list[tuple[float, int, int]] = []
    for i, (x, y) in enumerate(wanted):
        cx, cy = round(x / NEAR), round(y / NEAR)
        for dx in (-1, 0, 1):
            for dy in (-1, 0, 1):
                for j in cells.get((cx + dx, cy + dy), ()):
                    apart = math.dist((x, y), found[j])
                    if apart <= NEAR:
                        close.append((0.0 if apart <= SAME else apart, i, j))
    taken_wanted: set[int] = set()
    taken_found: set[int] = set()
    for _apart, i, j in sorted(close):
        if i not in taken_wanted and j not in taken_found:
            taken_wanted.add(i)
            taken_found.add(j)
            pairs.append((i, j))
    missing = [i for i in range(len(wanted)) if i not in taken_wanted]
    extra = [j for j in range(len(found)) if j not in taken_found]
    return sorted(pairs), missing, extra
