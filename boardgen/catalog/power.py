"""What of a module bears on supplies and levels beside its chip: regulators, rails joined, parts at pins.

Voltages in V, currents in A, resistances in ohm, capacitance in uF.
"""

from __future__ import annotations

from dataclasses import dataclass

USB = "USB"  # the rail at a module's USB jack, before any diode or fuse


@dataclass(frozen=True, slots=True)
class Onboard:
    """A part on the module that hangs on a pin and counts into its levels.

    *kind* is "pull-up", "pull-down", "led" or "driver" (an output of another
    chip on the module). *ohms* is the resistor to it (an LED's series
    resistor), *volts* the rail a pull-up or driver goes to, or an LED's
    forward voltage. *to* says where an LED's far end is: "ground" or "supply".
    """

    kind: str
    ohms: float
    volts: float = 0.0
    to: str = "ground"
    note: str = ""


@dataclass(frozen=True, slots=True)
class Adc:
    """A module's analog inputs.

    *input_ohms* is the least input resistance and *source_max_ohms* the most
    a source may have for full resolution, None where no source states it.
    """

    bits: int
    reference_v: float
    input_ohms: float | None = None
    source_max_ohms: float | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Regulator:
    """A regulator on the module, between two of its rails.

    *kind* is "linear" or "switching" (then *efficiency*, 0 to 1). *dropout_v*
    is the most it needs above its output at *dropout_at_a*, *dropout_least_v* what
    of that is left without load. None: not stated.
    """

    part: str
    kind: str
    input_rail: str
    output_rail: str
    output_v: float
    input_min_v: float
    input_max_v: float
    max_a: float | None = None
    dropout_v: float | None = None
    dropout_at_a: float | None = None
    theta_ja_k_per_w: float | None = None
    junction_max_c: float = 125.0
    efficiency: float | None = None
    dropout_least_v: float | None = None

    def dropout(self, amps: float) -> float:
        """Return the most it needs above its output at *amps*, V: a straight line between the stated figures.

        A drop is a threshold and a resistance, so it rises no faster than that. What
        states one figure alone gives it at every load; 0 where none is stated.
        """
        full = self.dropout_v or 0.0
        if self.dropout_least_v is None or self.dropout_at_a is None:
            return full
        return self.dropout_least_v + (full - self.dropout_least_v) * amps / self.dropout_at_a


@dataclass(frozen=True, slots=True)
class RailPath:
    """How current gets from one rail of the module to another without a regulator.

    *by* is "wire", "fuse", "diode" or "switch". A diode blocks the way back, a
    switch (a transistor) blocks it while *source* is off. *drop_v* is lost at
    *drop_at_a*; *hold_a* is what a fuse holds.
    """

    source: str
    target: str
    by: str
    drop_v: float = 0.0
    drop_at_a: float | None = None
    hold_a: float | None = None
    note: str = ""

    @property
    def blocks(self) -> bool:
        """Whether current is kept from flowing back from *target* to *source*."""
        return self.by in ("diode", "switch")


@dataclass(frozen=True, slots=True)
class Power:
    """A module's own draw and how its rails hang together; the USB jack is the rail "USB".

    *draw_a* is the most it takes with the radio off (or none), *radio_draw_a*
    at a radio's peak. *usb_uf* is the capacitance USB meets when plugged in,
    before any soft start. None: no source states it.
    """

    draw_a: float
    radio_draw_a: float | None = None
    usb_uf: float | None = None
    paths: tuple[RailPath, ...] = ()
    regulators: tuple[Regulator, ...] = ()
    note: str = ""

    def path(self, source: str, target: str) -> RailPath | None:
        """Return the path from rail *source* to rail *target*, None where there is none."""
        return next((p for p in self.paths if (p.source, p.target) == (source, target)), None)

    @property
    def usb_diode_v(self) -> float | None:
        """What a diode between the USB jack and the 5V rail drops; None where none stands there."""
        way = self.path(USB, "5V")
        return way.drop_v if way is not None and way.by == "diode" else None

    @property
    def usb_fuse_a(self) -> float | None:
        """What a fuse on the module between the USB jack and its rails holds; None where none is."""
        return next((p.hold_a for p in self.paths if p.source == USB and p.hold_a is not None), None)

    def fed_by(self, rail: str) -> frozenset[str]:
        """Return the rails that a supply at *rail* can push current into, along or against the arrows.

        Only diodes and switches keep it back; a regulator lets current flow from
        its output to its input when that has no supply of its own.
        """
        steps = {(p.source, p.target) for p in self.paths}
        steps |= {(p.target, p.source) for p in self.paths if not p.blocks}
        steps |= {way for r in self.regulators for way in self._both(r)}
        reached, fresh = {rail}, [rail]
        while fresh:
            here = fresh.pop()
            for start, end in sorted(steps):
                if start == here and end not in reached:
                    reached.add(end)
                    fresh.append(end)
        return frozenset(reached - {rail})

    @staticmethod
    def _both(regulator: Regulator) -> tuple[tuple[str, str], tuple[str, str]]:
        ends = (regulator.input_rail, regulator.output_rail)
        return (ends, (ends[1], ends[0]))

    @property
    def usb_blocks(self) -> bool:
        """Whether a supply at the 5V rail is kept from the USB host."""
        return USB not in self.fed_by("5V")
