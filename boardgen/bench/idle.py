"""Idle readings: which contacts are joined, and what the meter showed between the others."""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from boardgen.bench.model import (
    JOINED_OHMS,
    LEADS_OHMS,
    Kind,
    PairLine,
    contradiction,
    measure_next,
    natural,
    pair_of,
    warning,
)
from boardgen.errors import Finding

SAME = 0.1  # two readings of one resistance differ by less
LEAK_OHMS = 1e6  # idle paths above it are dirt or a meter's limit


@dataclass(frozen=True, slots=True)
class OneWay:
    """A junction seen at rest (an LED, a protection diode): current runs from *plus* to *minus*."""

    plus: str
    minus: str
    volts: float
    line: PairLine


@dataclass(frozen=True, slots=True)
class Idle:
    """What rests in the device. Pairs are of nodes; a node is the first of the contacts joined.

    *nodes*: contact to node. *ohms*: node pair to its reading, by where controls
    stood ("" first). *opens*: contact pairs measured open, *links* those joined.
    """

    nodes: Mapping[str, str]
    ohms: Mapping[tuple[str, str], tuple[PairLine, ...]]
    oneway: tuple[OneWay, ...]
    opens: Mapping[tuple[str, str], PairLine]
    links: Mapping[tuple[str, str], PairLine]
    normally_closed: Mapping[tuple[str, str], PairLine] = field(default_factory=dict)
    findings: tuple[Finding, ...] = ()

    def node(self, contact: str) -> str:
        """Return the node of *contact*."""
        return self.nodes.get(contact, contact)

    def members(self, node: str) -> tuple[str, ...]:
        """Return the contacts joined into *node*, itself first."""
        return (node, *sorted((c for c, n in self.nodes.items() if n == node and c != node), key=natural))

    def chain(self, a: str, b: str) -> tuple[PairLine, ...]:
        """Return the readings that join contact *a* to *b*, in order; empty where none do."""
        return _chain(self.links, a, b)


def read_idle(pairs: Sequence[PairLine]) -> Idle:
    """Sort out the idle readings among *pairs*, with what clashes in them."""
    findings: list[Finding] = []
    idle = [p for p in pairs if not p.key]
    opened = {p.pair for p in pairs if p.key and p.reading.kind is Kind.OPEN}
    by_pair: dict[tuple[str, str], list[PairLine]] = defaultdict(list)
    for line in idle:
        by_pair[line.pair].append(line)
    links: dict[tuple[str, str], PairLine] = {}
    closed: dict[tuple[str, str], PairLine] = {}
    ohms: dict[tuple[str, str], list[PairLine]] = {}
    opens: dict[tuple[str, str], PairLine] = {}
    oneway: list[OneWay] = []
    for pair in sorted(by_pair, key=lambda p: (natural(p[0]), natural(p[1]))):
        lines = by_pair[pair]
        findings += _clashes(pair, lines)
        shown = _first_by_state(lines)
        first = shown[0]
        drops = [line for line in lines if line.reading.kind is Kind.VOLTS]
        if drops:
            if {line.plus for line in drops} == set(pair):
                message = f"contacts {pair[0]} and {pair[1]} show a diode's drop both ways at rest"
                ways = [next(line for line in drops if line.plus == end) for end in pair]
                findings.append(contradiction(message, *ways))
            oneway.append(OneWay(drops[0].plus, drops[0].minus, drops[0].reading.value, drops[0]))
        elif first.reading.kind is Kind.OPEN and all(s.reading.kind is Kind.OPEN for s in shown):
            opens[pair] = first
        elif all(s.reading.joins for s in shown):
            (closed if pair in opened else links)[pair] = first
        else:
            # a control at its end may read nothing: that joins no contacts
            ohms[pair] = [s for s in shown if s.reading.kind is Kind.OHMS]
    findings += [
        measure_next(
            f"{line.reading} between contacts {pair[0]} and {pair[1]} is taken as joined: zero the meter's "
            "leads and measure again, a big lamp or a coil reads like that when cold",
            line,
        )
        for pair, line in links.items()
        if line.reading.value > LEADS_OHMS
    ]
    nodes = _union(links)
    for pair, line in opens.items():
        chain = _chain(links, *pair)
        if chain:
            message = f"contacts {pair[0]} and {pair[1]} are open in one reading and joined by others"
            findings.append(contradiction(message, line, *chain))
    merged: dict[tuple[str, str], list[PairLine]] = defaultdict(list)
    for (a, b), found in ohms.items():
        one, other = nodes.get(a, a), nodes.get(b, b)
        if one == other:
            message = f"contacts {a} and {b} have a resistance in one reading and are joined by others"
            findings.append(contradiction(message, *found[:1], *_chain(links, a, b)))
            continue
        merged[pair_of(one, other)] += found
    for node_pair, found in merged.items():
        at_rest = [f for f in found if f.at == found[0].at]
        for other_line in at_rest[1:]:
            if other_line.pair != at_rest[0].pair and _differ(at_rest[0], other_line):
                findings.append(
                    contradiction(
                        f"contacts {node_pair[0]} and {node_pair[1]} or their joined ones give two results",
                        at_rest[0],
                        other_line,
                    )
                )
    return Idle(
        nodes,
        {pair: tuple(found) for pair, found in merged.items()},
        tuple(oneway),
        opens,
        links,
        closed,
        tuple(findings),
    )


