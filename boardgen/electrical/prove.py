"""Is a level safe and readable at the far end? The worst case of one hop, with every figure kept."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from boardgen.catalog.logic import Point
from boardgen.electrical.channel import Channel, channel_fall, channel_rise, charge_s
from boardgen.electrical.ends import End, Supply
from boardgen.electrical.model import PREFERRED_MARGIN_V, LevelProof

RESISTOR_TOLERANCE = 0.05  # carbon film, as the catalogue's axial range
OPEN_DRAIN_LEAK_A = 10e-6  # what an output that is off may still draw, the most of common data sheets
BOARD_PF = 10.0  # tracks of one line on a board this size


@dataclass(frozen=True, slots=True)
class Net:
    """What stands between driver and reader, in ohm and pF; None where nothing does.

    *series_ohms* then *down_ohms* to ground at the reader; *up* is a pull-up
    at the driver's side with its supply. *switch_ohms* is a closed FET in line,
    *sink_a* what the driver must sink besides, *channel* what the FET does for an edge.
    """

    series_ohms: float = 0.0
    down_ohms: float | None = None
    up: tuple[float, Supply] | None = None
    switch_ohms: float = 0.0
    sink_a: float = 0.0
    line_pf: float = BOARD_PF
    settle_most_s: float | None = None
    tolerance: float = RESISTOR_TOLERANCE
    channel: Channel | None = None

    def share(self, sign: int) -> float:
        """Return the part of the driver's level left at the reader, the least (-1) or the most (+1)."""
        if self.down_ohms is None:
            return 1.0
        down = self.down_ohms * (1 + sign * self.tolerance)
        return down / (down + self.series_ohms * (1 - sign * self.tolerance))

    @property
    def source_ohms(self) -> float:
        """What the reader sees toward the driver."""
        if self.down_ohms is None:
            return self.series_ohms
        return self.series_ohms * self.down_ohms / (self.series_ohms + self.down_ohms)


DIRECT = Net()


def level_at(points: tuple[Point, ...], amps: float, unloaded: float | None = None) -> float | None:
    """Return the level stated at the first current not under *amps*, None where none is stated.

    With *unloaded*, the level at no current, the output is taken for a MOS
    transistor: straight between the points, from no current on. Such a one bends
    away from that line toward the rail, so the line is on the safe side.
    """
    before = None if unloaded is None else (0.0, unloaded)
    for point_a, volts in points:
        if point_a >= amps - 1e-12:
            if before is None or point_a <= before[0]:
                return volts
            share = max(0.0, amps - before[0]) / (point_a - before[0])
            return before[1] + (volts - before[1]) * share
        before = None if before is None else (point_a, volts)
    return None


def _corners(driver: Supply, reader: Supply) -> Iterator[tuple[float, float]]:
    """Yield supply voltages of both ends: one supply is the same at both."""
    if _same(driver, reader):
        yield from ((v, v) for v in sorted({driver.low_v, driver.volts, driver.high_v}))
        return
    for v in sorted({driver.low_v, driver.high_v}):
        for w in sorted({reader.low_v, reader.high_v}):
            yield v, w


@dataclass(frozen=True, slots=True)
class _Corner:
    voh: float | None
    vih: float
    vol: float | None
    vil: float
    most: float
    allowed: float
    high_a: float
    low_a: float

    @property
    def high(self) -> float:
        return -math.inf if self.voh is None else self.voh - self.vih

    @property
    def low(self) -> float:
        return -math.inf if self.vol is None else self.vil - self.vol


def _same(one: Supply, other: Supply) -> bool:
    return (one.name, one.own) == (other.name, other.own)


def _pulls(driver: End, reader: End, net: Net, at: tuple[float, float]) -> list[tuple[float, float, float]]:
    """Return (ohm, least V, most V) of each pull-up on the driver's side, the ends' supplies being *at*."""
    found = []
    if net.up is not None:
        ohms, supply = net.up
        for end, volts in ((driver, at[0]), (reader, at[1])):
            if _same(supply, end.supply):
                found.append((ohms, volts, volts))
                break
        else:
            found.append((ohms, supply.low_v, supply.high_v))
    if driver.pull_up_ohms is not None:
        found.append((driver.pull_up_ohms, at[0], at[0]))
    return found


