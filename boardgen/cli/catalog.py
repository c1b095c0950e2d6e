"""The ``catalog`` command: lists, filters, and shows one entry with its drawing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from boardgen.cli.guard import CLEAN, FINDINGS, error_record
from boardgen.cli.out import write_json, write_lines, write_table
from boardgen.errors import InputError, InputErrors

if TYPE_CHECKING:
    from boardgen.catalog.load import Catalog
    from boardgen.catalog.model import Entry

KINDS = ("modules", "connectors", "parts", "fabs", "logic")


def run(given: Sequence[str], svg: Path | None, folders: Sequence[Path], as_json: bool) -> int:
    """Do what the words *given* after ``catalog`` ask; returns the exit code."""
    from boardgen.catalog.load import load_catalog

    catalog = load_catalog(folders)
    if given and given[0] == "show":
        if len(given) != 2:
            raise InputError("catalog show takes one ID", key="show", found=f"{len(given) - 1} words")
        return show(given[1], svg, catalog, as_json)
    if svg is not None:
        raise InputError("the option goes with catalog show ID", key="--svg")
    kinds: Sequence[str] = KINDS
    words = list(given)
    if words and words[0] in KINDS:
        kinds, words = (words[0],), words[1:]
    return _list(kinds, words, catalog, as_json)


def _list(kinds: Sequence[str], words: Sequence[str], catalog: Catalog, as_json: bool) -> int:
    from boardgen.catalog.load import matching
    from boardgen.cli.entry_words import short_record, short_words

    tables: Mapping[str, Mapping[str, Entry]] = {
        "modules": catalog.modules,
        "connectors": catalog.connectors,
        "parts": catalog.components,
        "fabs": catalog.fabs,
        "logic": catalog.logic,
    }
    found = {kind: matching(tables[kind], words) for kind in kinds}
    problems = catalog.problems
    count = sum(len(entries) for entries in found.values())
    if as_json:
        write_json(
            {
                **{kind: [short_record(entry) for entry in entries] for kind, entries in found.items()},
                "problems": [error_record(problem) for problem in problems],
            }
        )
    else:
        rows = [(kind.removesuffix("s"), *short_words(entry)) for kind in kinds for entry in found[kind]]
        if rows:
            write_table(("kind", "id", "name", "what it is"), rows)
    write_lines([f"boardgen: {problem}" for problem in problems], as_json=True)
    if not count and words:
        write_lines([f"nothing in the catalogue holds {' '.join(words)!r}"], as_json=True)
    return FINDINGS if problems else CLEAN


def show(entry_id: str, svg: Path | None, catalog: Catalog, as_json: bool) -> int:
    """Show the entry called *entry_id*, its drawing in text; with *svg*, draw it into that file."""
    from boardgen.catalog.model import FabClass, LogicFamily
    from boardgen.catalog.pads import pad_problems
    from boardgen.cli.entry_words import full_record, full_words

    entry = catalog.entry(entry_id)
    footprint = None if isinstance(entry, FabClass | LogicFamily) else catalog.footprint(entry.footprint)
    problems = pad_problems(entry, catalog)
    if problems:
        raise InputErrors(problems)
    if svg is not None:
        if isinstance(entry, FabClass | LogicFamily) or footprint is None:
            raise InputError("a fab class or logic family has no drawing", key="--svg")
        from boardgen.export.part_drawing import part_svg
        from boardgen.filing import write_whole

        write_whole(svg, part_svg(entry, footprint).encode("utf-8"))
    write_lines(full_words(entry, footprint), as_json)
    if svg is not None:
        write_lines([f"drawing in {svg.as_posix()}"], as_json)
    if as_json:
        write_json(full_record(entry))
    return CLEAN
