"""What a person's hand did, in words: carried over, or not and why."""

from __future__ import annotations

from dataclasses import dataclass

from boardgen.units import Point


@dataclass(frozen=True, slots=True)
class Remark:
    """What is carried over, or cannot be: *reason* says why and what to do, "" for what is carried."""

    thing: str
    reason: str = ""

    @property
    def verdict(self) -> str:
        """One of "carried" and "impossible"."""
        return "impossible" if self.reason else "carried"


def at_words(at: Point) -> str:
    """Return a place in words."""
    return f"{at.x.mm:.3f}, {at.y.mm:.3f} mm"