def _first_by_state(lines: Sequence[PairLine]) -> list[PairLine]:
    """Return one reading for each state of the controls, "" first; what conducts stands for its pair."""
    states: dict[str, PairLine] = {}
    for line in sorted(lines, key=lambda p: (p.reading.kind is Kind.OPEN, p.place.file, p.place.line)):
        states.setdefault(line.at, line)
    return [states[at] for at in sorted(states, key=lambda at: (at != "", at))]


def _differ(a: PairLine, b: PairLine) -> bool:
    x, y = a.reading.value, b.reading.value
    return abs(x - y) > max(SAME * max(x, y), JOINED_OHMS)


def _clashes(pair: tuple[str, str], lines: Sequence[PairLine]) -> list[Finding]:
    """Return the clashes of readings of one pair taken with the controls standing alike."""
    found: list[Finding] = []
    alike: dict[tuple[str, str], list[PairLine]] = defaultdict(list)
    for line in lines:
        alike[(line.plus, line.at)].append(line)
    for same in alike.values():
        first = same[0]
        for other in same[1:]:
            kinds = {_class(first), _class(other)}
            both_ohms = kinds in ({"ohms"}, {"joined"})
            if len(kinds) > 1 or (both_ohms and _differ(first, other)):
                message = f"contacts {pair[0]} and {pair[1]} at rest give two results"
                found.append(contradiction(message, first, other))
    for at in sorted({line.at for line in lines}):
        ways = [alike[(end, at)][0] for end in pair if (end, at) in alike]
        if len(ways) == 2 and Kind.VOLTS not in (w.reading.kind for w in ways):
            kinds = {_class(way) for way in ways}
            if "open" in kinds and "joined" in kinds:
                message = f"contacts {pair[0]} and {pair[1]} are joined one way and open the other"
                found.append(contradiction(message, *ways))
            elif len(kinds) > 1 or _differ(*ways):
                message = (
                    f"contacts {pair[0]} and {pair[1]} give another result with the leads exchanged: "
                    "a diode or a chip lies between, or a voltage stands on the pair"
                )
                found.append(warning("polarity", message, *ways))
    return found


def _class(line: PairLine) -> str:
    if line.reading.joins:
        return "joined"
    if line.reading.kind is not Kind.OHMS:
        return line.reading.kind.value
    return "open" if line.reading.value > LEAK_OHMS else "ohms"


def _union(links: Mapping[tuple[str, str], PairLine]) -> dict[str, str]:
    near: dict[str, set[str]] = defaultdict(set)
    for a, b in links:
        near[a].add(b)
        near[b].add(a)
    nodes: dict[str, str] = {}
    for contact in sorted(near, key=natural):
        if contact in nodes:
            continue
        queue = deque([contact])
        nodes[contact] = contact
        while queue:
            for other in sorted(near[queue.popleft()], key=natural):
                if other not in nodes:
                    nodes[other] = contact
                    queue.append(other)
    return nodes


def _chain(links: Mapping[tuple[str, str], PairLine], start: str, goal: str) -> tuple[PairLine, ...]:
    near: dict[str, list[tuple[str, PairLine]]] = defaultdict(list)
    for (a, b), line in links.items():
        near[a].append((b, line))
        near[b].append((a, line))
    came: dict[str, tuple[str, PairLine]] = {}
    queue, seen = deque([start]), {start}
    while queue:
        here = queue.popleft()
        for other, line in sorted(near[here], key=lambda item: natural(item[0])):
            if other not in seen:
                seen.add(other)
                came[other] = (here, line)
                queue.append(other)
    if goal not in came:
        return ()
    steps: list[PairLine] = []
    while goal != start:
        goal, line = came[goal]
        steps.append(line)
    return tuple(reversed(steps))
