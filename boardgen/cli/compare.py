"""The ``compare`` command."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from boardgen.cli.guard import CLEAN
from boardgen.cli.out import progress, write_json, write_lines, write_text
from boardgen.errors import InputError

if TYPE_CHECKING:
    from boardgen.revision.model import Comparison


@dataclass(frozen=True, slots=True)
class Priced:
    """A price table's file, and the number of boards that are priced."""

    table: Path
    quantity: int
    catalogs: Sequence[Path] = ()


FORMS = ("text", "json", "html", "changelog")


def run(
    a: Path, b: Path, form: str | None, to: Path | None, as_json: bool, priced: Priced | None = None
) -> int:
    """Compare the runs at *a* and *b*; returns the exit code.

    *form* is one of FORMS (None: by the ending of *to*, else text). With *to* the answer goes to that file,
    whole or not at all. *priced* says by which price table costs are compared, and for how many boards.
    """
    form = _checked(form, to, as_json)
    if to is not None:
        _check_target(to)
    with progress("comparing"):
        from boardgen.revision.compare import compare_runs

        found = compare_runs(a, b, None if priced is None else _costs(priced))
    text = _writer(form)(found)
    if to is not None:
        from boardgen.filing import write_whole

        write_whole(to, text.encode("utf-8"), key="--to")
        name = f"{found.a.design} {found.a.revision} to {found.b.revision}"
        write_lines([f"{name}: {len(found.changes)} changes, in {to.as_posix()}"], as_json)
        if as_json:
            from boardgen.revision.views import as_data

            write_json(as_data(found))
        return CLEAN
    write_text(text)
    return CLEAN


def _costs(priced: Priced) -> Callable[[Path], Mapping[str, str]]:
    """Return what prices a run; the price table is read first."""
    from boardgen.order.cost import checked_count, cost_of_run
    from boardgen.order.prices import load_prices

    quantity = checked_count(priced.quantity, "--quantity")
    prices = load_prices(priced.table)
    return lambda run: cost_of_run(run, prices, quantity, priced.catalogs)


def _writer(form: str) -> Callable[[Comparison], str]:
    from boardgen.revision import views
    from boardgen.revision.changelog import changelog

    return {
        "text": views.as_text,
        "html": views.as_html,
        "changelog": changelog,
        "json": lambda found: json.dumps(views.as_data(found), indent=2) + "\n",
    }[form]


def _checked(form: str | None, to: Path | None, as_json: bool) -> str:
    if form is None:
        ending = to.suffix.casefold() if to is not None else ""
        form = {".html": "html", ".htm": "html", ".json": "json", ".md": "changelog"}.get(ending, "text")
        return "json" if as_json and to is None else form
    if form not in FORMS:
        raise InputError(
            "the form is not known", key="--format", found=repr(form[:40]), allowed=", ".join(FORMS)
        )
    if as_json and to is None and form != "json":
        raise InputError("--json asks for another form", key="--format", found=form, allowed="json")
    return form


def _check_target(to: Path) -> None:
    """Raise where *to* cannot be written, before any work is done."""
    if to.is_dir():
        raise InputError("a file is wanted, this is a folder", to.as_posix(), "--to")
    if not to.parent.is_dir():
        raise InputError("there is no such folder to write into", to.parent.as_posix(), "--to")
