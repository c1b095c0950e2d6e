"""Every smallest set of keys that shows a key which is not held, counted exactly."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

import numpy as np

from boardgen.electrical.matrix.model import Phantoms, UnsafeSet, Wiring
from boardgen.electrical.matrix.triples import Flags, Grid, by_crossing, grid_of, triples
from boardgen.electrical.matrix.ways import longer_sets

LISTED = 24  # sets written out; the counts are of all


def phantoms(wiring: Wiring, listed: int = LISTED) -> Phantoms:
    """Return the smallest unsafe sets of *wiring*: triples, and larger ones that hold no smaller.

    A larger one needs crossings without a key: current that goes round five or
    more keys passes the corners of rectangles, and shows those first.
    """
    grid = grid_of(wiring)
    found = triples(grid)
    longer = longer_sets(wiring, listed)
    count = int(found.sum(dtype=np.int64))
    sizes = ((3, count), *longer.sizes) if count else longer.sizes
    shown = by_crossing(found, "phantom")
    parts = by_crossing(found, "first") + by_crossing(found, "middle") + by_crossing(found, "last")
    first, middle, last = (
        grid.diode[:, :, None, None],
        grid.diode.T[None, :, :, None],
        grid.diode[None, None, :, :],
    )
    faint = int((found & (first & last | middle & (first | last))).sum(dtype=np.int64))
    written = [UnsafeSet(*one) for one in _first(wiring, grid, found, listed)]
    written += [
        UnsafeSet(wiring.names(path), wiring.keys[phantom].name, sum(wiring.keys[p].diode for p in path))
        for path, phantom in longer.listed
    ]
    return Phantoms(
        sizes=sizes,
        exact_to=longer.exact_to,
        faint=faint,
        listed=tuple(written[:listed]),
        parts=tuple(int(parts[key.read, key.driven]) for key in wiring.keys),
        shown=tuple(int(shown[key.read, key.driven]) for key in wiring.keys),
    )


def _first(wiring: Wiring, grid: Grid, found: Flags, most: int) -> Iterator[tuple[tuple[str, ...], str, int]]:
    """Yield the first *most* triples in the order of the lines."""
    picked = ((r, *rest) for r, part in enumerate(found) for rest in np.argwhere(part)[:most].tolist())
    for r, other_d, other_r, d in itertools.islice(picked, most):
        path = tuple(int(grid.place[at]) for at in ((r, other_d), (other_r, other_d), (other_r, d)))
        diodes = sum(wiring.keys[place].diode for place in path)
        yield wiring.names(path), wiring.keys[int(grid.place[r, d])].name, diodes
