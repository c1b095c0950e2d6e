"""Hand-made footprints, a floorplan and netlists for the placement tests."""

from boardgen.board.model import Keepout, Net, NetKind, Part, PartKind, Placement, rectangle_outline
from boardgen.catalog.model import (
    Connector,
    FabClass,
    FaceContact,
    Gender,
    Module,
    ModulePin,
    Mounting,
    PinKind,
    SupplyPin,
)
from boardgen.circuit.model import CircuitPart, CircuitPin, Netlist
from boardgen.design.model import BoundDesign, Contact, ContactKind, Design, Enclosure, OutlineWish
from boardgen.floorplan.model import Floorplan
from boardgen.footprint.model import Footprint, Pad, PadKind, PadShape, PartLayer, Polygon
from boardgen.units import Box, Point, Size, mm, point_mm


def pad(number, x, y, size=1.6, hole=0.8):
    shape = PadShape.RECT if number == "1" else PadShape.CIRCLE
    return Pad(
        number, PadKind.PLATED, shape, point_mm(x, y), Size(mm(size), mm(size)), Size(mm(hole), mm(hole))
    )


def land(name, pads, left, top, right, bottom):
    box = Box(mm(left), mm(top), mm(right), mm(bottom))
    yard = Polygon(PartLayer.COURTYARD, box.corners(), mm(0.05))
    return Footprint(name, tuple(pads), (yard,))


RESISTOR = land("axial", [pad("1", 0, 0), pad("2", 10.16, 0)], -1.2, -1.6, 11.36, 1.6)
DISC = land("disc", [pad("1", -2.5, 0), pad("2", 2.5, 0)], -3.6, -1.5, 3.6, 1.5)
TO92 = land("to92", [pad("1", 0, 0), pad("2", 2.54, 0), pad("3", 5.08, 0)], -1.2, -2.5, 6.28, 2.8)
SMALL = (RESISTOR, DISC, TO92)
MODULE = land(
    "module",
    [pad(str(i + 1), -7.62, -8.89 + 2.54 * i) for i in range(8)]
    + [pad(str(i + 9), 7.62, -8.89 + 2.54 * i) for i in range(8)],
    -9.5, -11, 9.5, 11,
)  # fmt: skip
PLUG = land("plug", [pad(str(i + 1), 2.54 * i, 0) for i in range(10)], -2, -2, 24.9, 2)
HOLE = Footprint(
    "hole",
    (Pad("", PadKind.UNPLATED, PadShape.CIRCLE, point_mm(0, 0), *(Size(mm(3.2), mm(3.2)),) * 2),),
)  # fmt: skip

FAB = FabClass(
    "fab", "Fab", "", 2, True, mm(0.25), mm(0.15), mm(0.2), mm(0.15), mm(0.5), mm(0.15), mm(0.3), mm(6.3), (),
    mm(0.45), mm(0.6), mm(0.3), mm(0.6), mm(0.3), mm(0.25), mm(0.1), mm(0.05), True, mm(0.15), mm(0.8),
    mm(0.15), mm(0), mm(0.3), mm(0.4), mm(0.25), mm(0.25), mm(0.08), mm(0.2), mm(1.6), 35,
    Size(mm(10), mm(10)), Size(mm(400), mm(400)), "green", "white", "HASL", (),
)  # fmt: skip


def _module():
    supply = SupplyPin("5V", 5.0, "out", 2.0)
    pins = (
        ModulePin("1", "5V", PinKind.SUPPLY, supply=supply),
        ModulePin("2", "GND", PinKind.GROUND),
        *(ModulePin(str(n), f"GP{n}", PinKind.GPIO, (), True, True) for n in range(3, 17)),
    )
    body = Box(mm(-9), mm(-10.5), mm(9), mm(10.5))
    return Module("m", "M", "M", "", "X", "module", 3.3, pins, body, mm(10), None, (), ())


def _connector():
    contacts = tuple(FaceContact(str(n), point_mm(n, 0)) for n in range(1, 11))
    body = Box(mm(-2), mm(-2), mm(24.9), mm(2))
    return Connector(
        "c", "C", "row", Gender.PLUG, Mounting.STRAIGHT, "plug", contacts, (), None, body, mm(9),
        Size(mm(0), mm(0)), 1.0, "M", "P", "", (),
    )  # fmt: skip


def bound(load_a=0.0, fab=FAB):
    contacts = (Contact("1", "V", ContactKind.SUPPLY, rail="5V", current_a=load_a),)
    design = Design(
        "desk", "Desk", "A", "", "lecturer's desk", contacts, (), (), (), (), "m", "c", "fab", OutlineWish(),
        None, Enclosure(), (),
    )  # fmt: skip
    return BoundDesign(design, _module(), _connector(), fab)


def floorplan(width=60, height=50, keepouts=(), corner=0.0):
    outline = rectangle_outline(Box(mm(0), mm(0), mm(width), mm(height)), mm(corner))
    middle = width / 2
    hole = Part("H1", "", HOLE, Placement(point_mm(4, 4)), PartKind.HOLE)
    return Floorplan(
        outline,
        Placement(point_mm(middle, 12)),
        Placement(point_mm(middle - 11.43, height - 4)),
        (hole,),
        tuple(Keepout(ring, "test", True) for ring in keepouts),
        "top", "", 0.0, (),
    )  # fmt: skip


def circuit_part(ref, footprint, nets, kind=PartKind.COMPONENT, near=""):
    pins = tuple(CircuitPin(number, number, "passive", nets.get(number)) for number in footprint.numbers())
    return CircuitPart(ref, footprint.name, kind, footprint.name, footprint, pins, near=near)


def netlist(small, module_nets=None, plug_nets=None):
    """A netlist of module, plug and *small*, a list of (ref, footprint, nets, near)."""
    parts = [
        circuit_part("U1", MODULE, module_nets or {}, PartKind.MODULE),
        circuit_part("J1", PLUG, plug_nets or {}, PartKind.CONNECTOR),
        *(circuit_part(ref, footprint, nets, near=near) for ref, footprint, nets, near in small),
    ]
    names = sorted({pin.net for part in parts for pin in part.pins if pin.net})
    kinds = {"GND": NetKind.GROUND, "5V": NetKind.SUPPLY}
    nets = tuple(
        Net(name, kinds.get(name, NetKind.SIGNAL), kinds.get(name, NetKind.SIGNAL).value) for name in names
    )
    return Netlist(tuple(parts), nets, (), "")


def square(x, y, size):
    return tuple(Point(mm(a), mm(b)) for a, b in ((x, y), (x + size, y), (x + size, y + size), (x, y + size)))
