"""Roles of contacts that something hangs on at rest: wipers, rails, lamps, grounds that are guessed."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from boardgen.bench.idle import Idle
from boardgen.bench.loads import LAMP_OHMS, Pot, Rest
from boardgen.bench.model import measure_next, natural, ohms_text, pair_of, taken, warning
from boardgen.bench.roles import Role, Roles
from boardgen.bench.words import Words
from boardgen.design.model import ContactKind
from boardgen.errors import Finding

POT_RAIL, LAMP_RAIL = "3V3", "5V"
NO_RAIL = "rail not measured"
HOT = 10.0  # a filament's resistance when lit, over that when cold: 10 to 15 for tungsten
LED_A = 0.02
MOST_A = 5.0


def put_pots(rest: Rest, roles: Roles, rail: str) -> list[Finding]:
    """Give wipers and ends of pots their roles; which end is ground is told or guessed."""
    findings: list[Finding] = []
    ends = Counter(end for pot in rest.pots for end in pot.ends)
    for number, pot in enumerate(rest.pots, 1):
        low, told = _low_end(pot, roles, ends)
        findings += told
        high = pot.ends[0] if pot.ends[1] == low else pot.ends[1]
        roles.put(low, Role(ContactKind.GROUND, "an end of a pot", sure=not told))
        known = roles.get(high)
        if known is None or known.kind is not ContactKind.SUPPLY:
            role = Role(ContactKind.SUPPLY, "an end of a pot", rail=rail or POT_RAIL, sure=bool(rail))
            if roles.put(high, role if rail else replace(role, note=NO_RAIL)) and not rail:
                findings.append(_rail_taken(high, POT_RAIL, "pots are read against the ADC's rail"))
        level = roles.get(high)
        signal = roles.name(pot.wiper, f"POT{number}")
        role = Role(
            ContactKind.ANALOG,
            "a pot's wiper",
            signal,
            rail=level.rail if level is not None and level.kind is ContactKind.SUPPLY else "",
            ohms=float(f"{pot.ohms:.3g}"),
            sure=pot.sure,
        )
        roles.put(pot.wiper, role)
    return findings


def _low_end(pot: Pot, roles: Roles, ends: Counter[str]) -> tuple[str, list[Finding]]:
    a, b = pot.ends
    for end, other in ((a, b), (b, a)):
        if roles.is_kind(end, ContactKind.GROUND) or roles.is_kind(other, ContactKind.SUPPLY):
            return end, []
    return b, [
        taken(
            f"contact {a} is taken as the rail and {b} as the ground of the pot at {pot.wiper}: exchanged, "
            "it turns the other way and nothing breaks"
        )
    ]


def _rail_taken(node: str, rail: str, why: str) -> Finding:
    return taken(
        f"the rail of contact {node} is taken to be {rail}: {why}; state 'rail' if the device says otherwise"
    )


@dataclass(frozen=True, slots=True)
class _Load:
    """Something that takes current between two nodes; *ohms* cold, None for a junction."""

    a: str
    b: str
    ohms: float | None
    anode: str = ""


def put_loads(
    rest: Rest, roles: Roles, said: Mapping[str, str], words: Words, idle: Idle, rail: str
) -> list[Finding]:
    """Give lamps and their rail their roles; a resistor that nobody names becomes a finding."""
    findings: list[Finding] = []
    loads = [_Load(r.a, r.b, r.ohms) for r in rest.resistors]
    loads += [_Load(*pair_of(d.plus, d.minus), None, idle.node(d.plus)) for d in rest.oneway]
    loads = [_Load(idle.node(x.a), idle.node(x.b), x.ohms, x.anode) for x in loads]
    meets = Counter(n for load in loads for n in (load.a, load.b))
    by_rail: dict[str, list[tuple[str, _Load]]] = defaultdict(list)
    for load in loads:
        if not _is_lamp(load, said, loads):
            findings += _resistor(load, rest, roles)
            continue
        high, told = _high_side(load, roles, said, meets)
        findings += told
        leaf = load.b if high == load.a else load.a
        if roles.is_kind(high, ContactKind.GROUND):
            message = (
                f"the lamp between {leaf} and {high} has its other end at ground: the board would have to "
                f"switch its supply side, for which there is no kind of contact; {leaf} stays unused"
            )
            findings.append(warning("high-side-load", message))
            continue
        by_rail[high].append((leaf, load))
    number = 0
    for high in sorted(by_rail, key=natural):
        known = roles.get(high)
        if known is None:
            note = "" if rail else NO_RAIL
            roles.put(
                high,
                Role(
                    ContactKind.SUPPLY,
                    "the common of lamps",
                    rail=rail or LAMP_RAIL,
                    sure=bool(rail),
                    note=note,
                ),
            )
            if not rail:
                findings.append(
                    _rail_taken(high, LAMP_RAIL, "lamps hang on it, and nothing tells their voltage")
                )
        elif known.kind is not ContactKind.SUPPLY:
            roles.put(high, Role(ContactKind.SUPPLY, "the common of lamps"))
        level = roles.get(high)
        name = level.rail if level is not None and level.kind is ContactKind.SUPPLY else rail or LAMP_RAIL
        for leaf, load in sorted(by_rail[high], key=lambda item: natural(item[0])):
            number += 1
            findings += _put_lamp(leaf, load, name, number, roles, words)
    return findings


def _is_lamp(load: _Load, said: Mapping[str, str], loads: Sequence[_Load]) -> bool:
    """Whether *load* is called a lamp, is a junction, or reads as low as a filament.

    A filament hangs alone on its contact and all its neighbours on one common;
    what stands in a row of resistors is a ladder.
    """
    if "load" in (said.get(load.a), said.get(load.b)) or load.ohms is None:
        return True
    if load.ohms > LAMP_OHMS:
        return False
    ends = Counter(n for x in loads if x.ohms is not None for n in (x.a, x.b))
    for common in (load.a, load.b):
        others = [x.b if x.a == common else x.a for x in loads if x.ohms is not None and common in (x.a, x.b)]
        if all(ends[other] == 1 for other in others):
            return True
    return False


def _high_side(
    load: _Load, roles: Roles, said: Mapping[str, str], meets: Counter[str]
) -> tuple[str, list[Finding]]:
    a, b = load.a, load.b
    if load.anode:
        return load.anode, []
    for end, other in ((a, b), (b, a)):
        if roles.is_kind(end, ContactKind.SUPPLY) or (said.get(other) == "load" and said.get(end) != "load"):
            return end, []
    for end, other in ((a, b), (b, a)):
        if meets[end] > meets[other] or roles.is_kind(end, ContactKind.GROUND):
            return end, []
    return a, [
        taken(f"of the lamp between {a} and {b}, contact {a} is taken as the rail: a filament does not mind")
    ]


def _put_lamp(leaf: str, load: _Load, rail: str, number: int, roles: Roles, words: Words) -> list[Finding]:
    volts = _volts(rail)
    if load.ohms is None:
        current, cold = LED_A, "an LED"
        how = f"{LED_A * 1000:g} mA is what an LED takes"
    else:
        current = min(MOST_A, max(0.001, float(f"{volts / (HOT * load.ohms):.2g}")))
        cold = f"{ohms_text(load.ohms)} cold"
        how = f"{rail} over {HOT:g} times the cold {ohms_text(load.ohms)}"
    role = Role(
        ContactKind.LAMP,
        "a lamp",
        roles.name(leaf, f"LAMP{number}"),
        rail=rail,
        current_a=current,
        sure=False,
        note=f"{cold}; current computed",
    )
    if not roles.put(leaf, role):
        return []
    return [
        measure_next(
            f"feed the lamp at {leaf} from a supply with a current limit and read its current; taken: "
            f"{current * 1000:g} mA ({how})"
        )
    ]


def _volts(rail: str) -> float:
    match = re.match(r"(\d+)(?:\.(\d))?V(\d)?", rail)
    return float(f"{match[1]}.{match[2] or match[3] or 0}") if match else 5.0


def _resistor(load: _Load, rest: Rest, roles: Roles) -> list[Finding]:
    assert load.ohms is not None
    pair = pair_of(load.a, load.b)
    if pair in rest.turning and not (roles.get(load.a) and roles.get(load.b)):
        grounded = [n for n in pair if roles.is_kind(n, ContactKind.GROUND)]
        low = grounded[0] if grounded else pair[1]
        moving = pair[0] if low == pair[1] else pair[1]
        roles.put(low, Role(ContactKind.GROUND, "the far end of a pot with two leads", sure=bool(grounded)))
        note = "pot with two leads: needs a fixed resistor to its rail"
        ohms = float(f"{load.ohms:.3g}")
        name = roles.name(moving, "POT")
        roles.put(moving, Role(ContactKind.ANALOG, "a pot with two leads", name, ohms=ohms, note=note))
        return [warning("two-lead-pot", f"contacts {pair[0]} and {pair[1]} are a {note}")]
    return [
        measure_next(
            f"{ohms_text(load.ohms)} hangs between contacts {pair[0]} and {pair[1]}: a resistor, a coil, "
            "a sensor or a pot; move every control and measure again (column at), or call the signal LAMP"
        )
    ]


def guess_grounds(
    nodes: Sequence[str], said: Mapping[str, str], words: Words, idle: Idle, roles: Roles
) -> list[Finding]:
    """Make shields and grounds of nodes without a role: stated, by bare wires, by joined or black wires."""
    findings: list[Finding] = []
    for node in nodes:
        if roles.get(node) is not None:
            continue
        members = idle.members(node)
        if said.get(node) == "shield":
            roles.put(node, Role(ContactKind.SHIELD, "stated to be a shield"))
        elif any(words.bare(c) for c in members):
            roles.put(node, Role(ContactKind.SHIELD, "a bare wire"))
            findings.append(
                taken(f"contact {node} is taken as the shield: its wire is {_wires(members, words)}")
            )
        elif len(members) > 1 and not any(said.get(c) for c in members):
            roles.put(node, Role(ContactKind.GROUND, "contacts joined at rest", sure=False))
            joined = ", ".join(members)
            findings.append(
                taken(f"contacts {joined} are joined and no key or load meets them: taken as ground")
            )
            findings.append(
                measure_next(f"see where contacts {joined} lead in the device: ground, or a second rail")
            )
    return findings


def _wires(contacts: Sequence[str], words: Words) -> str:
    return ", ".join(words.wire(c) for c in contacts if words.wire(c))
