"""The level a closed key gives: output, diodes and worn contact against the pull-up."""

from __future__ import annotations

import math

from boardgen.electrical.matrix.model import HighLevel, Levels, LowLevel

JUNCTION_V = 1.8 * 0.026  # V; emission coefficient of a small switching diode times thermal voltage
JUNCTION_DECADE = 10.0
MOST_SERIES = 8  # more diodes in a row are not looked for


def diode_drop(amps: float, light: tuple[float, float], full: tuple[float, float]) -> float:
    """Return a diode's drop in V at *amps* from two stated (A, V), *light* the smaller current.

    Up to ten times the light current the junction alone counts: 1.8 times 26 mV
    a factor e of current, as the catalogue's estimate has it. From there a
    straight line over the logarithm to the full current, where the diode's own
    resistance takes its part; under the light current its drop.
    """
    if amps <= light[0]:
        return light[1]
    knee = min(JUNCTION_DECADE * light[0], full[0])
    if amps <= knee:
        return min(full[1], light[1] + JUNCTION_V * math.log(amps / light[0]))
    start = min(full[1], light[1] + JUNCTION_V * math.log(knee / light[0]))
    if knee >= full[0]:
        return max(start, full[1])
    return start + (full[1] - start) * math.log(amps / knee) / math.log(full[0] / knee)


def output_low(points: tuple[tuple[float, float], ...], amps: float) -> float | None:
    """Return the most an output that is low rises to while it sinks *amps*; None beyond what is stated.

    *points* are (A, V) by rising current. Under the first, and between them,
    the output is a resistance: a MOS transistor that is well on.
    """
    before = (0.0, 0.0)
    for point in points:
        if amps <= point[0]:
            return before[1] + (point[1] - before[1]) * (amps - before[0]) / (point[0] - before[0])
        before = point
    return None


def low_level(levels: Levels, diodes: int) -> LowLevel:
    """Return what a read line falls to through *diodes* in series.

    V = VOL + n Vf + I Rc with I = (VDD - VOL - n Vf) / (Rpull + Rc), the
    strongest pull-up; the worst contact is (VIL - VOL - n Vf) Rpull / (VDD - VIL).
    """
    low, current = _low(levels, diodes)
    room = levels.vil_v - levels.vol_v - diodes * levels.drop_v
    worst = room * levels.pull_least / (levels.supply_v - levels.vil_v)
    series = -1
    while series < MOST_SERIES and _low(levels, series + 1)[0] < levels.vil_v:
        series += 1
    return LowLevel(diodes, low, levels.vil_v - low, max(0.0, worst), current, series)


def high_level(levels: Levels, held: int) -> HighLevel:
    """Return what a line rises to while its weakest pull-up feeds the leakage of *held* joined lines too.

    V = VDD - Rpull I; the leaks of old contacts, membranes and dirt may take
    (VDD - VIH) / Rpull less that current, so the least resistance of all open
    keys of a line is VIH over it; infinite where the leakage alone is too much.
    """
    leak = levels.leak_a * (1 + held)
    high = levels.supply_v - levels.pull_most * leak
    spare = (levels.supply_v - levels.vih_v) / levels.pull_most - leak
    return HighLevel(high, high - levels.vih_v, levels.vih_v / spare if spare > 0 else math.inf)


def _low(levels: Levels, diodes: int) -> tuple[float, float]:
    base = levels.vol_v + diodes * levels.drop_v
    amps = max(0.0, levels.supply_v - base) / (levels.pull_least + levels.contact_ohms)
    return base + amps * levels.contact_ohms, amps
