"""A line to be carried, and what a way offers for it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from boardgen.catalog.model import Component
from boardgen.design.model import Contact
from boardgen.electrical.device import Device
from boardgen.electrical.ends import End, PinClass, Supply
from boardgen.electrical.model import LevelProof
from boardgen.electrical.prove import faults, margin, over_voltage

# What a part costs a volunteer: money and two solder joints, a resistor being 1.
RESISTOR_COST, FET_COST, CHIP_COST, CAPACITOR_COST = 1.0, 2.0, 6.0, 1.0

# Changes a second that a line must follow: the common speeds of its function; a bare line is a key,
# a clock of a shift register or an encoder.
_RATES = {"i2c": 100e3, "uart": 115.2e3, "spi": 1e6}
PLAIN_RATE = 10e3
SETTLE_SHARE = 0.1  # of a period that a rising edge may take
# I2C specification, standard mode: 1 us from 30 % to 70 %, which is 0.85 RC; from nothing to 70 % are 1.2 RC
I2C_SETTLE_S = 1.42e-6


@dataclass(frozen=True, slots=True)
class Line:
    """One signal between device and module. *reads*/*drives* are the module's part.

    *line_pf* is cable and board, *rate_hz* what the line has to follow, *upper*
    the module's own logic supply where it comes out, *device_rail* the device's
    supply where the board can reach it.
    """

    contact: Contact
    device: Device
    classes: tuple[PinClass, ...]
    line_pf: float
    rate_hz: float
    upper: Supply | None
    device_rail: Supply | None

    @property
    def reads(self) -> bool:
        """Whether the module reads it."""
        return self.contact.direction != "out"

    @property
    def drives(self) -> bool:
        """Whether the module drives it."""
        return self.contact.direction != "in"

    @property
    def settle_most_s(self) -> float:
        """Return the time an edge may take, s."""
        if self.contact.function.startswith("i2c"):
            return I2C_SETTLE_S
        return SETTLE_SHARE / self.rate_hz

    @property
    def name(self) -> str:
        """Return "contact 3 (DATA)"."""
        return f"contact {self.contact.number} ({self.contact.signal})"


def rate_of(contact: Contact) -> float:
    """Return the changes a second that *contact* has to follow."""
    head = contact.function.partition(".")[0].rstrip("0123456789")
    return _RATES.get(head, PLAIN_RATE)


@dataclass(frozen=True, slots=True)
class Offer:
    """A way for one line, proved or refused.

    *way* is the design file's word. *pins* are the module pins on which it
    holds (None: all), *pins_why* what the others lack. *trouble* is what stands
    against it besides the proofs; *drawable* says whether it could be built all
    the same. *ohms* are its resistors, *chip* the part at *supply*.
    """

    way: str
    proofs: tuple[LevelProof, ...] = ()
    cost: float = 0.0
    pins: tuple[str, ...] | None = None
    pins_why: str = ""
    trouble: tuple[str, ...] = ()
    over: bool = False
    drawable: bool = True
    ohms: tuple[float, ...] = ()
    chip: Component | None = None
    supply: Supply | None = None

    @property
    def passes(self) -> bool:
        """Whether every hop is proved and nothing else stands against it."""
        return not self.trouble and all(p.passes for p in self.proofs)

    @property
    def over_voltage(self) -> bool:
        """Whether it would put more on a pin than the pin takes."""
        return self.over or over_voltage(self.proofs)

    def reasons(self) -> tuple[str, ...]:
        """Return why it is refused, with the numbers."""
        return (*self.trouble, *(text for p in self.proofs for text in faults(p)))


Hops = Callable[[End], tuple[LevelProof, ...]]
Rest = Callable[[End], str]  # what stands against the line at rest, "" for nothing


def nothing(_: End) -> str:
    """Return that nothing stands against a line at rest."""
    return ""


@dataclass(frozen=True, slots=True)
class Judged:
    """The hops over all classes of pins: the proof to show, and the pins on which it holds."""

    proofs: tuple[LevelProof, ...]
    pins: tuple[str, ...] | None
    why: str
    trouble: tuple[str, ...] = ()


def judge(line: Line, hops: Hops, rest: Rest = nothing) -> Judged:
    """Prove *hops* for each class of pins the line may use; *rest* is asked about a line nobody drives.

    Shown is the weakest of those that pass, else the one nearest to passing.
    """
    tried = [(item, hops(item.end), rest(item.end)) for item in line.classes]
    good = [one for one in tried if not one[2] and all(p.passes for p in one[1])]
    if not good:
        _, proofs, text = min(
            tried,
            key=lambda one: (
                over_voltage(one[1]) or bool(one[2]),
                sum(len(faults(p)) for p in one[1]) + bool(one[2]),
                -margin(one[1]),
            ),
        )
        return Judged(proofs, None, "", (text,) if text else ())
    shown = min((proofs for _, proofs, _ in good), key=margin)
    if len(good) == len(tried):
        return Judged(shown, None, "")
    bad = next(one for one in tried if one[2] or not all(p.passes for p in one[1]))
    why = bad[2] or next(text for p in bad[1] for text in faults(p))
    return Judged(shown, tuple(pin for item, _, _ in good for pin in item.pins), why)
