"""First power: what the board alone may draw and what its rails must read, alone and with the module."""

from __future__ import annotations

import math
from dataclasses import dataclass

from boardgen.board.model import NetKind
from boardgen.electrical.model import PlannedPart
from boardgen.electrical.power.model import Load, PowerTree, Step
from boardgen.export.bringup_model import AMPS, VOLTS, Circuit, Test
from boardgen.export.bringup_net import Meter
from boardgen.export.bundle import Bundle

BARE, MODULE, DEVICE = "power", "module", "device"
SUPPLY_SHARE = 0.05  # how near to its setting a bench supply and a meter together are
CHIP_A = 0.001  # a logic chip at rest, where its entry states nothing
LEAST_LIMIT_A = 0.01  # bench supplies limit no finer
LIMIT_STEP_A = 0.005
FULL_USB_A = 0.5
DIODE_DROP_V = 0.7  # the most a diode loses where hardly any current flows


@dataclass(frozen=True, slots=True)
class Feed:
    """A rail to feed from the bench: *amps* at most are expected, *limit_a* is what to set."""

    net: str
    volts: float
    at: str
    amps: float
    limit_a: float
    why: str


def feeds(bundle: Bundle, circuit: Circuit) -> tuple[Feed, ...]:
    """Return the rails that the module would feed, to be fed at its socket instead."""
    nets = dict(bundle.plan.module_nets)
    ground = _ground(bundle)
    found: dict[str, Feed] = {}
    for pin in bundle.bound.module.pins:
        net = nets.get(pin.number)
        if pin.supply is None or net is None or net in found or pin.supply.role == "in":
            continue
        amps, why = _draw(bundle, circuit, net, pin.supply.volts, ground)
        steps = math.ceil(round(amps * 1.5 / LIMIT_STEP_A, 6))
        limit = max(LEAST_LIMIT_A, steps * LIMIT_STEP_A)
        found[net] = Feed(net, pin.supply.volts, f"U1.{pin.number}", amps, round(limit, 4), why)
    return tuple(found.values())


def _ground(bundle: Bundle) -> str:
    names = [net.name for net in bundle.board.nets if net.kind is NetKind.GROUND]
    return names[0] if names else ""


def _draw(bundle: Bundle, circuit: Circuit, net: str, volts: float, ground: str) -> tuple[float, str]:
    """Return the most the parts on *net* take at *volts*, and of what it is made up."""
    bits: list[str] = []
    total = 0.0
    here = [spot.name for spot in circuit.spots if spot.net == net]
    there = [spot.name for spot in circuit.spots if spot.net == ground]
    if here and there:
        least, most = Meter(circuit).reads(here[0], there[0])
        if not math.isinf(most):
            total += volts / max(least, 1.0)
            bits.append(f"resistors {volts / max(least, 1.0) * 1000:.2g} mA")
    for part in bundle.plan.parts:
        pads = {f"{part.ref}.{pad}" for pad, on in part.nets if on == net}
        functions = dict(part.component.pins)
        if "supply" in functions and f"{part.ref}.{functions['supply']}" in pads:
            amps = _chip(part)
            total += amps
            bits.append(f"{part.ref} {amps * 1000:.2g} mA")
    return total, " and ".join(bits) or "capacitors only: nothing once they are charged"


def _chip(part: PlannedPart) -> float:
    """The most a chip takes with every input between its levels, as inputs without a module are."""
    figures = dict(part.component.figures)
    if "supply_a" not in figures:
        return CHIP_A
    return figures["supply_a"] + len(part.component.gates) * figures.get("supply_per_input_a", 0.0)


def bare_tests(bundle: Bundle, circuit: Circuit) -> tuple[Test, ...]:
    """Return what to read while each rail is fed in turn, device and module unplugged."""
    tests: list[Test] = []
    ground = _ground(bundle)
    if not ground:
        return ()
    for feed in feeds(bundle, circuit):
        number = len(tests) + 1
        most = max(0.002, feed.amps * 1.2)
        tests.append(
            Test(
                id=f"P{number:02d}",
                stage=BARE,
                kind=AMPS,
                label=f"current into {feed.net}, fed with {feed.volts:g} V at {feed.at}",
                expected=f"below {most * 1000:.3g} mA ({feed.why}); limit {feed.limit_a * 1000:g} mA",
                least=0.0,
                most=round(most, 6),
            )
        )
        for net, least, cause in _fed(bundle, feed):
            spot = _probe(circuit, net)
            tests.append(
                _volts(
                    f"P{len(tests) + 1:02d}",
                    BARE,
                    f"{net} while {feed.net} is fed{cause}",
                    (spot, _probe(circuit, ground)),
                    (least, feed.volts * (1 + SUPPLY_SHARE)),
                )
            )
    return tuple(tests)


