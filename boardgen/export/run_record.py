"""Every file of a run, in order: the exporters called once each, then the zip and the record."""

from __future__ import annotations

from boardgen.export.beside import Beside
from boardgen.export.bom import assembly_lists, bom_rows
from boardgen.export.bringup import bringup_files
from boardgen.export.bundle import Bundle
from boardgen.export.cad_files import cad_files
from boardgen.export.drawings import drawing_files, drawing_sheets
from boardgen.export.drill import drill_files
from boardgen.export.files import OutFile
from boardgen.export.firmware import firmware_files
from boardgen.export.gerber import gerber_files
from boardgen.export.ipc356 import ipc356_files
from boardgen.export.package import fab_package
from boardgen.export.report import report_file
from boardgen.export.summary import Check, RoutingFigures, json_file, summary_data


def run_files(
    bundle: Bundle, routing: RoutingFigures, checks: tuple[Check, ...]
) -> tuple[dict[str, object], tuple[OutFile, ...]]:
    """Return the record and all files (the record's own among them), sorted by path."""
    cad = Beside(lambda: cad_files(bundle))
    sheets = drawing_sheets(bundle)
    fab = (*gerber_files(bundle), *drill_files(bundle), *ipc356_files(bundle))
    files = [
        *fab,
        *fab_package(bundle, fab),
        *assembly_lists(bundle),
        *drawing_files(bundle, sheets),
        *firmware_files(bundle),
        *bringup_files(bundle),
        report_file(bundle, routing, checks, sheets, bom_rows(bundle)),
        *cad.answer(),
    ]
    files.sort(key=lambda file: file.path)
    inputs = {"design.toml": bundle.bound.design.digest}
    summary = summary_data(bundle, routing, checks, inputs, tuple(files))
    return summary, (*files, json_file("summary.json", summary))