def _corner(driver: End, reader: End, net: Net, at: tuple[float, float], straight: bool) -> _Corner:
    sends, reads = driver.at(at[0]), reader.at(at[1])
    logic = reader.logic
    pulls = _pulls(driver, reader, net, at)
    to_ground = 0.0 if net.down_ohms is None else 1 / (net.series_ohms + net.down_ohms)
    ohms = 1 / sum(1 / r for r, _, _ in pulls) if pulls else math.inf
    if driver.open_drain:
        if pulls:
            # the pull-ups' Thevenin source, less what the reader and the leaking output draw
            source = ohms * sum(v / r for r, v, _ in pulls)
            high_a = logic.high_a + OPEN_DRAIN_LEAK_A
            voh: float | None = (source - ohms * high_a) / (1 + ohms * to_ground)
            most = ohms * sum(v / r for r, _, v in pulls)
        else:
            voh, high_a, most = None, logic.high_a, at[0]
    else:
        most = max(driver.most_out(at[0]), *(v for _, _, v in pulls), 0.0)
        high_a = logic.high_a + most * to_ground
        voh = level_at(sends.high, high_a, at[0] if straight else None)
        same = [(r, v) for r, v, _ in pulls if v >= at[0] - 1e-9]
        if same and to_ground == 0.0:
            # a TTL output lets itself be pulled on to its own supply
            lift = max(v - r * (logic.high_a + OPEN_DRAIN_LEAK_A) for r, v in same)
            voh = lift if voh is None else max(voh, lift)
    low_a = logic.low_a + net.sink_a + sum(v / (r * (1 - net.tolerance)) for r, _, v in pulls)
    vol = level_at(sends.low, low_a, 0.0 if straight else None)
    if voh is not None:
        voh = voh * net.share(-1) - (net.source_ohms + net.switch_ohms) * logic.high_a
    if vol is not None:
        vol = (vol + net.switch_ohms * low_a) * net.share(1) + net.source_ohms * logic.low_a
    return _Corner(
        voh,
        reads.vih_v,
        vol,
        reads.vil_v,
        most * net.share(1),
        logic.most_v(at[1]),
        high_a,
        low_a,
    )


def _alone(driver: End, reader: End, net: Net) -> bool:
    """Whether the driver's side can be up while the reader is off."""
    if driver.supply.own == reader.supply.own:
        return False
    if not driver.open_drain or driver.pull_up_ohms is not None:
        return True
    return net.up is not None and net.up[1].own != reader.supply.own


def prove(direction: str, driver: End, reader: End, net: Net = DIRECT) -> LevelProof:
    """Return the worst case of the hop from *driver* to *reader* through *net*.

    Both supplies are taken at the ends of their tolerance, independently unless
    they are one supply. The level of an output is the one stated at the first
    current not under the load's; where that leaves little margin, a MOS output is
    taken at the load's own current.
    """
    corners = [_corner(driver, reader, net, at, False) for at in _corners(driver.supply, reader.supply)]
    high = min(corners, key=lambda c: c.high)
    low = min(corners, key=lambda c: c.low)
    proportional = False
    if driver.mos and min(high.high, low.low) < PREFERRED_MARGIN_V:
        less = [_corner(driver, reader, net, at, True) for at in _corners(driver.supply, reader.supply)]
        real_high, real_low = min(less, key=lambda c: c.high), min(less, key=lambda c: c.low)
        if high.high < PREFERRED_MARGIN_V and real_high.high >= 0:
            high, proportional = real_high, True
        if low.low < PREFERRED_MARGIN_V and real_low.low >= 0:
            low, proportional = real_low, True
    over = max(corners, key=lambda c: (c.most - c.allowed, c.most))
    idle = reader.logic.idle_max_v if _alone(driver, reader, net) else None
    most = over.most if idle is None else max(c.most for c in corners)
    excess = max(over.most - over.allowed, 0.0 if idle is None else most - idle, 0.0)
    ohms = net.source_ohms
    pulled = driver.open_drain and net.up is not None
    if pulled and net.up is not None:
        ohms += net.up[0]
    ohms *= 1 - net.tolerance
    flow = excess / ohms if ohms > 0 else (math.inf if excess > 1e-9 else 0.0)
    settle_s = settling(driver, reader, net, high.voh, high.vih)
    return LevelProof(
        direction=direction,
        driver=driver.name,
        driver_supply=driver.supply.words(),
        reader=reader.name,
        reader_supply=reader.supply.words(),
        voh_v=high.voh,
        vih_v=high.vih,
        vol_v=low.vol,
        vil_v=low.vil,
        margin_high_v=None if high.voh is None else high.high,
        margin_low_v=None if low.vol is None else low.low,
        most_v=most,
        allowed_v=over.allowed,
        idle_allowed_v=idle,
        high_a=high.high_a,
        low_a=low.low_a,
        over_a=flow,
        over_allowed_a=reader.logic.inject_a,
        settle_s=settle_s,
        settle_most_s=net.settle_most_s,
        proportional=proportional,
        settle_pf=None if settle_s is None else net.line_pf + reader.logic.input_pf,
        two_phase=net.channel is not None,
    )


