"""The figures a catalogue entry gives its family, read one by one and checked."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

from boardgen.errors import InputError, suggestion
from boardgen.units import Box, Nm, Size, mm


class Params:
    """A ``family`` table. Each reader takes one key; :meth:`done` refuses what nobody took."""

    def __init__(self, table: Mapping[str, object], family: str) -> None:
        self.table = table
        self.family = family
        self._taken = {"name"}

    def fail(self, key: str, message: str, found: object = "", allowed: str = "") -> InputError:
        """Return the error for *key*, ready to raise."""
        shown = "" if found == "" else repr(found)[:80]
        return InputError(message, key=f"family.{key}", found=shown, allowed=allowed)

    def _get(self, key: str, allowed: str) -> object:
        self._taken.add(key)
        if key not in self.table:
            raise self.fail(key, f"the family '{self.family}' needs this key", allowed=allowed)
        return self.table[key]

    def has(self, key: str) -> bool:
        """Return whether the table gives *key*."""
        return key in self.table

    def length(self, key: str, low: float, high: float, default: str | None = None) -> Nm:
        """Return a length in mm between *low* and *high*; *default* where the key is left out."""
        if default is not None and key not in self.table:
            return mm(default)
        allowed = f"{low:g} to {high:g} mm"
        return mm(self._number(key, self._get(key, allowed), low, high, allowed))

    def _number(self, key: str, value: object, low: float, high: float, allowed: str) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            raise self.fail(key, "a number is needed", value, allowed)
        if not low <= value <= high:
            raise self.fail(key, "the figure is out of range", value, allowed)
        return float(value)

    def lengths(self, key: str, count: int, low: float, high: float) -> tuple[Nm, ...]:
        """Return *count* lengths in mm, each between *low* and *high*."""
        allowed = f"{count} figures of {low:g} to {high:g} mm"
        value = self._get(key, allowed)
        if not isinstance(value, list | tuple) or len(value) != count:
            raise self.fail(key, "a list of figures is needed", value, allowed)
        return tuple(mm(self._number(key, item, low, high, allowed)) for item in value)

    def size(self, key: str, low: float, high: float) -> Size:
        """Return two lengths as width and height."""
        w, h = self.lengths(key, 2, low, high)
        return Size(w, h)

    def box(self, key: str) -> Box:
        """Return four lengths as left, top, right, bottom."""
        left, top, right, bottom = self.lengths(key, 4, -200, 200)
        if left >= right or top >= bottom:
            raise self.fail(key, "left must be below right, top below bottom", self.table[key])
        return Box(left, top, right, bottom)

    def count(self, key: str, low: int, high: int) -> int:
        """Return a whole number between *low* and *high*."""
        allowed = f"a whole number from {low} to {high}"
        value = self._get(key, allowed)
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            raise self.fail(key, "the number is not possible", value, allowed)
        return value

    def choice(self, key: str, allowed: Iterable[str], default: str | None = None) -> str:
        """Return one of the *allowed* words."""
        options = sorted(allowed)
        if default is not None and key not in self.table:
            return default
        value = self._get(key, ", ".join(options))
        if not isinstance(value, str) or value not in options:
            hint = suggestion(value, options) if isinstance(value, str) else ""
            raise self.fail(key, f"not one of the words{hint}", value, ", ".join(options))
        return value

    def number_choice(self, key: str, allowed: Iterable[int]) -> int:
        """Return one of the *allowed* whole numbers."""
        options = sorted(allowed)
        shown = ", ".join(str(option) for option in options)
        value = self._get(key, shown)
        if isinstance(value, bool) or not isinstance(value, int) or value not in options:
            raise self.fail(key, "not one of the numbers there are", value, shown)
        return value

    def text(self, key: str, default: str = "") -> str:
        """Return a short text of one line."""
        if key not in self.table:
            return default
        value = self._get(key, "a short text")
        if not isinstance(value, str) or len(value) > 40 or not value.isprintable():
            raise self.fail(key, "a text of one line and at most 40 characters is needed", value)
        return value

    def numbers(self, key: str) -> tuple[str, ...]:
        """Return a list of pad numbers, "" where a place has no pin."""
        allowed = "a list of at most 100 short texts"
        value = self._get(key, allowed)
        good = isinstance(value, list | tuple) and len(value) <= 100
        if not good or not all(isinstance(item, str) and len(item) <= 8 for item in value):  # type: ignore[attr-defined]
            raise self.fail(key, "pad numbers are needed", value, allowed)
        return tuple(value)  # type: ignore[arg-type]

    def done(self) -> None:
        """Raise InputError for a key that the family does not know."""
        for key in sorted(self.table):
            if key not in self._taken:
                hint = suggestion(key, self._taken)
                raise self.fail(
                    key,
                    f"the family '{self.family}' has no such key{hint}",
                    allowed=", ".join(sorted(self._taken)),
                )
