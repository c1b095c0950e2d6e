"""Edges through a FET that stands between two pull-ups with its gate at a rail."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Channel:
    """How a FET between driver and reader helps an edge at the reader.

    Its channel joins both sides up to *until_v*, the gate's voltage less the
    threshold. A driver that only pulls low leaves the rise to the pull-ups:
    *beside* is the one on its side (ohm, V), *beside_pf* what else is charged
    while both sides are one node, *across_pf* the capacitance between drain and
    source. A driver that drives high has *driven_v*: as far it takes the
    reader's side along.
    """

    until_v: float
    beside: tuple[float, float] | None = None
    beside_pf: float = 0.0
    across_pf: float = 0.0
    driven_v: float | None = None


def charge_s(ohms: float, pf: float, start_v: float, final_v: float, to_v: float) -> float:
    """Return the time in s from *start_v* to *to_v* on the way to *final_v*: R C ln((V - V0) / (V - V1))."""
    if to_v <= start_v:
        return 0.0
    if to_v >= final_v:
        return math.inf
    return ohms * pf * 1e-12 * math.log((final_v - start_v) / (final_v - to_v))


def channel_rise(
    channel: Channel, up: tuple[float, float], pf: float, to_v: float, on_ohms: float = 0.0
) -> float:
    """Return the time in s of a rise to *to_v* at the far side of a FET, from 0 V.

    *up* is the pull-up there (ohm, V), *pf* the capacitance there. Derivation: a
    MOS transistor conducts while its gate is VTH over the lower of source and
    drain. Up to VG - VTH both sides are one node, so both pull-ups (their Thevenin
    source) charge both capacitances. From there the channel is off and *up* charges
    *pf* alone, from VG - VTH on; the capacitance across the FET counts less there by
    the other side's slope over this one's (Miller). A driver that drives high takes
    the far side along: within its own edge, some ns, which are left out, through
    the body diode; and through the channel as a source follower, with *on_ohms* at
    VOV = VG - VTH over the source (:func:`_follow`).
    """
    ohms, final_v = up
    if channel.beside is None:
        if channel.driven_v is not None:
            return charge_s(ohms, pf, channel.driven_v, final_v, to_v)
        until = max(0.0, channel.until_v)
        follow = _follow(until, (final_v - until) / ohms, pf, min(to_v, until), on_ohms)
        return follow + charge_s(ohms, pf, until, final_v, to_v)
    other, other_v = channel.beside
    both = 1 / (1 / ohms + 1 / other)
    joined_v = both * (final_v / ohms + other_v / other)
    until = max(0.0, channel.until_v)
    first = charge_s(both, pf + channel.beside_pf, 0.0, joined_v, min(to_v, until))
    if to_v <= until or until >= final_v:
        return first if to_v < final_v else math.inf
    slope, beside = (final_v - until) / (ohms * pf), 0.0
    if channel.beside_pf > 0:
        beside = max(0.0, other_v - until) / (other * channel.beside_pf)
    alone = pf - channel.across_pf * min(1.0, beside / slope)
    return first + charge_s(ohms, alone, until, final_v, to_v)


LEAST_A = 1e-6  # A; a pull-up that ends under VG - VTH leaves the last of the rise to the channel


def _follow(over: float, amps: float, pf: float, to_v: float, on_ohms: float) -> float:
    """Return the time in s from 0 V to *to_v* through a saturated channel helped by *amps*.

    C dV/dt = I + (VOV - V)^2 / (2 R VOV) is solved by an arc tangent:
    t = C / sqrt(I k) (atan(VOV q) - atan((VOV - V) q)), k = 1 / (2 R VOV), q = sqrt(k / I).
    """
    if on_ohms <= 0 or over <= 0:
        return 0.0
    amps = max(amps, LEAST_A)
    k = 1 / (2 * on_ohms * over)
    q = math.sqrt(k / amps)
    return pf * 1e-12 / math.sqrt(amps * k) * (math.atan(over * q) - math.atan((over - to_v) * q))


def channel_fall(channel: Channel, on_ohms: float, pf: float, span: tuple[float, float]) -> float:
    """Return the time in s in which a FET brings *pf* down from *span*'s first V to its second.

    Its source is held low. *on_ohms* is the channel's resistance at VOV = VG - VTH over its source. While the
    drain is over VOV the current is saturated at VOV / (2 R), below it is
    (2 VOV V - V^2) / (2 R VOV); integrated: t = R C (2 (V0 - VOV) / VOV + ln((2 VOV - V) / V))
    (the long-channel MOS law, integrated as textbooks of MOS circuits do for the fall of an
    inverter). Infinite for a channel that never conducts.
    """
    start_v, end_v = span
    over = channel.until_v
    if end_v >= start_v:
        return 0.0
    if over <= 0 or end_v <= 0:
        return math.inf
    tau = on_ohms * pf * 1e-12
    if end_v >= over:
        return tau * 2 * (start_v - end_v) / over
    from_v = min(start_v, over)
    steady = 2 * max(0.0, start_v - over) / over
    return tau * (steady + math.log((2 * over - end_v) / end_v) - math.log((2 * over - from_v) / from_v))
