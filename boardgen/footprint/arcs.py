"""Curves as chords: how many there must be for a stated error."""

from __future__ import annotations

import math

from boardgen.errors import InputError
from boardgen.units import Nm, Point

CHORD = 100.0  # nm: how far a track's chord may stand from its arc, always toward the arc's centre
MOST_CHORDS = 4_096


def chord_points(start: Point, mid: Point, end: Point, error: float = CHORD) -> list[Point]:
    """Return points on the arc through three points, ends included; chords leave it by *error* nm at most.

    Three points on a line give its two ends. Raises InputError for an arc that would take more than
    :data:`MOST_CHORDS` chords.
    """
    ends = [(float(p.x), float(p.y)) for p in (start, mid, end)]
    circle = circle_through(*ends)
    if circle is None:
        return [start, end]
    cx, cy, radius = circle
    a0, a1, a2 = (math.atan2(y - cy, x - cx) for x, y in ends)
    sweep = (a2 - a0) % math.tau
    if (a1 - a0) % math.tau > sweep:
        sweep -= math.tau
    half = math.acos(max(0.0, 1 - error / radius)) if radius > error else math.pi / 4
    count = max(2, math.ceil(abs(sweep) / 2 / half))
    if count > MOST_CHORDS:
        raise InputError("an arc too large to be followed", found=f"a radius of {radius / 1e6:.0f} mm")
    turns = (a0 + sweep * i / count for i in range(1, count))
    inner = [Point(Nm(round(cx + radius * math.cos(t))), Nm(round(cy + radius * math.sin(t)))) for t in turns]
    return [start, *inner, end]


def circle_through(
    a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]
) -> tuple[float, float, float] | None:
    """Return middle and radius of the circle through three points; None where they stand on a line."""
    ax, ay = a
    bx, by, cx, cy = b[0] - ax, b[1] - ay, c[0] - ax, c[1] - ay
    d = 2 * (bx * cy - by * cx)
    # a bulge of less than 2 nm is a line
    if abs(d) <= 4 * max(math.hypot(cx, cy), math.hypot(bx, by), 1.0):
        return None
    b2, c2 = bx * bx + by * by, cx * cx + cy * cy
    x, y = (cy * b2 - by * c2) / d, (bx * c2 - cx * b2) / d
    return ax + x, ay + y, math.hypot(x, y)


__all__ = ["CHORD", "chord_points", "circle_through"]
