"""The level at a load driver's control pin: is the switch surely on at a high, surely off at a low?"""

from __future__ import annotations

import math

from boardgen.design.model import BoundDesign, Contact
from boardgen.electrical import levels
from boardgen.electrical.ends import End, pin_classes
from boardgen.electrical.lamps import PULL_DOWN_OHMS, Driver, least_gain
from boardgen.electrical.model import LevelProof
from boardgen.electrical.prove import RESISTOR_TOLERANCE, level_at

BASE_ON_V = 0.75  # base-emitter voltage of a silicon NPN that is on, where its entry gives none
# A silicon junction passes a decade less for each 60 mV: with 0.65 V at 10 mA, 0.4 V are under 1 uA
BASE_OFF_V = 0.4


def driver_proof(
    bound: BoundDesign, contact: Contact, driver: Driver, load_a: float
) -> tuple[LevelProof, ...]:
    """Return the hop from the module's pin to the switch of *driver*, at the weakest pin it may get.

    A MOSFET is on from the gate voltage its on resistance is stated at and off under the least
    threshold. An NPN is on from the voltage that drives load / least gain into
    its base, VBE + R (I / hFE + VBE / Rdown), and off while the divider of base resistor
    and pull-down leaves 0.4 V at the base. The pin's high is the one at the current that it
    gives where the switch is just on: an output above that level there settles at more. Empty
    where no pin can drive it.
    """
    pins = levels.pins_for(bound, contact.signal, reads=False, drives=True, function=contact.function)
    rows = [_hop(driver, load_a, one.end) for one in pin_classes(bound.module, pins)]
    worst = min(rows, key=_least, default=None)
    return () if worst is None else (worst,)


def _least(proof: LevelProof) -> float:
    return min(-math.inf if m is None else m for m in (proof.margin_high_v, proof.margin_low_v))


def _hop(driver: Driver, load_a: float, end: End) -> LevelProof:
    figures = dict(driver.switch.figures)
    volts = end.supply.low_v
    point = end.at(volts)
    if driver.base_ohms is None:
        threshold = figures.get("vgs_th_max_v", 3.0)
        on_v = figures.get("rds_on_at_vgs_v", threshold * 1.5)
        off_v = figures.get("vgs_th_min_v", 0.8)
        allowed = figures.get("vgs_max_v", math.inf)
        amps = on_v / PULL_DOWN_OHMS
    else:
        base_v = figures.get("vbe_v", BASE_ON_V)
        most = driver.base_ohms * (1 + RESISTOR_TOLERANCE)
        least = driver.base_ohms * (1 - RESISTOR_TOLERANCE)
        down = PULL_DOWN_OHMS * (1 - RESISTOR_TOLERANCE)
        on_v = base_v + most * (load_a / least_gain(driver.switch, load_a) + base_v / down)
        off_v = BASE_OFF_V * (1 + least / (PULL_DOWN_OHMS * (1 + RESISTOR_TOLERANCE)))
        allowed = math.inf  # the base resistor limits what flows
        amps = (on_v - base_v) / least
    high = level_at(point.high, amps, volts if end.mos else None)
    low = level_at(point.low, 0.0, 0.0 if end.mos else None)
    return LevelProof(
        direction="out",
        driver=end.name,
        driver_supply=end.supply.words(),
        reader=driver.switch.value or driver.switch.name,
        reader_supply="ground",
        voh_v=high,
        vih_v=on_v,
        vol_v=low,
        vil_v=off_v,
        margin_high_v=None if high is None else high - on_v,
        margin_low_v=None if low is None else off_v - low,
        most_v=end.supply.high_v,
        allowed_v=allowed,
        idle_allowed_v=None,
        high_a=amps,
        proportional=end.mos,
    )
