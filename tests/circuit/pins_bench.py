"""Designs on real and hand-made modules with every pin chosen by hand, for the checks of chosen pins."""

from dataclasses import replace

from boardgen.catalog.load import load_catalog
from boardgen.catalog.model import Module, ModulePin, PinKind, SupplyPin
from boardgen.circuit.model import PinChoice, PinMap
from boardgen.circuit.pin_checks import check_pins
from boardgen.design.model import (
    BoundDesign,
    Contact,
    ContactKind,
    Design,
    DeviceLogic,
    Direction,
    FixedPin,
    Matrix,
    OutlineWish,
    Waiver,
)
from boardgen.electrical.plan import plan_signals
from boardgen.units import Box, mm

CATALOG = load_catalog()
BOX = Box(mm(-10), mm(-10), mm(10), mm(10))
FAB = CATALOG.fabs["economy-2l"]
PLUG = CATALOG.connectors["pin-row-1x10"]


def named(module, name):
    return next(p for p in module.pins if p.name == name)


def gpio(number, **more):
    pulls = more.pop("pulls", ("up", "down"))
    kind = PinKind.GPIO
    return ModulePin(str(number), f"GP{number}", kind, (), True, True, pulls, max_volts=3.6, **more)


def module(*pins, **more):
    supplies = (
        ModulePin("1", "3V3", PinKind.SUPPLY, supply=SupplyPin("3V3", 3.3, "out", 0.3)),
        ModulePin("2", "5V", PinKind.SUPPLY, supply=SupplyPin("5V", 5.0, "out", 0.4)),
        ModulePin("3", "GND", PinKind.GROUND),
    )
    more.setdefault("pull_up_ohms", (30e3, 45e3, 60e3))
    more.setdefault("pull_down_ohms", (30e3, 45e3, 60e3))
    return Module(
        "m", "Module", "M", "", "X", "fp", 3.3, (*supplies, *pins), BOX, mm(10), None, (), (), **more
    )


def contact(number, signal, kind, **more):
    return Contact(str(number), signal, ContactKind(kind), **more)


def bound(mod, pins, contacts, *, matrices=(), logic=()):
    """*pins* maps signals to pin names; every pin is fixed there, with a waiver."""
    ground = Contact("10", "GND", ContactKind.GROUND)
    fixed = tuple(FixedPin(signal, named(mod, pin).number) for signal, pin in pins.items())
    design = Design(
        "desk", "Desk", "A", "", "desk", (*contacts, ground), tuple(matrices), (), fixed,
        tuple(Waiver(item.pin, "test") for item in fixed), "m", PLUG.id, FAB.id, OutlineWish(), None, None,
        (), logic=tuple(logic),
    )  # fmt: skip
    return BoundDesign(design, mod, PLUG, FAB)


def chosen(mod, plan, pins):
    choices = tuple(
        PinChoice(r, named(mod, pins[r.signal]).number, pins[r.signal], True, "") for r in plan.requests
    )
    return PinMap(choices, (), 0.0, 0.0, 0)


def report(mod, pins, contacts, *, matrices=(), logic=(), change=None):
    there = bound(mod, pins, contacts, matrices=matrices, logic=logic)
    plan = plan_signals(there, CATALOG)
    if change is not None:
        plan = change(plan)
    return check_pins(there, plan, chosen(mod, plan, pins), CATALOG)


def with_pull(plan, signal, pull):
    requests = tuple(replace(r, pull=pull) if r.signal == signal else r for r in plan.requests)
    return replace(plan, requests=requests)


__all__ = ["DeviceLogic", "Direction", "Matrix"]
