"""What is measured, as frozen values: volts, amperes, ohms, and mm or pF where a name says so."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Terminal:
    """Where current enters or leaves a net: all pads of *ref* numbered *pad* (one conductor in the part)."""

    ref: str
    pad: str


@dataclass(frozen=True, slots=True)
class Load:
    """A terminal that draws *amps* from the net; *what* says for whom."""

    ref: str
    pad: str
    amps: float
    what: str = ""

    @property
    def terminal(self) -> Terminal:
        """Where the current leaves."""
        return Terminal(self.ref, self.pad)


@dataclass(frozen=True, slots=True)
class LoadDrop:
    """What the copper loses on the way to one load with all loads drawing; None where it is not joined.

    *ohms* is the resistance between the sources and this load alone.
    """

    load: Load
    volts: float | None
    ohms: float | None


@dataclass(frozen=True, slots=True)
class Drop:
    """One net's loss per load, in the order of the loads. *extrapolated* is the share that no mesh has seen.

    *nodes* and *triangles* tell the mesh's size, *celsius* the copper's temperature.
    """

    net: str
    loads: tuple[LoadDrop, ...]
    nodes: int
    triangles: int
    extrapolated: float
    celsius: float

    @property
    def worst(self) -> LoadDrop | None:
        """The load that loses most; None where no load is joined."""
        joined = [drop for drop in self.loads if drop.volts is not None]
        return max(joined, key=lambda drop: drop.volts or 0.0, default=None)


@dataclass(frozen=True, slots=True)
class LineCapacitance:
    """One net's copper: *pf* against all else, track length and how much of it lies over poured copper."""

    net: str
    pf: float
    length_mm: float
    over_pour_mm: float


@dataclass(frozen=True, slots=True)
class SupplyDrop:
    """What one load loses of its rail of *volts*: on the way there, in parts on that way, and coming back.

    *copper_volts* and *return_volts* are measured on the finished copper;
    *part_volts* is what fuse, diode or driver take by their data sheets.
    *share* is that of the copper, there and back, in the rail.
    """

    rail: str
    volts: float
    load: str
    amps: float
    copper_volts: float
    return_volts: float
    part_volts: float
    share: float


@dataclass(frozen=True, slots=True)
class Measures:
    """All that was measured on a finished board; *unjoined* names loads that copper does not reach."""

    supplies: tuple[SupplyDrop, ...] = ()
    lines: tuple[LineCapacitance, ...] = ()
    drops: tuple[Drop, ...] = ()
    unjoined: tuple[str, ...] = ()
