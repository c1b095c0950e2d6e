"""From an island of keys to a matrix: which side is rows, which way the diodes point, which key is where."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from boardgen.bench.keys import Closure, Way
from boardgen.bench.model import contradiction, measure_next, natural, taken, warning
from boardgen.bench.sides import Island
from boardgen.design.model import TO_COLUMN, TO_ROW
from boardgen.errors import Finding

MOST_NAMED = 8


@dataclass(frozen=True, slots=True)
class Grid:
    """A matrix by nodes. *names*: (row, column) to the key's name. *ways*: which way its diode points."""

    rows: tuple[str, ...]
    columns: tuple[str, ...]
    names: Mapping[tuple[str, str], str]
    ways: Mapping[str, str]
    diode_vf_v: float | None
    contact_ohms: float | None
    findings: tuple[Finding, ...]


def grid_of(island: Island, stated: Mapping[str, str]) -> Grid:
    """Return *island* as a matrix; *stated* says "row" or "column" of nodes that the person named."""
    findings: list[Finding] = []
    rows, columns, told = _oriented(island, stated)
    findings += told
    row_set = set(rows)
    names, told = _names(island.closures, row_set)
    findings += told
    ways, told = _diodes(island.closures, row_set, names)
    findings += told
    drops = [
        line.reading.value
        for c in island.closures
        if c.way in (Way.AB, Way.BA)
        for line in c.lines
        if line.reading.kind == "volts"
    ]
    ohms = max((c.ohms for c in island.closures if c.ohms is not None), default=None)
    return Grid(
        rows,
        columns,
        names,
        ways,
        round(max(drops), 2) if drops and ways else None,
        ohms,
        tuple(findings),
    )


def _oriented(
    island: Island, stated: Mapping[str, str]
) -> tuple[tuple[str, ...], tuple[str, ...], list[Finding]]:
    left, right = island.left, island.right
    votes: dict[bool, list[str]] = defaultdict(list)  # by whether the left side would be the rows
    for node in (*left, *right):
        if node in stated:
            votes[(node in left) == (stated[node] == "row")].append(node)
    findings: list[Finding] = []
    if votes[True] and votes[False]:
        fewer = len(votes[True]) < len(votes[False])
        clashing = set(votes[fewer])
        lines = [c.lines[0] for c in island.closures if clashing & set(c.pair)]
        message = (
            f"contacts {', '.join(votes[True])} are stated to be on one side of the matrix and "
            f"{', '.join(votes[False])} on the other, but the keys say otherwise"
        )
        findings.append(contradiction(message, *lines[:6]))
    if votes[True] or votes[False]:
        return (*((left, right) if len(votes[True]) >= len(votes[False]) else (right, left)), findings)
    if len(left) != len(right):
        rows, columns = (left, right) if len(left) > len(right) else (right, left)
        rule = "the larger side is called rows: few lines to strobe, many to read at once"
    else:
        rows, columns = (left, right) if natural(left[0]) < natural(right[0]) else (right, left)
        rule = "both sides have as many; the one with the lowest contact is called rows"
    message = f"rows are contacts {', '.join(rows)}, columns {', '.join(columns)}: {rule}"
    findings.append(taken(message))
    return rows, columns, findings


def _names(closures: Sequence[Closure], rows: set[str]) -> tuple[dict[tuple[str, str], str], list[Finding]]:
    """Return the key at each crossing. A key's name may stand only once: later crossings get a number."""
    findings: list[Finding] = []
    at: dict[tuple[str, str], list[Closure]] = defaultdict(list)
    for c in closures:
        at[(c.a, c.b) if c.a in rows else (c.b, c.a)].append(c)
    names: dict[tuple[str, str], str] = {}
    used: set[str] = set()
    for cross in sorted(at, key=lambda rc: (natural(rc[0]), natural(rc[1]))):
        here = at[cross]
        if len(here) > 1:
            findings += shared_crossing(here)
        text = " / ".join(c.key for c in here)
        text = text if len(text) <= 40 else text[:37] + "..."
        name, count = text, 1
        while name in used:
            count += 1
            name = f"{text[:34]} ({count})"
        used.add(name)
        names[cross] = name
    return names, findings


