"""Pin map and netlist as frozen values."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

from boardgen.board.model import Net, PartKind
from boardgen.electrical.model import PinRequest
from boardgen.errors import Finding
from boardgen.footprint.model import Footprint
from boardgen.units import ZERO, Nm


@dataclass(frozen=True, slots=True)
class PinChoice:
    """One request with the module pin it got. *why* is a sentence for the report."""

    request: PinRequest
    pin_number: str
    pin_name: str
    fixed: bool
    why: str


@dataclass(frozen=True, slots=True)
class PinExclusion:
    """A module pin that was not to be used, and why."""

    pin_number: str
    pin_name: str
    reason: str


@dataclass(frozen=True, slots=True)
class PinMap:
    """The assignment. *length_nm* is the sum of centre distances of the chosen pairs,
    *bound_nm* the least such sum any allowed assignment has (bound L2's part),
    *crossings* the straight-line crossings left.
    """

    choices: tuple[PinChoice, ...]
    exclusions: tuple[PinExclusion, ...]
    length_nm: float
    bound_nm: float
    crossings: int

    def pin_of(self, signal: str) -> PinChoice:
        """Return the choice for *signal*; raises KeyError."""
        for choice in self.choices:
            if choice.request.signal == signal:
                return choice
        raise KeyError(signal)

    def digest(self) -> str:
        """Return 12 hex digits that change with any signal-to-pin pair (and nothing else)."""
        lines = sorted(f"{c.request.signal}={c.pin_name}" for c in self.choices)
        return hashlib.sha256("\n".join(lines).encode()).hexdigest()[:12]


@dataclass(frozen=True, slots=True)
class CircuitPin:
    """One pin of a part. *role* is "passive", "bidirectional", "power-in", "power-out",
    or "no-connect"; *net* None where it is left open.
    """

    number: str
    name: str
    role: str
    net: str | None


@dataclass(frozen=True, slots=True)
class CircuitPart:
    """One part of the netlist with everything later stages print or place."""

    ref: str
    value: str
    kind: PartKind
    entry: str
    footprint: Footprint
    pins: tuple[CircuitPin, ...]
    description: str = ""
    manufacturer: str = ""
    mpn: str = ""
    near: str = ""
    why: str = ""
    height: Nm = ZERO
    stamp: str = ""  # uuid of the part, stable from its name
    beside: str = ""  # reference of the part it serves


@dataclass(frozen=True, slots=True)
class Netlist:
    """The circuit after SKiDL: parts sorted by reference, nets by name."""

    parts: tuple[CircuitPart, ...]
    nets: tuple[Net, ...]
    findings: tuple[Finding, ...]
    text: str  # SKiDL's own netlist file, dates and sources blanked

    def part(self, ref: str) -> CircuitPart:
        """Return the part with *ref*; raises KeyError."""
        for part in self.parts:
            if part.ref == ref:
                return part
        raise KeyError(ref)
