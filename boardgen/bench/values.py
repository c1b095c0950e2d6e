"""One cell of a file of readings: what the meter showed."""

from __future__ import annotations

import re

from boardgen.bench.model import Kind, Reading

ALLOWED = "open, closed, OL, beep, ohms (12.5, 4k7, 2.2 Mohm), or the drop of a diode in V (0.61 V, 610 mV)"

_OPEN = ("open", "ol", "o.l", "o.l.", "0l", "0.l")
_CLOSED = ("closed", "beep")
_SCALES = {"": 1.0, "r": 1.0, "k": 1e3, "m": 1e6}
_PLAIN = re.compile(r"([+-]?(?:\d+\.?\d*|\.\d+))\s*([kKM]?)\s*(?:[Oo]hms?|Ω|Ω|R)?")
_INSIDE = re.compile(r"([+-]?\d+)([RkKM])(\d+)\s*(?:[Oo]hms?|Ω|Ω)?")
_DROP = re.compile(r"([+-]?(?:\d+\.?\d*|\.\d+))\s*(m?)V")


def parse_reading(text: str) -> Reading | None:
    """Return what *text* says, None where it says nothing a meter shows."""
    if text.casefold() in _OPEN:
        return Reading(Kind.OPEN)
    if text.casefold() in _CLOSED:
        return Reading(Kind.CLOSED)
    if (drop := _DROP.fullmatch(text)) is not None:
        return Reading(Kind.VOLTS, float(drop[1]) * (1e-3 if drop[2] else 1.0))
    if (inside := _INSIDE.fullmatch(text)) is not None:
        return Reading(Kind.OHMS, float(f"{inside[1]}.{inside[3]}") * _SCALES[inside[2].casefold()])
    if (plain := _PLAIN.fullmatch(text)) is not None:
        return Reading(Kind.OHMS, float(plain[1]) * _SCALES[plain[2].casefold()])
    return None
