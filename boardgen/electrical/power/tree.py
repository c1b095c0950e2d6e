"""The power tree of a plan: what feeds what, how much flows, and what is wrong with it."""

from __future__ import annotations

from collections.abc import Mapping, Set
from dataclasses import replace

from boardgen.catalog.model import Module
from boardgen.catalog.power import Power, Regulator
from boardgen.design.model import BoundDesign
from boardgen.electrical.draft import Draft
from boardgen.electrical.incoming import Incoming
from boardgen.electrical.power.bulk import charged_uf, fit_bulk
from boardgen.electrical.power.flow import currents, feeding, spans
from boardgen.electrical.power.model import Heat, Load, Node, PowerTree, Source, Step
from boardgen.electrical.power.paths import back_paths
from boardgen.electrical.power.verdicts import power_findings
from boardgen.electrical.rails import find_rail, given_rails, logic_rail
from boardgen.electrical.supplies import Outgoing

USB = "USB"
USB_VOLTS, USB_LEAST_V, USB_MOST_V, USB_LIMIT_A = 5.0, 4.40, 5.25, 0.5  # USB 2.0, section 7.2.2 and 7.3.2
OWN_TOLERANCE = 0.1  # of a supply of the device's own, where nobody measured it
AMBIENT_C = 40.0  # inside a closed case
DEFAULT_EFFICIENCY = 0.8  # of a switching regulator whose entry states none
DECLARED_STEP_MA = 10  # the declared current is rounded up to this


def plan_power(
    bound: BoundDesign,
    draft: Draft,
    supplies: Mapping[str, Outgoing],
    incoming: tuple[Incoming, ...],
) -> PowerTree:
    """Return the tree of everything the plan hangs on the module's rails; findings go to *draft*.

    *supplies* are the rails the board gives and *incoming* the device's own
    supplies that feed the module. Call it when every signal is planned.
    """
    module = bound.module
    outgoing = tuple(dict.fromkeys(supplies.values()))
    assumed: list[str] = []
    power = module.power
    if power is None:
        assumed.append(
            f"the catalogue does not say how {module.name} is fed: USB is taken to be joined to its 5 V rail"
        )
    sources = (
        Source(USB, USB, USB_VOLTS, USB_LEAST_V, USB_MOST_V, USB_LIMIT_A),
        *(_own_source(item) for item in incoming),
    )
    if incoming:
        assumed.append(f"the device's own supply is taken to be within {OWN_TOLERANCE:.0%}")
    steps = (*_module_steps(module, power, assumed), *_board_steps(outgoing, incoming))
    loads = _loads(module, power, draft, outgoing, assumed)
    steps = _at_load(power, sources, steps, loads, assumed)
    nodes = _nodes(module, sources, steps, loads, outgoing)
    fed = {node.name for node in nodes}
    regulators = tuple(r for r in power.regulators if r.input_rail in fed) if power is not None else ()
    drawn = {node.name: node.amps for node in nodes}
    usb_a = drawn.get(USB, 0.0) if power is not None else None
    charged = _charged_nets(draft, outgoing, steps)
    bulk = fit_bulk(draft, charged, power.usb_uf or 0.0) if power is not None else ()
    tree = PowerTree(
        sources=sources,
        steps=steps,
        loads=loads,
        nodes=nodes,
        back_paths=back_paths(sources, steps),
        heats=tuple(_heat(r, nodes) for r in regulators),
        usb_a=usb_a,
        usb_ma=None if usb_a is None else _declared(usb_a),
        radio_a=max(0.0, (power.radio_draw_a or 0.0) - power.draw_a) if power is not None else 0.0,
        inrush_uf=_inrush(module, power, draft, charged, assumed),
        assumed=tuple(assumed),
        bulk=bulk,
    )
    draft.findings.extend(power_findings(bound, tree, regulators, incoming))
    return tree


def _own_source(item: Incoming) -> Source:
    name = f"the device's supply at contact {item.contact.number}"
    low, high = item.volts * (1 - OWN_TOLERANCE), item.volts * (1 + OWN_TOLERANCE)
    return Source(name, item.net, item.volts, low, high, item.contact.current_a)


