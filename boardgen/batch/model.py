"""Readings, suspects and judgements as frozen values."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from boardgen.export.bringup_model import Plan
from boardgen.export.bringup_net import SOUND, Change


class Verdict(StrEnum):
    """What the readings say of a board; GOOD needs every test read and within its range."""

    GOOD = "good"
    FAULTY = "faulty"
    INCOMPLETE = "incomplete"


@dataclass(frozen=True, slots=True)
class RunPlan:
    """The plan of a run whose files are all as recorded; *where* names the run in errors."""

    where: str
    plan: Plan


@dataclass(frozen=True, slots=True)
class Reading:
    """What a meter or an eye showed: *value* in the kind's unit, infinite for open; a look is 1 or 0.

    *test* is the test's id, "" for a pair of places that no test names; *line* counts from 1.
    """

    test: str
    kind: str
    a: str
    b: str
    value: float
    text: str
    line: int


@dataclass(frozen=True, slots=True)
class Miss:
    """A reading outside its range, in words."""

    name: str
    label: str
    read: str
    expected: str


@dataclass(frozen=True, slots=True)
class Suspect:
    """A fault that would explain readings.

    *fault* is its class ("open joint", "bridge", ...), *words* say what and
    where, *places* where to look, nearest first. *check* is what to measure to
    be sure, *pair* the two places of that ("" where there is nothing to
    measure). *unexplained* counts readings it does not explain or contradicts.
    *cost* is the larger, the less likely the fault is by itself.
    """

    fault: str
    words: str
    places: tuple[str, ...] = ()
    check: str = ""
    pair: tuple[str, str] = ("", "")
    change: Change = SOUND
    unexplained: int = 0
    cost: float = 1.0
    count: int = 1  # faults it is made of


@dataclass(frozen=True, slots=True)
class Judgement:
    """What is said of one board. *suspects* are those that explain most, likeliest first."""

    serial: str
    verdict: Verdict
    misses: tuple[Miss, ...]
    missing: tuple[str, ...]
    suspects: tuple[Suspect, ...]
    readings: int

    @property
    def faults(self) -> tuple[str, ...]:
        """The classes of the likeliest suspect, "unexplained" where there is none; empty for a good board."""
        if self.verdict is not Verdict.FAULTY:
            return ()
        if not self.suspects:
            return ("unexplained",)
        return tuple(self.suspects[0].fault.split(" + "))
