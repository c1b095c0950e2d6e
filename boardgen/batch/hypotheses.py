"""Faults worth asking about, given the readings that are off; each is a change to the circuit."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from itertools import combinations

from boardgen.batch.model import Reading, Suspect
from boardgen.export.bringup_model import Circuit, Close, Spot
from boardgen.export.bringup_net import PAD, Change, Meter, ohms_words

OPEN_JOINT, BRIDGE, CUT = "open joint", "bridge", "broken track"
SWAP, MISSING, VALUE = "swapped wires", "missing part", "wrong value"
CONNECTOR = "J1"
# How unlikely a fault is by itself, between faults that explain as much: joints fail first.
_COST = {OPEN_JOINT: 1.0, BRIDGE: 1.0, MISSING: 1.5, VALUE: 1.6, SWAP: 1.4, CUT: 2.0}
_TURN_COST = {"J1": 1.2, "U1": 1.7}  # the module is unplugged then: only its count can be turned
_FAR_BRIDGE = 3.0  # between nets that are nowhere close
_FAR_OHMS = 4.0  # a bridge that reads so much lies elsewhere
_MOST_SWAPPED = 10  # contacts open to their nets; where more are, no two wires did it


def hypotheses(circuit: Circuit, high: Sequence[Reading], low: Sequence[Reading]) -> tuple[Suspect, ...]:
    """Return single faults that touch a reading that is too *high* or too *low*, in a stable order."""
    off = (*high, *low)
    if not off:
        return ()
    spots = {spot.name: spot for spot in circuit.spots}
    named = {base(name) for reading in off for name in (reading.a, reading.b)}
    nets = _reached(circuit, {spots[name].net for name in named})
    found: list[Suspect] = []
    for spot in circuit.spots:
        if spot.net in nets and spot.net != spot.name and high:
            found += _joint(circuit, spot)
    found += _bridges(circuit, spots, low)
    found += _parts(circuit, spots, nets, off)
    found += _swaps(spots, named, {base(name) for reading in high for name in (reading.a, reading.b)})
    for turn in circuit.turns:
        words = f"{turn.ref}: {turn.words}"
        check = f"compare {turn.ref} with the drawing of its contacts"
        found.append(
            Suspect(
                turn.fault,
                words,
                (turn.ref,),
                check,
                change=Change(moved=turn.moves),
                cost=_TURN_COST.get(turn.ref, max(_TURN_COST.values())),
            )
        )
    return tuple(found)


def base(name: str) -> str:
    """Return the spot that a place belongs to, its pad or its metal."""
    return name.removesuffix(PAD)


def _reached(circuit: Circuit, nets: set[str]) -> set[str]:
    """Return *nets* and those that resistors and fuses join to them."""
    of = {spot.name: spot.net for spot in circuit.spots}
    more = True
    while more:
        before = len(nets)
        for item in circuit.elements:
            if {of[item.a], of[item.b]} & nets:
                nets = nets | {of[item.a], of[item.b]}
        more = len(nets) > before
    return nets


def _joint(circuit: Circuit, spot: Spot) -> Iterator[Suspect]:
    pad = spot.name + PAD
    yield Suspect(
        OPEN_JOINT,
        f"the joint of {spot.name} ({spot.words}) is open",
        (spot.name,),
        f"{spot.name} to its own pad: above 1 ohm if the joint is open",
        (spot.name, pad),
        Change(opened=frozenset({spot.name})),
        cost=_COST[OPEN_JOINT],
    )
    rest = [s for s in circuit.spots if s.net == spot.net and s.name != spot.name]
    if len(rest) == 1 and circuit.spots.index(rest[0]) < circuit.spots.index(spot):
        return  # the same break was named from the other end
    if rest:
        other = rest[0]
        yield Suspect(
            CUT,
            f"{spot.net} is broken between the pad of {spot.name} and the rest of it",
            (spot.name,),
            f"the pad of {spot.name} to the pad of {other.name}: above 1 ohm if the track is broken",
            (pad, other.name + PAD),
            Change(cut=frozenset({spot.name})),
            cost=_COST[CUT],
        )


def _bridges(circuit: Circuit, spots: dict[str, Spot], low: Sequence[Reading]) -> Iterator[Suspect]:
    near: dict[tuple[str, str], list[Close]] = {}
    for close in circuit.near:
        near.setdefault((close.a, close.b), []).append(close)
    wanted: set[tuple[str, str]] = set()
    direct: dict[tuple[str, str], float] = {}
    for reading in low:
        one, other = spots[base(reading.a)].net, spots[base(reading.b)].net
        if one != other:
            pair = (min(one, other), max(one, other))
            wanted.add(pair)
            direct[pair] = min(reading.value, direct.get(pair, _FAR_OHMS))
        # what resistors lead to from there, and what stands close to it
        ends, more = _reached(circuit, {one}), _reached(circuit, {other})
        wanted |= {pair for pair in near if set(pair) & ends and set(pair) & more}
        wanted |= {pair for pair in near if {one, other} & set(pair)} if len(low) > 1 else set()
    for pair in sorted(wanted):
        places = sorted(near.get(pair, ()), key=lambda c: (c.gap_mm, c.at_mm, c.layer, c.items))
        cost = _COST[BRIDGE] + places[0].gap_mm / 10 if places else _FAR_BRIDGE
        cost += direct.get(pair, _FAR_OHMS) / _FAR_OHMS  # of nets a fuse joins, those that read least
        where = tuple(_place(close) for close in places)
        look = f"look between {where[0]}" if where else "no place is known where they stand close"
        yield Suspect(
            BRIDGE,
            f"{pair[0]} and {pair[1]} are bridged",
            where,
            look,
            change=Change(joined=(pair,)),
            cost=cost,
        )


def _place(close: Close) -> str:
    x, y = close.at_mm
    return (
        f"{close.items[0]} and {close.items[1]}, {close.gap_mm:.2f} mm apart"
        f" at {x:.1f}, {y:.1f} mm, {close.layer}"
    )


def _parts(
    circuit: Circuit, spots: dict[str, Spot], nets: set[str], off: Sequence[Reading]
) -> Iterator[Suspect]:
    refs = sorted({s.ref for s in spots.values() if s.net in nets and s.ref not in (CONNECTOR, "U1")})
    for ref in refs:
        yield Suspect(
            MISSING,
            f"{ref} is missing",
            (ref,),
            f"look whether {ref} is fitted",
            change=Change(missing=frozenset({ref})),
            cost=_COST[MISSING],
        )
    for item in circuit.elements:
        if item.kind != "resistor" or item.ref not in refs:
            continue
        for ohms in _values(circuit, item.ref, off):
            yield Suspect(
                VALUE,
                f"{item.ref} has about {ohms_words(ohms)}, not {ohms_words((item.least + item.most) / 2)}",
                (item.ref,),
                f"read the value on {item.ref}",
                change=Change(ohms=((item.ref, ohms),)),
                cost=_COST[VALUE],
            )


def _values(circuit: Circuit, ref: str, off: Iterable[Reading]) -> Iterator[float]:
    """Yield the ohms *ref* would have for the first reading that depends on it."""
    for reading in off:
        if not 1.0 < reading.value < math.inf:
            continue
        low, high = 1.0, 1e8

        def middle(ohms: float, at: Reading = reading) -> float:
            least, most = Meter(circuit, Change(ohms=((ref, ohms),))).reads(at.a, at.b)
            return least if math.isinf(most) else (least + most) / 2

        if not middle(low) < reading.value < middle(high):
            continue
        for _ in range(40):
            half = math.sqrt(low * high)
            low, high = (half, high) if middle(half) < reading.value else (low, half)
        yield low
        return


def _swaps(spots: dict[str, Spot], named: set[str], high: set[str]) -> Iterator[Suspect]:
    """Pairs of contacts that are off; exchanged, one at least reads open to its own net."""
    contacts = [s for s in spots.values() if s.ref == CONNECTOR and s.name in named and s.net != s.name]
    if len(high & {s.name for s in contacts}) > _MOST_SWAPPED:
        return
    for a, b in combinations(contacts, 2):
        if a.net == b.net or not {a.name, b.name} & high:
            continue
        far = next((s for s in spots.values() if s.net == b.net and s.ref != CONNECTOR), b)
        yield Suspect(
            SWAP,
            f"the wires of {a.name} ({a.words}) and {b.name} ({b.words}) are exchanged",
            (a.name, b.name),
            f"{a.name} to {far.name}, where {b.name} should lead: below 1 ohm if they are exchanged",
            (a.name, far.name),
            change=Change(moved=((a.name, b.name), (b.name, a.name))),
            cost=_COST[SWAP],
        )