def _module_steps(module: Module, power: Power | None, assumed: list[str]) -> tuple[Step, ...]:
    if power is None:
        rails = [r.name for r in given_rails(module) if abs(r.volts - USB_VOLTS) < 0.3]
        steps = [Step(USB, name, "the module's own wire", True) for name in rails]
        logic = logic_rail(module)
        if logic is not None and rails and logic.name not in rails:
            steps.append(Step(rails[0], logic.name, "the module's regulator", True))
        return tuple(steps)
    found = [Step(p.source, p.target, f"the module's {p.by}", not p.blocks, p.drop_v) for p in power.paths]
    for regulator in power.regulators:
        ratio = 1.0
        if regulator.kind == "switching":
            efficiency = regulator.efficiency or DEFAULT_EFFICIENCY
            if regulator.efficiency is None:
                assumed.append(f"{regulator.part} is taken to be {efficiency:.0%} efficient")
            ratio = regulator.output_v / (USB_LEAST_V * efficiency)
        # from its output a regulator feeds its input through its body diode: no block for a way back
        name = f"the regulator {regulator.part}" if regulator.part else "the module's regulator"
        drop = 0.0 if regulator.kind == "switching" else (regulator.dropout_v or 0.0)
        held = regulator.output_v
        found.append(Step(regulator.input_rail, regulator.output_rail, name, True, drop, ratio, holds=held))
    return tuple(found)


def _at_load(
    power: Power | None,
    sources: tuple[Source, ...],
    steps: tuple[Step, ...],
    loads: tuple[Load, ...],
    assumed: list[str],
) -> tuple[Step, ...]:
    """Return *steps* with the dropout of linear regulators at the current that really flows."""
    if power is None:
        return steps
    amps: dict[str, float] = {}
    for source in sources:
        for name, value in currents(feeding(steps, source.node), loads).items():
            amps[name] = max(amps.get(name, 0.0), value)
    there = {(r.input_rail, r.output_rail): r for r in power.regulators if r.kind != "switching"}
    found = []
    for step in steps:
        regulator = there.get((step.start, step.end))
        if regulator is None or step.on_board or not regulator.dropout_v:
            found.append(step)
            continue
        load = amps.get(step.end, 0.0)
        stated = regulator.dropout_at_a
        if regulator.dropout_least_v is None and step.start in amps and stated is not None and load < stated:
            assumed.append(
                f"{step.through} is taken to need {regulator.dropout_v:g} V at {load * 1000:.0f} mA too, "
                f"as stated for {stated:g} A: no source says less"
            )
        found.append(replace(step, drop_v=regulator.dropout(load)))
    return tuple(found)


def _board_steps(outgoing: tuple[Outgoing, ...], incoming: tuple[Incoming, ...]) -> tuple[Step, ...]:
    found = [
        Step(out.rail.name, out.contact_net, out.fuse, True, out.fuse_ohms * out.load_a, on_board=True)
        for out in outgoing
        if out.contact_net != out.rail_net
    ]
    found += [Step(item.net, item.rail, item.diode, False, item.drop_v, on_board=True) for item in incoming]
    return tuple(found)


def _loads(
    module: Module,
    power: Power | None,
    draft: Draft,
    outgoing: tuple[Outgoing, ...],
    assumed: list[str],
) -> tuple[Load, ...]:
    loads: list[Load] = []
    logic = logic_rail(module)
    if power is not None:
        what = "the module, radio off" if power.radio_draw_a else "the module"
        loads.append(Load(logic.name if logic is not None else USB, what, power.draw_a))
    given = {out.rail_net: out for out in outgoing}
    for out in outgoing:
        node = out.contact_net if out.contact_net != out.rail_net else out.rail.name
        loads.append(Load(node, f"the device on {out.rail.name}", out.load_a))
    for rail, net in draft.rail_nets.items():
        out_a = given[net].load_a if net in given else 0.0
        rest = draft.nets[net].current_a - out_a
        if rest > 1e-6:
            loads.append(Load(rail, "pull-ups and chips on the board", rest))
    if any(load.amps == 0.0 for load in loads):
        assumed.append(
            "a supply contact without current_a is taken to feed nothing but what the design lists"
        )
    return tuple(loads)


