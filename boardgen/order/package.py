"""The order package: one folder with the fab's zip, lists, drawings, values, and a zip of it all."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

from boardgen.errors import Finding, InputError
from boardgen.export.bom import position_rows
from boardgen.export.files import OutFile, text_file
from boardgen.export.run_folder import check_writable, hold_run
from boardgen.export.sheet_pdf import sheets_pdf
from boardgen.export.sheet_svg import sheet_svg
from boardgen.order.cost import estimate as estimated
from boardgen.order.cost import order_facts, order_total
from boardgen.order.cost_facts import catalogs_of
from boardgen.order.cost_model import Estimate, RunFacts
from boardgen.order.figures import board_figures
from boardgen.order.forms import order_lines, order_values
from boardgen.order.lists import bom_file, parts_of, position_file, positions_of, positions_of_rows
from boardgen.order.model import Ordered
from boardgen.order.naming import fab_name, kind_of, renamed, zipped
from boardgen.order.panel.choose import AUTO, NONE, PanelChoice, Price, checked_panel, choose_panel
from boardgen.order.panel.drawing import panel_sheet
from boardgen.order.panel.edges import unit_of
from boardgen.order.panel.files import (
    PanelBundle,
    PanelFiles,
    PanelMade,
    clean_files,
    most_copies,
    panel_files,
)
from boardgen.order.panel.layout import Grid
from boardgen.order.panel.words import panel_lines, panel_values
from boardgen.order.preflight import ordered_run
from boardgen.order.prices_model import Prices
from boardgen.order.profilemodel import Profile
from boardgen.order.profiles import DEFAULT, load_profile
from boardgen.order.readme import readme_file
from boardgen.units import Nm

FORM = "order.json"
MOST = 100_000


@dataclass(frozen=True, slots=True)
class OrderResult:
    """What ``order`` leaves: the package's folder, its values, and what its user should know."""

    folder: Path
    archive: Path
    values: dict[str, Any]
    notes: tuple[Finding, ...]
    estimate: Estimate | None = None


def checked_quantity(quantity: int) -> int:
    """Return *quantity*; raises InputError where nobody orders that many."""
    if not 1 <= quantity <= MOST:
        raise InputError(
            "a number of boards is wanted", key="--quantity", found=str(quantity), allowed=f"1 to {MOST}"
        )
    return quantity


def order(
    run: Path,
    quantity: int,
    out: Path,
    bom: str = DEFAULT,
    panel: str = NONE,
    design: Path | None = None,
    catalogs: Sequence[Path] = (),
    prices: Prices | None = None,
) -> OrderResult:
    """Make the order package for *quantity* boards of the finished run at *run*, in a folder under *out*.

    *bom* names a profile or a profile's file; *panel* is "none", "auto", or rows and columns ("2x3"). With
    *prices* the best panel is the cheapest, single boards where they cost no more, and the result has an
    estimate, which stays out of the package: it is no business of the fab's.
    Raises InputError or MachineError; then nothing was written, and an earlier package is as it was.
    """
    checked_quantity(quantity)
    shape = checked_panel(panel)
    profile = load_profile(bom)
    ordered = ordered_run(run, design, catalogs)
    name = f"{ordered.stem}-order-{quantity}"
    _check_place(out, name)
    facts = None
    if prices is not None:
        facts = order_facts(ordered, prices, catalogs_of(ordered.record.design, catalogs, design))
    choice = None
    if panel != NONE:
        unit = unit_of(ordered.board, ordered.module, ordered.connector)
        price = None if facts is None or prices is None else _panel_price(facts, prices, quantity)
        choice = choose_panel(unit, ordered.fab, quantity, shape, most_copies(ordered.board), price)
        if panel == AUTO and facts is not None and prices is not None:
            choice = _if_cheaper(choice, facts, prices, quantity)
    estimate = None
    if facts is not None and prices is not None:
        asked = facts if choice is None else _in_panels(facts, choice.panel.grid)
        estimate = estimated(asked, prices, (quantity,))
    files, values = package_files(ordered, profile, quantity, choice)
    archive = zipped(f"{name}.zip", files)
    with hold_run(out, name) as place:
        folder = place.write((*files, archive))
    return OrderResult(folder, folder / archive.path, values, ordered.notes, estimate)


def _in_panels(facts: RunFacts, grid: Grid) -> RunFacts:
    """Return the run made in panels of *grid*."""
    return facts.in_panels(Decimal(grid.width).scaleb(-6), Decimal(grid.height).scaleb(-6), grid.count)


