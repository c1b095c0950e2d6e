"""The ``order`` command."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from boardgen.cli.guard import CLEAN, FINDINGS
from boardgen.cli.out import finding_line, progress, write_json, write_lines


def run(
    path: Path,
    quantity: int,
    out: Path,
    bom: str,
    panel: str,
    design: Path | None,
    table: Path | None,
    catalogs: Sequence[Path],
    as_json: bool,
) -> int:
    """Make the order package of the run at *path*; returns the exit code."""
    with progress("ordering"):
        from boardgen.order.package import order

        prices = None
        if table is not None:
            from boardgen.order.prices import load_prices

            prices = load_prices(table)
        result = order(path, quantity, out, bom, panel, design, catalogs, prices)
    values = result.values
    lines = [finding_line(finding) for finding in result.notes]
    lines.append(
        f"{values['name']}-{values['revision']}: {values['quantity']} boards of "
        f"{values['width_mm']:g} x {values['height_mm']:g} mm as {values['delivery']}"
    )
    said = values["panel"]
    if said is not None:
        over = f", {said['boards_over']} boards over" if said["boards_over"] else ""
        lines.append(
            f"{said['panels']} panel{'' if said['panels'] == 1 else 's'} "
            f"of {said['rows']} x {said['columns']}, "
            f"{said['width_mm']:g} x {said['height_mm']:g} mm{over}"
        )
    lines += [f"package in {result.folder.as_posix()}", f"all of it in {result.archive.as_posix()}"]
    code = CLEAN
    if result.estimate is not None:
        from boardgen.cli.cost import estimate_lines

        lines += estimate_lines(result.estimate)
        code = FINDINGS if result.estimate.missing else CLEAN
    write_lines(lines, as_json)
    if as_json:
        notes = [{"rule": f.rule, "severity": str(f.severity), "message": f.message} for f in result.notes]
        answer: dict[str, object] = {
            "folder": result.folder.as_posix(),
            "archive": result.archive.as_posix(),
            "notes": notes,
        }
        if result.estimate is not None:
            from boardgen.order.cost_data import estimate_data

            answer["estimate"] = estimate_data(result.estimate)
        write_json({**answer, "exit_code": code, **values})
    return code
