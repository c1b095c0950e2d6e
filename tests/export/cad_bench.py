"""Boards for the CAD project's tests: real catalogue parts in a plain hand-made placement, no tracks."""

from __future__ import annotations

from dataclasses import replace

from boardgen.board.model import (
    Board,
    LegendText,
    Net,
    NetClass,
    Part,
    PartKind,
    Placement,
    Pour,
    PourPiece,
    Side,
    Track,
    rectangle_outline,
)
from boardgen.catalog.load import load_catalog
from boardgen.circuit.build import build_netlist
from boardgen.circuit.model import CircuitPart, CircuitPin, PinChoice, PinMap
from boardgen.design.model import BoundDesign, Contact, ContactKind, Design, Direction, Enclosure, OutlineWish
from boardgen.electrical.model import PlannedPart
from boardgen.electrical.plan import plan_signals
from boardgen.export.bundle import Bundle
from boardgen.floorplan.model import Floorplan
from boardgen.units import Box, mm, point_mm

K = ContactKind


def keypad_contacts():
    rows = [Contact(str(n + 1), f"ROW{n}", K.ROW) for n in range(8)]
    columns = [Contact(str(n + 14), f"COL{n}", K.COLUMN) for n in range(5)]
    return (*rows, *columns, Contact("13", "GND", K.GROUND), Contact("25", "SHIELD", K.SHIELD))


def remote_contacts():
    made = [Contact(str(n), f"KEY{n}", K.SWITCH) for n in range(1, 13)]
    made += [Contact(str(n + 14), f"LAMP{n}", K.LAMP, rail="5V", current_a=0.08) for n in range(4)]
    made += [Contact("19", "LEVEL", K.ANALOG, ohms=10000.0)]
    made += [Contact("20", "CLOCK", K.DIGITAL, Direction.OUT), Contact("21", "DATA", K.DIGITAL, Direction.IN)]
    return (*made, Contact("13", "GND", K.GROUND), Contact("25", "5V", K.SUPPLY, rail="5V", current_a=0.4))


def bundle(
    contacts=None, module="pico-2", connector="dsub-25-socket-right-angle", fab="economy-2l", side=Side.TOP
):
    """The module left, the connector right, small parts in rows below, all unrouted."""
    catalog = load_catalog()
    design = Design(
        "bench", "Bench board", "A", "A board to test with", "a lecturer's desk",
        contacts or keypad_contacts(), (), (), (), (), module, connector, fab,
        OutlineWish(), None, Enclosure(), (),
        supply_fuse=True,
    )  # fmt: skip
    bound = BoundDesign(design, catalog.module(module), catalog.connector(connector), catalog.fab(fab))
    plan = plan_signals(bound, catalog)
    taken = dict(plan.module_nets)
    free = [p for p in bound.module.pins if p.kind == "gpio" and p.number not in taken]
    free.sort(key=lambda pin: pin.analog)
    choices = []
    for request in plan.requests:
        pin = next(p for p in free if p.analog or not request.analog)
        free.remove(pin)
        choices.append(PinChoice(request, pin.number, pin.name, False, "the next free one"))
    pinmap = PinMap(tuple(choices), (), 0.0, 0.0, 0)
    netlist = build_netlist(bound, plan, pinmap, catalog.footprint)
    parts, x, y = [], 10.0, 100.0
    for item in netlist.parts:
        at, turn, face = point_mm(40, 40), 0.0, Side.TOP
        if item.kind is PartKind.CONNECTOR:
            at, turn, face = point_mm(110, 40), 0.0, side
        elif item.kind is PartKind.COMPONENT:
            at, turn, face = point_mm(x, y), 0.0 if side is Side.TOP else 90.0, side
            x += 15.0
            if x > 150:
                x, y = 10.0, y + 15.0
        nets = tuple(sorted((pin.number, pin.net) for pin in item.pins if pin.net is not None))
        parts.append(
            Part(item.ref, item.value, item.footprint, Placement(at, turn, face), item.kind, nets, item.entry)
        )
    outline = rectangle_outline(Box(mm(0), mm(0), mm(160), mm(150)), mm(2))
    classes = (
        NetClass("signal", bound.fab.track, bound.fab.gap),
        NetClass("supply", bound.fab.supply_track, bound.fab.gap),
        NetClass("ground", bound.fab.supply_track, bound.fab.gap),
    )
    copper = (Side.TOP, Side.BOTTOM) if bound.fab.copper_layers == 2 else (Side.BOTTOM,)
    board = Board(
        "bench", "A", "Bench board", outline, tuple(parts), netlist.nets, classes,
        legend=(
            LegendText(Side.TOP, "Bench board A", point_mm(80, 90), mm(2), mm("0.3")),
            LegendText(Side.BOTTOM, "solder side", point_mm(80, 90), mm("1.5"), mm("0.2"), 90.0),
        ) if bound.fab.legend else (),
        copper=copper, plated=bound.fab.plated, thickness=bound.fab.thickness,
    )  # fmt: skip
    floorplan = Floorplan(
        outline, Placement(point_mm(40, 40)), Placement(point_mm(110, 40)), (), (), "", "", 0.0, ()
    )
    return Bundle(bound, plan, floorplan, pinmap, netlist, board, (), "boardgen test")


