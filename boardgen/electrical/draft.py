"""The plan while it is written: names nets, numbers parts, gathers findings."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from boardgen.board.model import NetKind
from boardgen.catalog.model import Component
from boardgen.electrical.model import PinRequest, PlannedNet, PlannedPart, SignalPlan
from boardgen.electrical.shelf import Shelf
from boardgen.errors import Finding, InputError, Severity

GROUND = "GND"


def safe_name(text: str) -> str:
    """Return *text* in the characters net names are made of: A-Z, 0-9 and _."""
    name = re.sub(r"[^A-Z0-9]+", "_", text.upper()).strip("_")
    return name or "NET"


@dataclass(slots=True)
class Draft:
    """Mutable, local to one call of the planner."""

    shelf: Shelf
    nets: dict[str, PlannedNet] = field(default_factory=dict)
    parts: list[PlannedPart] = field(default_factory=list)
    requests: list[PinRequest] = field(default_factory=list)
    signals: list[SignalPlan] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    counts: dict[str, int] = field(default_factory=dict)
    rail_nets: dict[str, str] = field(default_factory=dict)
    device_nets: dict[str, str] = field(default_factory=dict)  # of supplies the device brings

    def new_net(self, text: str, kind: NetKind = NetKind.SIGNAL, current_a: float = 0.0) -> str:
        """Add a net named after *text* and return its name; a taken name gets a number."""
        base = safe_name(text)
        name, number = base, 2
        while name in self.nets:
            name, number = f"{base}_{number}", number + 1
        self.nets[name] = PlannedNet(name, kind, current_a)
        return name

    def rail_net(self, rail: str) -> str:
        """Return the net of the module's rail called *rail*, added where it is not there yet."""
        if rail not in self.rail_nets:
            self.rail_nets[rail] = self.new_net(rail, NetKind.SUPPLY)
        return self.rail_nets[rail]

    def carry(self, net: str, amps: float) -> None:
        """Add *amps* to the steady current of *net*."""
        old = self.nets[net]
        self.nets[net] = PlannedNet(old.name, old.kind, old.current_a + amps)

    def add_part(
        self,
        letter: str,
        part: Component,
        value: str,
        nets: dict[str, str],
        near: str,
        why: str,
        beside: str = "",
    ) -> str:
        """Add a part; *nets* maps functions of the component to nets. Returns the reference."""
        self.counts[letter] = self.counts.get(letter, 0) + 1
        ref = f"{letter}{self.counts[letter]}"
        pads = tuple(sorted((part.pad(function), net) for function, net in nets.items()))
        self.parts.append(PlannedPart(ref, part, value, pads, near, why, beside))
        return ref

    def lookup(self, *ids: str) -> Component:
        """Return the first of the catalogue parts *ids* there is; raises InputError for none."""
        found = self.known(*ids)
        if not found:
            raise InputError("the catalogue lacks a part this design needs", allowed=" or ".join(ids))
        return found[0]

    def known(self, *ids: str) -> tuple[Component, ...]:
        """Return those of the catalogue parts *ids* that there are."""
        found = []
        for name in ids:
            try:
                found.append(self.shelf.component(name))
            except (KeyError, InputError):
                continue
        return tuple(found)

    def fault(self, rule: str, severity: Severity, message: str, *items: str) -> None:
        """Add a finding."""
        self.findings.append(Finding(rule, severity, message, items=items))
