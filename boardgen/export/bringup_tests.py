"""What is measured without power, and in which order: rails, signals, legs, pairs that must be open."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from boardgen.board.model import NetKind, PartKind
from boardgen.export.bringup_model import OHMS, Circuit, Close, Spot, Test
from boardgen.export.bringup_net import DIRECT_MOST, Change, Meter, span_words
from boardgen.export.bundle import Bundle

RAILS, SIGNALS, INSIDE, OPEN = "rails", "signals", "inside", "open"
_LETTERS = {RAILS: "R", SIGNALS: "S", INSIDE: "L", OPEN: "N"}
FACE_PITCH = 1.3  # contacts up to this many times the least distance apart are neighbours on the face


@dataclass(slots=True)
class Bench:
    """The tests while they are being listed; only :func:`unpowered_tests` holds it."""

    bundle: Bundle
    circuit: Circuit
    meter: Meter
    tests: list[Test] = field(default_factory=list)
    seen: set[tuple[str, str]] = field(default_factory=set)

    def spots_of(self, net: str) -> list[Spot]:
        """The spots of *net*, best for a probe first: module socket, connector, then parts."""
        ranks = {"U1": 0, "J1": 1}
        found = [(ranks.get(s.ref, 2), i, s) for i, s in enumerate(self.circuit.spots) if s.net == net]
        return [spot for _rank, _i, spot in sorted(found, key=lambda row: row[:2])]

    def place(self, net: str) -> Spot:
        """Where *net* is probed."""
        return self.spots_of(net)[0]

    def add(self, stage: str, a: Spot, b: Spot, label: str, part: str = "") -> None:
        """List a measurement between two spots, unless it is listed; the red lead goes where less leaks."""
        pair = (a.name, b.name) if a.name < b.name else (b.name, a.name)
        if a.name == b.name or pair in self.seen:
            return
        self.seen.add(pair)
        here, there = self.meter.reads(a.name, b.name), self.meter.reads(b.name, a.name)
        if there[0] > here[0]:
            a, b, here = b, a, there
        least, most = here
        words = span_words(here) + (f", through {part}" if part else "")
        number = sum(test.stage == stage for test in self.tests) + 1
        self.tests.append(
            Test(
                id=f"{_LETTERS[stage]}{number:02d}",
                stage=stage,
                kind=OHMS,
                label=label,
                expected=words,
                a=a.name,
                b=b.name,
                least=round(least, 3) if least > 0 else None,
                most=None if math.isinf(most) else round(most, 3),
            )
        )


def unpowered_tests(bundle: Bundle, circuit: Circuit) -> tuple[Test, ...]:
    """Return every resistance to measure on the board without device and module, in order."""
    bench = Bench(bundle, circuit, Meter(circuit))
    _rails(bench)
    _signals(bench)
    _inside(bench)
    _open(bench)
    return tuple(bench.tests)


def _of_kind(bench: Bench, kind: NetKind) -> list[str]:
    used = {spot.net for spot in bench.circuit.spots}
    return [net.name for net in bench.bundle.board.nets if net.kind is kind and net.name in used]


def _rails(bench: Bench) -> None:
    supplies, grounds = _of_kind(bench, NetKind.SUPPLY), _of_kind(bench, NetKind.GROUND)
    for name in supplies:
        for ground in grounds:
            bench.add(RAILS, bench.place(name), bench.place(ground), f"{name} to {ground}")
    for index, name in enumerate(supplies):
        for other in supplies[index + 1 :]:
            bench.add(
                RAILS,
                bench.place(name),
                bench.place(other),
                f"{name} to {other}",
                _through(bench, name, other),
            )
    for close in bench.circuit.near:
        if close.a in supplies or close.b in supplies:
            rail, other = (close.a, close.b) if close.a in supplies else (close.b, close.a)
            _pair(bench, RAILS, close, f"{rail} to its neighbour {other}")


def _pair(bench: Bench, stage: str, close: Close, label: str) -> None:
    a, b = bench.place(close.a), bench.place(close.b)
    bench.add(stage, a, b, label, _through(bench, close.a, close.b))


def _through(bench: Bench, a: str, b: str) -> str:
    """The part that leads straight from one net to the other ("" where none does)."""
    nets = {spot.name: spot.net for spot in bench.circuit.spots}
    found = [item.ref for item in bench.circuit.elements if {nets[item.a], nets[item.b]} == {a, b}]
    return " and ".join(found)


def _signals(bench: Bench) -> None:
    """Contact by contact: to the module pin of its net, and on to the pin behind what stands between."""
    plan = bench.bundle.plan
    by_contact = {item.contact.number: item for item in plan.signals}
    nets = dict(plan.contact_nets)
    for number in bench.bundle.bound.connector.numbers():
        net = nets.get(number)
        if net is None:
            continue
        spot = bench.circuit.spot(f"J1.{number}")
        item = by_contact.get(number)
        targets = [s for s in bench.spots_of(net) if s.name != spot.name]
        if targets:
            bench.add(SIGNALS, spot, targets[0], f"{spot.words} to {targets[0].words}")
        if item is not None and item.module_net and item.module_net != net:
            pin = bench.place(item.module_net)
            through = f"{', '.join(item.parts)} ({item.way})" if item.parts else item.way
            bench.add(SIGNALS, spot, pin, f"{spot.words} to {pin.words}", through)


def _inside(bench: Bench) -> None:
    """Each remaining joint of each net to the net's own place, unless a part's value shows it is sound."""
    for item in bench.circuit.elements:
        a, b = bench.circuit.spot(item.a), bench.circuit.spot(item.b)
        if a.net != b.net:
            bench.add(INSIDE, bench.place(a.net), bench.place(b.net), f"{item.ref}, {item.kind}", item.ref)
    shown = {item.ref for item in bench.circuit.elements if _shows(bench, item.ref)}
    refs = {part.ref: part.kind for part in bench.bundle.netlist.parts}
    for spot in bench.circuit.spots:
        if spot.net == spot.name or spot.ref in shown:
            continue
        home = bench.place(spot.net)
        if spot.name == home.name:
            continue
        kind = refs[spot.ref]
        what = spot.words if kind is not PartKind.MODULE else f"{spot.words}"
        bench.add(INSIDE, spot, home, f"{what} to {home.words}")


def _shows(bench: Bench, ref: str) -> bool:
    """Whether a test so far reads out of range when *ref* is missing."""
    without = Meter(bench.circuit, Change(missing=frozenset({ref})))
    for test in bench.tests:
        if ref in (test.a.split(".")[0], test.b.split(".")[0]):
            continue
        least, _most = without.reads(test.a, test.b)
        if test.most is not None and test.most > DIRECT_MOST and least > test.most:
            return True
    return False


def _open(bench: Bench) -> None:
    """Pairs that must be open: neighbours in copper by their gap, then those on the plug's face."""
    for close in bench.circuit.near:
        _pair(bench, OPEN, close, f"{close.a} to {close.b}: {close.gap_mm:.2f} mm apart, {close.layer}")
    contacts = bench.bundle.bound.connector.contacts
    pairs = [(round(a.at.distance(b.at)), a, b) for i, a in enumerate(contacts) for b in contacts[i + 1 :]]
    reach = FACE_PITCH * min((distance for distance, _a, _b in pairs), default=0)
    for distance, a, b in sorted(pairs, key=lambda row: row[0]):
        one, other = bench.circuit.spot(f"J1.{a.number}"), bench.circuit.spot(f"J1.{b.number}")
        open_both = one.net == one.name and other.net == other.name
        if distance <= reach and one.net != other.net and not open_both:
            if (one.net, other.net) in _done(bench):
                continue
            bench.add(
                OPEN,
                bench.place(one.net),
                bench.place(other.net),
                f"contacts {a.number} and {b.number}, neighbours on the face",
            )


def _done(bench: Bench) -> set[tuple[str, str]]:
    return {pair for close in bench.circuit.near for pair in ((close.a, close.b), (close.b, close.a))}
