"""Which way each supply current takes on the board: nets in series, parts between them, the way back.

Read from the electrical plan; nothing here looks at copper.
"""

from __future__ import annotations

from dataclasses import dataclass

from boardgen.board.model import Board, NetKind, PartKind
from boardgen.design.model import BoundDesign, ContactKind
from boardgen.electrical.model import ElectricalPlan, PlannedPart, RailUse, SignalPlan
from boardgen.electrical.rails import find_rail, load_rail
from boardgen.measure.model import Load, Terminal

LEAST_A = 1e-6  # A; smaller currents are not followed
DIODE_V = 0.45  # a Schottky diode's forward voltage, where its entry states none
FEEDS = "feeds the module"  # the way of a supply the device brings, as the plan words it


@dataclass(frozen=True, slots=True)
class Hop:
    """One net that carries current from *sources* to *loads*; *scene* says when, "" for the common case."""

    net: str
    sources: tuple[Terminal, ...]
    loads: tuple[Load, ...]
    scene: str = ""


@dataclass(frozen=True, slots=True)
class Way:
    """How one load is fed: *legs* are (net, load terminal) in series, *back* is where it enters ground."""

    rail: str
    volts: float
    load: str
    amps: float
    legs: tuple[tuple[str, Terminal], ...]
    back: tuple[Terminal, ...]
    part_volts: float
    scene: str = ""


@dataclass(frozen=True, slots=True)
class Ways:
    """Every hop to measure, each net once a scene, and the ways made of them."""

    hops: tuple[Hop, ...]
    ways: tuple[Way, ...]
    ground: str