def shared_crossing(here: Sequence[Closure]) -> list[Finding]:
    """Return the clash of keys that close the same two nodes."""
    said = " and ".join(repr(c.key) for c in here[:MOST_NAMED])
    said += f" and {len(here) - MOST_NAMED} more" if len(here) > MOST_NAMED else ""
    a, b = here[0].pair
    if {c.way for c in here} == {Way.AB, Way.BA} and len(here) == 2:
        message = (
            f"keys {said} close the same contacts {a} and {b}, each one way: their diodes tell them apart, "
            "but not in one matrix with one drive"
        )
        return [contradiction(message, *(c.lines[0] for c in here))]
    message = f"keys {said} close the same contacts {a} and {b}: they cannot be told apart"
    return [
        contradiction(message, *(c.lines[0] for c in here)),
        measure_next(f"hold {said} one at a time and measure {a}-{b} and its neighbours again"),
    ]


def _diodes(
    closures: Sequence[Closure], rows: set[str], names: Mapping[tuple[str, str], str]
) -> tuple[dict[str, str], list[Finding]]:
    """Return which way each key's diode points, in the order of *names*, and what was found."""
    findings: list[Finding] = []
    by_way: dict[str, list[Closure]] = defaultdict(list)
    for c in closures:
        if c.way in (Way.AB, Way.BA):
            cathode = c.b if c.way is Way.AB else c.a
            by_way[TO_ROW if cathode in rows else TO_COLUMN].append(c)
        else:
            by_way["none"].append(c)
    unsure = [c for c in closures if not c.sure]
    if unsure:
        shown = ", ".join(f"{c.key!r} ({_leads(c)})" for c in unsure[:10])
        more = f" and {len(unsure) - 10} more" if len(unsure) > 10 else ""
        findings.append(
            measure_next(f"measure with the leads exchanged, whether there are diodes: {shown}{more}")
        )
    ways = [way for way in (TO_ROW, TO_COLUMN) if by_way[way]]
    if not ways:
        return {}, findings
    ways.sort(key=lambda way: -len(by_way[way]))
    if len(ways) > 1:
        findings += _both_ways(by_way, *ways)
    if by_way["none"]:
        bare = {c.key for c in by_way["none"]}
        shown = ", ".join(repr(k) for k in sorted(bare, key=natural)[:10])
        findings.append(taken(f"{len(bare)} keys have no diode: {shown}"))
    of_pair = {frozenset(cross): name for cross, name in names.items()}
    found = {of_pair[frozenset(c.pair)]: way for way in reversed(ways) for c in by_way[way]}
    return {name: found[name] for name in names.values() if name in found}, findings


def _both_ways(by_way: Mapping[str, Sequence[Closure]], common: str, other: str) -> list[Finding]:
    """Say that a few keys' diodes point the other way: so it may be, or the leads were exchanged."""
    few = by_way[other]
    keys = ", ".join(repr(c.key) for c in few[:MOST_NAMED])
    keys += f" and {len(few) - MOST_NAMED} more" if len(few) > MOST_NAMED else ""
    message = (
        f"diodes point both ways: {len(by_way[common])} {'key' if len(by_way[common]) == 1 else 'keys'} "
        f"{common.replace('-', ' ')}, but {keys} {other.replace('-', ' ')}; one drive does not read both"
    )
    return [
        warning("diodes-both-ways", message, *(c.lines[0] for c in (*few[:MOST_NAMED], by_way[common][0]))),
        measure_next(f"measure {keys} again in both polarities: were the leads exchanged?"),
    ]


def _leads(closure: Closure) -> str:
    tested = {(line.plus, line.minus) for line in closure.lines}
    plus, minus = sorted(tested)[0]
    return f"+ on {minus}, - on {plus}"
