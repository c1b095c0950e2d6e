"""A bench on paper: what a meter reads on a board with one fault planted, without the judge's code.

Every pad is three nodes: the metal of the part, its pad, the copper of the net.
Joints and copper are small resistors; the ohms between two nodes come from the
pseudo-inverse of the whole board's conductances. Junctions let the meter's
current pass one way.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass

import numpy as np

from boardgen.batch.model import Reading
from boardgen.board.geometry import copper_items

OPEN = math.inf


@dataclass(frozen=True)
class Planted:
    """A fault put in on purpose; *names* are the places it is at."""

    kind: str
    names: tuple[str, ...]


def _ohms(text: str) -> float:
    for mark, scale in (("k", 1e3), ("M", 1e6)):
        if mark in text:
            whole, _, rest = text.partition(mark)
            return float(f"{whole}.{rest or 0}" if "." not in whole else whole) * scale
    return float(text)


def face_mirror(bundle) -> dict[str, str]:
    """Which contact stands where another should when the plug's face is mirrored left to right."""
    rows: dict[int, list] = {}
    for contact in bundle.bound.connector.contacts:
        key = next((y for y in rows if abs(y - contact.at.y) < 100_000), int(contact.at.y))
        rows.setdefault(key, []).append(contact)
    found = {}
    for row in rows.values():
        ordered = sorted(row, key=lambda c: c.at.x)
        for one, other in zip(ordered, reversed(ordered), strict=True):
            found[one.number] = other.number
    return found


def joints(bundle) -> list[str]:
    """Every soldered joint that is on a net."""
    return [
        f"{p.ref}.{pin.number}"
        for p in bundle.netlist.parts
        if p.kind != "link"
        for pin in p.pins
        if pin.net is not None
    ]


def neighbours(bundle) -> list[tuple[str, str, str, str]]:
    """Pairs of conductors a blob may join, found by brute force: nets, then names of the two items."""
    grounds = {net.name for net in bundle.board.nets if net.kind == "ground"}
    plain = {f"U1.{p.number}" for p in bundle.bound.module.pins if p.kind in ("gpio", "unused")}
    items = [i for i in copper_items(bundle.board) if i.net or i.pad]
    found = set()
    for index, a in enumerate(items):
        for b in items[index + 1 :]:
            reach = 1.2e6 if a.pad and b.pad else 0.3e6
            if a.side != b.side or (a.net is None and b.net is None):
                continue
            one, other = a.net or f"{a.ref}.{a.pad}", b.net or f"{b.ref}.{b.pad}"
            if one == other or a.shape.distance(b.shape) > reach:
                continue
            idle = {n for n in (one, other) if n in plain or ("." in n and n[0] not in "JU")}
            idle |= {n for n in (one, other) if "." in n and n.startswith("U") and not n.startswith("U1.")}
            if idle and grounds & {one, other}:
                continue  # nothing uses that contact: joined to ground it does no harm
            first, second = sorted(((one, a.name), (other, b.name)))
            found.add((first[0], second[0], first[1], second[1]))
    return sorted(found)


