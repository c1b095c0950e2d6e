"""A hand-made design, plan and pin map for the netlist tests."""

from boardgen.board.model import NetKind
from boardgen.catalog.model import (
    Component,
    Connector,
    FaceContact,
    Gender,
    Module,
    ModulePin,
    Mounting,
    PinKind,
    SupplyPin,
)
from boardgen.circuit.model import PinChoice, PinMap
from boardgen.design.model import BoundDesign, Contact, ContactKind, Design, Enclosure, OutlineWish
from boardgen.electrical.model import ElectricalPlan, PinRequest, PlannedNet, PlannedPart
from boardgen.footprint.model import Footprint, Pad, PadKind, PadShape
from boardgen.units import Box, Size, mm, point_mm

BOX = Box(mm(-10), mm(-10), mm(10), mm(10))


def footprint(name):
    count = {"module": 12, "plug": 5, "axial": 2}[name]
    numbers = [str(n + 1) for n in range(count)] + (["S", "S"] if name == "plug" else [])
    size, hole = Size(mm(1.6), mm(1.6)), Size(mm(0.8), mm(0.8))
    pads = (
        Pad(number, PadKind.PLATED, PadShape.CIRCLE, point_mm(2.54 * i, 0), size, hole)
        for i, number in enumerate(numbers)
    )
    return Footprint(name, tuple(pads))


def supply(number, rail, volts, role="out"):
    return ModulePin(number, rail, PinKind.SUPPLY, supply=SupplyPin(rail, volts, role))


MODULE = Module(
    "m", "Module", "M-1", "a module", "X", "module", 3.3,
    (
        supply("1", "3V3", 3.3),
        supply("2", "5V", 5.0),
        ModulePin("3", "GND", PinKind.GROUND),
        ModulePin("4", "GND", PinKind.GROUND),
        ModulePin("5", "RUN", PinKind.CONTROL),
        ModulePin("6", "NC", PinKind.UNUSED),
        supply("7", "3V3", 3.3),
        *(ModulePin(str(n), f"GP{n}", PinKind.GPIO, (), True, True) for n in range(8, 13)),
    ),
    BOX, mm(10), None, (), (),
)  # fmt: skip
PLUG = Connector(
    "c", "Plug", "row", Gender.PLUG, Mounting.STRAIGHT, "plug",
    tuple(FaceContact(str(n), point_mm(n, 0)) for n in range(1, 6)), ("S",), None, BOX, mm(9),
    Size(mm(0), mm(0)), 1.0, "Maker", "PL-5", "a plug", (),
)  # fmt: skip
RESISTOR = Component(
    "r", "resistor", "Resistor", "", "axial", (("a", "1"), ("b", "2")), (), "Maker", "RES-*", "", ()
)
CONTACTS = (
    Contact("1", "ROW0", ContactKind.ROW),
    Contact("2", "COL0", ContactKind.COLUMN),
    Contact("3", "VCC", ContactKind.SUPPLY, rail="3V3"),
    Contact("4", "0V", ContactKind.GROUND),
    Contact("5", "spare", ContactKind.UNUSED),
)


def bound():
    design = Design(
        "desk", "Desk", "A", "", "lecturer's desk", CONTACTS, (), (), (), (), "m", "c", "f", OutlineWish(),
        None, Enclosure(), (),
    )  # fmt: skip
    return BoundDesign(design, MODULE, PLUG, None)


def plan(module_nets=None):
    nets = (
        PlannedNet("GND", NetKind.GROUND),
        PlannedNet("3V3", NetKind.SUPPLY, 0.1),
        PlannedNet("ROW0", NetKind.SIGNAL),
        PlannedNet("COL0", NetKind.SIGNAL),
    )
    part = PlannedPart("R1", RESISTOR, "4.7k", (("1", "3V3"), ("2", "ROW0")), "1", "pulls ROW0 up")
    contacts = (("1", "ROW0"), ("2", "COL0"), ("3", "3V3"), ("4", "GND"), ("5", None), ("S", "GND"))
    grounds = (("1", "3V3"), ("3", "GND"), ("4", "GND"), ("7", "3V3"))
    return ElectricalPlan((), nets, (part,), (), contacts, module_nets or grounds, ())


def pinmap():
    rows = (("ROW0", "8", True, False), ("COL0", "12", False, True))
    choices = tuple(
        PinChoice(PinRequest(name, name, reads, drives), number, f"GP{number}", False, "")
        for name, number, reads, drives in rows
    )
    return PinMap(choices, (), 0.0, 0.0, 0)
