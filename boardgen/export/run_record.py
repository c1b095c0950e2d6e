"""The files of a run: the exporters called once each, in two lots, then the report and the record."""

from __future__ import annotations

from boardgen.export.bom import assembly_lists, bom_rows
from boardgen.export.bringup import bringup_files
from boardgen.export.bundle import Bundle
from boardgen.export.drawings import drawing_files
from boardgen.export.drill import drill_files
from boardgen.export.files import OutFile
from boardgen.export.firmware import firmware_files
from boardgen.export.gerber import gerber_files
from boardgen.export.ipc356 import ipc356_files
from boardgen.export.report import report_file
from boardgen.export.sheet import Sheet
from boardgen.export.summary import NO_HISTORY, Check, RoutingFigures, json_file, summary_data
from boardgen.layout.history import History

Sheets = tuple[tuple[str, Sheet], ...]


def fabrication_files(bundle: Bundle) -> tuple[OutFile, ...]:
    """Return what a fab makes the board from: layers, drill files, netlist of the bare-board test."""
    return (*gerber_files(bundle), *drill_files(bundle), *ipc356_files(bundle))


def bench_files(bundle: Bundle, sheets: Sheets) -> tuple[OutFile, ...]:
    """Return what people solder, program and bring up the board with."""
    return (
        *assembly_lists(bundle),
        *drawing_files(bundle, sheets),
        *firmware_files(bundle),
        *bringup_files(bundle),
    )


def recorded_files(
    bundle: Bundle,
    routing: RoutingFigures,
    checks: tuple[Check, ...],
    sheets: Sheets,
    made: tuple[OutFile, ...],
    history: History = NO_HISTORY,
) -> tuple[dict[str, object], tuple[OutFile, ...]]:
    """Return the record and all files: *made*, the report, and the record's own, sorted by path."""
    report = report_file(bundle, routing, checks, sheets, bom_rows(bundle), history)
    files = tuple(sorted((*made, report), key=lambda file: file.path))
    inputs = {"design.toml": bundle.bound.design.digest}
    summary = summary_data(bundle, routing, checks, inputs, files, history)
    return summary, (*files, json_file("summary.json", summary))
