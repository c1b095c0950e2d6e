"""An old device as a network of parts, and the readings a person would take at its plug."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import combinations

import numpy as np

from boardgen.catalog.model import Connector


@dataclass
class Device:
    """Parts between contacts, by true number."""

    connector: Connector
    joined: list[tuple[str, ...]] = field(default_factory=list)
    resistors: list[tuple[str, str, float]] = field(default_factory=list)
    pots: list[tuple[str, str, str, float]] = field(default_factory=list)  # wiper, end, end, ohms
    leds: list[tuple[str, str]] = field(default_factory=list)  # anode, cathode
    keys: dict[str, tuple[str, str]] = field(default_factory=dict)
    diodes: dict[str, tuple[str, str]] = field(default_factory=dict)  # key: anode side, cathode side
    signals: dict[str, str] = field(default_factory=dict)
    wires: dict[str, str] = field(default_factory=dict)

    def used(self) -> list[str]:
        ends = {end for pair in self.keys.values() for end in pair}
        ends |= {end for a, b, _ in self.resistors for end in (a, b)}
        ends |= {end for w, a, b, _ in self.pots for end in (w, a, b)}
        ends |= {end for pair in self.leds for end in pair}
        ends |= {end for group in self.joined for end in group}
        return sorted(ends, key=lambda n: (len(n), n))

    def ohms(
        self, contacts: Sequence[str], turned: float, held: tuple[str, str, float] | None = None
    ) -> dict[tuple[str, str], float | None]:
        """Return what a meter shows between each two contacts, with a key *held* or none; None for open."""
        first = {c: group[0] for group in self.joined for c in group}
        parts = [(a, b, r) for a, b, r in self.resistors]
        for wiper, a, b, total in self.pots:
            parts += [(wiper, a, total * turned), (wiper, b, total * (1 - turned))]
        parts += [held] if held is not None else []
        parts = [(first.get(a, a), first.get(b, b), r) for a, b, r in parts]
        nodes = sorted({first.get(c, c) for c in contacts})
        at = {node: n for n, node in enumerate(nodes)}
        laplacian = np.zeros((len(nodes), len(nodes)))
        for a, b, r in parts:
            i, j = at[a], at[b]
            laplacian[[i, j], [i, j]] += 1 / r
            laplacian[[i, j], [j, i]] -= 1 / r
        island = {node: node for node in nodes}
        for a, b, _ in parts:
            old, new = island[a], island[b]
            island = {node: new if top == old else top for node, top in island.items()}
        inverse = np.linalg.pinv(laplacian, rcond=1e-13, hermitian=True)
        found: dict[tuple[str, str], float | None] = {}
        for a, b in combinations(contacts, 2):
            i, j = at[first.get(a, a)], at[first.get(b, b)]
            if i == j:
                found[a, b] = 0.4
            elif island[nodes[i]] != island[nodes[j]]:
                found[a, b] = None
            else:
                found[a, b] = float(inverse[i, i] + inverse[j, j] - 2 * inverse[i, j])
        return found


@dataclass
class Notebook:
    """How a person names contacts while measuring."""

    view: str
    half: str
    numbers: str
    pointer: bool = False

    def name(self, connector: Connector, number: str) -> str:
        if self.numbers == "printed" or number in connector.shell:
            return number
        mirror = (self.half == "plug") != (connector.gender == "plug")
        mirror ^= self.view == "solder-side"
        places = sorted(
            connector.contacts, key=lambda c: (round(c.at.y.mm, 1), -c.at.x if mirror else c.at.x)
        )
        return str([c.number for c in places].index(number) + 1)

    def head(self, connector: Connector) -> list[str]:
        lines = [f"view, {self.view}", f"half, {self.half}", f"numbers, {self.numbers}"]
        lines.append(f"connector, {connector.id}")
        return [*lines, "meter, pointer"] if self.pointer else lines


def shown(ohms: float | None) -> str:
    """Write a resistance as a meter does: three digits."""
    if ohms is None:
        return "open"
    text = f"{ohms:.3g}"
    value = float(text)
    return f"{value / 1000:g}k" if value >= 1000 else f"{value:g}"


def notes(
    device: Device, book: Notebook, rnd: random.Random, turn: bool = True, everything: bool = False
) -> str:
    """Return the readings of *device* as a file, tables one after the other, lines in any order.

    With *everything*, each key is held against every pair of contacts both ways, not just its own.
    """
    connector = device.connector
    used = device.used()

    def pair(plus: str, minus: str) -> str:
        if book.pointer:
            plus, minus = minus, plus
        return f"{book.name(connector, plus)}, {book.name(connector, minus)}"

    wires = []
    for number in (*connector.numbers(), *connector.shell):
        known = number in used or number in device.wires or number in device.signals
        if not known and number in connector.shell:
            continue
        wire = device.wires.get(number, f"wire{number}" if known else "-")
        wires.append(f"{book.name(connector, number)}, {wire}, {device.signals.get(number, '')}")
    idle = []
    states = (("", 0.4), ("turned", 0.7)) if device.pots and turn else (("", 0.4),)
    lit = {frozenset(pair): pair for pair in device.leds}
    for at, turned in states:
        for (a, b), ohms in device.ohms(used, turned).items():
            if frozenset((a, b)) in lit:
                anode, cathode = lit[frozenset((a, b))]
                idle += [f"{pair(anode, cathode)}, 1.8 V, {at}", f"{pair(cathode, anode)}, open, {at}"]
            else:
                ends = (a, b) if rnd.random() < 0.5 else (b, a)
                idle.append(f"{pair(*ends)}, {shown(ohms)}, {at}")
    held = []
    for key, (a, b) in device.keys.items():
        ohms = rnd.choice([0.9, 1.6, 3.4, 12.0, 88.0])
        for plus, minus in ((a, b), (b, a)):
            if key not in device.diodes:
                reading = shown(ohms)
            else:
                reading = "0.58 V" if device.diodes[key] == (plus, minus) else "OL"
            held.append(f"{key}, {pair(plus, minus)}, {reading}")
        if everything:
            held += _all_pairs(device, key, ohms, pair)
    for table in (wires, idle, held):
        rnd.shuffle(table)
    tables = [["contact, wire, signal", *wires]]
    tables += [["plus, minus, reading, at", *idle]] if idle else []
    tables += [["key, plus, minus, reading", *held]] if held else []
    rnd.shuffle(tables)
    return "\n".join([*book.head(connector), *(line for table in tables for line in table)]) + "\n"


def _all_pairs(device: Device, key: str, ohms: float, pair: Callable[[str, str], str]) -> list[str]:
    """Return what every other pair shows, both ways round, with *key* held."""
    own = device.keys[key]
    lines = []
    held = (*own, ohms) if key not in device.diodes else None
    lit = {frozenset(ends): ends for ends in device.leds}
    for (a, b), seen in device.ohms(device.used(), 0.4, held).items():
        if frozenset((a, b)) == frozenset(own):
            continue
        for plus, minus in ((a, b), (b, a)):
            reading = shown(seen)
            if frozenset((a, b)) in lit:
                reading = "1.8 V" if lit[frozenset((a, b))] == (plus, minus) else "open"
            lines.append(f"{key}, {pair(plus, minus)}, {reading}")
    return lines
