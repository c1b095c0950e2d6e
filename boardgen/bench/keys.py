"""Readings with a key held: which contacts each key closes, and which way it conducts."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from boardgen.bench.background import at_rest, background_finding, seen_through
from boardgen.bench.idle import Idle
from boardgen.bench.model import (
    CLOSED_OHMS,
    LEAK,
    Kind,
    PairLine,
    contradiction,
    measure_next,
    ohms_text,
    pair_of,
    warning,
)
from boardgen.errors import Finding

NO_JUNCTION_OHMS = 100.0  # less than this one way cannot go through a junction in a meter's ohm range
SPREAD = 2.0  # two readings of one closed key may differ by this factor
SPREAD_OHMS = 100.0  # and by this much


class Way(StrEnum):
    """How a closed key conducts between its two nodes, in natural order *a*, *b*."""

    BOTH = "both"  # a bare contact
    AB = "a to b"  # a diode, cathode at b
    BA = "b to a"
    UNKNOWN = "unknown"  # one polarity tested, and its reading does not settle it


@dataclass(frozen=True, slots=True)
class Closure:
    """A key and the two nodes it closes.

    *opens*: the key opens what is closed at rest. *ohms*: the contact's
    resistance, None behind a diode. *sure*: both polarities, or one that settles it.
    """

    key: str
    a: str
    b: str
    way: Way
    ohms: float | None
    lines: tuple[PairLine, ...]
    sure: bool = True
    opens: bool = False

    @property
    def pair(self) -> tuple[str, str]:
        """The two nodes, in natural order."""
        return (self.a, self.b)


@dataclass(frozen=True, slots=True)
class Keys:
    """All keys: what they close, and those that were found to close nothing."""

    names: tuple[str, ...]
    closures: tuple[Closure, ...]
    dead: tuple[str, ...]
    tested: Mapping[str, frozenset[tuple[str, str]]]  # by key: (plus node, minus node)
    findings: tuple[Finding, ...]


def read_keys(pairs: Sequence[PairLine], idle: Idle) -> Keys:
    """Return what the keys close, and the clashes among their readings."""
    lines = [p for p in pairs if p.key]
    names = tuple(dict.fromkeys(p.key for p in lines))
    findings: list[Finding] = list(_like_names(names))
    closures: list[Closure] = []
    tested: dict[str, set[tuple[str, str]]] = {name: set() for name in names}
    by_pair: dict[tuple[str, tuple[str, str]], list[PairLine]] = defaultdict(list)
    for line in lines:
        plus, minus = idle.node(line.plus), idle.node(line.minus)
        tested[line.key].add((plus, minus))
        by_pair[(line.key, pair_of(plus, minus))].append(line)
    seen: list[PairLine] = []  # the device at rest, seen with a key held
    leaks: list[PairLine] = []
    inside: dict[str, list[PairLine]] = defaultdict(list)
    for (key, pair), found in by_pair.items():
        if pair[0] == pair[1]:
            inside[key] += found
        elif found[0].pair in idle.normally_closed and _shows(found[0]) == Kind.OPEN:
            closures.append(Closure(key, *pair, Way.BOTH, None, tuple(found), opens=True))
        else:
            own = [line for line in found if not at_rest(line, idle)]
            seen += [line for line in found if at_rest(line, idle)]
            leaks += [line for line in own if _leaks(line)]
            closure, clashes = _closure(key, pair, own, idle)
            findings += clashes
            if closure is not None:
                closures.append(closure)
    closures, through = _direct(closures, leaks, idle)
    seen += through
    findings += [_leak(line.key, line) for line in leaks if line not in through]
    works = {closure.key for closure in closures}
    for key, found in inside.items():
        told, rest = _inside_node(key, found, key in works, idle)
        findings += told
        seen += rest
    findings += background_finding(sorted(seen, key=lambda line: (line.place.file, line.place.line)))
    findings += _several(names, closures)
    dead = tuple(name for name in names if name not in works)
    frozen = {name: frozenset(found) for name, found in tested.items()}
    return Keys(names, tuple(closures), dead, frozen, tuple(findings))


def _like_names(names: Sequence[str]) -> Iterator[Finding]:
    folded: dict[str, str] = {}
    for name in names:
        known = folded.setdefault(name.casefold(), name)
        if known != name:
            yield measure_next(f"keys {known!r} and {name!r} differ only in case: are they one key?")


def _shows(line: PairLine) -> Kind:
    """Return OPEN also for a resistance that no key contact has, OHMS also for a beep."""
    reading = line.reading
    if reading.kind is Kind.CLOSED:
        return Kind.OHMS
    return Kind.OPEN if reading.kind is Kind.OHMS and reading.value > CLOSED_OHMS else reading.kind


def _direct(
    closures: Sequence[Closure], leaks: Sequence[PairLine], idle: Idle
) -> tuple[list[Closure], list[PairLine]]:
    """Part the closures of each key from what hangs on its contacts, seen through it."""
    by_key: dict[str, list[Closure]] = defaultdict(list)
    for closure in closures:
        by_key[closure.key].append(closure)
    kept: list[Closure] = []
    seen: list[PairLine] = []
    for mine in by_key.values():
        first = min(mine, key=lambda c: c.ohms or 0.0)
        for c in mine:
            if c is not first and all(seen_through(x, *first.pair, first.ohms or 0.0, idle) for x in c.lines):
                seen += c.lines
            else:
                kept.append(c)
        seen += [
            x for x in leaks if x.key == first.key and seen_through(x, *first.pair, first.ohms or 0.0, idle)
        ]
    return kept, seen


def _inside_node(
    key: str, lines: Sequence[PairLine], works: bool, idle: Idle
) -> tuple[list[Finding], list[PairLine]]:
    """Judge readings between contacts joined at rest: of a key that works elsewhere they say nothing."""
    found: list[Finding] = []
    rest: list[PairLine] = []
    for line in lines:
        chain = idle.chain(line.plus, line.minus)
        if _shows(line) is Kind.OPEN:
            message = f"key {key!r} opens contacts that other readings join"
            found.append(contradiction(message, line, *chain))
        elif works:
            rest.append(line)
        else:
            message = f"key {key!r} is measured as closed between contacts that are closed at rest"
            found.append(contradiction(message, line, *chain))
    return found, rest


def _closure(
    key: str, pair: tuple[str, str], lines: Sequence[PairLine], idle: Idle
) -> tuple[Closure | None, list[Finding]]:
    a, b = pair
    findings: list[Finding] = []
    ab = [line for line in lines if idle.node(line.plus) == a]
    ba = [line for line in lines if idle.node(line.plus) == b]
    clash = _clash(key, pair, ab, ba)
    findings += clash
    conducts = [line for line in lines if _shows(line) is not Kind.OPEN]
    if not conducts:
        return None, findings
    there, back = _conducting(ab), _conducting(ba)
    drops = [line for line in conducts if line.reading.kind is Kind.VOLTS]
    sure = not clash
    if there and back:
        way = Way.BOTH
        if drops and not clash:
            sure = False
            both_drop = all(_conducting(way_lines)[0].reading.kind is Kind.VOLTS for way_lines in (ab, ba))
            how = "a diode's drop both ways" if both_drop else "a diode's drop one way and none the other"
            message = f"key {key!r} shows {how} between contacts {a} and {b}"
            findings.append(contradiction(message, there[0], back[0]))
    elif (ab and ba) or drops:
        way = Way.AB if there else Way.BA
        sure = sure and bool(ab and ba)
    elif any(line.reading.kind is Kind.OHMS and line.reading.value < NO_JUNCTION_OHMS for line in conducts):
        way = Way.BOTH
    else:
        way, sure = Way.UNKNOWN, False
    ohms = None
    if way in (Way.BOTH, Way.UNKNOWN):
        values = [line.reading.value for line in conducts if line.reading.kind is Kind.OHMS]
        ohms = max(values, default=None)
        if values and max(values) > max(SPREAD * min(values), min(values) + SPREAD_OHMS):
            message = (
                f"key {key!r} reads {ohms_text(min(values))} once and {ohms_text(max(values))} another time: "
                "a worn or dirty contact wanders"
            )
            findings.append(warning("worn-contact", message, *conducts))
    return Closure(key, a, b, way, ohms, tuple(conducts), sure), findings


def _conducting(lines: Sequence[PairLine]) -> list[PairLine]:
    return [line for line in lines if _shows(line) is not Kind.OPEN]


def _clash(key: str, pair: tuple[str, str], ab: Sequence[PairLine], ba: Sequence[PairLine]) -> list[Finding]:
    """Return the finding for a pair that gives two results in one polarity, with the readings that clash."""
    clashing: list[PairLine] = []
    for lines in (ab, ba):
        kinds = {_shows(line) for line in lines}
        if len(kinds) > 1:
            clashing += [next(line for line in lines if _shows(line) is kind) for kind in sorted(kinds)]
    if not clashing:
        return []
    a, b = pair
    if len(clashing) > 2:
        message = (
            f"key {key!r} conducts from {a} to {b} in one reading and from {b} to {a} in another: "
            "the leads were exchanged once"
        )
    else:
        message = f"key {key!r} gives two results between contacts {a} and {b} in the same polarity"
    return [contradiction(message, *clashing)]


def _leaks(line: PairLine) -> bool:
    return line.reading.kind is Kind.OHMS and line.reading.value > CLOSED_OHMS


def _leak(key: str, line: PairLine) -> Finding:
    message = (
        f"{ohms_text(line.reading.value)} with {key!r} held is taken as open: more than "
        f"{ohms_text(CLOSED_OHMS)} is dirt, or fingers on the probes"
    )
    return warning(LEAK, message, line)


def _several(names: Sequence[str], closures: Sequence[Closure]) -> Iterator[Finding]:
    """Yield a warning for each key that closes more than one pair of nodes."""
    by_key: dict[str, list[Closure]] = defaultdict(list)
    for closure in closures:
        by_key[closure.key].append(closure)
    for name in names:
        mine = by_key[name]
        if len(mine) < 2:
            continue
        pairs = " and ".join(f"{c.a}-{c.b}" for c in mine)
        message = f"key {name!r} closes {pairs}: it has more than one contact, or another key was held"
        yield warning("several-contacts", message, *(c.lines[0] for c in mine))
        yield measure_next(f"hold {name!r} alone and measure {pairs} again, in both polarities")
