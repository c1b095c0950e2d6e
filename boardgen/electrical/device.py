"""What the design says of the device's side of a line, and what it leaves open."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from boardgen.catalog.logic import Logic, LogicPoint, Point, at_supply
from boardgen.design.model import BoundDesign, Contact, ContactKind, DeviceLogic, Direction
from boardgen.electrical import levels
from boardgen.electrical.ends import CLAMP_V, End, Supply, is_mos, named_supply, range_fault
from boardgen.electrical.shelf import Shelf
from boardgen.errors import InputError, InputErrors

AUTO_RAIL = "auto"
METER_OHMS = 10_000.0  # the load a measured level is taken with
# A chip nobody named is taken for plain CMOS: the worst of what old devices hold but for TTL inputs.
_CMOS_HIGH, _CMOS_LOW, _CMOS_DROP_V, _CMOS_SINK_V, _CMOS_A = 0.7, 0.3, 0.1, 0.4, 0.0005
I2C_SINK_A, I2C_LEAK_A = 0.003, 10e-6  # I2C specification, standard mode
MEASURED_OVER = 1.05  # a level measured under load may stand this much higher without


@dataclass(frozen=True, slots=True)
class Device:
    """The device's end of one line.

    *assumed* says what was taken for granted, *missing* which measurement would
    settle what nobody knows; *harm* that its level may be anything. *fault* is
    why its supply does not suit its chips.
    """

    end: End
    assumed: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    harm: bool = False
    fault: str = ""


@dataclass(frozen=True, slots=True)
class _Feed:
    supply: Supply
    assumed: tuple[str, ...] = ()
    known: bool = True


def device_of(bound: BoundDesign, shelf: Shelf, contact: Contact) -> Device:
    """Return the device's end behind *contact*; raises InputError for a family or rail there is not."""
    table = bound.design.logic_of(contact)
    feed = _feed(bound, contact, table)
    supply = feed.supply
    assumed = list(feed.assumed)
    missing: list[str] = []
    who = f"contact {contact.number} ({contact.signal})"
    base, name = family_levels(bound, shelf, table, supply)
    if not (table and table.family) and contact.function.startswith("i2c"):
        base = _on_bus(base)
    fault = ""
    if table is not None:
        fault = supply_fault(base, table, supply, name) if feed.known else ""
    in_, out = contact.direction is not Direction.OUT, contact.direction is not Direction.IN
    family = table is not None and bool(table.family)
    sends = family or (table is not None and table.high_v is not None and table.low_v is not None)
    reads = family or (table is not None and table.reads_high_v is not None and table.reads_low_v is not None)
    takes = family or (table is not None and table.takes_v is not None)
    if in_ and not sends:
        missing.append(f"measure the high and the low level of {who} with a load of 10 kohm (high_v, low_v)")
        assumed.append(
            f"{name} sinks 3 mA at 0.4 V, as the bus's specification asks"
            if base.output == "open-drain"
            else f"{name} drives as plain CMOS does: {_CMOS_DROP_V:g} V under its supply"
        )
    if out and not reads:
        missing.append(
            f"measure from what level on {who} is taken as high, and up to what level as low "
            "(reads_high_v, reads_low_v)"
        )
        assumed.append(f"{name} reads as plain CMOS does: high from 70 %, low to 30 % of its supply")
    if out and not takes:
        assumed.append(f"the input of {name} takes {CLAMP_V:g} V more than its supply")
    measured_high = table.high_v if table is not None else None
    harm = not feed.known and (measured_high is None if in_ else not takes)
    if harm:
        missing.insert(0, f"say what the chip at {who} runs from (rail), or measure its high level (high_v)")
    end = End(
        name,
        supply,
        _measured(base, table, supply),
        _most(table, supply),
        None if table is None else table.pull_up_ohms,
        mos=family and is_mos(base),
    )
    return Device(end, tuple(assumed), tuple(missing), harm, fault)


def device_supply(bound: BoundDesign, contact: Contact) -> Supply | None:
    """Return what the device's side of *contact* runs from, None where nobody knows."""
    feed = _feed(bound, contact, bound.design.logic_of(contact))
    return feed.supply if feed.known else None


def _feed(bound: BoundDesign, contact: Contact, table: DeviceLogic | None) -> _Feed:
    """Return what the chip behind *contact* runs from."""
    own = table is not None and table.own_supply
    word = (table.rail if table is not None and table.rail != AUTO_RAIL else "") or contact.rail
    supplies = [c for c in bound.design.contacts if c.kind is ContactKind.SUPPLY]
    given = {c.rail for c in supplies if c.source == "board"}
    brought = {c.rail for c in supplies if c.source != "board"}
    if not word:
        if not own and given:
            volts = {rail: levels.volts_of(bound, contact, rail) for rail in sorted(given)}
            word = max(volts, key=lambda rail: volts[rail])
            text = f"the chip behind {contact.signal} runs from {word}, the highest rail the board gives"
            assumed = () if len(given) == 1 else (text,)
            return _Feed(named_supply(bound.module, word) or Supply(word, volts[word], True), assumed)
        if brought:
            volts = {rail: levels.volts_of(bound, contact, rail) for rail in sorted(brought)}
            word = max(volts, key=lambda rail: volts[rail])
            return _Feed(Supply(word, volts[word], True))
        return _unfed(bound, table)
    volts_there = levels.volts_of(bound, contact, word)
    rail = named_supply(bound.module, word)
    fed = {named_supply(bound.module, name) for name in given}
    if not own and rail is not None and rail in fed:
        return _Feed(rail)
    note: tuple[str, ...] = ()
    if not own and not any(word.casefold() == name.casefold() for name in brought):
        note = (
            f"no contact feeds the chip behind {contact.signal}, so it has a supply of its own "
            "that may be on while the module is off",
        )
    return _Feed(Supply(word, volts_there, True), note)


