"""What of a run has a price, taken from its files once each is held to its digest."""

from __future__ import annotations

import fnmatch
from collections.abc import Mapping, Sequence
from decimal import Decimal
from pathlib import Path
from typing import Any

from boardgen.catalog.load import Catalog, load_catalog
from boardgen.catalog.model import Component, Connector, FabClass, Module
from boardgen.design.load import design_catalogs
from boardgen.errors import BoardgenError, InputError, Severity
from boardgen.export.files import OutFile
from boardgen.export.run_folder import RECORD
from boardgen.order.cost_model import PartNeed, RunFacts
from boardgen.order.lists import Row, parts_of
from boardgen.order.prices_model import Prices
from boardgen.pipeline.check_run import recorded_files
from boardgen.pipeline.record import Record, read_record

_BOM = "assembly/bom.csv"
# A dm2 of laminate weighs 18.5 g a mm (FR-4 data sheets: 1.85 g/cm3), of copper 0.0896 g a um (8.96 g/cm3).
_LAMINATE, _COPPER = Decimal("18.5"), Decimal("0.0896")


def facts_of_run(run: Path, prices: Prices, catalogs: Sequence[Path] = ()) -> RunFacts:
    """Return what has a price in the run at *run* (its folder or its record).

    Raises InputError for what is no run, and for one whose files are missing or not as recorded;
    MachineError where reading is forbidden.
    """
    folder = run.parent if run.name == RECORD else run
    where = folder.as_posix()
    if not (folder / RECORD).is_file():
        raise InputError(f"no run: it holds no {RECORD}", where)
    record, summary = read_record(folder / RECORD)
    files, found = recorded_files(folder, record.files)
    bad = [finding.message for finding in found if finding.severity is Severity.ERROR]
    if bad:
        more = f", and {len(bad) - 1} more" if len(bad) > 1 else ""
        raise InputError(
            f"the run is not as it was recorded: {bad[0]}{more}",
            where,
            allowed="a run as `generate` left it; `check` tells of every file",
        )
    bom = next((file for file in files if file.path == _BOM), None)
    if bom is None:
        raise InputError(f"the run has no {_BOM}", where)
    catalog = load_catalog(catalogs_of(record.design, catalogs))
    return run_facts(record, summary, bom, catalog.fab(record.fab), prices, catalog, where)


def catalogs_of(name: str, catalogs: Sequence[Path], design: Path | None = None) -> tuple[Path, ...]:
    """Return the catalogue folders of the design *name*: *catalogs*, and ``catalog/`` beside the design.

    *design* is its place, by default ``designs/NAME`` from here, as ``order`` looks for it.
    """
    plain = name not in ("", ".", "..") and not set(name) & {"/", "\\", "\0"}
    place = design if design is not None or not plain else Path("designs") / name
    return tuple(catalogs) if place is None else design_catalogs(place, catalogs)


def run_facts(
    record: Record,
    summary: Mapping[str, Any],
    bom: OutFile,
    fab: FabClass,
    prices: Prices,
    catalog: Catalog,
    where: str,
) -> RunFacts:
    """Return what has a price in a run in memory; *where* names it in errors. Raises InputError."""
    try:
        board = summary["board"]
        width, height, thick = (Decimal(str(board[key])) for key in ("width_mm", "height_mm", "thickness_mm"))
        layers = int(board["copper_layers"])
        chosen = (str(summary["module"]), str(summary["connector"]))
        if not all(0 < length < 10_000 for length in (width, height, thick)):
            raise ValueError("a length is out of range")
    except (KeyError, TypeError, ValueError, ArithmeticError) as error:
        words = f"{type(error).__name__}: {str(error)[:120]}"
        raise InputError("the record does not say what board it is", where, found=words) from None
    errors = sum(f.severity is Severity.ERROR for f in record.findings)
    return RunFacts(
        design=record.design,
        revision=record.revision,
        fab=fab.id,
        width_mm=width,
        height_mm=height,
        grams_per_dm2=thick * _LAMINATE + layers * fab.copper_um * _COPPER,
        options=(
            ("layers", str(layers)),
            ("finish", fab.finish),
            ("mask-colour", fab.mask_colour),
            ("legend-colour", fab.legend_colour if fab.legend else "none"),
            ("thickness-mm", f"{float(thick):g}"),
            ("copper-um", f"{fab.copper_um:g}"),
        ),
        parts=_needs(bom, prices, catalog, chosen, where),
        notes=("the run has findings of severity error: it is not for fabrication",) if errors else (),
    )


def _needs(
    bom: OutFile, prices: Prices, catalog: Catalog, chosen: Sequence[str], where: str
) -> tuple[PartNeed, ...]:
    """Return the parts of a board; rows of one order number are one purchase."""
    entries = _entries(prices, catalog)
    found: dict[tuple[str, ...], PartNeed] = {}
    for row in _rows(bom, where):
        if row["DNP"]:
            continue
        count = row["Qty"]
        if not (count.isdecimal() and len(count) <= 5 and 0 < int(count) <= 10_000):
            raise InputError("the parts list has no such count", f"{where}/{bom.path}", found=count[:20])
        need = PartNeed(
            refs=row["Designator"],
            per_board=int(count),
            value=row["Value"],
            footprint=row["Footprint"],
            mpn=row["MPN"],
            note=row["Note"],
        )
        ids = tuple(key for key, entry in entries if _stands_for(entry, need, chosen))
        key = (need.mpn,) if need.mpn else (need.value, need.footprint, need.refs)
        known = found.get(key)
        refs = need.refs if known is None else f"{known.refs} {need.refs}"
        count_all = need.per_board + (0 if known is None else known.per_board)
        found[key] = PartNeed(refs, count_all, need.value, need.footprint, need.mpn, need.note, ids)
    return tuple(found.values())


def _rows(bom: OutFile, where: str) -> tuple[Row, ...]:
    return parts_of(OutFile(f"{where}/{bom.path}", bom.data))


def _entries(prices: Prices, catalog: Catalog) -> tuple[tuple[str, Module | Connector | Component], ...]:
    """Return the catalogue's entries that the table prices; ids that this catalogue has not are let be."""
    found = []
    for wanted in sorted({part.entry for part in prices.parts if part.entry}):
        try:
            entry = catalog.entry(wanted)
        except BoardgenError:
            continue  # of another design's catalogue
        if isinstance(entry, Module | Connector | Component):
            found.append((wanted, entry))
    return tuple(found)


def _stands_for(entry: Module | Connector | Component, need: PartNeed, chosen: Sequence[str]) -> bool:
    if isinstance(entry, Component):
        if not need.mpn:  # no order number for this value of a range: the note names the range
            return "*" in entry.mpn and f"order {entry.mpn} " in need.note
        return like(entry.mpn, need.mpn)
    return entry.id in chosen and need.footprint == entry.footprint


def like(pattern: str, number: str) -> bool:
    """Return whether the order number fits *pattern*, in which only * is special."""
    literal = "".join(f"[{letter}]" if letter in "?[" else letter for letter in pattern)
    return fnmatch.fnmatchcase(number, literal)
