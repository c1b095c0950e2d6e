"""What a matrix table says about its own keys: names, diodes, groups held together."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Protocol

from boardgen.catalog.tomlfile import KeyPath
from boardgen.design import schema
from boardgen.errors import InputError, suggestion

MOST_HINTS = 6  # so often a matrix seeks names near an unknown one: for thousands that would take minutes
OWN_WAY = ("cathode_to_row", "cathode_to_column")  # lists of keys whose diode has its own direction


class Say(Protocol):
    """Makes an error that knows its place in the file."""

    def __call__(self, message: str, path: KeyPath, found: str = "", allowed: str = "") -> InputError:
        """Return the error at the key *path*."""

    def line(self, path: KeyPath) -> str:
        """Return "line N" for the key *path*."""


@dataclass(slots=True)
class Hints:
    """The names that keys of a matrix have, and how many unknown ones were met."""

    allowed: set[str]
    met: int = 0

    def near(self, name: str) -> str:
        """Return ", did you mean ..." for an unknown *name*, "" once there were many."""
        self.met += 1
        return suggestion(name, self.allowed) if self.met <= MOST_HINTS else ""


def key_problems(
    form: schema.DesignForm, matrix: schema.MatrixForm, at: KeyPath, say: Say
) -> Iterator[InputError]:
    """Yield what is wrong with the keys of *matrix*, the table at *at* in the file."""
    rows = matrix.rows or tuple(c.signal for c in form.contacts if c.kind == "row" and c.signal)
    columns = matrix.columns or tuple(c.signal for c in form.contacts if c.kind == "column" and c.signal)
    crossings = len(rows) * len(columns)
    named = sum(1 for names in matrix.keys for key in names if key)
    if named > crossings:
        yield say(
            f"there are {named} keys on {crossings} crossing{'' if crossings == 1 else 's'}", (*at, "keys")
        )
    known: dict[str, KeyPath] = {}
    for r, names in enumerate(matrix.keys):
        for c, key in enumerate(names):
            here: KeyPath = (*at, "keys", r, c)
            if key and key in known:
                first = known[key]
                yield say(
                    f"key {key!r} stands at two crossings, the first in row {_n(first[-2])}, "
                    f"column {_n(first[-1])}",
                    here,
                )
            elif key:
                known[key] = here
    allowed = set(known) or {f"{row}/{column}" for row in rows for column in columns}
    hints = Hints(allowed)
    yield from _diodes(matrix, hints, at, say)
    for n, group in enumerate(matrix.together):
        yield from _listed(group, hints, (*at, "together", n), say)


def _n(place: str | int) -> int:
    return int(place) + 1


def _diodes(matrix: schema.MatrixForm, hints: Hints, at: KeyPath, say: Say) -> Iterator[InputError]:
    own = {key: getattr(matrix, key) for key in OWN_WAY}
    if matrix.diodes == "none":
        for key in ("diode_keys", "diode_vf_v"):
            if getattr(matrix, key) is not None and (key == "diode_keys" or not any(own.values())):
                yield say(
                    f"{key} needs diodes, which say which way they point",
                    (*at, key),
                    allowed='diodes = "cathode-to-row" or "cathode-to-column"',
                )
    if matrix.diode_keys is not None:
        yield from _listed(matrix.diode_keys, hints, (*at, "diode_keys"), say)
    for key, names in own.items():
        yield from _listed(names, hints, (*at, key), say)
        yield from _own_ways(matrix, key, names, hints, at, say)


def _own_ways(
    matrix: schema.MatrixForm, key: str, names: tuple[str, ...], hints: Hints, at: KeyPath, say: Say
) -> Iterator[InputError]:
    """Yield what is wrong with keys that have a diode of their own direction: none at all, or both."""
    fitted = None if matrix.diode_keys is None or matrix.diodes == "none" else set(matrix.diode_keys)
    first = {name: n for n, name in reversed(list(enumerate(matrix.cathode_to_row)))}
    for n, name in enumerate(names):
        if name not in hints.allowed:
            continue
        if fitted is not None and name not in fitted:
            where = say.line((*at, "diode_keys"))
            message = (
                f"key {name!r} has no diode that could point to anything: diode_keys, {where}, leaves it out"
            )
            yield say(message, (*at, key, n))
        if key == "cathode_to_column" and name in first:
            where = say.line((*at, "cathode_to_row", first[name]))
            message = f"the diode of key {name!r} points both ways: it stands in cathode_to_row too, {where}"
            yield say(message, (*at, key, n))


def _listed(names: tuple[str, ...], hints: Hints, at: KeyPath, say: Say) -> Iterator[InputError]:
    seen: set[str] = set()
    for n, key in enumerate(names):
        if key not in hints.allowed:
            yield say(f"there is no key {key!r} in the matrix{hints.near(key)}", (*at, n))
        elif key in seen:
            yield say(f"key {key!r} is listed twice", (*at, n))
        seen.add(key)
