"""What a meter shows with a key held though the key has no part in it: the device at rest, seen again.

Whoever measures every pair with every key held writes down the joined contacts,
the pots and the lamps each time; and what hangs on one side of a closed key is
seen from its other side too.
"""

from __future__ import annotations

from collections.abc import Sequence

from boardgen.bench.idle import Idle
from boardgen.bench.model import Kind, PairLine, pair_of, taken
from boardgen.errors import Finding

SHARE, SLACK_OHMS = 0.1, 5.0  # how far a reading may be from the one at rest
SHOWN = 4


def at_rest(line: PairLine, idle: Idle) -> bool:
    """Whether *line* shows what its contacts show with no key held."""
    pair = pair_of(idle.node(line.plus), idle.node(line.minus))
    if line.reading.kind is Kind.VOLTS:
        way = (idle.node(line.plus), idle.node(line.minus))
        return any((idle.node(d.plus), idle.node(d.minus)) == way for d in idle.oneway)
    return line.reading.kind is Kind.OHMS and _near(line.reading.value, pair, idle, 0.0)


def seen_through(line: PairLine, a: str, b: str, key_ohms: float, idle: Idle) -> bool:
    """Whether *line* shows what hangs on node *a* or *b*, seen from the other through the closed key."""
    across = {a: b, b: a}
    plus, minus = idle.node(line.plus), idle.node(line.minus)
    pairs = [pair_of(across.get(plus, plus), minus), pair_of(plus, across.get(minus, minus))]
    if line.reading.kind is Kind.VOLTS:
        ways = {(across.get(plus, plus), minus), (plus, across.get(minus, minus))}
        return any((idle.node(d.plus), idle.node(d.minus)) in ways for d in idle.oneway)
    if line.reading.kind is not Kind.OHMS:
        return False
    return any(_near(line.reading.value, pair, idle, key_ohms) for pair in pairs)


def _near(ohms: float, pair: tuple[str, str], idle: Idle, more: float) -> bool:
    for rest in idle.ohms.get(pair, ()):
        value = rest.reading.value
        if abs(ohms - value) <= SHARE * value + SLACK_OHMS + more:
            return True
    return False


def background_finding(lines: Sequence[PairLine]) -> list[Finding]:
    """Say in one finding which readings with a key held were taken as the device at rest."""
    if not lines:
        return []
    one = len(lines) == 1
    message = (
        f"{len(lines)} reading{' with a key held is' if one else 's with a key held are'} what the device "
        f"shows at rest, and {'is' if one else 'are'} taken as no contact of that key"
    )
    return [taken(message, *lines[:SHOWN])]
