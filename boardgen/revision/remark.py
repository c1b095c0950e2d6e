"""What a person's hand did, in words: carried over, or not and why."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Remark:
    """What is carried over, or cannot be: *reason* says why, "" for what is carried."""

    thing: str
    reason: str = ""
