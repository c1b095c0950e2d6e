"""Lengths as exact integer nanometres, points, and the turning of points.

A length is born through :func:`mm`, :func:`mil` or :class:`Nm`, so its unit is
spelled once; everything above computes with :class:`Nm`. Floats appear only
inside geometry (see :mod:`boardgen.board.geometry`).
"""

from __future__ import annotations

import math
from decimal import ROUND_HALF_EVEN, Decimal
from typing import NamedTuple, Self

NM_PER_MM = 1_000_000
NM_PER_MIL = 25_400
_ADD, _SUB, _RSUB, _MUL, _FLOORDIV = int.__add__, int.__sub__, int.__rsub__, int.__mul__, int.__floordiv__


class Nm(int):
    """A length in nanometres; sums, differences and whole multiples stay lengths."""

    __slots__ = ()

    # With a float on the other side Python falls back to plain float arithmetic. Through int's own
    # operations a sum takes half the time of one through int(), and a board takes some 100,000.

    def __add__(self, other: int) -> Self:
        made = _ADD(self, other)
        return made if made is NotImplemented else type(self)(made)

    __radd__ = __add__

    def __sub__(self, other: int) -> Self:
        made = _SUB(self, other)
        return made if made is NotImplemented else type(self)(made)

    def __rsub__(self, other: int) -> Self:
        made = _RSUB(self, other)
        return made if made is NotImplemented else type(self)(made)

    def __mul__(self, other: int) -> Self:
        made = _MUL(self, other)
        return made if made is NotImplemented else type(self)(made)

    __rmul__ = __mul__

    def __floordiv__(self, other: int) -> Self:
        made = _FLOORDIV(self, other)
        return made if made is NotImplemented else type(self)(made)

    def __neg__(self) -> Self:
        return type(self)(-int(self))

    def __abs__(self) -> Self:
        return type(self)(abs(int(self)))

    @property
    def mm(self) -> float:
        """The length in millimetres, as a float (for geometry and display)."""
        return int(self) / NM_PER_MM

    def __repr__(self) -> str:
        return f"mm('{format_mm(self)}')"


ZERO = Nm(0)


def nm(value: float) -> Nm:
    """Return *value* nanometres, rounded to the nearest whole one (ties to even)."""
    return Nm(round(value))


def mm(value: float | str | Decimal) -> Nm:
    """Return *value* millimetres as a length; a string is taken exactly.

    Raises ValueError for a value that is not finite.
    """
    if isinstance(value, float):
        if not math.isfinite(value):
            raise ValueError(f"a length must be finite, not {value!r}")
        return Nm(round(value * NM_PER_MM))
    scaled = Decimal(value) * NM_PER_MM
    if not scaled.is_finite():
        raise ValueError(f"a length must be finite, not {value!r}")
    return Nm(int(scaled.to_integral_value(ROUND_HALF_EVEN)))


def mil(value: float) -> Nm:
    """Return *value* thousandths of an inch as a length (1 mil = 25.4 um, exact)."""
    return Nm(round(value * NM_PER_MIL))


def format_mm(length: int, decimals: int | None = None) -> str:
    """Write a length in mm from the integer, without passing through a float.

    Without *decimals*, trailing zeros go ("2.54"); with it, exactly that many
    digits follow the point, rounded half away from zero ("2.540").
    """
    sign = "-" if length < 0 else ""
    size = abs(int(length))
    if decimals is None:
        whole, rest = divmod(size, NM_PER_MM)
        digits = f"{rest:06d}".rstrip("0")
        return f"{sign}{whole}.{digits}" if digits else f"{sign}{whole}"
    step = 10 ** (6 - decimals)
    size = (size + step // 2) // step
    whole, rest = divmod(size, 10**decimals)
    if whole == 0 and rest == 0:
        sign = ""
    return f"{sign}{whole}.{rest:0{decimals}d}" if decimals else f"{sign}{whole}"


class Size(NamedTuple):
    """Width (x) and height (y) of a thing."""

    w: Nm
    h: Nm


class Point(NamedTuple):
    """A place: x to the right, y down."""

    x: Nm
    y: Nm

    def plus(self, other: Point) -> Point:
        """Return this point moved by *other* taken as a vector."""
        return Point(self.x + other.x, self.y + other.y)

    def minus(self, other: Point) -> Point:
        """Return the vector from *other* to this point."""
        return Point(self.x - other.x, self.y - other.y)

    def turned(self, degrees: float) -> Point:
        """Return the point turned about the origin, counter-clockwise as seen from the top.

        Exact for multiples of 90 degrees, rounded to whole nanometres otherwise.
        """
        quarter, rest = divmod(degrees % 360.0, 90.0)
        if rest == 0.0:
            x, y = int(self.x), int(self.y)
            for _ in range(int(quarter)):
                x, y = y, -x
            return Point(Nm(x), Nm(y))
        angle = math.radians(degrees)
        cos, sin = math.cos(angle), math.sin(angle)
        return Point(nm(self.x * cos + self.y * sin), nm(-self.x * sin + self.y * cos))

    def distance(self, other: Point) -> float:
        """Return the straight distance to *other* in nm."""
        return math.hypot(self.x - other.x, self.y - other.y)


ORIGIN = Point(ZERO, ZERO)


def point_mm(x: float | str, y: float | str) -> Point:
    """Return the point at (*x*, *y*) millimetres."""
    return Point(mm(x), mm(y))


class Box(NamedTuple):
    """An upright rectangle by its corners; left <= right, top <= bottom (y down)."""

    left: Nm
    top: Nm
    right: Nm
    bottom: Nm

    @property
    def width(self) -> Nm:
        """Extent along x."""
        return self.right - self.left

    @property
    def height(self) -> Nm:
        """Extent along y."""
        return self.bottom - self.top

    @property
    def centre(self) -> Point:
        """The middle, rounded down to whole nm."""
        return Point((self.left + self.right) // 2, (self.top + self.bottom) // 2)

    def grown(self, by: int) -> Box:
        """Return the box larger by *by* on each side."""
        return Box(self.left - by, self.top - by, self.right + by, self.bottom + by)

    def corners(self) -> tuple[Point, Point, Point, Point]:
        """The corners clockwise as seen, from top left."""
        return (
            Point(self.left, self.top),
            Point(self.right, self.top),
            Point(self.right, self.bottom),
            Point(self.left, self.bottom),
        )

    @staticmethod
    def around(points: tuple[Point, ...] | list[Point]) -> Box:
        """Return the smallest box that holds all *points*; raises ValueError for none."""
        if not points:
            raise ValueError("no points to put a box around")
        xs = [p.x for p in points]
        ys = [p.y for p in points]
        return Box(Nm(min(xs)), Nm(min(ys)), Nm(max(xs)), Nm(max(ys)))
