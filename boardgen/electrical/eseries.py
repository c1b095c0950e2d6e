"""Preferred values of resistors (IEC 60063) and how values are written on a part list."""

from __future__ import annotations

import math

E12 = (10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82)
E24 = (10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91)

_LEAST, _MOST = 1.0, 10e6  # ohm; what hand-solderable resistors are sold in


def _ladder(series: tuple[int, ...]) -> list[float]:
    steps = [value * 10.0 ** (decade - 1) for decade in range(8) for value in series]
    return [value for value in steps if _LEAST <= value <= _MOST]


def at_most(ohms: float, series: tuple[int, ...] = E12) -> float:
    """Return the largest preferred value that does not exceed *ohms*.

    Raises ValueError where the series has none (below 1 ohm or not finite).
    """
    if not math.isfinite(ohms):
        raise ValueError(f"a resistance must be finite, not {ohms!r}")
    fitting = [value for value in _ladder(series) if value <= ohms * (1 + 1e-9)]
    if not fitting:
        raise ValueError(f"no preferred value is as small as {ohms:g} ohm")
    return fitting[-1]


def at_least(ohms: float, series: tuple[int, ...] = E12) -> float:
    """Return the smallest preferred value not under *ohms*; raises ValueError above 10 Mohm."""
    if not math.isfinite(ohms):
        raise ValueError(f"a resistance must be finite, not {ohms!r}")
    for value in _ladder(series):
        if value >= ohms * (1 - 1e-9):
            return value
    raise ValueError(f"no preferred value is as large as {ohms:g} ohm")


def _scaled(value: float, steps: tuple[tuple[float, str], ...]) -> str:
    for size, suffix in steps:
        if value >= size * (1 - 1e-9):
            return f"{value / size:.4g}{suffix}"
    size, suffix = steps[-1]
    return f"{value / size:.4g}{suffix}"


def ohms_text(ohms: float) -> str:
    """Write a resistance as a part list does: "220", "4.7k", "1M"."""
    return _scaled(ohms, ((1e6, "M"), (1e3, "k"), (1.0, "")))


def farads_of(text: str) -> float:
    """Read a capacitance as a part list writes it ("100n", "4.7u"); 0 where *text* is none."""
    scale = {"u": 1e-6, "n": 1e-9, "p": 1e-12}.get(text[-1:])
    try:
        return 0.0 if scale is None else float(text[:-1]) * scale
    except ValueError:
        return 0.0


def farads_text(farads: float) -> str:
    """Write a capacitance as a part list does: "100n", "4.7u"."""
    return _scaled(farads, ((1e-6, "u"), (1e-9, "n"), (1e-12, "p")))