def _fed(bundle: Bundle, feed: Feed) -> list[tuple[str, float, str]]:
    """The rails that must be up while *feed* is on: net, least volts, and through what."""
    low = feed.volts * (1 - SUPPLY_SHARE)
    found = [(feed.net, low, "")]
    tree = bundle.plan.power
    on_board = {net.name for net in bundle.board.nets}
    for step in tree.steps if tree is not None else ():
        if step.on_board and step.start == feed.net and step.end in on_board:
            drop = min(step.drop_v, DIODE_DROP_V) if not step.back else feed.amps * 5.0
            found.append((step.end, low - drop, f", through {step.through}"))
    return found


def _probe(circuit: Circuit, net: str) -> str:
    ranks = {"J1": 0, "U1": 1}
    return min((s for s in circuit.spots if s.net == net), key=lambda s: ranks.get(s.ref, 2)).name


def _volts(name: str, stage: str, label: str, spots: tuple[str, str], span: tuple[float, float]) -> Test:
    least, most = (round(v, 3) for v in span)
    words = f"{least:g} to {most:g} V"
    return Test(name, stage, VOLTS, label, words, spots[0], spots[1], least, most)


def usb_without_device(tree: PowerTree | None) -> float | None:
    """Return the steady current from USB with the module and without the device, A; None where not known."""
    if tree is None or tree.usb_a is None or not any(s.node == "USB" for s in tree.sources):
        return None
    return sum(
        load.amps * _ratio(tree.steps, load) for load in tree.loads if not load.name.startswith("the device")
    )


def _ratio(steps: tuple[Step, ...], load: Load) -> float:
    """Amperes at USB for each ampere of *load*; 0 where no way leads there from USB."""
    found, front = {"USB": 1.0}, ["USB"]
    while front:
        node = front.pop(0)
        for step in steps:
            if step.start == node and step.end not in found:
                found[step.end] = found[node] * step.ratio
                front.append(step.end)
    return found.get(load.node, 0.0)


def usb_limit(amps: float, radio: float) -> float:
    """Return the limit to set for first power with the module, A: half as much again, in steps of 50 mA."""
    return min(FULL_USB_A, math.ceil(round((amps * 1.5 + radio) / 0.05, 6)) * 0.05)


def powered_tests(bundle: Bundle, circuit: Circuit, stage: str) -> tuple[Test, ...]:
    """Return the rails to read with the module on USB, without (MODULE) or with the device (DEVICE)."""
    tree, letter = bundle.plan.power, {MODULE: "M", DEVICE: "D"}[stage]
    tests: list[Test] = []
    amps = usb_without_device(tree) if stage == MODULE else tree.usb_a if tree is not None else None
    if amps is not None and tree is not None:
        most = amps * 1.25 + tree.radio_a
        words = f"below {most * 1000:.3g} mA (computed: {amps * 1000:.3g} mA" + (
            f", a radio adds {tree.radio_a * 1000:.3g} mA in bursts)" if tree.radio_a else ")"
        )
        label = "current from USB" + (", device plugged in" if stage == DEVICE else "")
        tests.append(Test(f"{letter}01", stage, AMPS, label, words, least=0.0, most=round(most, 6)))
    own = {s.node for s in tree.sources if s.node != "USB"} if tree is not None else set()
    ground = _ground(bundle)
    supplies = {net.name for net in bundle.board.nets if net.kind is NetKind.SUPPLY}
    for node in tree.nodes if tree is not None else ():
        if not ground or node.name not in supplies or (stage == MODULE and node.name in own):
            continue
        spots = (_probe(circuit, node.name), _probe(circuit, ground))
        span = (
            min(node.least_v, node.volts * (1 - SUPPLY_SHARE)),
            max(node.most_v, node.volts * (1 + SUPPLY_SHARE)),
        )
        label = f"rail {node.name}" + (", device plugged in" if stage == DEVICE else "")
        tests.append(_volts(f"{letter}{len(tests) + 1:02d}", stage, label, spots, span))
    return tuple(tests)