def _if_cheaper(choice: PanelChoice, facts: RunFacts, prices: Prices, quantity: int) -> PanelChoice | None:
    """Return *choice*, or None where single boards cost no more."""
    alone = order_total(facts, prices, quantity)
    there = order_total(_in_panels(facts, choice.panel.grid), prices, quantity)
    return choice if alone is None or (there is not None and there < alone) else None


def _panel_price(facts: RunFacts, prices: Prices, quantity: int) -> Price:
    """Return what tells the price of *quantity* boards on panels of a grid."""

    @cache  # prices go by a panel's size and count, which many grids share
    def total(width: Nm, height: Nm, count: int) -> Decimal | None:
        pieces = facts.in_panels(Decimal(width).scaleb(-6), Decimal(height).scaleb(-6), count)
        return order_total(pieces, prices, quantity)

    return lambda grid: total(grid.width, grid.height, grid.count)


def _check_place(out: Path, name: str) -> None:
    """Raise where *out* cannot hold the package, or where its name is taken by something else."""
    check_writable(out)
    final = out / name
    if final.is_symlink() or (final.exists() and not final.is_dir()):
        raise InputError("the package's name is taken by something that is no folder", final.as_posix())
    if final.is_dir() and not (final / FORM).is_file() and any(final.iterdir()):
        raise InputError(
            f"the folder that the package would replace is none: it holds no {FORM}", final.as_posix()
        )


def package_files(
    ordered: Ordered, profile: Profile, quantity: int, choice: PanelChoice | None = None
) -> tuple[tuple[OutFile, ...], dict[str, Any]]:
    """Return the package's files sorted by path, and the values of its order form.

    With *choice* the boards come on its panels. Raises InputError where the panel does not check clean.
    """
    record, fab, tool = ordered.record, ordered.fab, str(ordered.summary["tool"])
    figures = board_figures(ordered.board, fab)
    made = [file for file in ordered.under("fab") if kind_of(file.path) not in ("", "readme")]
    positions = positions_of(ordered.file("assembly/positions.csv"))
    panelled: PanelFiles | None = None
    extra: list[OutFile] = []
    said = None
    lines: Sequence[tuple[str, str]] = ()
    if choice is not None:
        panel = choice.panel
        panelled = clean_files(panel_files(panel.board, fab, tool, str(ordered.summary["pin_map"]["digest"])))
        made = list(panelled.fab)
        said = panel_values(panel, fab, choice.panels, quantity)
        lines = panel_lines(panel, fab, choice.panels)
        sheet = panel_sheet(panel, fab, choice.panels, tool)
        title = f"{panel.board.name} revision {record.revision}"
        extra = [
            *panelled.cad,
            OutFile("drawings/panel.svg", sheet_svg(sheet).encode()),
            OutFile("drawings/panel.pdf", sheets_pdf([sheet], title)),
            position_file("assembly/positions-board.csv", positions, profile),
        ]
        positions = positions_of_rows(position_rows(PanelBundle(panel.board, PanelMade(fab), tool)))
    values = dict(order_values(ordered, figures, quantity, said))
    named = sorted(
        (fab_name(file.path, fab, record.design, record.revision), kind_of(file.path)) for file in made
    )
    heading = f"{record.design} revision {record.revision}: {ordered.board.title}"
    readme = readme_file(
        f"{ordered.stem}-README.txt", heading, order_lines(values, figures, fab), lines, named
    )
    inner = renamed((*made, readme), fab, record.design, record.revision)
    parts = parts_of(ordered.file("assembly/bom.csv"))
    drawings = ("fabrication.svg", "assembly.svg", "connector-views.svg", "drawings.pdf")
    files = (
        OutFile("README.txt", readme.data),
        zipped(f"fab/{ordered.stem}-fab.zip", inner),
        *(OutFile(f"fab/{file.path}", file.data) for file in inner),
        bom_file("assembly/bom.csv", parts, profile, quantity),
        position_file("assembly/positions.csv", positions, profile),
        *(OutFile(f"drawings/{name}", ordered.file(f"assembly/{name}").data) for name in drawings),
        *extra,
    )
    values |= {
        "profile": profile.id,
        "tool": tool,
        "run": {"record_sha256": ordered.digest, "inputs": ordered.summary["inputs"]},
        "panel_checks": None
        if panelled is None
        else {
            check.name: {"passed": check.passed, "evidence": dict(check.evidence)}
            for check in panelled.checks
        },
        "files": [
            {"path": f.path, "bytes": len(f.data), "sha256": f.sha256}
            for f in sorted(files, key=lambda f: f.path)
        ],
    }
    form = text_file(FORM, json.dumps(values, indent=2, ensure_ascii=False, allow_nan=False))
    return tuple(sorted((*files, form), key=lambda file: file.path)), values
