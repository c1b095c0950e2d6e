"""Where tabs hold a board: on straight edge, clear of bodies and corners, spread evenly."""

from __future__ import annotations

from collections.abc import Sequence

from boardgen.catalog.making import PanelLimits
from boardgen.catalog.model import FabClass
from boardgen.order.panel.edges import Edge, Interval
from boardgen.units import Nm, mm

CORNER = mm(2)  # a tab stays that far from the end of straight edge
APART = mm(8)  # and that far from the next one
BODY = mm("1.5")  # and that far from a body that hangs over
_ONE, _TWO = mm(20), mm(90)  # edges up to these lengths get one tab, two tabs; others three
_STEP = mm("0.5")


def _less(rows: Sequence[Interval], low: int, high: int) -> list[Interval]:
    """Return *rows* without what lies between *low* and *high*."""
    left = []
    for a, b in rows:
        left += [(a, min(b, low)), (max(a, high), b)]
    return [(a, b) for a, b in left if a <= b]


def room(edge: Edge, width: int) -> list[Interval]:
    """Return where the middle of a tab of *width* may stand along *edge*."""
    off = int(width // 2 + CORNER)
    rows: list[Interval] = [(a + off, b - off) for a, b in edge.straight if a + off <= b - off]
    for low, high in edge.bodies:
        rows = _less(rows, low - BODY - width // 2, high + BODY + width // 2)
    for low, high in edge.crowded:
        rows = _less(rows, low - width // 2, high + width // 2)
    return rows


def shared(first: Sequence[Interval], second: Sequence[Interval]) -> list[Interval]:
    """Return what two sets of intervals have in common."""
    return [(max(a, c), min(b, d)) for a, b in first for c, d in second if max(a, c) <= min(b, d)]


def tab_places(rooms: Sequence[Interval], length: int, width: int) -> tuple[int, ...]:
    """Return the middles of tabs along an edge of *length*, as near to even spacing as *rooms* let them."""
    count = 1 if length <= _ONE else 2 if length <= _TWO else 3
    chosen: list[int] = []
    for number in range(count):
        ideal = length * (2 * number + 1) // (2 * count)
        free = list(rooms)
        for other in chosen:
            free = _less(free, other - width - APART, other + width + APART)
        best = min(
            (min(max(ideal, a), b) for a, b in free), key=lambda at: (abs(at - ideal), at), default=None
        )
        if best is not None:
            chosen.append(best // _STEP * _STEP if _inside(free, best // _STEP * _STEP) else best)
    return tuple(sorted(chosen))


def _inside(rooms: Sequence[Interval], at: int) -> bool:
    return any(a <= at <= b for a, b in rooms)


def bite_places(limits: PanelLimits, fab: FabClass) -> tuple[Nm, ...]:
    """Return where holes stand along a tab, from its middle: as many as leave the fab's web at its ends."""
    free = limits.tab - limits.bite_hole - 2 * fab.hole_gap_min
    count = max(1, free // limits.bite_pitch + 1)
    return tuple(Nm((2 * n - count + 1) * limits.bite_pitch // 2) for n in range(count))


def bite_offset(limits: PanelLimits, fab: FabClass, copper: int, ink: int) -> Nm:
    """Return how far outside the board's edge the middles of bites stand.

    On the edge where they may: the less is outside, the less is left to file. *copper* and *ink* are the
    least distances (nm) of the board's copper and printing from its edge; both keep the fab's distance.
    """
    half = limits.bite_hole // 2
    by_copper = half - (copper - fab.npth_copper_min)
    by_ink = half + fab.mask_margin - (ink - fab.legend_pad_gap_min) if fab.legend else 0
    return Nm(max(0, by_copper, by_ink))
