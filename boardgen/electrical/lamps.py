"""Low-side lamp drivers: which switch, which base resistor, and is it within its ratings."""

from __future__ import annotations

from dataclasses import dataclass

from boardgen.catalog.model import Component
from boardgen.electrical.eseries import E12, at_most

PIN_DRIVE_A = 0.008  # A a module's pin gives at a good level (RP2350 12, SAMD21 7, STM32 8 to 20, AVR 20)
OVERDRIVE = 3.0  # base current over what the least current gain needs, so that the switch saturates
BETA_LEAST, BETA_MOST = 10.0, 50.0  # forced gain: data sheets state saturation at 10
PULL_DOWN_OHMS = 10_000.0  # holds the switch off at boot, even against a 50 kohm pull-up in the pin
BASE_MOST_OHMS = 2_200.0  # the pull-down takes its share of the base current, so no weaker drive than this
DROP_MOST_V = 0.5  # a lamp on 5 V should keep 90 % of it
_BASE_V = 0.75  # base-emitter voltage of a saturated silicon NPN
_DRIVEN_HIGH = 0.8  # share of the logic supply left at a loaded output (2.62 V of 3.3 V)
_GATE_MARGIN = 1.5  # gate voltage over the largest threshold for a MOSFET to be well on


@dataclass(frozen=True, slots=True)
class Driver:
    """A sized driver. *base_ohms* is None for a MOSFET; *faults* says what it fails."""

    switch: Component
    base_ohms: float | None
    drive_a: float
    drop_v: float
    loss_w: float
    faults: tuple[str, ...]

    @property
    def mosfet(self) -> bool:
        """Whether the switch is a MOSFET."""
        return self.base_ohms is None


def _figure(part: Component, *names: str, default: float) -> float:
    figures = dict(part.figures)
    return next((figures[name] for name in names if name in figures), default)


def least_gain(part: Component, load_a: float) -> float:
    """Return the least current gain stated for a load this large; 30 where none is."""
    if load_a > _figure(part, "hfe_at_a", default=0.0):
        return _figure(part, "hfe_min_100ma", "hfe_min", default=30.0)
    return _figure(part, "hfe_min", default=30.0)


def _ratings(part: Component, load_a: float, rail_v: float, loss_w: float) -> list[str]:
    faults = []
    max_a = _figure(part, "ic_max_a", "id_max_a", default=0.1)
    max_v = _figure(part, "vce_max_v", "vds_max_v", default=30.0)
    max_w = _figure(part, "max_w", default=0.35)
    if load_a > max_a:
        faults.append(
            f"{part.name} switches {max_a * 1000:.0f} mA at most, the load draws {load_a * 1000:.0f} mA"
        )
    if rail_v > max_v:
        faults.append(f"{part.name} blocks {max_v:g} V at most, the load hangs on {rail_v:g} V")
    if loss_w > max_w:
        faults.append(f"{part.name} would turn {loss_w:.2f} W into heat, {max_w:g} W are allowed")
    return faults


def size_npn(part: Component, resistor: Component, load_a: float, rail_v: float, logic_v: float) -> Driver:
    """Size an NPN low-side switch for *load_a* on *rail_v*, driven from *logic_v*.

    Base current = load / forced gain, forced gain = least gain / 3 within 10
    to 50; base resistor = the E12 value at or under (0.8 Vlogic - Vbe) / Ib.
    Losses are checked with the resistor's tolerance left out.
    """
    gain = min(BETA_MOST, max(BETA_LEAST, least_gain(part, load_a) / OVERDRIVE))
    base_v = _figure(part, "vbe_v", default=_BASE_V)
    wanted = max(load_a / gain, 1e-4)
    ohms = at_most(min((logic_v * _DRIVEN_HIGH - base_v) / wanted, BASE_MOST_OHMS), E12)
    drive = (logic_v - base_v) / ohms  # worst case: an unloaded output
    drop = _figure(part, "vce_sat_max_v", default=0.3)
    loss = load_a * drop + drive * base_v
    faults = _ratings(part, load_a, rail_v, loss)
    if drive > PIN_DRIVE_A:
        faults.append(
            f"the base of {part.name} takes {drive * 1000:.1f} mA, a pin gives {PIN_DRIVE_A * 1000:.0f} mA"
        )
    heat = drive**2 * ohms
    allowed = _figure(resistor, "max_w", default=0.25)
    if heat > allowed:
        faults.append(f"the base resistor would turn {heat:.2f} W into heat, {allowed:g} W are allowed")
    return Driver(part, ohms, drive, drop, loss, tuple(faults))


def size_mosfet(part: Component, load_a: float, rail_v: float, logic_v: float) -> Driver:
    """Size an N-channel low-side switch: threshold, drop and loss at *load_a*."""
    threshold = _figure(part, "vgs_th_max_v", default=3.0)
    needed = _figure(part, "rds_on_at_vgs_v", default=threshold * _GATE_MARGIN)
    on_ohms = _figure(part, "rds_on_ohm", default=6.0)
    drop = load_a * on_ohms
    loss = load_a * drop
    faults = _ratings(part, load_a, rail_v, loss)
    if logic_v < needed:
        faults.append(f"{part.name} needs {needed:.1f} V at its gate, the pin gives {logic_v:g} V")
    if drop > DROP_MOST_V:
        faults.append(f"{part.name} drops {drop:.2f} V, {DROP_MOST_V:g} V are allowed")
    return Driver(part, None, 0.0, drop, loss, tuple(faults))


def choose_driver(
    mosfets: tuple[Component, ...],
    transistors: tuple[Component, ...],
    resistor: Component,
    load_a: float,
    rail_v: float,
    logic_v: float,
) -> Driver:
    """Return the first driver without a fault, MOSFETs first (fewer parts); else the last tried.

    Raises ValueError where there is nothing to choose from.
    """
    tried = [size_mosfet(part, load_a, rail_v, logic_v) for part in mosfets]
    tried += [size_npn(part, resistor, load_a, rail_v, logic_v) for part in transistors]
    if not tried:
        raise ValueError("no switch to choose from")
    return next((driver for driver in tried if not driver.faults), tried[-1])
