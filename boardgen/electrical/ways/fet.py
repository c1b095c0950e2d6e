"""A FET between two pull-ups: for lines that run both ways, or a single one that must rise further."""

from __future__ import annotations

from dataclasses import replace

from boardgen.catalog.model import Component
from boardgen.electrical.channel import Channel
from boardgen.electrical.ends import End
from boardgen.electrical.model import LevelProof
from boardgen.electrical.prove import BOARD_PF, Net, prove
from boardgen.electrical.ways.model import FET_COST, RESISTOR_COST, Line, Offer, judge
from boardgen.electrical.ways.plain import PULL_UPS, bus

GATE_OVER = 1.5  # gate voltage over the largest threshold for the FET to be well on
ON_OVER = 3.0  # on resistance at such a gate over the one stated at more
BODY_DIODE_V = 0.6
BODY_DIODE_MOST_V = 0.8  # BSS138 data sheet, typical at 0.2 A; what a slow rise may count on is less
# BSS138, typical at 25 V, where the part's entry gives none
CISS_PF, COSS_PF, CRSS_PF = 27.0, 13.0, 6.0


def fet(line: Line, part: Component | None) -> Offer:
    """Offer a FET with its gate at the module's logic supply, its source at the module, a pull-up each side.

    A low passes both ways through the channel; a high is each side's own
    pull-up. A device that drives high itself and is only read needs none.
    """
    upper, device = line.upper, line.device.end
    if part is None or upper is None:
        text = "the module gives no logic rail" if upper is None else "the catalogue has no FET for it"
        return Offer("open-drain", trouble=(text,), drawable=False)
    needs_up = line.drives or (device.open_drain and device.pull_up_ohms is None) or bus(line)
    needs_up = needs_up and device.pull_up_ohms is None
    if needs_up and line.device_rail is None:
        return Offer(
            "open-drain",
            trouble=("no rail on the board reaches the device's level for its pull-up",),
            drawable=False,
        )
    cost = FET_COST + RESISTOR_COST * (2 if needs_up else 1)
    best: Offer | None = None
    for ohms in PULL_UPS:
        if bus(line) and ohms > 4_700:
            continue
        judged = judge(line, lambda pin, ohms=ohms: _hops(line, part, pin, ohms, needs_up))  # type: ignore[misc]
        values = (ohms, ohms) if needs_up else (ohms,)
        offer = Offer(
            "open-drain",
            judged.proofs,
            cost,
            judged.pins,
            judged.why,
            _trouble(line, part, ohms),
            ohms=values,
            chip=part,
            supply=line.device_rail,
        )
        if offer.passes:
            return offer
        best = best or offer
    return best or Offer("open-drain", drawable=False)


def _trouble(line: Line, part: Component, ohms: float) -> tuple[str, ...]:
    upper, device = line.upper, line.device.end
    found: list[str] = []
    if upper is None:
        return ()
    figures = dict(part.figures)
    needed = figures.get("vgs_th_max_v", 3.0) * GATE_OVER
    if upper.low_v < needed:
        found.append(
            f"{part.value or part.name} needs {needed:.2f} V at its gate, {upper.low_v:.2f} V are there"
        )
    if device.supply.high_v < upper.low_v:
        found.append(
            f"the FET's source must stand on the lower side, but the device runs at {device.supply.volts:g} V"
        )
    over = upper.high_v - BODY_DIODE_V - device.logic.idle_max_v
    if device.supply.own and over > 0:
        if line.drives and not bus(line):
            found.append(
                f"while the device is off, a pin that drives high feeds {device.name} through the FET's body "
                f"diode: {over:.2f} V more than it takes then"
            )
        elif over / ohms > device.logic.inject_a:
            found.append(
                f"while the device is off, {over / ohms * 1000:.2g} mA run through the FET's body "
                f"diode into {device.name}, which takes {device.logic.inject_a * 1000:.2g} mA"
            )
    return tuple(found)


def _hops(line: Line, part: Component, pin: End, ohms: float, needs_up: bool) -> tuple[LevelProof, ...]:
    upper, rail, device = line.upper, line.device_rail, line.device.end
    if upper is None:
        return ()
    figures = dict(part.figures)
    switch = figures.get("rds_on_ohm", 6.0) * ON_OVER
    ciss, coss = figures.get("ciss_pf", CISS_PF), figures.get("coss_pf", COSS_PF)
    across = coss - figures.get("crss_pf", CRSS_PF)
    # the channel lets go soonest with the largest threshold
    until = upper.low_v - figures.get("vgs_th_max_v", 3.0)
    far_a = device.supply.high_v / (device.pull_up_ohms or ohms) if needs_up or device.pull_up_ohms else 0.0
    far_up = (device.pull_up_ohms or ohms, (rail or device.supply).low_v)
    found = []
    if line.reads:
        low_only = replace(
            device, logic=replace(device.logic, output="open-drain"), pull_up_ohms=None, high_most_v=None
        )
        lets_go = device.open_drain or bus(line)
        net = Net(
            up=(ohms, upper),
            switch_ohms=switch,
            sink_a=far_a,
            line_pf=BOARD_PF + ciss,
            settle_most_s=line.settle_most_s,
            channel=Channel(until, far_up if lets_go else None, line.line_pf, across),
        )
        found.append(prove("in", low_only, pin, net))
    if line.drives:
        low_only = replace(pin, logic=replace(pin.logic, output="open-drain"))
        pull = (device.pull_up_ohms or ohms, rail or device.supply)
        beside_pf = BOARD_PF + pin.logic.input_pf + ciss - coss
        net = Net(
            up=pull,
            switch_ohms=switch,
            sink_a=upper.high_v / ohms,
            line_pf=line.line_pf + coss,
            settle_most_s=line.settle_most_s,
            channel=Channel(
                until,
                (ohms, upper.low_v) if bus(line) else None,
                beside_pf,
                across,
                # a pin that drives high feeds the far side through the body diode too
                max(until, pin.supply.low_v - BODY_DIODE_MOST_V),
            ),
        )
        found.append(prove("out", low_only, device, net))
    return tuple(found)
