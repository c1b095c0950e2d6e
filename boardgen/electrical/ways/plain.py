"""Ways with no more than a resistor: direct, a pull-up, a resistor in series."""

from __future__ import annotations

from dataclasses import replace

from boardgen.electrical.ends import End
from boardgen.electrical.model import LevelProof
from boardgen.electrical.prove import RESISTOR_TOLERANCE, Net, prove
from boardgen.electrical.ways.model import RESISTOR_COST, Line, Offer, judge

PULL_UPS = (10_000.0, 4_700.0, 2_200.0, 1_000.0)  # the weakest that is fast enough saves the outputs
SERIES = (100.0, 220.0, 330.0, 470.0, 1_000.0, 2_200.0, 4_700.0, 10_000.0)


def bus(line: Line) -> bool:
    """Whether both sides only pull low: an I2C line."""
    return line.contact.function.startswith("i2c")


def ends(line: Line, module: End) -> tuple[End, End]:
    """Return device and module as they drive this line: open-drain on a bus."""
    device = line.device.end
    if not bus(line):
        return device, module
    return _open(device), _open(module)


def _open(end: End) -> End:
    return replace(end, logic=replace(end.logic, output="open-drain"))


def both_ways(line: Line, module: End, net: Net) -> tuple[LevelProof, ...]:
    """Prove the line in each direction it runs, through the same *net*."""
    device, pin = ends(line, module)
    found = []
    if line.reads:
        found.append(prove("in", device, pin, net))
    if line.drives:
        found.append(prove("out", pin, device, net))
    return tuple(found)


def at_rest(line: Line, module: End, series_ohms: float = 0.0) -> str:
    """Return what the device's own pull-up does to a pin that drives, while it does not: at boot, or off."""
    device = line.device.end
    if not line.drives or device.pull_up_ohms is None:
        return ""
    most = device.supply.high_v
    allowed = module.logic.most_v(module.supply.low_v)
    words = "before the firmware drives it"
    if device.supply.own and module.logic.idle_max_v < allowed:
        allowed, words = module.logic.idle_max_v, "while the module is off"
    amps = (most - allowed) / ((device.pull_up_ohms + series_ohms) * (1 - RESISTOR_TOLERANCE))
    if most <= allowed + 1e-9 or amps <= module.logic.inject_a:
        return ""
    return (
        f"the device's own pull-up brings {most:.2f} V to {module.name} {words}, which takes {allowed:.2f} V "
        f"then: {most - allowed:.2f} V too much"
    )


def direct(line: Line) -> Offer:
    """Offer no part at all."""
    net = Net(line_pf=line.line_pf)
    judged = judge(line, lambda pin: both_ways(line, pin, net), lambda pin: at_rest(line, pin))
    trouble = judged.trouble
    if ends(line, line.classes[0].end)[0].open_drain and line.device.end.pull_up_ohms is None and line.reads:
        trouble = (*trouble, "nothing pulls the line high: the device only pulls low")
    over = bool(judged.trouble)
    return Offer("direct", judged.proofs, 0.0, judged.pins, judged.why, trouble, over)


def pull_up(line: Line) -> Offer:
    """Offer a resistor from the line to the module's logic supply.

    For outputs that only pull low, and for TTL outputs whose high needs lifting to their own supply.
    """
    device, _ = ends(line, line.classes[0].end)
    if line.upper is None:
        return Offer("pull-up", trouble=("the module gives no logic rail",), drawable=False)
    if line.reads and not device.open_drain and device.supply != line.upper:
        text = f"{device.name} drives the line high itself, from another supply than the pull-up's"
        return Offer("pull-up", trouble=(text,), drawable=False)
    best: Offer | None = None
    for ohms in PULL_UPS:
        if bus(line) and ohms > 4_700:
            continue  # the value of the bus's own specification at 100 kHz and 3.3 V
        net = Net(up=(ohms, line.upper), line_pf=line.line_pf, settle_most_s=line.settle_most_s)
        judged = judge(
            line,
            lambda pin, net=net: both_ways(line, pin, net),  # type: ignore[misc]
            lambda pin, ohms=ohms: at_rest(line, pin),  # type: ignore[misc]
        )
        offer = Offer(
            "pull-up",
            judged.proofs,
            RESISTOR_COST,
            judged.pins,
            judged.why,
            judged.trouble,
            bool(judged.trouble),
            ohms=(ohms,),
        )
        if offer.passes:
            return offer
        best = best or offer
    return best or Offer("pull-up", drawable=False)


def series(line: Line) -> Offer:
    """Offer a resistor in line: it damps edges and limits a clamp's current, and changes no level."""
    best: Offer | None = None
    for ohms in SERIES:
        net = Net(ohms, line_pf=line.line_pf, settle_most_s=line.settle_most_s)
        judged = judge(
            line,
            lambda pin, net=net: both_ways(line, pin, net),  # type: ignore[misc]
            lambda pin, ohms=ohms: at_rest(line, pin, ohms),  # type: ignore[misc]
        )
        offer = Offer(
            "series",
            judged.proofs,
            RESISTOR_COST,
            judged.pins,
            judged.why,
            judged.trouble,
            bool(judged.trouble),
            ohms=(ohms,),
        )
        if offer.passes:
            return offer
        best = best or offer
    return best or Offer("series", drawable=False)
