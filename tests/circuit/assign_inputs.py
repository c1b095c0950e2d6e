"""Hand-made modules, connectors and designs for the pin-assignment tests."""

from types import SimpleNamespace

from boardgen.board.model import Placement, outline_from_ring
from boardgen.catalog.model import (
    Connector,
    Gender,
    Module,
    ModulePin,
    Mounting,
    PinKind,
    Source,
)
from boardgen.design.model import BoundDesign, Design, Enclosure, OutlineWish
from boardgen.electrical.model import ElectricalPlan, PinRequest
from boardgen.floorplan.model import Floorplan
from boardgen.footprint.model import Footprint, Pad, PadKind, PadShape
from boardgen.units import ORIGIN, ZERO, Box, Point, Size, mm

BOX = Box(mm(-5), mm(-5), mm(5), mm(5))
SOURCE = (Source("made for the tests"),)


def gpio(number, name, **more):
    more = {"can_read": True, "can_drive": True, "pulls": ("up", "down"), **more}
    return ModulePin(str(number), name, PinKind.GPIO, **more)


def module_of(pins):
    return Module(
        "test-module", "", "", "", "", "module-print", 3.3, tuple(pins), BOX, mm(10), None, (), SOURCE
    )


def print_of(name, places):
    """A footprint with a pad per (number, x, y) in mm."""
    size, hole = Size(mm("1.7"), mm("1.7")), Size(mm(1), mm(1))
    pads = tuple(
        Pad(str(number), PadKind.PLATED, PadShape.CIRCLE, Point(mm(x), mm(y)), size, hole)
        for number, x, y in places
    )
    return Footprint(name, pads)


def request(signal, anchor="", **more):
    more = {"reads": True, "drives": False, **more}
    return PinRequest(signal, signal, anchor=anchor, **more)


def plan_of(requests):
    return ElectricalPlan((), (), (), tuple(requests), (), (), ())


def design_of(**settings):
    base = {
        "name": "test",
        "title": "",
        "revision": "A",
        "description": "",
        "device": "",
        "contacts": (),
        "matrices": (),
        "groups": (),
        "fixed": (),
        "waivers": (),
        "module": "test-module",
        "connector": "test-connector",
        "fab": "",
        "outline": OutlineWish(),
        "holes": None,
        "enclosure": Enclosure(),
        "errata": (),
        "origin": "design.toml",
    }
    return Design(**{**base, **settings})


CONNECTOR = Connector(
    "test-connector",
    "",
    "",
    Gender.PLUG,
    Mounting.STRAIGHT,
    "connector-print",
    (),
    (),
    None,
    BOX,
    mm(10),
    Size(ZERO, ZERO),
    None,
    "",
    "",
    "",
    SOURCE,
)
FAB = SimpleNamespace(copper_layers=2, track=mm("0.25"), gap=mm("0.2"))  # all that the assignment looks at


BELOW = Point(ZERO, mm(20))


def floor_of(module_at=ORIGIN, connector_at=BELOW, rotation=0.0):
    ring = outline_from_ring(BOX.corners())
    return Floorplan(ring, Placement(module_at, rotation), Placement(connector_at), (), (), "", "", 0.0, ())


def bound_of(module, **settings):
    return BoundDesign(design_of(**settings), module, CONNECTOR, FAB)


def prints(module_places, connector_places):
    table = {
        "module-print": print_of("module-print", module_places),
        "connector-print": print_of("connector-print", connector_places),
    }
    return table.__getitem__


def two_rows(count, apart=17.78):
    """Pad places of a two-row module, numbers from 1, rows along x."""
    half = count // 2
    return [
        (i + 1, 2.54 * (i if i < half else count - 1 - i), -apart / 2 if i < half else apart / 2)
        for i in range(count)
    ]
