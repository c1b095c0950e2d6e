"""The two ends of a line as values: from which supply they run, and what they guarantee there."""

from __future__ import annotations

from dataclasses import dataclass, replace

from boardgen.catalog.logic import Logic, LogicPoint, at_supply
from boardgen.catalog.model import Module, ModulePin
from boardgen.electrical.rails import Rail, find_rail, logic_rail

SUPPLY_TOLERANCE = 0.05  # of rails from outside: USB gives 4.75 V to 5.25 V at a port, bench supplies less
SAME_V = 0.2  # rails this near to the logic supply are the logic supply
CLAMP_V = 0.3  # a CMOS input's usual allowance over its supply, where no source says more


@dataclass(frozen=True, slots=True)
class Supply:
    """What an end runs from. *own*: not fed through the module, so one may be on while the other is off."""

    name: str
    volts: float
    own: bool = False
    tolerance: float = SUPPLY_TOLERANCE

    @property
    def low_v(self) -> float:
        """The least it may be, V."""
        return self.volts * (1 - self.tolerance)

    @property
    def high_v(self) -> float:
        """The most it may be, V."""
        return self.volts * (1 + self.tolerance)

    def words(self) -> str:
        """Return "5 V" or, for a supply of the device's own, "5 V of its own"."""
        return f"{self.volts:g} V of its own" if self.own else f"{self.volts:g} V"


@dataclass(frozen=True, slots=True)
class End:
    """One end of a line: a device's chip, a chip of the board, or a class of module pins.

    *high_most_v* is the most its output reaches where a measurement says less
    than the supply; *pull_up_ohms* a pull-up to its supply inside it. *mos* says
    that its outputs are MOS transistors, which drop in proportion to their current
    or less (:func:`boardgen.electrical.prove.level_at`).
    """

    name: str
    supply: Supply
    logic: Logic
    high_most_v: float | None = None
    pull_up_ohms: float | None = None
    mos: bool = False

    @property
    def open_drain(self) -> bool:
        """Whether it can only pull low."""
        return self.logic.output == "open-drain"

    def at(self, volts: float) -> LogicPoint:
        """Return its levels at a supply of *volts*, held to the range the levels are stated for."""
        return at_supply(self.logic, min(max(volts, self.logic.supply_min_v), self.logic.supply_max_v))

    def most_out(self, volts: float) -> float:
        """Return the highest level its output reaches at a supply of *volts*, unloaded."""
        return volts if self.high_most_v is None else self.high_most_v

    def words(self) -> str:
        """Return "74HC at 5 V"."""
        return f"{self.name} at {self.supply.words()}"


@dataclass(frozen=True, slots=True)
class PinClass:
    """Module pins that guarantee the same, by number."""

    end: End
    pins: tuple[str, ...]


_MOS_LOW_V = 0.2  # a TTL output never promises so little, a CMOS one always does at its least current


def is_mos(logic: Logic) -> bool:
    """Whether the outputs of *logic* are MOS transistors, told by their low level without load."""
    return all(point.low and point.low[0][1] <= _MOS_LOW_V for point in logic.points)


def range_fault(name: str, logic: Logic, supply: Supply) -> str:
    """Return why *supply* does not suit *logic* ("" where it does)."""
    if logic.supply_min_v - 1e-6 <= supply.low_v and supply.high_v <= logic.supply_max_v + 1e-6:
        return ""
    span = f"{logic.supply_min_v:g} V to {logic.supply_max_v:g} V"
    if supply.tolerance:
        got = f"{supply.name} gives {supply.low_v:.2f} V to {supply.high_v:.2f} V"
    else:
        got = f"{supply.name} gives {supply.volts:g} V"
    return f"{name} needs a supply of {span}, {got}"


def module_supply(module: Module, rail: Rail) -> Supply:
    """Return *rail* as a supply; levels at the logic supply hold at its nominal volts, as data sheets say."""
    near = abs(rail.volts - module.logic_volts) < SAME_V
    return Supply(rail.name, rail.volts, False, 0.0 if near else SUPPLY_TOLERANCE)


def logic_supply(module: Module) -> Supply:
    """Return the module's own logic supply."""
    rail = logic_rail(module)
    if rail is not None:
        return module_supply(module, rail)
    return Supply("the logic supply", module.logic_volts, False, 0.0)


def named_supply(module: Module, name: str) -> Supply | None:
    """Return the rail called *name* that the module gives, as a supply, or None."""
    rail = find_rail(module, name)
    return None if rail is None else module_supply(module, rail)


# Where an entry states no levels, as shares of the supply; the worst of common parts: 0.6 for 5 V AVR
# inputs, 0.75 for an ESP32, 0.25 low; 2.62 V of 3.3 V driven, 0.5 V low, at 2 mA.
_HIGH_5V, _HIGH_3V, _LOW, _DRIVEN_HIGH, _DRIVEN_LOW_V, _DRIVEN_A = 0.6, 0.75, 0.24, 0.794, 0.5, 0.002


def assumed_module_logic(module: Module) -> Logic:
    """Return the levels assumed of a module whose entry states none."""
    volts = module.logic_volts
    high = volts * (_HIGH_5V if volts >= 4.5 else _HIGH_3V)
    point = LogicPoint(
        volts,
        high,
        volts * _LOW,
        ((_DRIVEN_A, volts * _DRIVEN_HIGH),),
        ((_DRIVEN_A, _DRIVEN_LOW_V),),
    )
    return Logic(volts * 0.9, volts * 1.1, (point,), volts, CLAMP_V, over_supply_v=CLAMP_V)


def pin_end(module: Module, pin: ModulePin) -> End:
    """Return the end that *pin* is: its class's levels, within the limits stated for the pin itself."""
    try:
        logic = module.logic_of(pin)
    except KeyError:
        logic = replace(assumed_module_logic(module), input_max_v=module.logic_volts + CLAMP_V)
    if pin.max_volts is not None:
        logic = replace(logic, input_max_v=max(pin.max_volts, module.logic_volts), over_supply_v=None)
    if pin.idle_max_volts is not None:
        logic = replace(logic, idle_max_v=pin.idle_max_volts)
    named = len(module.logics) > 1
    name = f"{module.name} ({pin.logic or module.logics[0][0]})" if named else module.name
    return End(name, logic_supply(module), logic, mos=True)


def pin_classes(module: Module, pins: tuple[ModulePin, ...]) -> tuple[PinClass, ...]:
    """Return *pins* by what they guarantee, in pin order."""
    found: dict[End, list[str]] = {}
    for pin in pins:
        found.setdefault(pin_end(module, pin), []).append(pin.number)
    return tuple(PinClass(end, tuple(numbers)) for end, numbers in found.items())
