"""Numbers, words and the strict table that the catalogue's forms are made of."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

Id = Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9.-]{0,63}$")]
Word = Annotated[str, Field(min_length=1, max_length=200)]
Millimetres = Annotated[float, Field(ge=-500, le=500, allow_inf_nan=False)]
Positive = Annotated[float, Field(gt=0, le=500, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0, le=500, allow_inf_nan=False)]
Volts = Annotated[float, Field(ge=0, le=60, allow_inf_nan=False)]
Amperes = Annotated[float, Field(ge=0, le=20, allow_inf_nan=False)]
Ohms = Annotated[float, Field(gt=0, le=1e9, allow_inf_nan=False)]
Four = tuple[Millimetres, Millimetres, Millimetres, Millimetres]
Two = tuple[NotNegative, NotNegative]


class Strict(BaseModel):
    """A table in which an unknown key is an error."""

    model_config = ConfigDict(extra="forbid", frozen=True, str_strip_whitespace=True)
