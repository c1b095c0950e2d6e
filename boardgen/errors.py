"""What goes wrong: exceptions stop a command, findings accumulate in its result."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass, field
from enum import StrEnum

from boardgen.units import Nm, Point


class BoardgenError(Exception):
    """Base of every error a user may see; ``exit_code`` is what the command returns."""

    exit_code = 2


@dataclass(eq=False)
class InputError(BoardgenError):
    """The input is wrong: says where, what was found, and what is allowed.

    *where* is the file as the user named it, *key* the dotted key inside it,
    *line* counts from 1. Text of the error is one or two plain sentences.
    """

    message: str
    where: str = ""
    key: str = ""
    line: int | None = None
    found: str = ""
    allowed: str = ""

    exit_code = 2

    def __str__(self) -> str:
        place = self.where
        if self.line is not None:
            place = f"{place}:{self.line}" if place else f"line {self.line}"
        head = ": ".join(bit for bit in (place, self.key) if bit)
        text = f"{head}: {self.message}" if head else self.message
        if self.found:
            text += f"; found {self.found}"
        if self.allowed:
            text += f"; allowed: {self.allowed}"
        return text


class InputErrors(BoardgenError):
    """More than one thing is wrong with one input; each is listed on its own line."""

    exit_code = 2

    def __init__(self, errors: Iterable[InputError]) -> None:
        self.errors = tuple(errors)
        super().__init__("\n".join(str(error) for error in self.errors))


class MachineError(BoardgenError):
    """The machine refused: no permission, disk full, a missing program."""

    exit_code = 3


class Severity(StrEnum):
    """How bad a finding is; only ERROR keeps a board from fabrication."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing a check noticed, with its place and what was measured.

    *at* is on the board (mm when written out), *layer* a trade name such as
    "top copper", *items* name both sides of a clash ("R1 pad 2", "track of ROW0").
    *measured* and *limit* are lengths where the rule is about a length. *waived*
    is the reason why the design lets it pass ("" where it does not): such a
    finding is a NOTE, whatever it was.
    """

    rule: str
    severity: Severity
    message: str
    at: Point | None = None
    layer: str = ""
    items: tuple[str, ...] = field(default=())
    measured: Nm | None = None
    limit: Nm | None = None
    waived: str = ""


# Shares of letters in common (two thirds: one slip in a three-letter word), and how far one falls behind.
_ALIKE, _BEHIND = 0.66, 0.1
_LONGEST = 100  # characters of a word that are compared; nothing of ours is longer


def nearest(word: str, allowed: Iterable[str], count: int = 3) -> tuple[str, ...]:
    """Return up to *count* of the *allowed* words that look most like *word*, best first.

    Case is let go, and a word's beginning stands for it. A word far behind the
    best one is no help and is left out.
    """
    wanted = word[:_LONGEST].casefold()
    scored = [(_likeness(wanted, other.casefold()), other) for other in set(allowed)]
    scored.sort(key=lambda item: (-item[0], len(item[1]), item[1]))
    floor = max(_ALIKE, scored[0][0] - _BEHIND) if scored else _ALIKE
    return tuple(other for score, other in scored[:count] if score >= floor)


def _likeness(word: str, other: str) -> float:
    if len(word) > 2 and other.startswith(word):
        return 1.0
    return difflib.SequenceMatcher(None, word, other).ratio()


def suggestion(word: str, allowed: Iterable[str]) -> str:
    """Return ', did you mean ...?' for the nearest allowed words, or nothing."""
    close = nearest(word, allowed)
    if not close:
        return ""
    return f", did you mean {' or '.join(repr(item) for item in close)}?"
