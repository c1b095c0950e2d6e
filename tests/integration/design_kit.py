"""Designs as text, bound and built, for the tests of the whole way."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from boardgen.catalog.load import Catalog
from boardgen.catalog.tomlfile import parse_toml
from boardgen.design.load import design_from
from boardgen.design.model import BoundDesign, Design
from boardgen.pipeline import choose_module


def design_of(text: str, folder: Path = Path()) -> Design:
    """Return the design that *text* says; *folder* is where its drawing lies."""
    return design_from(parse_toml(text.encode(), "d.toml"), folder)


def bound_of(text: str, catalog: Catalog, folder: Path = Path()) -> BoundDesign:
    """Return the design of *text* bound to *catalog*, its module chosen."""
    return choose_module(design_of(text, folder), catalog)


def contacts(kind: str, numbers: Iterable[object], prefix: str = "S", **more: object) -> str:
    """Return a ``[[contacts]]`` table for each of *numbers*, signals named by prefix and number."""
    named = kind not in ("ground", "shield", "unused", "supply")
    tables = []
    for number in numbers:
        lines = ["[[contacts]]", f'number = "{number}"', f'kind = "{kind}"']
        if named:
            lines.append(f'signal = "{prefix}{number}"')
        lines += [f"{key} = {_value(value)}" for key, value in more.items()]
        tables.append("\n".join(lines))
    return "\n".join(tables) + "\n"


def _value(value: object) -> str:
    return f'"{value}"' if isinstance(value, str) else str(value).lower()
