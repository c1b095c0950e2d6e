"""Unsafe sets of five and more keys: ways of the current that show no key on a shorter part.

A way goes r0, d1, r1, d2, ... dn, from a read line to the driven one. It is a
smallest set when the key (r0, dn) is there and no part of the way, walked in
either direction the current can take, joins the two lines of another key.
Lines are bits of whole numbers, so that each step is a few operations.
"""

from __future__ import annotations

from dataclasses import dataclass

from boardgen.electrical.matrix.model import Wiring

MOST_WAYS = 200_000  # unfinished ways kept at one length; real key maps have a few hundred


@dataclass(frozen=True, slots=True)
class Longer:
    """Counts by number of keys, the first few sets as (key places, phantom's place)."""

    sizes: tuple[tuple[int, int], ...]
    exact_to: int | None
    listed: tuple[tuple[tuple[int, ...], int], ...]


@dataclass(frozen=True, slots=True)
class _Way:
    """A way that ends on read line ``reads[-1]``, as bits: lines passed, keys of inner read lines,
    and *turn*, the driven lines from which the current could come back to here.
    """

    reads: tuple[int, ...]
    drives: tuple[int, ...]
    seen_reads: int
    seen_drives: int
    inner: int
    turn: int


@dataclass(frozen=True, slots=True)
class _Lines:
    """Keys by line, as bits of the lines on the other side."""

    placed: tuple[int, ...]
    ahead: tuple[int, ...]
    back: tuple[int, ...]  # by driven line: read lines


def _lines(wiring: Wiring) -> _Lines:
    placed, ahead = [0] * len(wiring.read), [0] * len(wiring.read)
    back = [0] * len(wiring.driven)
    for key in wiring.keys:
        placed[key.read] |= 1 << key.driven
        ahead[key.read] |= (1 << key.driven) if key.conducts_ahead else 0
        back[key.driven] |= (1 << key.read) if key.conducts_back else 0
    return _Lines(tuple(placed), tuple(ahead), tuple(back))


def _bits(value: int) -> list[int]:
    found = []
    while value:
        low = value & -value
        found.append(low.bit_length() - 1)
        value ^= low
    return found


def longer_sets(wiring: Wiring, listed: int, most: int = MOST_WAYS) -> Longer:
    """Return the smallest unsafe sets of five and more keys, exact unless more than *most* ways grow."""
    lines = _lines(wiring)
    at = {(key.read, key.driven): place for place, key in enumerate(wiring.keys)}
    ways = [_Way((r,), (), 1 << r, 0, 0, 0) for r in range(len(wiring.read))]
    sizes: list[tuple[int, int]] = []
    written: list[tuple[tuple[int, ...], int]] = []
    size = 1
    while ways:
        grown: list[_Way] = []
        for way in ways:
            grown.extend(_grow(lines, way))
            if len(grown) > most:
                return Longer(tuple(sizes), max(size, 3), tuple(written))
        ways, size, count = grown, size + 2, 0
        if size < 5:
            continue
        for way in ways:
            ends = _ends(lines, way) & lines.placed[way.reads[0]]
            count += ends.bit_count()
            if len(written) < listed:
                written += [(_path(at, way, d), at[way.reads[0], d]) for d in _bits(ends)]
        if count:
            sizes.append((size, count))
    return Longer(tuple(sizes), None, tuple(written[:listed]))


def _ends(lines: _Lines, way: _Way) -> int:
    """Driven lines the way may go on to without showing a key of a read line between its ends."""
    return lines.ahead[way.reads[-1]] & ~way.seen_drives & ~way.inner


def _grow(lines: _Lines, way: _Way) -> list[_Way]:
    """Return the ways one driven and one read line longer."""
    here = way.reads[-1]
    onward = _ends(lines, way)
    if way.drives:
        onward &= ~lines.placed[way.reads[0]]  # that would be its end
    found = []
    for d in _bits(onward):
        turn = way.turn if lines.back[d] >> here & 1 else 0  # can the current come back over (here, d)?
        inner = way.inner | (lines.placed[here] if way.drives else 0)
        for r in _bits(lines.back[d] & ~way.seen_reads):
            if not way.drives and not lines.ahead[r] & ~lines.placed[here]:
                continue  # whatever comes next makes a triple
            over = bool(lines.ahead[r] >> d & 1)
            if over and lines.placed[r] & turn:
                continue  # walked from r back to an earlier driven line, it shows a key there
            found.append(
                _Way(
                    (*way.reads, r),
                    (*way.drives, d),
                    way.seen_reads | 1 << r,
                    way.seen_drives | 1 << d,
                    inner,
                    (turn | 1 << d) if over else 0,
                )
            )
    return found


def _path(at: dict[tuple[int, int], int], way: _Way, last: int) -> tuple[int, ...]:
    path = []
    for n, d in enumerate((*way.drives, last)):
        path.append(at[way.reads[n], d])
        if n + 1 < len(way.reads):
            path.append(at[way.reads[n + 1], d])
    return tuple(path)
