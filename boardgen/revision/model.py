"""What a comparison of two runs hands on."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

SECTIONS = (
    "contacts",
    "signals",
    "levels",
    "pin map",
    "identity",
    "nets",
    "parts",
    "places",
    "supply",
    "cost",
    "board",
    "outline",
    "mounting holes",
    "copper",
    "findings",
    "errata",
)


@dataclass(frozen=True, slots=True)
class Change:
    """One thing that differs: *before* is None where it is new, *after* None where it is gone."""

    section: str
    thing: str
    before: str | None
    after: str | None

    @property
    def kind(self) -> str:
        """One of "new", "gone" and "changed"."""
        if self.before is None:
            return "new"
        return "gone" if self.after is None else "changed"

    @property
    def turned(self) -> Change:
        """The same, seen the other way round."""
        return replace(self, before=self.after, after=self.before)


@dataclass(frozen=True, slots=True)
class CopperChange:
    """Copper of one side, in mm2: in both revisions, in the first alone, in the second alone."""

    side: str
    kept_mm2: float
    gone_mm2: float
    new_mm2: float


class Firmware(StrEnum):
    """What firmware written for the first revision needs on the second."""

    SAME = "same pins"
    REBUILD = "needs rebuild"
    CODE = "needs code change"


@dataclass(frozen=True, slots=True)
class PinLine:
    """A line of the C pin file that says something else; 0 and "" where there is none."""

    line_before: int
    before: str
    line_after: int
    after: str


@dataclass(frozen=True, slots=True)
class FirmwareVerdict:
    """The verdict with its reasons and the lines of the pin file that change."""

    verdict: Firmware
    reasons: tuple[str, ...]
    file: str
    lines: tuple[PinLine, ...]


@dataclass(frozen=True, slots=True)
class EnclosureVerdict:
    """Whether the case of the first revision takes the second as it is, and what stands against it."""

    fits: bool
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RunName:
    """Which run: design, revision, pin map digest, tool."""

    design: str
    revision: str
    pin_map: str
    tool: str


@dataclass(frozen=True, slots=True)
class Comparison:
    """What changed from run *a* to run *b*; *picture* is an SVG drawing of the copper."""

    a: RunName
    b: RunName
    changes: tuple[Change, ...]
    copper: tuple[CopperChange, ...]
    firmware: FirmwareVerdict
    enclosure: EnclosureVerdict
    picture: str
    unknown: tuple[str, ...] = ()  # what could not be compared, and why

    def of(self, section: str) -> tuple[Change, ...]:
        """Return the changes of one section, in order."""
        return tuple(change for change in self.changes if change.section == section)
