"""The electrical plan as frozen values: parts, nets and pin requests, no geometry."""

from __future__ import annotations

from dataclasses import dataclass

from boardgen.board.model import NetKind
from boardgen.catalog.model import Component
from boardgen.design.model import Contact
from boardgen.electrical.matrix.model import MatrixStudy
from boardgen.electrical.power.model import PowerTree
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
    *beside* the reference of the part it belongs to (a decoupling capacitor's
    chip), *why* one sentence for the report.
    """

    ref: str
    component: Component
    value: str
    nets: tuple[tuple[str, str], ...]
    near: str = ""
    why: str = ""
    beside: str = ""


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
    *pins* are the numbers of the pins on which the signal proves safe (None:
    any pin), *pins_why* what the others lack.
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
    pins: tuple[str, ...] | None = None
    pins_why: str = ""


PREFERRED_MARGIN_V = 0.2  # a noise margin under this is a warning


@dataclass(frozen=True, slots=True)
class LevelProof:
    """One hop of a line, from a driver to a reader, with the worst case of every figure in V.

    *direction* is that of the signal, "in" to the module or "out" of it.
    Levels are at the reader, at the current the driver really carries
    (*high_a* sourced, *low_a* sunk, A); None where no source states a level
    there. *most_v* is the most that reaches the reader, *allowed_v* what it
    takes while powered; *idle_allowed_v* while unpowered, None where the
    driver cannot be on then. *over_a* is the current that the worse of these
    overshoots drives into the reader's clamps (infinite without a resistor), *over_allowed_a*
    what they are made for. Noise margins: NMH = VOH,min - VIH,min and
    NML = VIL,max - VOL,max, both to be >= 0. *proportional* says that a level
    stated at a larger current was scaled to the load's, as a MOS output's may be.
    *settle_pf* is the capacitance at the reader that *settle_s* was computed with,
    *two_phase* says that a FET's other side is charged too.
    """

    direction: str
    driver: str
    driver_supply: str
    reader: str
    reader_supply: str
    voh_v: float | None
    vih_v: float
    vol_v: float | None
    vil_v: float
    margin_high_v: float | None
    margin_low_v: float | None
    most_v: float
    allowed_v: float
    idle_allowed_v: float | None
    high_a: float = 0.0
    low_a: float = 0.0
    over_a: float = 0.0
    over_allowed_a: float = 0.0
    settle_s: float | None = None
    settle_most_s: float | None = None
    proportional: bool = False
    settle_pf: float | None = None
    two_phase: bool = False

    @property
    def high_ok(self) -> bool:
        """Whether a high is read as one."""
        return self.margin_high_v is not None and self.margin_high_v >= -1e-9

    @property
    def low_ok(self) -> bool:
        """Whether a low is read as one."""
        return self.margin_low_v is not None and self.margin_low_v >= -1e-9

    @property
    def powered_ok(self) -> bool:
        """Whether the reader takes the most that comes while it is powered."""
        return self.most_v <= self.allowed_v + 1e-9 or self.over_a <= self.over_allowed_a

    @property
    def idle_ok(self) -> bool:
        """Whether the reader takes the most that comes while it is unpowered."""
        idle = self.idle_allowed_v
        return idle is None or self.most_v <= idle + 1e-9 or self.over_a <= self.over_allowed_a

    @property
    def settle_ok(self) -> bool:
        """Whether the line settles within the time its rate leaves."""
        return self.settle_s is None or self.settle_most_s is None or self.settle_s <= self.settle_most_s

    @property
    def passes(self) -> bool:
        """Whether the hop is proved."""
        return self.high_ok and self.low_ok and self.powered_ok and self.idle_ok and self.settle_ok


@dataclass(frozen=True, slots=True)
class SignalPlan:
    """How one contact's signal is carried. *way* in words ("direct", "series resistor",
    "lamp driver", "rail"), *why* a sentence, *parts* the refs added for it. *proofs*
    has a row for each hop of the line, *assumed* a sentence for each figure
    that nobody measured or stated.
    """

    contact: Contact
    net: str
    way: str
    why: str
    parts: tuple[str, ...] = ()
    module_net: str = ""
    proofs: tuple[LevelProof, ...] = ()
    assumed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Strap:
    """One bit of the board's code: resistor *ref* joins *net* to *to*, which makes it *high* or low.

    *bit* is 1 where that is against the internal pull. *proof* is the worst over the pins it may get, None
    where there is none; *assumed* a phrase for each figure that no source states.
    """

    place: int
    signal: str
    net: str
    bit: int
    high: bool
    ref: str
    to: str
    proof: LevelProof | None
    assumed: tuple[str, ...] = ()


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
    power: PowerTree | None = None
    matrices: tuple[MatrixStudy, ...] = ()
    straps: tuple[Strap, ...] = ()