class _Planner:
    """Gathers hops and ways; local to one call."""

    def __init__(self, board: Board, bound: BoundDesign, plan: ElectricalPlan) -> None:
        self.bound, self.plan = bound, plan
        self.module = next((p for p in board.parts if p.kind is PartKind.MODULE), None)
        self.connector = next((p for p in board.parts if p.kind is PartKind.CONNECTOR), None)
        self.ground = next((n.name for n in board.nets if n.kind is NetKind.GROUND), "")
        self.amps = {net.name: net.current_a for net in plan.nets}
        self.parts = {part.ref: part for part in plan.parts}
        self.hops: list[Hop] = []
        self.ways: list[Way] = []
        self.into_ground: dict[Terminal, float] = {}

    def module_pads(self, net: str) -> tuple[Terminal, ...]:
        if self.module is None:
            return ()
        return tuple(Terminal(self.module.ref, pad) for pad, name in self.module.nets if name == net)

    def contact(self, signal: SignalPlan) -> Terminal:
        return Terminal("" if self.connector is None else self.connector.ref, signal.contact.number)

    def between(self, first: str, second: str) -> PlannedPart | None:
        """Return the part in series between two nets."""
        for part in self.plan.parts:
            if {first, second} <= {net for _, net in part.nets}:
                return part
        return None

    def give_back(self, terminals: tuple[Terminal, ...], amps: float) -> None:
        for terminal in terminals:
            share = amps / len(terminals)
            self.into_ground[terminal] = self.into_ground.get(terminal, 0.0) + share

    def ground_contacts(self) -> tuple[Terminal, ...]:
        for kind in (ContactKind.GROUND, ContactKind.SHIELD):
            found = tuple(self.contact(s) for s in self.plan.signals if s.contact.kind is kind and s.net)
            if found:
                return found
        return ()

    def rail(self, use: RailUse) -> None:
        outs = [s for s in self.plan.signals if s.way == "rail" and s.module_net == use.net]
        sources = self.module_pads(use.net)
        if not outs or not sources:
            return
        net = outs[0].net
        given = _shared([s.contact.current_a for s in outs], use.load_a)
        contacts = [
            Load(t.ref, t.pad, amps, s.contact.signal)
            for s, t, amps in zip(outs, map(self.contact, outs), given, strict=True)
        ]
        chips = self.chips(use)
        legs: tuple[tuple[str, Terminal], ...] = ()
        part_volts = 0.0
        if net == use.net:
            self.hop(use.net, sources, [*contacts, *chips])
        else:
            series = self.between(use.net, net)
            if series is None:
                return
            pads = {name: Terminal(series.ref, pad) for pad, name in series.nets}
            part_volts = dict(series.component.figures).get("max_ohms", 0.0) * use.load_a
            first = pads[use.net]
            self.hop(use.net, sources, [Load(first.ref, first.pad, use.load_a, series.ref), *chips])
            self.hop(net, (pads[net],), contacts)
            legs = ((use.net, first),)
        ways = [(load, (*legs, (net, load.terminal))) for load in contacts]
        switched = [s for s in self.plan.signals if s.way.endswith(" driver") and self.hangs_on(s, use)]
        drawn = sum(self.amps.get(s.net, 0.0) for s in switched)
        own = max(0.0, use.load_a - drawn)
        back = self.ground_contacts() if own > LEAST_A else ()
        self.give_back(back, own)
        for load, way in ways:
            name = f"contact {load.pad}"
            if load.amps > LEAST_A:
                self.ways.append(Way(use.rail, use.volts, name, load.amps, way, back, part_volts))
        for chip in chips:
            there = ((use.net, chip.terminal),)
            self.ways.append(
                Way(use.rail, use.volts, chip.what, chip.amps, there, self.ground_of(chip.ref), 0.0)
            )
            self.give_back(self.ground_of(chip.ref), chip.amps)
        for signal in switched:
            self.switched(use, signal, ways[0][1], part_volts)

    def chips(self, use: RailUse) -> list[Load]:
        """What chips on the board take from the rail itself, shared evenly."""
        rest = self.amps.get(use.net, 0.0) - use.load_a
        found = [
            (part.ref, pad)
            for part in self.plan.parts
            for function, pad in part.component.pins
            if function == "supply" and dict(part.nets).get(pad) == use.net
        ]
        if rest <= LEAST_A:
            return []
        return [Load(ref, pad, rest / len(found), ref) for ref, pad in found]

    def ground_of(self, ref: str) -> tuple[Terminal, ...]:
        """Where a chip's current enters ground."""
        part = self.parts[ref]
        return tuple(
            Terminal(ref, pad)
            for function, pad in part.component.pins
            if function == "ground" and dict(part.nets).get(pad) == self.ground
        )

    def hangs_on(self, signal: SignalPlan, use: RailUse) -> bool:
        rail = find_rail(self.bound.module, load_rail(self.bound.design, signal.contact))
        return rail is not None and rail.name == use.rail

    def switched(
        self, use: RailUse, signal: SignalPlan, way: tuple[tuple[str, Terminal], ...], part_volts: float
    ) -> None:
        """Add a lamp, relay or buzzer: fed by the rail's contact, back through its own and the driver."""
        amps = self.amps.get(signal.net, 0.0)
        driver = next(
            (
                self.parts[ref]
                for ref in signal.parts
                if ref in self.parts and {signal.net, self.ground} <= {n for _, n in self.parts[ref].nets}
            ),
            None,
        )
        if driver is None or amps <= LEAST_A:
            return
        pads = {name: Terminal(driver.ref, pad) for pad, name in driver.nets}
        end = self.contact(signal)
        self.hop(signal.net, (pads[signal.net],), [Load(end.ref, end.pad, amps, signal.contact.signal)])
        figures = dict(driver.component.figures)
        lost = figures.get("vce_sat_max_v", figures.get("rds_on_ohm", 0.0) * amps)
        back = (pads[self.ground],)
        self.give_back(back, amps)
        name = f"{signal.contact.signal} at contact {end.pad}"
        legs = (*way, (signal.net, end))
        self.ways.append(Way(use.rail, use.volts, name, amps, legs, back, part_volts + lost))

    def feeding(self) -> None:
        """Add the device's supplies that feed the module, each through its diode.

        Copper loses the same whichever way current runs, so the module's pins
        stand as the one source, as everywhere.
        """
        feeds: dict[str, list[SignalPlan]] = {}
        for signal in self.plan.signals:
            if signal.way == FEEDS:
                feeds.setdefault(signal.net, []).append(signal)
        tree = self.plan.power
        drawn = {} if tree is None else {node.name: node.amps for node in tree.nodes}
        given = {} if tree is None else {source.node: source.volts for source in tree.sources}
        for net, signals in feeds.items():
            rail_net, amps = signals[0].module_net, drawn.get(net, 0.0)
            diode = self.between(net, rail_net)
            if diode is None or amps <= LEAST_A or net not in given:
                continue
            pads = {name: Terminal(diode.ref, pad) for pad, name in diode.nets}
            into, out = pads[net], pads[rail_net]
            scene = f"fed through {diode.ref}"
            contacts = tuple(self.contact(signal) for signal in signals)
            back = self.ground_contacts()
            self.hop(net, contacts, [Load(into.ref, into.pad, amps, diode.ref)], scene)
            pins = self.module_pads(rail_net)
            self.hop(rail_net, pins, [Load(out.ref, out.pad, amps, diode.ref)], scene)
            returned = [Load(t.ref, t.pad, amps / len(back)) for t in back]
            self.hop(self.ground, self.module_pads(self.ground), returned, scene)
            lost = dict(diode.component.figures).get("vf_v", DIODE_V)
            legs = ((net, into), (rail_net, out))
            name = f"the module, {scene}"
            self.ways.append(Way(rail_net, given[net], name, amps, legs, back, lost, scene))

    def hop(self, net: str, sources: tuple[Terminal, ...], loads: list[Load], scene: str = "") -> None:
        drawing = tuple(load for load in loads if load.amps > LEAST_A)
        if drawing and sources:
            self.hops.append(Hop(net, sources, drawing, scene))


def _shared(stated: list[float | None], total: float) -> list[float]:
    """Return *total* amperes shared out as stated, or evenly where nothing is."""
    known = sum(amps or 0.0 for amps in stated)
    if known > 0:
        return [total * (amps or 0.0) / known for amps in stated]
    return [total / len(stated)] * len(stated)


def supply_ways(board: Board, bound: BoundDesign, plan: ElectricalPlan) -> Ways:
    """Return the ways of all supply currents from the module to the device and back to the module's ground.

    Contacts of one rail share its current as the design states it. What the
    device returns comes back evenly on its ground contacts, what a driver
    switches at the driver.
    """
    planner = _Planner(board, bound, plan)
    for use in plan.rails:
        planner.rail(use)
    back = [Load(t.ref, t.pad, amps) for t, amps in planner.into_ground.items()]
    planner.hop(planner.ground, planner.module_pads(planner.ground), back)
    planner.feeding()
    return Ways(tuple(planner.hops), tuple(planner.ways), planner.ground)
