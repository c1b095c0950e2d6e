"""Forms of a module's pulls, ADC, parts at pins, power tables, and its chip's known faults."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from boardgen.catalog import errata, power
from boardgen.catalog.formtypes import Amperes, NotNegative, Ohms, Strict, Volts, Word

Range = tuple[Ohms, Ohms]
Spread = tuple[Ohms, Ohms, Ohms]


def rising(spread: tuple[float, ...] | None, what: str) -> None:
    """Raise ValueError where the figures of *spread* do not rise."""
    if spread is not None and list(spread) != sorted(spread):
        raise ValueError(f"{what} must stand from least to most")


class OnboardForm(Strict):
    """One of a pin's ``onboard`` tables: a part on the module that hangs on it."""

    kind: Literal["pull-up", "pull-down", "led", "driver"]
    ohms: Ohms
    volts: Volts = 0.0
    to: Literal["ground", "supply"] = "ground"
    note: str = ""

    @model_validator(mode="after")
    def _volts_where_needed(self) -> OnboardForm:
        if (self.volts > 0) == (self.kind == "pull-down"):
            raise ValueError("volts belongs to pull-up, driver and led, and to no pull-down")
        return self

    def frozen(self) -> power.Onboard:
        """Return the value the rest of the program uses."""
        return power.Onboard(**self.model_dump())


class ErratumForm(Strict):
    """One of a module's ``[[errata]]``: a known fault of its chip."""

    id: Word
    condition: Literal["pull-down", "input"]
    text: Word
    remedy: Word
    source: Word
    most_ohms: Ohms | None = None
    pins: tuple[Word, ...] = ()
    harm: Literal["error", "warning"] = "error"

    @model_validator(mode="after")
    def _ohms_where_needed(self) -> ErratumForm:
        if (self.most_ohms is None) == (self.condition == "pull-down"):
            raise ValueError("most_ohms belongs to the condition pull-down, and to no other")
        return self

    def frozen(self) -> errata.ChipErratum:
        """Return the value the rest of the program uses."""
        return errata.ChipErratum(**self.model_dump())


class PullsForm(Strict):
    """A module's ``[pulls]`` table: its chip's internal pulls as least, typical, most ohm."""

    up_ohms: Spread | None = None
    down_ohms: Spread | None = None

    @model_validator(mode="after")
    def _rise(self) -> PullsForm:
        rising(self.up_ohms, "up_ohms")
        rising(self.down_ohms, "down_ohms")
        return self


class AdcForm(Strict):
    """A module's ``[adc]`` table."""

    bits: Annotated[int, Field(ge=6, le=24)]
    reference_v: Volts
    input_ohms: Ohms | None = None
    source_max_ohms: Ohms | None = None
    note: str = ""

    def frozen(self) -> power.Adc:
        """Return the value the rest of the program uses."""
        return power.Adc(**self.model_dump())


class RegulatorForm(Strict):
    """One ``[[power.regulators]]`` table."""

    part: Word
    kind: Literal["linear", "switching"] = "linear"
    input_rail: Word
    output_rail: Word
    output_v: Volts
    input_min_v: Volts
    input_max_v: Volts
    max_a: Amperes | None = None
    dropout_v: Volts | None = None
    dropout_at_a: Amperes | None = None
    theta_ja_k_per_w: Annotated[float, Field(gt=0, le=1000, allow_inf_nan=False)] | None = None
    junction_max_c: Annotated[float, Field(ge=70, le=200, allow_inf_nan=False)] = 125.0
    efficiency: Annotated[float, Field(gt=0, le=1, allow_inf_nan=False)] | None = None
    dropout_least_v: Volts | None = None

    @model_validator(mode="after")
    def _sensible(self) -> RegulatorForm:
        if self.input_min_v > self.input_max_v:
            raise ValueError("input_min_v must not be above input_max_v")
        if self.kind == "switching" and self.efficiency is None:
            raise ValueError("a switching regulator needs its efficiency")
        if self.dropout_least_v is not None:
            if self.dropout_v is None or not self.dropout_at_a:
                raise ValueError("dropout_least_v needs dropout_v and dropout_at_a")
            if self.dropout_least_v > self.dropout_v:
                raise ValueError("dropout_least_v must not be above dropout_v")
        return self

    def frozen(self) -> power.Regulator:
        """Return the value the rest of the program uses."""
        return power.Regulator(**self.model_dump())


class RailPathForm(Strict):
    """One ``[[power.paths]]`` table; ``from`` and ``to`` are rails, "USB" the jack."""

    source: Annotated[Word, Field(alias="from")]
    target: Annotated[Word, Field(alias="to")]
    by: Literal["wire", "fuse", "diode", "switch"]
    drop_v: Volts = 0.0
    drop_at_a: Amperes | None = None
    hold_a: Amperes | None = None
    note: str = ""

    def frozen(self) -> power.RailPath:
        """Return the value the rest of the program uses."""
        return power.RailPath(**self.model_dump())


class PowerForm(Strict):
    """A module's ``[power]`` table."""

    draw_a: Amperes
    radio_draw_a: Amperes | None = None
    usb_uf: NotNegative | None = None
    paths: tuple[RailPathForm, ...] = ()
    regulators: tuple[RegulatorForm, ...] = ()
    note: str = ""

    def rails(self) -> set[str]:
        """Return the rails named once here, which a pin must carry; others may be inside the module."""
        named = [rail for way in self.paths for rail in (way.source, way.target)]
        named += [rail for item in self.regulators for rail in (item.input_rail, item.output_rail)]
        return {rail for rail in named if named.count(rail) == 1} - {power.USB}

    def frozen(self) -> power.Power:
        """Return the value the rest of the program uses."""
        return power.Power(
            self.draw_a,
            self.radio_draw_a,
            self.usb_uf,
            tuple(item.frozen() for item in self.paths),
            tuple(item.frozen() for item in self.regulators),
            self.note,
        )
