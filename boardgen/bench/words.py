"""What a person wrote beside a contact: wire colours and signal names that say what it is for."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from boardgen.bench.idle import Idle
from boardgen.bench.model import WireLine, contradiction, natural, taken
from boardgen.design.schema import SIGNAL_PATTERN
from boardgen.errors import Finding

GROUND = ("GND", "GROUND", "0V", "COM", "COMMON", "RETURN", "RET", "EARTH")
SHIELD = ("SHIELD", "SCREEN", "DRAIN", "CHASSIS")
UNUSED = ("NC", "N/C", "UNUSED")
SUPPLY = ("VCC", "VDD", "SUPPLY", "+V", "V+")
BARE_WIRES = ("bare", "screen", "shield", "drain", "braid")
_RAIL = re.compile(r"\+?(\d{1,2}(?:\.\d)?V\d?)")
_SIDES = (("ROW", "row"), ("COL", "column"))
_LOADS = ("LAMP", "LED", "BULB", "BUZZER", "RELAY", "BELL")


@dataclass(frozen=True, slots=True)
class Words:
    """What is written of each contact; the lines by contact, the first where there are more."""

    lines: Mapping[str, WireLine]

    def wire(self, contact: str) -> str:
        """Return the colour of its wire, "" where none is written."""
        return self.lines[contact].wire if contact in self.lines else ""

    def note(self, contact: str) -> str:
        """Return the note written beside it."""
        return self.lines[contact].note if contact in self.lines else ""

    def signal(self, contact: str) -> str:
        """Return the signal name written beside it."""
        return self.lines[contact].signal if contact in self.lines else ""

    def no_wire(self, contact: str) -> bool:
        """Whether it is written that no wire leads to the contact."""
        return contact in self.lines and not self.lines[contact].wire

    def bare(self, contact: str) -> bool:
        """Whether its wire is a lead's drain or screen."""
        return self.wire(contact).casefold() in BARE_WIRES

    def said(self, contacts: Iterable[str]) -> str:
        """Return the kind that the *contacts*' signal names state, "" where they state none.

        One of ground, shield, unused, supply, row, column, load.
        """
        for contact in contacts:
            kind = kind_said(self.signal(contact))
            if kind:
                return kind
        return ""

    def rail(self, contacts: Iterable[str]) -> str:
        """Return the rail that the *contacts*' signal names state: "5V", "3V3"."""
        for contact in contacts:
            match = _RAIL.fullmatch(self.signal(contact).upper())
            if match:
                return match[1]
        return ""

    def name(self, contacts: Iterable[str]) -> str:
        """Return the first signal name that a design file takes, "" where none is written."""
        for contact in contacts:
            signal = self.signal(contact)
            if signal and kind_said(signal) in ("", "row", "column", "load"):
                return signal_name(signal)
        return ""


def kind_said(signal: str) -> str:
    """Return the kind that a signal's name states, "" where it states none."""
    upper = signal.upper()
    for words, kind in ((GROUND, "ground"), (SHIELD, "shield"), (UNUSED, "unused"), (SUPPLY, "supply")):
        if upper in words:
            return kind
    if _RAIL.fullmatch(upper):
        return "supply"
    for prefix, kind in _SIDES:
        if upper.startswith(prefix):
            return kind
    return "load" if upper.startswith(_LOADS) else ""


def signal_name(text: str) -> str:
    """Return *text* as a design file writes signals: letters, digits, underscores, at most 24."""
    if re.fullmatch(SIGNAL_PATTERN, text):
        return text
    plain = re.sub(r"[^A-Za-z0-9]+", "_", text).strip("_").upper()
    if not plain[:1].isalpha():
        plain = f"KEY_{plain}" if plain else "KEY"
    return plain[:24].rstrip("_")


def unique(name: str, used: set[str]) -> str:
    """Return *name*, with a number behind it where another has it (in any case); noted in *used*."""
    fresh, count = name, 1
    while fresh.upper() in used:
        count += 1
        end = f"_{count}"
        fresh = name[: 24 - len(end)] + end
    used.add(fresh.upper())
    return fresh


def read_words(wires: Sequence[WireLine], idle: Idle) -> tuple[Words, list[Finding]]:
    """Return what is written of each contact, and what clashes in it."""
    findings: list[Finding] = []
    lines: dict[str, WireLine] = {}
    for line in wires:
        known = lines.setdefault(line.contact, line)
        if known is line:
            continue
        if known.wire.casefold() != line.wire.casefold():
            message = (
                f"contact {line.contact} has two wires: {known.wire or 'none'} and {line.wire or 'none'}"
            )
            findings.append(contradiction(message, known, line))
        if known.signal.casefold() != line.signal.casefold():
            message = f"contact {line.contact} has two signals: {known.signal!r} and {line.signal!r}"
            findings.append(contradiction(message, known, line))
    findings += _shared(lines, idle)
    return Words(lines), findings


def _shared(lines: Mapping[str, WireLine], idle: Idle) -> list[Finding]:
    """Name signals written at two contacts that nothing joins, and names a design file does not take."""
    found: list[Finding] = []
    first: dict[str, WireLine] = {}
    for contact in sorted(lines, key=natural):
        line = lines[contact]
        if not line.signal or kind_said(line.signal) in ("ground", "shield", "unused", "supply"):
            continue
        known = first.setdefault(line.signal.upper(), line)
        if known is not line and idle.node(known.contact) != idle.node(contact):
            message = (
                f"signal {line.signal!r} is written at contacts {known.contact} and {contact}, not joined"
            )
            found.append(contradiction(message, known, line))
        if signal_name(line.signal) != line.signal:
            found.append(taken(f"signal {line.signal!r} is written as {signal_name(line.signal)}", line))
    return found
