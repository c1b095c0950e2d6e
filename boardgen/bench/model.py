"""Readings as a person wrote them down, and what was made of them. Resistances in ohm, voltages in V."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum

from boardgen.design.model import Contact, Matrix
from boardgen.errors import Finding, Severity

JOINED_OHMS = 2.0  # wire, contact and meter leads together stay below this
LEADS_OHMS = 1.0  # and below this unless the leads are long: a big lamp is no more when cold
WORN_OHMS = 1000.0  # carbon contacts reach this when worn
CLOSED_OHMS = 100_000.0  # above it a pressed key counts as open (a leak, or fingers on the probes)
MOST_OHMS = 1e9  # no bench meter shows more
LEAST_OHMS = -0.5  # a meter with its leads zeroed may show a little less than nothing
LEAST_VOLTS, MOST_VOLTS = 0.05, 5.0  # what a meter's diode range can show


class View(StrEnum):
    """What the person looked at while counting contacts."""

    MATING_FACE = "mating-face"
    SOLDER_SIDE = "solder-side"


class Half(StrEnum):
    """Which half of the mating pair was looked at, by its contacts: pins or receptacles."""

    PLUG = "plug"
    SOCKET = "socket"


class Numbers(StrEnum):
    """How contacts were named: by the number on the part, places as seen, or conductors of a flat cable."""

    PRINTED = "printed"
    POSITION = "position"
    RIBBON = "ribbon"


class Meter(StrEnum):
    """What stands behind "plus": a pointer meter's ohm range has its voltage on the other lead."""

    DIGITAL = "digital"
    POINTER = "pointer"


@dataclass(frozen=True, slots=True)
class Place:
    """A line of a file of readings."""

    file: str
    line: int

    def __str__(self) -> str:
        return f"{self.file}:{self.line}"


class Kind(StrEnum):
    """What the meter showed."""

    OPEN = "open"
    CLOSED = "closed"  # a tester that only beeps
    OHMS = "ohms"
    VOLTS = "volts"


@dataclass(frozen=True, slots=True)
class Reading:
    """One value off the meter: nothing (OPEN), a beep (CLOSED), a resistance, or a diode's drop."""

    kind: Kind
    value: float = 0.0

    @property
    def joins(self) -> bool:
        """Whether nothing but wire lies between, as far as the reading tells."""
        return self.kind is Kind.CLOSED or (self.kind is Kind.OHMS and self.value <= JOINED_OHMS)

    def __str__(self) -> str:
        if self.kind in (Kind.OPEN, Kind.CLOSED):
            return self.kind.value
        return f"{self.value:.3g} V" if self.kind is Kind.VOLTS else ohms_text(self.value)


@dataclass(frozen=True, slots=True)
class WireLine:
    """A contact and the colour of its wire."""

    place: Place
    contact: str
    wire: str
    signal: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class PairLine:
    """Two contacts and what the meter showed between them.

    *key* is the key held down, empty for an idle reading; *at* where a control
    stood ("left", "middle"), for readings that change with it.
    """

    place: Place
    plus: str
    minus: str
    reading: Reading
    key: str = ""
    at: str = ""
    note: str = ""

    @property
    def pair(self) -> tuple[str, str]:
        """The two contacts in natural order."""
        return pair_of(self.plus, self.minus)

    def __str__(self) -> str:
        held = f" with {self.key!r} held" if self.key else ""
        stood = f" at {self.at!r}" if self.at else ""
        return f"{self.place}: + on {self.plus}, - on {self.minus}{held}{stood}: {self.reading}"


@dataclass(frozen=True, slots=True)
class Stated:
    """What was said about the readings as a whole; None and "" where nothing was said."""

    view: View | None = None
    half: Half | None = None
    numbers: Numbers | None = None
    connector: str = ""
    meter: Meter | None = None
    device: str = ""
    rail: str = ""
    rows: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Sheet:
    """One file of readings, or all of them put together."""

    where: str
    stated: Stated
    wires: tuple[WireLine, ...] = ()
    pairs: tuple[PairLine, ...] = ()  # idle readings and keys, in the order written
    lines: tuple[tuple[str, int], ...] = ()  # of what was stated, by word


@dataclass(frozen=True, slots=True)
class Inference:
    """The device as the readings tell it, with what clashes and what to measure next.

    *findings*: contradictions (severity error), worn contacts (warning), what
    was taken for granted and what to measure next (notes).
    """

    device: str
    connector: str
    contacts: tuple[Contact, ...]
    matrices: tuple[Matrix, ...]
    findings: tuple[Finding, ...]

    @property
    def contradictions(self) -> tuple[Finding, ...]:
        """The findings of severity error."""
        return tuple(f for f in self.findings if f.severity is Severity.ERROR)


def natural(text: str) -> tuple[tuple[int, int, str], ...]:
    """Return a key that sorts "2" before "10" and digits before letters."""
    bits = re.findall(r"\d+|\D+", text)
    return tuple((0, int(bit), "") if bit.isdecimal() else (1, 0, bit) for bit in bits)


def pair_of(a: str, b: str) -> tuple[str, str]:
    """Return two contacts in natural order."""
    return (a, b) if natural(a) <= natural(b) else (b, a)


def ohms_text(ohms: float) -> str:
    """Return a resistance in words: "4.2 ohm", "10 kohm"."""
    for limit, unit in ((1e6, "Mohm"), (1e3, "kohm")):
        if abs(ohms) >= limit * 0.9995:
            return f"{ohms / limit:.4g} {unit}"
    return f"{ohms:.3g} ohm"


CONTRADICTION, WORN, LEAK, TAKEN, NEXT = "contradiction", "worn-contact", "leak", "taken", "measure-next"


def contradiction(message: str, *lines: WireLine | PairLine | Place) -> Finding:
    """Return a clash of readings; *lines* are those that clash."""
    return Finding(CONTRADICTION, Severity.ERROR, message, items=_items(lines))


def warning(rule: str, message: str, *lines: WireLine | PairLine | Place) -> Finding:
    """Return something to look at that the readings agree on."""
    return Finding(rule, Severity.WARNING, message, items=_items(lines))


def taken(message: str, *lines: WireLine | PairLine | Place) -> Finding:
    """Return what was taken for granted, and by which rule."""
    return Finding(TAKEN, Severity.NOTE, message, items=_items(lines))


def measure_next(message: str, *lines: WireLine | PairLine | Place) -> Finding:
    """Return a measurement that would settle something."""
    return Finding(NEXT, Severity.NOTE, message, items=_items(lines))


def _items(lines: tuple[WireLine | PairLine | Place, ...]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(_item(line) for line in lines))


def _item(line: WireLine | PairLine | Place) -> str:
    if isinstance(line, WireLine):
        said = f": contact {line.contact}, {line.wire or 'no wire'}"
        return f"{line.place}{said}{f', {line.signal}' if line.signal else ''}"
    return str(line)
