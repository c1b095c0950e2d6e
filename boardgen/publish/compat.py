"""Which firmware runs on which revision: the pin maps of all revisions held against each other."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from boardgen.publish.model import Edition, Fit

RUNS = "runs as it is"
REBUILD = "build again"
CODE = "change the code"
_USED = (
    ("reads", "is read"),
    ("drives", "is driven"),
    ("analog", "is analog"),
    ("pull", "pull"),
    ("active_low", "is active low"),
)
_MATRIX = ("rows", "columns", "drive", "diodes", "cathode_to_row", "cathode_to_column", "keys")


def fits(editions: Sequence[Edition]) -> tuple[Fit, ...]:
    """Return how firmware of each of *editions* does on every one of them, in order."""
    return tuple(_fit(built, board) for built in editions for board in editions)


def _fit(built: Edition, board: Edition) -> Fit:
    a, b = built.pins, board.pins
    if built is board:
        return Fit(built.revision, board.revision, RUNS, ())
    code = [*_uses(a, b), *_matrices(a, b)]
    moved = _moved(a, b)
    if code:
        verdict = CODE
    elif moved or built.digest != board.digest:
        verdict = REBUILD
        moved = moved or ["another pin map, which the pin file refuses"]
    else:
        verdict = RUNS
    return Fit(built.revision, board.revision, verdict, (*code, *moved))


def _rows(data: Mapping[str, Any]) -> dict[str, Mapping[str, Any]]:
    return {str(row["signal"]): row for row in data["pins"]}


def _uses(a: Mapping[str, Any], b: Mapping[str, Any]) -> list[str]:
    """What no compiler mends: another module, signals that came or went, or that are used otherwise."""
    found = []
    if a.get("module") != b.get("module"):
        found.append(f"another module: {a.get('module')} before, {b.get('module')} now")
    one, two = _rows(a), _rows(b)
    for signal in sorted({*one, *two}):
        if signal not in two:
            found.append(f"{signal} is not on this board")
        elif signal not in one:
            found.append(f"{signal} is new")
        else:
            for key, words in _USED:
                before, after = one[signal].get(key), two[signal].get(key)
                if before != after:
                    found.append(f"{signal} {words}: {_plain(before)} before, {_plain(after)} now")
    return found


def _matrices(a: Mapping[str, Any], b: Mapping[str, Any]) -> list[str]:
    one, two = (
        {str(m.get("name")): tuple(str(m.get(key)) for key in _MATRIX) for m in data.get("matrices") or ()}
        for data in (a, b)
    )
    other = [name for name in sorted({*one, *two}) if one.get(name) != two.get(name)]
    return [f"matrix {name} is another one" for name in other]


def _moved(a: Mapping[str, Any], b: Mapping[str, Any]) -> list[str]:
    one, two = _rows(a), _rows(b)
    return [
        f"{signal} moved from {one[signal]['pin']} to {two[signal]['pin']}"
        for signal in sorted(one)
        if signal in two and one[signal]["pin"] != two[signal]["pin"]
    ]


def _plain(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value) if value else "none"
