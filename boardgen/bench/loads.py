"""What hangs between contacts at rest: pots by their wipers, lamps, LEDs, and resistors nobody can name."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from boardgen.bench.idle import LEAK_OHMS, Idle, OneWay
from boardgen.bench.model import (
    JOINED_OHMS,
    Kind,
    PairLine,
    contradiction,
    measure_next,
    natural,
    ohms_text,
    pair_of,
)
from boardgen.bench.network import Network, Resistor, networks
from boardgen.bench.turning import Turning, base_state, turning_of
from boardgen.errors import Finding

POT_OHMS = 500.0  # pots of input devices have more than this from end to end; two lamps in a row have less
LAMP_OHMS = 200.0  # cold filaments and small coils have less


@dataclass(frozen=True, slots=True)
class Pot:
    """Three nodes of a pot; *ohms* from end to end. *sure*: it was seen to turn."""

    wiper: str
    ends: tuple[str, str]
    ohms: float
    sure: bool


@dataclass(frozen=True, slots=True)
class Rest:
    """What the idle readings amount to. *oneway* are junctions, *turning* pairs move with a control."""

    pots: tuple[Pot, ...]
    resistors: tuple[Resistor, ...]
    oneway: tuple[OneWay, ...]
    turning: frozenset[tuple[str, str]]
    findings: tuple[Finding, ...]


def read_loads(idle: Idle, hubs: frozenset[str], loads: frozenset[str]) -> Rest:
    """Return pots and loads; *hubs* are grounds, rails and key lines, *loads* nodes called a lamp or so.

    Neither can be a wiper.
    """
    base = base_state(idle)
    readings: dict[tuple[str, str], float] = {}
    lines: dict[tuple[str, str], PairLine] = {}
    for pair, found in idle.ohms.items():
        fit = [f for f in found if f.reading.kind is Kind.OHMS and JOINED_OHMS < f.reading.value <= LEAK_OHMS]
        if fit:
            lines[pair] = min(fit, key=lambda f: (f.at != base, f.at))
            readings[pair] = lines[pair].reading.value
    findings: list[Finding] = []
    pots: list[Pot] = []
    left: list[Resistor] = []
    moved: set[tuple[str, str]] = set()
    for network in networks(readings, hubs):
        findings += _misfits(network, lines, idle)
        turning = turning_of(network, idle, base, hubs)
        moved |= turning.moved
        found_pots, rest, told = _pots(network, turning, hubs | loads)
        pots += found_pots
        left += rest
        findings += told
    return Rest(tuple(pots), tuple(left), idle.oneway, frozenset(moved), tuple(findings))


def _misfits(network: Network, lines: Mapping[tuple[str, str], PairLine], idle: Idle) -> list[Finding]:
    found: list[Finding] = []
    for pair in network.unmet:
        others = [
            (lines[pair_of(pair[0], k)], lines[pair_of(k, pair[1])])
            for k in network.nodes
            if k not in pair and pair_of(pair[0], k) in lines and pair_of(k, pair[1]) in lines
        ]
        others.sort(key=lambda two: two[0].reading.value + two[1].reading.value)
        near = others[0] if others else ()
        message = (
            f"{ohms_text(lines[pair].reading.value)} between contacts {pair[0]} and {pair[1]} does not fit "
            f"the other resistances: they give {ohms_text(network.effective[pair])}"
        )
        found.append(contradiction(message, lines[pair], *near))
    for (a, b), line in idle.opens.items():
        pair = pair_of(idle.node(a), idle.node(b))
        ohms = network.effective.get(pair)
        if ohms is not None and ohms < LEAK_OHMS:
            way = [lines[p] for p in lines if set(p) <= set(network.nodes) and set(p) & set(pair)]
            message = (
                f"contacts {a} and {b} are open in one reading, but others lead from one to the other "
                f"through about {ohms_text(ohms)}"
            )
            found.append(contradiction(message, line, *way[:4]))
    missing = [p for p in network.missing if not _measured_open(p, idle)]
    if missing:
        shown = ", ".join(f"{a}-{b}" for a, b in missing[:12])
        more = f" and {len(missing) - 12} more" if len(missing) > 12 else ""
        found.append(
            measure_next(f"measure at rest {shown}{more}: only all pairs together tell what hangs where")
        )
    return found


def _measured_open(pair: tuple[str, str], idle: Idle) -> bool:
    return any(pair_of(idle.node(a), idle.node(b)) == pair for a, b in idle.opens)


def _pots(
    network: Network, turning: Turning, anchored: frozenset[str]
) -> tuple[list[Pot], list[Resistor], list[Finding]]:
    near: dict[str, dict[str, float]] = defaultdict(dict)
    for r in network.resistors:
        near[r.a][r.b] = r.ohms
        near[r.b][r.a] = r.ohms
    candidates = [n for n in network.nodes if len(near[n]) == 2 and n not in anchored]
    pots: list[Pot] = []
    ends: set[str] = set()
    turned = {node for node in candidates if turning.turns(node, near[node])}
    for node in candidates:
        if node in turned and not turned & set(near[node]):
            pots.append(_pot(node, near[node], True))
            ends |= set(near[node])
    wipers = {pot.wiper for pot in pots}
    groups: dict[tuple[str, str], list[str]] = defaultdict(list)
    for node in candidates:
        free = node not in wipers and node not in ends and not set(near[node]) & wipers
        if free and sum(near[node].values()) >= POT_OHMS:
            a, b = near[node]
            groups[pair_of(a, b)].append(node)
    findings: list[Finding] = []
    ranked = sorted(groups, key=lambda g: (_spread(groups[g], near), natural(g[0]), natural(g[1])))
    for group in ranked:
        members = [n for n in groups[group] if n not in ends]
        clash = set(group) & {n for pot in pots for n in (pot.wiper,)}
        ladder = any(
            end in candidates and end not in ends and not _square(end, group, groups) for end in group
        )
        if not members or clash or ladder:
            continue
        pots += [_pot(node, near[node], False) for node in members]
        ends |= set(group)
        for node in members:
            findings.append(
                measure_next(
                    f"turn the control and measure {group[0]}-{node} at rest again (column at): a wiper's "
                    f"reading moves; without that contact {node} is a guess"
                )
            )
    in_pots = {pair_of(pot.wiper, end) for pot in pots for end in pot.ends}
    rest = [r for r in network.resistors if r.pair not in in_pots]
    return sorted(pots, key=lambda pot: natural(pot.wiper)), rest, findings


def _square(end: str, group: tuple[str, str], groups: Mapping[tuple[str, str], Sequence[str]]) -> bool:
    """Whether *end* could itself be one of two wipers between this group's wipers: two pots side by side."""
    members = groups[group]
    return len(members) == 2 and end in groups.get(pair_of(*members), ())


def _pot(node: str, near: Mapping[str, float], sure: bool) -> Pot:
    a, b = near
    return Pot(node, pair_of(a, b), sum(near.values()), sure)


def _spread(members: Sequence[str], near: Mapping[str, Mapping[str, float]]) -> float:
    totals = [sum(near[n].values()) for n in members]
    return round(max(totals) / min(totals), 2)