def _nodes(
    module: Module,
    sources: tuple[Source, ...],
    steps: tuple[Step, ...],
    loads: tuple[Load, ...],
    outgoing: tuple[Outgoing, ...],
) -> tuple[Node, ...]:
    names = list(dict.fromkeys([s.node for s in sources] + [n for s in steps for n in (s.start, s.end)]))
    volts: dict[str, tuple[float, float]] = {}
    amps: dict[str, float] = {}
    for source in sources:
        order = feeding(steps, source.node)
        through = currents(order, loads)
        for name, (least, most) in spans(order, source).items():
            old = volts.get(name, (least, most))
            volts[name] = (min(old[0], least), max(old[1], most))
            amps[name] = max(amps.get(name, 0.0), through.get(name, 0.0))
    outside = {out.rail.name: out.load_a for out in outgoing}
    found = []
    for name in names:
        if name not in volts:
            continue
        rail = find_rail(module, name)
        least, most = volts[name]
        nominal = rail.volts if rail is not None else _nominal(module, sources, steps, name, most)
        budget = rail.budget_a if rail is not None else None
        found.append(Node(name, nominal, least, most, amps.get(name, 0.0), outside.get(name, 0.0), budget))
    return tuple(found)


def _nominal(
    module: Module, sources: tuple[Source, ...], steps: tuple[Step, ...], name: str, most: float
) -> float:
    """Return what a node that is no rail of the module is called by: its source's volts, or its feeder's."""
    own = next((s.volts for s in sources if s.node == name), None)
    if own is not None:
        return own
    for step in steps:
        if step.end == name:
            rail = find_rail(module, step.start)
            volts = step.holds if step.holds is not None else rail.volts if rail is not None else None
            if volts is not None:
                return volts
    return most


def _heat(regulator: Regulator, nodes: tuple[Node, ...]) -> Heat:
    by_name = {node.name: node for node in nodes}
    into, out = by_name.get(regulator.input_rail), by_name.get(regulator.output_rail)
    amps = out.amps if out is not None else 0.0
    name = regulator.part or f"the {regulator.output_rail} regulator"
    if regulator.kind == "switching":
        efficiency = regulator.efficiency or DEFAULT_EFFICIENCY
        watts = regulator.output_v * amps * (1 / efficiency - 1)
    else:
        high = into.most_v if into is not None else USB_MOST_V
        watts = max(0.0, high - regulator.output_v) * amps
    theta = regulator.theta_ja_k_per_w
    junction = None if theta is None else AMBIENT_C + theta * watts
    return Heat(name, watts, junction, regulator.junction_max_c)


def _declared(amps: float) -> int:
    """Milliamperes to declare: whole steps, upward; the descriptor counts in 2 mA."""
    steps = -(-round(amps * 1e6) // (DECLARED_STEP_MA * 1000))
    return int(steps * DECLARED_STEP_MA)


def _inrush(
    module: Module,
    power: Power | None,
    draft: Draft,
    nets: Set[str],
    assumed: list[str],
) -> float | None:
    """Capacitance charged when USB is plugged in: the module's, and ours on *nets*.

    Where no source states the module's, the board's own is counted and that is said.
    """
    if power is None:
        return None
    ours = charged_uf(draft, nets)
    if power.usb_uf is None:
        assumed.append(
            f"what {module.name} itself puts across USB is not known: the {ours:.3g} uF charged when "
            "it is plugged in are the board's own, those of the module and the device come on top"
        )
        return ours
    return power.usb_uf + ours


def _charged_nets(draft: Draft, outgoing: tuple[Outgoing, ...], steps: tuple[Step, ...]) -> set[str]:
    """Return the nets that USB charges at once: those joined to it without a regulator between."""
    joined = {USB}
    for step in feeding(steps, USB):
        if step.start in joined and step.holds is None:
            joined.add(step.end)
    nets = {draft.rail_nets[rail] for rail in joined if rail in draft.rail_nets}
    return nets | {out.contact_net for out in outgoing if out.rail.name in joined}
