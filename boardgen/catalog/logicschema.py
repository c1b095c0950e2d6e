"""The form of logic levels in a catalogue file: what inputs and outputs guarantee."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from boardgen.catalog import logic
from boardgen.catalog.formtypes import Amperes, Strict, Volts

Pair = tuple[Amperes, Volts]


class LogicPointForm(Strict):
    """Levels at one supply; ``high`` and ``low`` list [A, V] by rising current."""

    supply_v: Volts
    vih_v: Volts
    vil_v: Volts
    high: tuple[Pair, ...] = ()
    low: tuple[Pair, ...] = ()

    def frozen(self) -> logic.LogicPoint:
        """Return the value the rest of the program uses."""
        return logic.LogicPoint(self.supply_v, self.vih_v, self.vil_v, self.high, self.low)


class LogicForm(Strict):
    """What inputs and outputs guarantee: a ``[levels]`` table, or one ``[[levels]]`` of a module."""

    name: str = ""
    supply_min_v: Volts
    supply_max_v: Volts
    points: Annotated[tuple[LogicPointForm, ...], Field(min_length=1)]
    input_max_v: Volts
    idle_max_v: Volts
    over_supply_v: Volts | None = None
    high_a: Amperes = 1e-6
    low_a: Amperes = 1e-6
    input_pf: Annotated[float, Field(gt=0, le=1000, allow_inf_nan=False)] = 10.0
    inject_a: Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)] = 0.0
    output: Literal["push-pull", "open-drain"] = "push-pull"
    note: str = ""

    @model_validator(mode="after")
    def _sensible(self) -> LogicForm:
        supplies = [p.supply_v for p in self.points]
        if supplies != sorted(set(supplies)) or self.supply_min_v > self.supply_max_v:
            raise ValueError("the points must stand by rising supply, the range from least to most")
        for p in self.points:
            if p.vil_v >= p.vih_v:
                raise ValueError(f"at {p.supply_v:g} V the low level must lie under the high level")
            if list(p.high) != sorted(p.high) or list(p.low) != sorted(p.low):
                raise ValueError(f"at {p.supply_v:g} V the outputs must stand by rising current")
        return self

    def frozen(self) -> logic.Logic:
        """Return the value the rest of the program uses."""
        plain = self.model_dump(exclude={"name", "points"})
        return logic.Logic(points=tuple(p.frozen() for p in self.points), **plain)
