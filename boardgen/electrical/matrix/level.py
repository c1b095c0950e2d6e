"""The level a closed key gives: output, diodes and worn contact against the pull-up."""

from __future__ import annotations

import math

from boardgen.electrical.matrix.model import Levels, LowLevel

MOST_SERIES = 8  # more diodes in a row are not looked for


def diode_drop(amps: float, light: tuple[float, float], full: tuple[float, float]) -> float:
    """Return a diode's drop in V at *amps* from two stated (A, V), *light* the smaller current.

    Straight over the logarithm of the current, as a junction's is, between the
    two; under the light current its drop, over the full one on the same line.
    """
    if amps <= light[0]:
        return light[1]
    share = math.log(amps / light[0]) / math.log(full[0] / light[0])
    return light[1] + share * (full[1] - light[1])


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


def _low(levels: Levels, diodes: int) -> tuple[float, float]:
    base = levels.vol_v + diodes * levels.drop_v
    amps = max(0.0, levels.supply_v - base) / (levels.pull_least + levels.contact_ohms)
    return base + amps * levels.contact_ohms, amps
