"""The electrical plan as frozen values: parts, nets and pin requests, no geometry."""

from __future__ import annotations

from dataclasses import dataclass

from boardgen.board.model import NetKind
from boardgen.catalog.model import Component
from boardgen.design.model import Contact
from boardgen.errors import Finding


@dataclass(frozen=True, slots=True)
class PlannedNet:
    """A net the circuit will have. *current_a* is the largest steady current expected."""

    name: str
    kind: NetKind
    current_a: float = 0.0


@dataclass(frozen=True, slots=True)
class PlannedPart:
    """A small part the plan adds. *nets* maps its pad numbers to net names.

    *near* is the contact number it belongs beside (or "" for beside the module),
    *why* one sentence for the report.
    """

    ref: str
    component: Component
    value: str
    nets: tuple[tuple[str, str], ...]
    near: str = ""
    why: str = ""


@dataclass(frozen=True, slots=True)
class PinRequest:
    """A net that needs a module GPIO.

    *signal* is the design's name for it, *net* the net at the module's end.
    *reads*/*drives* say what the pin must do, *analog* that it needs an ADC,
    *pull* the internal pull it relies on ("", "up", "down"), *function* a
    wanted function prefix ("i2c.sda", "uart.rx", "pwm"), *bus* ties requests
    that must come from one peripheral instance. *min_max_volts*: the pin must
    take this many volts. *anchor* is the contact number the net leads to (for
    distance), "" if none; *via_part* says that a small part stands between.
    """

    signal: str
    net: str
    reads: bool
    drives: bool
    analog: bool = False
    pull: str = ""
    function: str = ""
    bus: str = ""
    min_max_volts: float = 0.0
    anchor: str = ""
    via_part: bool = False


@dataclass(frozen=True, slots=True)
class SignalPlan:
    """How one contact's signal is carried. *way* in words ("direct", "series resistor",
    "lamp driver", "rail"), *why* a sentence, *parts* the refs added for it.
    """

    contact: Contact
    net: str
    way: str
    why: str
    parts: tuple[str, ...] = ()
    module_net: str = ""


@dataclass(frozen=True, slots=True)
class RailUse:
    """A module rail the board uses, with what hangs on it (A) and what it can give."""

    rail: str
    volts: float
    load_a: float
    budget_a: float | None
    net: str


@dataclass(frozen=True, slots=True)
class ElectricalPlan:
    """Everything the circuit needs but the pin numbers.

    *contact_nets* maps connector contact numbers to nets (None: left open);
    *module_nets* maps module pin numbers that are not assigned freely (rails,
    grounds) to nets. *findings* are what the plan could not make right.
    """

    signals: tuple[SignalPlan, ...]
    nets: tuple[PlannedNet, ...]
    parts: tuple[PlannedPart, ...]
    requests: tuple[PinRequest, ...]
    contact_nets: tuple[tuple[str, str | None], ...]
    module_nets: tuple[tuple[str, str], ...]
    rails: tuple[RailUse, ...]
    findings: tuple[Finding, ...] = ()
