"""Words, patterns and measures that keys of a design file are made of.

Lengths are in mm (keys end in ``_mm``, x right, y down from the board's top left),
voltages in V, currents in A, resistances in ohm.
"""

from __future__ import annotations

import unicodedata
from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field

NAME_PATTERN = r"^[a-z0-9]([a-z0-9-]{0,46}[a-z0-9])?$"
REVISION_PATTERN = r"^[A-Z]{1,2}$"
SIGNAL_PATTERN = r"^[A-Za-z][A-Za-z0-9_]{0,23}$"
ID_PATTERN = r"^[a-z0-9][a-z0-9.-]{0,63}$"
PIN_PATTERN = r"^#?[A-Za-z0-9_+./-]{1,24}$"
NUMBER_PATTERN = r"^[A-Za-z0-9]{1,8}$"
RAIL_PATTERN = r"^([A-Za-z0-9_.+-]{1,16})?$"
RULE_PATTERN = r"^[a-z][a-z0-9-]{1,39}$"
FUNCTION_PATTERN = r"^([a-z0-9]{1,8}(\.[a-z0-9]{1,8})?)?$"
NET_PATTERN = r"^[A-Za-z0-9_.+/-]{1,48}$"
REF_PATTERN = r"^[A-Z]{1,3}[0-9]{1,4}$"
PAD_PATTERN = r"^[A-Z]{1,3}[0-9]{1,4}\.[A-Za-z0-9_+-]{1,8}$"
MOST_CONTACTS = 200

WORDS = {
    NAME_PATTERN: "lower-case letters, digits and hyphens, at most 48, no path",
    REVISION_PATTERN: "one or two capital letters",
    SIGNAL_PATTERN: "a letter, then letters, digits and underscores, at most 24",
    ID_PATTERN: "a catalogue id: lower-case letters, digits, hyphens and points",
    PIN_PATTERN: "a pin's name, or #N for its number",
    NUMBER_PATTERN: "a contact's number or letter, at most 8 characters",
    RAIL_PATTERN: "a rail's name, such as 3V3",
    RULE_PATTERN: "a rule's id, such as mask-web",
    FUNCTION_PATTERN: "a function such as i2c.sda, uart.rx or pwm",
    NET_PATTERN: "a net's name, such as GND or ROW1",
    REF_PATTERN: "a part's reference, such as R1",
    PAD_PATTERN: "a part's reference and pad, such as R1.2",
}


def _clean(text: str) -> str:
    for letter in text:
        if letter != "\n" and unicodedata.category(letter) in ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"):
            raise ValueError(f"the text holds a character that cannot be printed (U+{ord(letter):04X})")
    return text


def _one_line(text: str) -> str:
    if "\n" in text:
        raise ValueError("the text must stand on one line")
    return _clean(text)


def _contact_number(value: object) -> object:
    if isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= 9999:
        return str(value)
    return value


Line = Annotated[str, Field(max_length=120), AfterValidator(_one_line)]
Short = Annotated[str, Field(max_length=40), AfterValidator(_one_line)]
Prose = Annotated[str, Field(max_length=4000), AfterValidator(_clean)]
Signal = Annotated[str, Field(pattern=SIGNAL_PATTERN)]
Id = Annotated[str, Field(pattern=ID_PATTERN)]
Revision = Annotated[str, Field(pattern=REVISION_PATTERN)]
Pin = Annotated[str, BeforeValidator(_contact_number), Field(pattern=PIN_PATTERN)]
Number = Annotated[str, BeforeValidator(_contact_number), Field(pattern=NUMBER_PATTERN)]
Rail = Annotated[str, Field(pattern=RAIL_PATTERN)]
Length = Annotated[float, Field(gt=0, le=500, allow_inf_nan=False, strict=True)]
NotNegative = Annotated[float, Field(ge=0, le=100, allow_inf_nan=False, strict=True)]
Place = Annotated[float, Field(ge=-1000, le=1000, allow_inf_nan=False, strict=True)]
Current = Annotated[float, Field(gt=0, le=5, allow_inf_nan=False, strict=True)]
Resistance = Annotated[float, Field(gt=0, le=1e8, allow_inf_nan=False, strict=True)]
Volts = Annotated[float, Field(ge=0, le=60, allow_inf_nan=False, strict=True)]
Flag = Annotated[bool, Field(strict=True)]
Edge = Literal["", "left", "right", "top", "bottom"]
PlacePair = tuple[Place, Place]
Side = Literal["top", "bottom"]
Net = Annotated[str, Field(pattern=NET_PATTERN)]
PartRef = Annotated[str, Field(pattern=REF_PATTERN)]
PadName = Annotated[str, Field(pattern=PAD_PATTERN)]


class Table(BaseModel):
    """A table in which an unknown key is an error."""

    model_config = ConfigDict(extra="forbid", frozen=True, str_strip_whitespace=True)