def settling(driver: End, reader: End, net: Net, final_v: float | None, vih_v: float) -> float | None:
    """Return the time in s to *vih_v* on the way to *final_v* through the resistors; None without any.

    t = -R C ln(1 - VIH / V): C is cable, board and the reader's pin. Through a
    FET it is the longer of its rise and fall (:mod:`boardgen.electrical.channel`).
    """
    ohms = net.source_ohms
    pulls: list[tuple[float, float, float]] = []
    if driver.open_drain or net.up is not None:
        pulls = _pulls(driver, reader, net, (driver.supply.low_v, reader.supply.low_v))
        if not pulls:
            return None
        ohms += 1 / sum(1 / r for r, _, _ in pulls)
    if ohms <= 0 or final_v is None:
        return None
    pf = net.line_pf + reader.logic.input_pf
    if net.channel is not None:
        rise = channel_rise(net.channel, (ohms, final_v), pf, vih_v, net.switch_ohms)
        vil_v = min(reader.at(v).vil_v for v in (reader.supply.low_v, reader.supply.high_v))
        top_v = max(v for _, _, v in pulls) if pulls else final_v
        return max(rise, channel_fall(net.channel, net.switch_ohms, pf, (top_v, vil_v)))
    return charge_s(ohms, pf, 0.0, final_v, vih_v)


def _micro(seconds: float) -> str:
    return f"{seconds * 1e6:.3g} us"


def faults(proof: LevelProof) -> tuple[str, ...]:
    """Return what fails in *proof*, each a clause with its numbers; over-voltage first."""
    found = []
    inject = (
        f", {proof.over_a * 1000:.2g} mA into an input made for {proof.over_allowed_a * 1000:.2g} mA"
        if math.isfinite(proof.over_a)
        else ""
    )
    if not proof.powered_ok:
        found.append(
            f"up to {proof.most_v:.2f} V reaches {proof.reader}, which takes {proof.allowed_v:.2f} V: "
            f"{proof.most_v - proof.allowed_v:.2f} V too much{inject}"
        )
    if not proof.idle_ok and proof.idle_allowed_v is not None:
        found.append(
            f"up to {proof.most_v:.2f} V reaches {proof.reader} while it is unpowered, which takes "
            f"{proof.idle_allowed_v:.2f} V then: {proof.most_v - proof.idle_allowed_v:.2f} V too much{inject}"
        )
    if proof.margin_high_v is None:
        found.append(f"no source states a high level of {proof.driver} at {proof.high_a * 1000:.3g} mA")
    elif not proof.high_ok:
        found.append(
            f"{proof.driver} gives {proof.voh_v:.2f} V for a high, {proof.reader} at {proof.reader_supply} "
            f"needs {proof.vih_v:.2f} V: {-proof.margin_high_v:.2f} V short"
        )
    if proof.margin_low_v is None:
        found.append(f"no source states a low level of {proof.driver} at {proof.low_a * 1000:.3g} mA")
    elif not proof.low_ok:
        found.append(
            f"{proof.driver} leaves {proof.vol_v:.2f} V for a low, {proof.reader} at {proof.reader_supply} "
            f"needs {proof.vil_v:.2f} V: {-proof.margin_low_v:.2f} V short"
        )
    late = not proof.settle_ok and proof.settle_s is not None and math.isfinite(proof.settle_s)
    if late and proof.settle_s is not None and proof.settle_most_s is not None:
        found.append(
            f"the line takes {_micro(proof.settle_s)} to rise, {_micro(proof.settle_most_s)} are left"
        )
    return tuple(found)


def over_voltage(proofs: tuple[LevelProof, ...]) -> bool:
    """Whether any hop puts more on a reader than it takes."""
    return any(not (p.powered_ok and p.idle_ok) for p in proofs)


def margin(proofs: tuple[LevelProof, ...]) -> float:
    """Return the least noise margin of the hops in V; minus infinity where one is not known."""
    margins = [m for p in proofs for m in (p.margin_high_v, p.margin_low_v)]
    return min((-math.inf if m is None else m for m in margins), default=math.inf)
