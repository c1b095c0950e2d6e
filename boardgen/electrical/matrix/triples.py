"""Unsafe triples, all at once: three keys of a rectangle that show the fourth.

A triple is read line r, driven line d', read line r', driven line d: current
leaves r through (r, d'), goes back through (r', d') and on through (r', d), so
that (r, d) reads closed. Stored as one truth value for each (r, d', r', d).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from boardgen.electrical.matrix.model import Wiring

Flags = npt.NDArray[np.bool_]
Counts = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Grid:
    """The crossings as tables of truth values, read lines down, driven lines across."""

    placed: Flags  # there is a key
    ahead: Flags  # its key lets current pass from the read line
    back: Flags  # its key lets current pass to the read line
    diode: Flags
    place: npt.NDArray[np.int64]  # of the key in the wiring's list, -1 for none


def grid_of(wiring: Wiring) -> Grid:
    """Return the tables of *wiring*."""
    shape = (len(wiring.read), len(wiring.driven))
    placed, ahead, back, diode = (np.zeros(shape, dtype=np.bool_) for _ in range(4))
    place = np.full(shape, -1, dtype=np.int64)
    for n, key in enumerate(wiring.keys):
        at = (key.read, key.driven)
        placed[at], diode[at], place[at] = True, key.diode, n
        ahead[at], back[at] = key.conducts_ahead, key.conducts_back
    return Grid(placed, ahead, back, diode, place)


def triples(grid: Grid, back: Flags | None = None) -> Flags:
    """Return which (r, d', r', d) are unsafe triples; *back* takes the place of the grid's own."""
    way_back = grid.back if back is None else back
    reads, drives = grid.placed.shape
    found: Flags = (
        grid.ahead[:, :, None, None]
        & way_back.T[None, :, :, None]
        & grid.ahead[None, None, :, :]
        & grid.placed[:, None, None, :]
    )
    found &= ~np.eye(reads, dtype=np.bool_)[:, None, :, None]
    found &= ~np.eye(drives, dtype=np.bool_)[None, :, None, :]
    return found


def by_crossing(found: Flags, parts: str) -> Counts:
    """Count triples by crossing: as "first", "middle" or "last" key, or as "phantom" shown."""
    axes = {"first": (2, 3), "middle": (0, 3), "last": (0, 1), "phantom": (1, 2)}[parts]
    counted: Counts = np.asarray(found.sum(axis=axes, dtype=np.int64))
    return counted.T if parts == "middle" else counted


def pairs_in_four(found: Flags) -> int:
    """Return the number of sets of four keys that hold two unsafe triples but no whole rectangle.

    Two triples with two keys in common share a line's two keys. Either they differ in a key at
    the same end (a fork) or at opposite ends (a longer way). No four keys hold three.
    """
    first = found.sum(axis=0, dtype=np.int64)  # (d', r', d): how many first keys
    last = found.sum(axis=3, dtype=np.int64)  # (r, d', r'): how many last keys
    forks = (first * (first - 1) // 2).sum() + (last * (last - 1) // 2).sum()
    # a longer way round one read line r' between driven lines d' and d, then round one driven line
    ways = (first * first.transpose(2, 1, 0)).sum() + (last * last.transpose(2, 1, 0)).sum()
    closed_reads = (found & found.transpose(0, 3, 2, 1)).sum(dtype=np.int64)
    closed_drives = (found & found.transpose(2, 1, 0, 3)).sum(dtype=np.int64)
    return int(forks + (ways - closed_reads - closed_drives) // 2)
