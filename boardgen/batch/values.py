"""One reading as a person writes it, in the unit of its kind."""

from __future__ import annotations

import math
import re

from boardgen.export.bringup_model import AMPS, LOOK, OHMS, VOLTS

ALLOWED = {
    OHMS: "open, OL, or ohms (0.4, 820, 4k7, 2.2 Mohm), 0 to 1e12",
    VOLTS: "volts (4.98, 4.98 V, 610 mV), -1000 to 1000",
    AMPS: "amperes (0.045, 45 mA), -100 to 100",
    LOOK: "yes or no",
}
_MOST = {OHMS: 1e12, VOLTS: 1000.0, AMPS: 100.0}
_LEAST = {OHMS: 0.0, VOLTS: -1000.0, AMPS: -100.0}
_OPEN = ("open", "ol", "o.l", "o.l.", "0l", "0.l", "0.l.")
_YES, _NO = ("yes", "y", "ok", "1", "x"), ("no", "n", "bad", "0")
_UNITS = {
    OHMS: {"": 1.0, "r": 1.0, "k": 1e3, "M": 1e6},
    VOLTS: {"": 1.0, "m": 1e-3},
    AMPS: {"": 1.0, "m": 1e-3, "u": 1e-6, "µ": 1e-6},
}
_NUMBER = r"([+-]?(?:\d{1,15}\.?\d{0,15}|\.\d{1,15})(?:[eE][+-]?\d{1,2})?)"
_PLAIN = {
    OHMS: re.compile(_NUMBER + r"\s*([RrkKM]?)\s*(?:[Oo]hms?|Ω|\u2126)?"),
    VOLTS: re.compile(_NUMBER + r"\s*(m?)[Vv]?"),
    AMPS: re.compile(_NUMBER + r"\s*([muµ]?)[Aa]?"),
}
_INSIDE = re.compile(r"(\d{1,9})([RrkKM])(\d{1,9})\s*(?:[Oo]hms?|Ω|\u2126)?")


def value_of(text: str, kind: str) -> float | None:
    """Return what *text* says in the unit of *kind*, infinite for open; None where it says no such thing.

    Megohms are "M"; a small "m" of ohms could mean either and is not taken.
    """
    plain = text.strip()
    if kind == LOOK:
        word = plain.casefold()
        return 1.0 if word in _YES else 0.0 if word in _NO else None
    if kind == OHMS and plain.casefold() in _OPEN:
        return math.inf
    if kind == OHMS and (inside := _INSIDE.fullmatch(plain)) is not None:
        letter = inside[2] if inside[2] == "M" else inside[2].casefold()
        return _bounded(float(f"{inside[1]}.{inside[3]}") * _UNITS[OHMS][letter], kind)
    found = _PLAIN[kind].fullmatch(plain)
    if found is None:
        return None
    letter = found[2] if found[2] in ("M", "m") else found[2].casefold()
    return _bounded(float(found[1]) * _UNITS[kind][letter], kind)


def _bounded(value: float, kind: str) -> float | None:
    return value if math.isfinite(value) and _LEAST[kind] <= value <= _MOST[kind] else None