class Bench:
    """One board on the bench with one fault."""

    def __init__(self, bundle, fault: Planted | None, rng: random.Random) -> None:
        self.rng = rng
        self.moves: dict[str, str] = {}
        cut = set(fault.names) if fault and fault.kind == "open joint" else set()
        edges: list[tuple[str, str, float]] = []
        self.spots: list[str] = []
        for part in bundle.netlist.parts:
            for pin in part.pins:
                name = f"{part.ref}.{pin.number}"
                self.spots.append(name)
                if name not in cut:
                    edges.append((f"m:{name}", f"p:{name}", rng.uniform(0.01, 0.08)))
                copper = f"n:{pin.net}" if pin.net else f"n:{name}"
                edges.append((f"p:{name}", copper, rng.uniform(0.005, 0.05)))
        self.diodes: list[tuple[str, str]] = []
        for part in bundle.plan.parts:
            pads = {f: f"m:{part.ref}.{pad}" for f, pad in part.component.pins}
            kind = part.component.kind
            if kind == "resistor":
                edges.append((pads["a"], pads["b"], _ohms(part.value) * rng.uniform(0.96, 1.04)))
            elif kind == "fuse":
                edges.append((pads["a"], pads["b"], rng.uniform(0.45, 1.1)))
            elif kind == "mosfet":
                self.diodes.append((pads["source"], pads["drain"]))
            elif kind == "transistor":
                self.diodes += [(pads["base"], pads["emitter"]), (pads["base"], pads["collector"])]
            elif "negative" in pads:
                self.diodes += [(pads["positive"], pads["negative"]), (pads["negative"], pads["positive"])]
            elif "supply" in pads:
                for name, metal in pads.items():
                    if name != "ground":
                        self.diodes.append((pads["ground"], metal))
                    if name != "supply":
                        self.diodes.append((metal, pads["supply"]))
                self.diodes.append((pads["supply"], pads["ground"]))
        if fault and fault.kind == "bridge":
            edges.append((f"n:{fault.names[0]}", f"n:{fault.names[1]}", rng.uniform(0.01, 0.2)))
        if fault and fault.kind == "mirrored plug":
            self.moves = {f"J1.{a}": f"J1.{b}" for a, b in face_mirror(bundle).items()}
        if fault and fault.kind == "swapped wires":
            a, b = fault.names
            self.moves = {a: b, b: a}
        self._solve(edges)

    def _solve(self, edges: list[tuple[str, str, float]]) -> None:
        names = sorted({n for a, b, _ in edges for n in (a, b)} | {f"m:{n}" for n in self.spots})
        self.index = {name: i for i, name in enumerate(names)}
        size = len(names)
        laplace = np.zeros((size, size))
        self.near: list[list[int]] = [[] for _ in names]
        for a, b, ohms in edges:
            i, j, g = self.index[a], self.index[b], 1 / ohms
            laplace[i, i] += g
            laplace[j, j] += g
            laplace[i, j] -= g
            laplace[j, i] -= g
            self.near[i].append(j)
            self.near[j].append(i)
        self.island = [-1] * size
        self.inverse = np.zeros((size, size))
        for start in range(size):
            if self.island[start] >= 0:
                continue
            stack, members = [start], []
            while stack:
                node = stack.pop()
                if self.island[node] < 0:
                    self.island[node] = start
                    members.append(node)
                    stack += self.near[node]
            block = np.ix_(members, members)
            self.inverse[block] = np.linalg.pinv(laplace[block], hermitian=True)
        self.forward: dict[int, set[int]] = {}
        for a, b in self.diodes:
            self.forward.setdefault(self.island[self.index[a]], set()).add(self.island[self.index[b]])

    def _conducts(self, a: int, b: int) -> bool:
        seen, stack = {self.island[a]}, [self.island[a]]
        while stack:
            for after in self.forward.get(stack.pop(), ()):
                if after == self.island[b]:
                    return True
                if after not in seen:
                    seen.add(after)
                    stack.append(after)
        return False

    def ohms(self, red: str, black: str) -> float:
        """What the meter shows with its leads on two places."""
        a, b = (
            self.index[f"p:{n[:-4]}" if n.endswith("/pad") else f"m:{self.moves.get(n, n)}"]
            for n in (red, black)
        )
        if a == b:
            return round(self.rng.uniform(0.0, 0.1), 3)
        if self.island[a] != self.island[b]:
            if self._conducts(a, b):
                return self.rng.choice((OPEN, self.rng.uniform(3e3, 5e6)))
            return self.rng.choice((OPEN, OPEN, self.rng.uniform(2e6, 4e7)))
        inverse = self.inverse
        value = inverse[a, a] + inverse[b, b] - 2 * inverse[a, b]
        volts = inverse[:, a] - inverse[:, b]
        for one, other in self.diodes:
            i, j = self.index[one], self.index[other]
            if self.island[i] == self.island[j] == self.island[a] and volts[i] - volts[j] > 0.3 * value:
                value *= self.rng.uniform(0.7, 1.0)
                break
        return round(value * self.rng.uniform(0.99, 1.01), 4)


def sweep(bench: Bench, plan) -> list[Reading]:
    """Read everything the plan asks for; volts, amperes and looks as they should be."""
    found = []
    for number, test in enumerate(plan.tests, 1):
        if test.kind == "ohms":
            value = bench.ohms(test.a, test.b)
        elif test.kind == "look":
            value = 1.0
        else:
            value = (test.least + test.most) / 2
        found.append(Reading(test.id, test.kind, test.a, test.b, value, f"{value:g}", number))
    return found
