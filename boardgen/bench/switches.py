"""Keys that close to a common return: one signal a key, no matrix."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from boardgen.bench.grids import shared_crossing
from boardgen.bench.idle import Idle
from boardgen.bench.keys import Closure, Way
from boardgen.bench.loads import Rest
from boardgen.bench.model import contradiction, measure_next, natural, taken
from boardgen.bench.roles import Role, Roles, joined_note
from boardgen.bench.sides import Island
from boardgen.bench.words import Words, signal_name
from boardgen.design.model import ContactKind
from boardgen.errors import Finding

BLACK = ("black", "blk")


def common_of(
    part: Island, words: Words, idle: Idle, rest: Rest, shell: Sequence[str]
) -> tuple[str, list[Finding]]:
    """Return the common return of a star, or of a single key; a guess is among the findings."""
    if part.star:
        count = len(part.closures)
        message = (
            f"{count} keys all meet contact {part.star}: taken as switches to a common return, not as a "
            f"matrix of 1 x {count}; the board ties contact {part.star} to ground"
        )
        return part.star, [taken(message)]
    a, b = part.closures[0].pair
    key = part.closures[0].key
    ends = {end for pot in rest.pots for end in pot.ends}
    rules = (
        ("it is the shell", [n for n in (a, b) if n in shell]),
        ("it is joined to more contacts", [n for n in (a, b) if len(idle.members(n)) > 1]),
        ("a control hangs on it too", [n for n in (a, b) if n in ends]),
        ("its wire is black or bare", [n for n in (a, b) if _dark(n, words, idle)]),
    )
    for why, found in rules:
        if len(found) == 1:
            return found[0], [taken(f"key {key!r} closes {a}-{b}; contact {found[0]} is the return: {why}")]
    return b, [
        taken(
            f"key {key!r} closes {a}-{b}, which nothing else meets; the higher, {b}, is taken as the return"
        ),
        measure_next(f"find which of contacts {a} and {b} leads to the device's ground or case"),
    ]


def _dark(node: str, words: Words, idle: Idle) -> bool:
    return any(words.wire(c).casefold() in BLACK or words.bare(c) for c in idle.members(node))


def put_switches(closures: Sequence[Closure], roles: Roles) -> list[Finding]:
    """Make the far end of each key to ground a switch; *closures* all have one end at ground."""
    findings: list[Finding] = []
    by_leaf: dict[str, list[Closure]] = defaultdict(list)
    for c in closures:
        ends = [n for n in c.pair if not roles.is_kind(n, ContactKind.GROUND)]
        if len(ends) == 2:  # the return is stated to be a supply
            ends = [n for n in ends if not roles.is_kind(n, ContactKind.SUPPLY)]
            message = f"key {c.key!r} closes to a supply ({c.a}-{c.b}), and a switch to ground is written"
            findings.append(contradiction(message, *c.lines[:1]))
        if not ends:
            message = f"key {c.key!r} closes {c.a}-{c.b}, which are both ground"
            findings.append(contradiction(message, *c.lines[:2]))
            continue
        by_leaf[ends[0]].append(c)
    for leaf in sorted(by_leaf, key=natural):
        here = by_leaf[leaf]
        first = here[0]
        if len({c.key for c in here}) > 1:
            findings += shared_crossing(here)
        note = "opens when pressed" if first.opens else ""
        diode = _diode_note(first, leaf)
        if first.way in (Way.AB, Way.BA) and not diode:
            note = "through a diode"
        if diode:
            note = diode
            findings.append(
                contradiction(
                    f"key {first.key!r} closes to ground through a diode: {diode}", *first.lines[:2]
                )
            )
        keys = " / ".join(dict.fromkeys(c.key for c in here))
        signal = roles.name(leaf, signal_name(keys))
        if signal != keys:
            note = joined_note(f"key {keys}", note)
        if not first.sure and not diode:
            findings.append(
                measure_next(
                    f"measure key {first.key!r} ({first.a}-{first.b}) with the leads exchanged: is "
                    "there a diode?"
                )
            )
        why = f"the far end of key {first.key!r} to ground"
        roles.put(leaf, Role(ContactKind.SWITCH, why, signal, sure=first.sure, note=note), first.lines)
    return findings


def _diode_note(closure: Closure, leaf: str) -> str:
    """Return what is wrong with a diode that lets no current from *leaf* into ground."""
    into_leaf = Way.BA if leaf == closure.a else Way.AB
    return "it conducts from ground only, so a pull-up sees nothing" if closure.way is into_leaf else ""
