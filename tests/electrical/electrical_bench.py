"""Small hand-made modules, connectors and parts for the electrical tests."""

from dataclasses import replace

from boardgen.catalog.load import load_catalog
from boardgen.catalog.model import (
    Component,
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
from boardgen.design.model import (
    BoundDesign,
    Cable,
    Contact,
    ContactKind,
    Design,
    Direction,
    FixedPin,
    Matrix,
    OutlineWish,
)
from boardgen.electrical.plan import plan_signals
from boardgen.errors import InputError
from boardgen.units import Box, Size, mm, point_mm

BOX = Box(mm(-10), mm(-10), mm(10), mm(10))


def gpio(number, *, functions=(), pulls=("up", "down"), max_volts=3.6, **more):
    return ModulePin(
        str(number),
        f"GP{number}",
        PinKind.GPIO,
        tuple(functions),
        can_read=more.pop("can_read", True),
        can_drive=more.pop("can_drive", True),
        pulls=tuple(pulls),
        max_volts=max_volts,
        **more,
    )


def rail(number, name, volts, role="out", budget=None):
    return ModulePin(str(number), name, PinKind.SUPPLY, supply=SupplyPin(name, volts, role, budget))


def module(*gpios, logic=3.3, extra=()):
    pins = (
        rail(1, "3V3", 3.3, budget=0.3),
        rail(2, "5V", 5.0, budget=0.4),
        ModulePin("3", "GND", PinKind.GROUND),
        ModulePin("4", "GND", PinKind.GROUND),
        rail(5, "VSYS", 5.0, role="in"),
        *extra,
        *(gpios or tuple(gpio(n) for n in range(10, 22))),
    )
    return Module("test", "Test module", "T", "", "X1", "fp", logic, pins, BOX, mm(10), None, (), ())


def connector(count=9, current=1.0, shell=()):
    contacts = tuple(FaceContact(str(n), point_mm(n, 0)) for n in range(1, count + 1))
    return Connector(
        "conn", "Test plug", "row", Gender.PLUG, Mounting.STRAIGHT, "fp", contacts, tuple(shell), None,
        BOX, mm(10), Size(mm(0), mm(0)), current, "M", "P", "", (),
    )  # fmt: skip


FAB = FabClass(
    "fab", "Fab", "", 2, True, mm(0.25), mm(0.15), mm(0.2), mm(0.15), mm(0.5), mm(0.15), mm(0.3), mm(6.3), (),
    mm(0.45), mm(0.6), mm(0.3), mm(0.6), mm(0.3), mm(0.25), mm(0.1), mm(0.05), True, mm(0.15), mm(0.8),
    mm(0.15), mm(0), mm(0.3), mm(0.4), mm(0.25), mm(0.25), mm(0.08), mm(0.2), mm(1.6), 35,
    Size(mm(10), mm(10)), Size(mm(400), mm(400)), "green", "white", "HASL", (),
)  # fmt: skip


def bind(contacts, mod=None, conn=None, *, matrices=(), fixed=(), fuse=False, logic=(), cable=None):
    design = Design(
        "desk", "Desk", "A", "", "lecturer's desk", tuple(contacts), tuple(matrices), (), tuple(fixed), (),
        "test", "conn", "fab", OutlineWish(), None, None, (), supply_fuse=fuse, origin="design.toml",
        logic=tuple(logic), cable=cable or Cable(),
    )  # fmt: skip
    return BoundDesign(design, mod or module(), conn or connector(), FAB)


def part(kind, name, pins, **figures):
    return Component(
        name,
        kind,
        name,
        "",
        "fp",
        tuple(sorted(pins.items())),
        tuple(sorted(figures.items())),
        "M",
        "P",
        "",
        (),
    )


AB = {"a": "1", "b": "2"}
RESISTOR = part("resistor", "resistor-axial-quarter", AB, max_w=0.25)
NPN_SMALL = part(
    "transistor", "transistor-2n3904", {"emitter": "1", "base": "2", "collector": "3"},
    hfe_min=100.0, hfe_at_a=0.01, hfe_min_100ma=30.0, vbe_v=0.65, vce_sat_max_v=0.3, vce_max_v=40.0,
    ic_max_a=0.2, max_w=0.625,
)  # fmt: skip
NPN_LARGE = part(
    "transistor", "transistor-bc337", {"collector": "1", "base": "2", "emitter": "3"},
    hfe_min=160.0, hfe_at_a=0.1, vbe_v=0.7, vce_sat_max_v=0.7, vce_max_v=45.0, ic_max_a=0.8, max_w=0.625,
)  # fmt: skip
MOSFET = part(
    "mosfet", "mosfet-2n7000", {"source": "1", "gate": "2", "drain": "3"},
    vds_max_v=60.0, id_max_a=0.2, vgs_th_max_v=3.0, rds_on_ohm=5.3, rds_on_at_vgs_v=4.5, max_w=0.4,
)  # fmt: skip
PARTS = {
    item.id: item
    for item in (
        RESISTOR,
        NPN_SMALL,
        NPN_LARGE,
        MOSFET,
        part("capacitor", "capacitor-disc-5", AB),
        part("capacitor", "capacitor-electrolytic-5", {"positive": "1", "negative": "2"}),
        replace(
            part("capacitor", "capacitor-electrolytic-5-4u7", {"positive": "1", "negative": "2"}),
            value="4.7u",
        ),
        part("diode", "diode-1n4148", {"cathode": "1", "anode": "2"}, if_max_a=0.2, vr_max_v=100.0),
        part("diode", "diode-1n5819", {"cathode": "1", "anode": "2"}, if_max_a=1.0, vr_max_v=40.0),
        part("fuse", "fuse-ptc-250ma", AB, hold_a=0.25, trip_a=0.5),
        part("fuse", "fuse-ptc-500ma", AB, hold_a=0.5, trip_a=1.0),
    )
}


def component(name):
    if name not in PARTS:
        raise InputError(f"no part called {name}")
    return PARTS[name]


class Shelf:
    """The hand-made parts above; chips and logic families are the catalogue's own."""

    def component(self, name):
        return (
            load_catalog().component(name) if name.startswith(("buffer-", "mosfet-bss")) else component(name)
        )

    def logic_family(self, name):
        return load_catalog().logic_family(name)


SHELF = Shelf()


def plan(contacts, *args, **more):
    return plan_signals(bind(contacts, *args, **more), SHELF)


def contact(number, signal, kind, **more):
    return Contact(str(number), signal, ContactKind(kind), **more)


__all__ = ["Direction", "FixedPin", "Matrix", "bind", "component", "contact", "gpio", "module", "plan"]