def _unfed(bound: BoundDesign, table: DeviceLogic | None) -> _Feed:
    """A chip whose supply nobody stated: told by its measured level, else unknown."""
    measured = None if table is None else table.high_v or table.takes_v
    if measured is not None:
        return _Feed(
            Supply("its own supply", measured, True, 0.0),
            (f"the device has a supply of its own, of the {measured:g} V measured or stated",),
        )
    return _Feed(Supply("its own supply", bound.module.logic_volts, True, 0.0), known=False)


def family_levels(
    bound: BoundDesign, shelf: Shelf, table: DeviceLogic | None, supply: Supply
) -> tuple[Logic, str]:
    """Return the family's levels and name, or those of plain CMOS at *supply*."""
    if table is not None and table.family:
        try:
            family = shelf.logic_family(table.family)
        except InputErrors:
            raise
        except InputError as error:
            origin = bound.design.origin
            raise InputError(error.message, origin, "logic", table.line, error.found) from None
        return family.levels, family.name.partition(",")[0]
    volts = supply.volts
    point = LogicPoint(
        volts,
        volts * _CMOS_HIGH,
        volts * _CMOS_LOW,
        ((_CMOS_A, volts - _CMOS_DROP_V),),
        ((_CMOS_A, _CMOS_SINK_V),),
    )
    logic = Logic(
        supply.low_v, supply.high_v, (point,), supply.high_v + CLAMP_V, CLAMP_V, over_supply_v=CLAMP_V
    )
    return logic, "the device"


def _on_bus(base: Logic) -> Logic:
    """Return *base* with what the I2C specification asks of every chip: a low of 0.4 V at 3 mA."""
    points = tuple(replace(p, high=(), low=((I2C_SINK_A, _CMOS_SINK_V),)) for p in base.points)
    return replace(base, points=points, output="open-drain", high_a=I2C_LEAK_A, low_a=I2C_LEAK_A)


def _narrowed(base: Logic, table: DeviceLogic) -> Logic:
    """Return *base* within the supply range stated for the device as a whole."""
    low = base.supply_min_v if table.supply_min_v is None else max(base.supply_min_v, table.supply_min_v)
    high = base.supply_max_v if table.supply_max_v is None else min(base.supply_max_v, table.supply_max_v)
    return replace(base, supply_min_v=low, supply_max_v=max(low, high))


def _stated(base: Logic, table: DeviceLogic) -> Logic:
    """Return *base* with the supply range the design states, if any."""
    low = base.supply_min_v if table.supply_min_v is None else table.supply_min_v
    high = base.supply_max_v if table.supply_max_v is None else table.supply_max_v
    return replace(base, supply_min_v=low, supply_max_v=max(low, high))


def supply_fault(base: Logic, table: DeviceLogic, supply: Supply, name: str) -> str:
    """Return why chips with *base* cannot run from *supply* ("" where they can)."""
    return range_fault(name, _narrowed(base, table) if table.family else _stated(base, table), supply)


def _most(table: DeviceLogic | None, supply: Supply) -> float | None:
    """The most an output reaches where a measurement says less than the supply."""
    if table is None or table.high_v is None or table.pull_up_ohms is not None:
        return None
    most = table.high_v * MEASURED_OVER
    return most if most < supply.high_v else None


def _measured(base: Logic, table: DeviceLogic | None, supply: Supply) -> Logic:
    """Return *base* with what a person measured in its stead, the same at every supply."""
    if table is None:
        return base
    output = table.output or base.output
    points = []
    for volts in sorted({supply.low_v, supply.high_v}):
        point = at_supply(base, min(max(volts, base.supply_min_v), base.supply_max_v))
        points.append(
            replace(
                point,
                supply_v=volts,
                vih_v=point.vih_v if table.reads_high_v is None else table.reads_high_v,
                vil_v=point.vil_v if table.reads_low_v is None else table.reads_low_v,
                high=_with(point.high, table.high_v, (table.high_v or 0.0) / METER_OHMS, min)
                if output != "open-drain"
                else (),
                low=_with(point.low, table.low_v, _sunk(table, supply), max),
            )
        )
    logic = replace(
        base,
        output=output,
        points=tuple(points),
        supply_min_v=min(base.supply_min_v, points[0].supply_v),
        supply_max_v=max(base.supply_max_v, points[-1].supply_v),
    )
    if table.takes_v is not None:
        logic = replace(logic, input_max_v=table.takes_v, over_supply_v=None)
    return logic


def _sunk(table: DeviceLogic, supply: Supply) -> float:
    """Return what an output sank while its low was measured: the meter's load and its own pull-up, A."""
    own = 0.0 if table.pull_up_ohms is None else supply.high_v / (table.pull_up_ohms * 0.95)
    return supply.volts / METER_OHMS + own


def _with(
    points: tuple[Point, ...], level: float | None, amps: float, worse: Callable[[float, float], float]
) -> tuple[Point, ...]:
    """Return *points* with a level measured at *amps* put before those of larger currents."""
    if level is None:
        return points
    return ((amps, level), *((a, worse(v, level)) for a, v in points if a > amps))
