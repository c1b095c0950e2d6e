"""Rules ``readback-frame`` and ``readback-layer``: a whole layer mirrored, moved, or in a wrong unit.

A layer whose places do not match, and do match after one simple move, is told once, moved, and then compared
as if it had been right: one finding for one fault, and others on the same layer are still found.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from boardgen.errors import Finding, Severity
from boardgen.readback.match import XY
from boardgen.readback.place import Affine
from boardgen.readback.things import spot
from boardgen.units import format_mm, nm

Bounds = tuple[float, float, float, float]
GRID = 1_000.0  # nm: places are compared this coarsely here; finer faults are for the checks that follow
ENOUGH = 0.8
INCH = 25.4


def _cell(at: XY) -> tuple[int, int]:
    return round(at[0] / GRID), round(at[1] / GRID)


def _cells(places: Sequence[XY]) -> set[tuple[int, int]]:
    """Return the cells of *places* and their neighbours, so that rounding parts nothing."""
    cells = set()
    for at in places:
        x, y = _cell(at)
        cells |= {(x + dx, y + dy) for dx in (-1, 0, 1) for dy in (-1, 0, 1)}
    return cells


def _share(found: Sequence[XY], cells: set[tuple[int, int]], way: Affine) -> float:
    return sum(_cell(way.point(at)) in cells for at in found) / max(1, len(found))


def _votes(found: Sequence[XY], wanted: Sequence[XY]) -> Affine | None:
    """Return the shift most pairs of places ask for, of a sample that bounds the work."""
    votes: Counter[tuple[int, int]] = Counter()
    step = max(1, len(found) // 40)
    for x, y in found[::step]:
        votes.update({_cell((wx - x, wy - y)): 1 for wx, wy in wanted})
    if not votes:
        return None
    (dx, dy), _count = max(votes.items(), key=lambda item: (item[1], item[0]))
    exact = sorted(
        (wx - x, wy - y) for x, y in found[::step] for wx, wy in wanted if _cell((wx - x, wy - y)) == (dx, dy)
    )
    return Affine(1.0, 1.0, *exact[len(exact) // 2])


def _ways(
    found: Sequence[XY], wanted: Sequence[XY], box: Bounds, origin: XY
) -> Iterator[tuple[str, str, Affine]]:
    """Yield rule, words and the way back, the likelier first."""
    left, top, right, bottom = box
    ox, oy = origin
    yield "readback-layer", "mirrored left to right", Affine(-1.0, 1.0, left + right, 0.0)
    yield "readback-layer", "mirrored top to bottom", Affine(1.0, -1.0, 0.0, top + bottom)
    yield "readback-layer", "turned upside down", Affine(-1.0, -1.0, left + right, top + bottom)
    for scale, words in (
        (INCH, "25.4 times too small: mm and inches are mixed up"),
        (1 / INCH, "25.4 times too large: mm and inches are mixed up"),
        (10.0, "10 times too small"),
        (0.1, "10 times too large"),
        (100.0, "100 times too small"),
        (0.01, "100 times too large"),
        (1000.0, "1000 times too small"),
        (0.001, "1000 times too large"),
    ):
        yield "readback-frame", words, Affine(scale, scale, ox - ox * scale, oy - oy * scale)
    shift = _votes(found, wanted)
    if shift is not None:
        words = f"shifted by {format_mm(nm(-shift.c))}, {format_mm(nm(-shift.d))} mm"
        yield "readback-frame", words, shift


def way_back(
    found: Sequence[XY], wanted: Sequence[XY], box: Bounds, origin: XY, path: str, name: str
) -> tuple[Affine | None, Finding | None]:
    """Return how a layer must be moved to lie right, and the finding about it; or None twice.

    *found* and *wanted* are places on it (the board's axes, nm), *box* the board's bounds, *origin* the
    files' origin. A layer that fits no simple move is left alone: its things are found one by one.
    """
    if len(found) < 3 or len(wanted) < 3:
        return None, None
    cells = _cells(wanted)
    here = _share(found, cells, Affine())
    if here == 1.0:
        return None, None
    for rule, words, way in _ways(found, wanted, box, origin):
        share = _share(found, cells, way)
        # Much of a symmetric layer lies right when it is mirrored: then the move must explain all of it.
        if share == 1.0 or (share >= ENOUGH > here):
            at = spot(wanted[0])
            return way, Finding(rule, Severity.ERROR, f"{path}: the {name} is {words}", at, name, (path,))
    return None, None
