"""Whether a part's pads are numbered as its catalogue entry has them, and if not, in which way not."""

from __future__ import annotations

import math

from boardgen.board.model import Part
from boardgen.errors import Finding, Severity
from boardgen.footprint.model import Footprint
from boardgen.units import Point, format_mm, nm

OFF = 20_000.0  # nm a pad may stand off its place
XY = tuple[float, float]


def _places(footprint: Footprint) -> dict[str, list[XY]]:
    found: dict[str, list[XY]] = {}
    for pad in footprint.pads:
        if pad.number:
            found.setdefault(pad.number, []).append((float(pad.at.x), float(pad.at.y)))
    return {number: sorted(places) for number, places in found.items()}


def _bare(footprint: Footprint) -> list[XY]:
    """Return what tells the body's way round: holes without a number, and numbers that stand twice."""
    places = _places(footprint)
    twice = [at for found in places.values() if len(found) > 1 for at in found]
    return [(float(p.at.x), float(p.at.y)) for p in footprint.pads if not p.number] + twice


class _Way:
    """The best turn and shift from one set of places onto another, mirrored first or not."""

    def __init__(self, pairs: list[tuple[XY, XY]], mirrored: bool) -> None:
        self.mirrored = mirrored
        count = len(pairs)
        self._from = (sum(a[0] for a, _ in pairs) / count, sum(a[1] for a, _ in pairs) / count)
        self._to = (sum(b[0] for _, b in pairs) / count, sum(b[1] for _, b in pairs) / count)
        cross = dot = 0.0
        for a, b in pairs:
            ax, ay = self._centred(a)
            bx, by = b[0] - self._to[0], b[1] - self._to[1]
            dot += ax * bx + ay * by
            cross += ax * by - ay * bx
        self.turn = math.atan2(cross, dot)
        self.off = max(math.dist(self.of(a), b) for a, b in pairs)

    def _centred(self, a: XY) -> XY:
        x, y = a[0] - self._from[0], a[1] - self._from[1]
        return (-x if self.mirrored else x), y

    def of(self, a: XY) -> XY:
        """Return where *a* comes to stand."""
        x, y = self._centred(a)
        c, s = math.cos(self.turn), math.sin(self.turn)
        return x * c - y * s + self._to[0], x * s + y * c + self._to[1]

    def fits(self, here: list[XY], there: list[XY]) -> bool:
        """Return whether all of *here* come to stand on *there*."""
        return len(here) == len(there) and all(
            any(math.dist(self.of(a), b) <= OFF for b in there) for a in here
        )


def check_numbering(part: Part, wanted: Footprint, rule: str, what: str) -> list[Finding]:
    """Return what is wrong with the numbers of the pads of *part* against *wanted*, seen from its own side.

    *what* is the trade's word for a pad of it ("contact", "pin"). A land pattern drawn about another origin
    or turned as a whole is fine: what counts is where the pads stand to each other and to the body's holes.
    """
    have, want = _places(part.footprint), _places(wanted)
    missing = [number for number in want if number not in have]
    found: list[Finding] = []
    if missing:
        found.append(_tell(part, rule, f"{part.ref} has no pad for {what} {_listed(missing)}"))
    shared = [number for number in want if number in have]
    pairs = [
        (a, b)
        for number in shared
        if len(want[number]) == len(have[number]) == 1
        for a, b in zip(want[number], have[number], strict=True)
    ]
    if len(pairs) < 2:
        return found
    straight, mirrored = _Way(pairs, False), _Way(pairs, True)
    here, there = _bare(wanted), _bare(part.footprint)
    degrees = round(math.degrees(straight.turn)) % 360
    if straight.off <= OFF and (degrees == 0 or straight.fits(here, there)) and (degrees == 0 or here):
        return found
    same = [
        number for (number, (a, b)) in zip(_single(want, have), pairs, strict=True) if math.dist(a, b) <= OFF
    ]
    if straight.off <= OFF:
        # all on one line: mirrored and turned by half a turn are the same to the eye
        words = (
            f"the {what}s of {part.ref} are numbered as if it were turned by {degrees} degrees in its place"
        )
        if mirrored.off <= OFF:
            words = f"the {what}s of {part.ref} are numbered from the wrong end (mirrored)"
        return [*found, _tell(part, rule, words + _example(part, want, have, shared, what))]
    if mirrored.off <= OFF:
        words = f"the {what}s of {part.ref} are numbered mirrored, as seen from the other side of the board"
        return [*found, _tell(part, rule, words + _example(part, want, have, shared, what))]
    swapped = _swapped(want, have, shared)
    if swapped:
        words = f"{what}s of {part.ref} stand in each other's places: {_listed(swapped)}"
        return [*found, _tell(part, rule, words)]
    worst = max(pairs, key=lambda pair: math.dist(*pair))
    words = (
        f"{len(pairs) - len(same)} {what}s of {part.ref} do not stand where its catalogue entry has them, "
    )
    off = format_mm(nm(min(straight.off, math.dist(*worst))), 3)
    return [*found, _tell(part, rule, words + f"up to {off} mm off")]


def _single(want: dict[str, list[XY]], have: dict[str, list[XY]]) -> list[str]:
    return [n for n in want if n in have and len(want[n]) == len(have[n]) == 1]


def _swapped(want: dict[str, list[XY]], have: dict[str, list[XY]], shared: list[str]) -> list[str]:
    """Return the numbers that stand on another's place, where all others stand on their own."""
    moved = [n for n in shared if any(math.dist(a, b) > OFF for a, b in zip(want[n], have[n], strict=False))]
    places = [at for n in moved for at in want[n]]
    if moved and all(any(math.dist(at, place) <= OFF for place in places) for n in moved for at in have[n]):
        return moved
    return []


def _example(
    part: Part, want: dict[str, list[XY]], have: dict[str, list[XY]], shared: list[str], what: str
) -> str:
    """Return which number stands where the first one should, if any does."""
    for number in shared:
        for other in shared:
            if other != number and math.dist(want[number][0], have[other][0]) <= OFF:
                return f": {what} {other} stands where {what} {number} belongs"
    return ""


def _listed(numbers: list[str]) -> str:
    more = f" and {len(numbers) - 6} more" if len(numbers) > 6 else ""
    return ", ".join(numbers[:6]) + more


def _tell(part: Part, rule: str, message: str) -> Finding:
    at: Point = part.placement.at
    return Finding(rule, Severity.ERROR, message, at, "", (part.ref,))