def with_odd_parts(made: Bundle) -> Bundle:
    """Circuits no plan draws today: an indicator, a divider, a switch with two loads, a four-pin part."""
    catalog = load_catalog()
    resistor, led = catalog.component("resistor-axial-quarter"), catalog.component("led-3mm")
    diode, npn = catalog.component("diode-1n5819"), catalog.component("transistor-2n3904")
    rail = next(use.net for use in made.plan.rails)
    extra = [
        ("R101", resistor, {"a": rail, "b": "GLOW"}),
        ("D101", led, {"anode": "GLOW", "cathode": "GND"}),
        ("R102", resistor, {"a": "SENSE", "b": "HALF"}),
        ("R103", resistor, {"a": "HALF", "b": "GND"}),
        ("R104", resistor, {"a": "SENSE", "b": "FAR"}),
        ("R105", resistor, {"a": "HALF", "b": "FAR"}),
        ("R106", resistor, {"a": rail, "b": "OUT"}),
        ("D102", diode, {"anode": "OUT", "cathode": rail}),
        ("Q101", npn, {"base": "FAR", "collector": "OUT", "emitter": "GND"}),
        ("Q102", npn, {"base": "OUT", "collector": "LOOSE_1", "emitter": "LOOSE_2"}),
        ("R107", resistor, {"a": "LOOSE_1", "b": "LOOSE_2"}),
        ("R108", resistor, {"a": rail, "b": "GND"}),
        ("R109", resistor, {"a": "NOWHERE", "b": "GND"}),
    ]
    parts, planned, placed = list(made.netlist.parts), list(made.plan.parts), list(made.board.parts)
    for place, (ref, component, functions) in enumerate(extra):
        nets = {component.pad(function): net for function, net in functions.items()}
        land = catalog.footprint(component.footprint)
        pins = tuple(CircuitPin(pad, name, "passive", nets.get(pad)) for name, pad in component.pins)
        parts.append(CircuitPart(ref, component.value or "10k", PartKind.COMPONENT, component.id, land, pins))
        rows = tuple(sorted(nets.items()))
        planned.append(PlannedPart(ref, component, component.value or "10k", rows))
        at = Placement(point_mm(10 + 15 * (place % 10), 130 + 12 * (place // 10)))
        # a net of one pin joins nothing: the board leaves that pad open, as the sheet does
        rows = tuple(row for row in rows if row[1] != "NOWHERE")
        placed.append(Part(ref, component.value or "10k", land, at, PartKind.COMPONENT, rows))
    known = {net.name for net in made.netlist.nets}
    names = sorted({net for _, _, functions in extra for net in functions.values()} - known - {"NOWHERE"})
    nets_ = (*made.netlist.nets, *(Net(name) for name in names))
    return replace(
        made,
        plan=replace(made.plan, parts=tuple(planned)),
        netlist=replace(made.netlist, parts=tuple(parts), nets=nets_),
        board=replace(made.board, parts=tuple(placed), nets=nets_),
    )


def with_copper(made: Bundle) -> Bundle:
    """One straight track between two pads of a net, and a square pour with a hole in it on the bottom."""
    board = made.board
    part = board.part("U1")
    pads = {pad.number: part.placement.place(pad.at) for pad in part.footprint.pads}
    number, net = next((n, net) for n, net in part.nets if net == "GND")
    at = pads[number]
    track = Track(net, Side.BOTTOM, at, point_mm(at.x.mm, 5), mm("0.5"))
    ring = (point_mm(2, 2), point_mm(158, 2), point_mm(158, 12), point_mm(2, 12))
    hole = (point_mm(60, 4), point_mm(70, 4), point_mm(70, 9), point_mm(60, 9))
    pour = Pour(
        "GND", Side.BOTTOM, ring, (PourPiece(ring, (hole,)),), mm("0.3"), mm("0.25"), mm("0.3"), mm("0.4")
    )
    return replace(made, board=board.with_copper(tracks=(track,), pours=(pour,)))


__all__ = ["Board", "bundle", "keypad_contacts", "remote_contacts", "with_copper", "with_odd_parts"]
