"""The optional tables of a fab class: ``[panel]`` and ``[files]``."""

from __future__ import annotations

import re
from typing import Annotated

from pydantic import Field, field_validator, model_validator

from boardgen.catalog.formtypes import NotNegative, Positive, Strict
from boardgen.catalog.making import FILE_KINDS, PanelLimits
from boardgen.units import Nm, Size, mm

Large = Annotated[float, Field(gt=0, le=1500, allow_inf_nan=False)]
Pattern = Annotated[str, Field(min_length=1, max_length=80)]
Patterns = dict[str, Pattern]

_MARK = re.compile(r"\{([^{}]*)\}")
_PLAIN = re.compile(r"[A-Za-z0-9._+-]+")


def checked_patterns(patterns: Patterns) -> Patterns:
    """Return *patterns*; raises ValueError for a kind or a name that cannot be."""
    for kind, pattern in patterns.items():
        if kind not in FILE_KINDS:
            raise ValueError(f"no such kind of file: {kind!r}; allowed: {', '.join(FILE_KINDS)}")
        odd = sorted(set(_MARK.findall(pattern)) - {"name", "revision"})
        if odd:
            raise ValueError(f"{kind}: unknown mark {{{odd[0]}}}; allowed: {{name}}, {{revision}}")
        rest = _MARK.sub("x", pattern)
        if not _PLAIN.fullmatch(rest) or rest.startswith("."):
            raise ValueError(f"{kind}: a file name of letters, digits and ._+- is wanted, not {pattern!r}")
    folded = [pattern.casefold() for pattern in patterns.values()]
    if len(set(folded)) < len(folded):
        raise ValueError("two kinds of file would bear one name")
    return patterns


class PanelForm(Strict):
    """The ``[panel]`` table of a fab class."""

    largest_mm: tuple[Large, Large]
    rail_mm: Annotated[float, Field(ge=3, le=30)] = 7.0
    score: bool = False
    score_board_min_mm: tuple[NotNegative, NotNegative] = (0.0, 0.0)
    score_panel_min_mm: tuple[NotNegative, NotNegative] = (0.0, 0.0)
    score_copper_min_mm: Positive = 0.5
    score_web_mm: Positive = 0.5
    cutter_mm: Annotated[float, Field(ge=0.5, le=5)] = 2.0
    tab_mm: Annotated[float, Field(ge=1, le=20)] = 5.0
    bite_hole_mm: Annotated[float, Field(ge=0.2, le=2)] = 0.5
    bite_pitch_mm: Annotated[float, Field(ge=0.3, le=5)] = 1.0
    tooling_hole_mm: Annotated[float, Field(ge=1, le=6)] = 3.2
    fiducial_mm: Annotated[float, Field(ge=0.5, le=3)] = 1.0
    fiducial_opening_mm: Annotated[float, Field(ge=0.5, le=6)] = 2.0

    @model_validator(mode="after")
    def _whole(self) -> PanelForm:
        if self.bite_pitch_mm <= self.bite_hole_mm:
            raise ValueError("bite_pitch_mm: holes at this pitch run into each other")
        if self.fiducial_opening_mm < self.fiducial_mm:
            raise ValueError("fiducial_opening_mm is less than the fiducial")
        return self

    def frozen(self) -> PanelLimits:
        """Return the value the rest of the program uses."""
        lengths: dict[str, Nm] = {
            name.removesuffix("_mm"): mm(value)
            for name, value in self.model_dump().items()
            if name.endswith("_mm") and isinstance(value, float)
        }

        def size(pair: tuple[float, float]) -> Size:
            return Size(mm(pair[0]), mm(pair[1]))

        return PanelLimits(
            largest=size(self.largest_mm),
            score=self.score,
            score_board_min=size(self.score_board_min_mm),
            score_panel_min=size(self.score_panel_min_mm),
            **lengths,
        )


class MakingForm(Strict):
    """Keys of a fab class that say how it takes orders; all of them optional."""

    panel: PanelForm | None = None
    files: Patterns = Field(default_factory=dict)

    @field_validator("files")
    @classmethod
    def _files(cls, given: Patterns) -> Patterns:
        return checked_patterns(given)
