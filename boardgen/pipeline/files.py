"""A finished board's files, made and read back: the record speaks of both."""

from __future__ import annotations

from dataclasses import dataclass, replace

from boardgen.errors import Finding
from boardgen.export.beside import Beside
from boardgen.export.bundle import Bundle
from boardgen.export.cad_files import cad_files
from boardgen.export.drawings import drawing_sheets
from boardgen.export.files import OutFile
from boardgen.export.package import fab_package
from boardgen.export.run_record import bench_files, fabrication_files, recorded_files
from boardgen.export.summary import Check
from boardgen.pipeline.stages import Built


@dataclass(frozen=True, slots=True)
class RunFiles:
    """Every file of a run in memory, its record, and all findings, those of the read-back included."""

    files: tuple[OutFile, ...]
    summary: dict[str, object]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class _Proven:
    cad: tuple[OutFile, ...]
    package: tuple[OutFile, ...]
    findings: tuple[Finding, ...]
    checks: tuple[Check, ...]


def _proven(bundle: Bundle, fab: tuple[OutFile, ...]) -> _Proven:
    """Make the CAD project and the fab's package, then read both back with the files of *fab*."""
    from boardgen.readback import examine_board  # noqa: PLC0415 - loads the independent readers

    cad, package = cad_files(bundle), fab_package(bundle, fab)
    files = (*fab, *package, *cad)
    report = examine_board(files, bundle.board, bundle.netlist, bundle.bound.fab, bundle.findings)
    return _Proven(cad, package, report.findings, report.checks)


def make_files(built: Built) -> RunFiles:
    """Make every file of a run, read the fabrication and CAD files back, and record it all.

    Reading back goes on beside the drawing of sheets, where the machine can fork. What it finds joins the
    findings of the run, in the report, the record and the package's readme.
    """
    bundle = built.bundle
    fab = fabrication_files(bundle)
    proof = Beside(lambda: _proven(bundle, fab))
    sheets = drawing_sheets(bundle)
    bench = bench_files(bundle, sheets)
    proven = proof.answer()
    package = proven.package
    if proven.findings:
        bundle = replace(bundle, findings=(*bundle.findings, *proven.findings))
        package = fab_package(bundle, fab)  # its readme warns of errors
    checks = (*built.checks, *proven.checks)
    made = (*fab, *package, *bench, *proven.cad)
    summary, files = recorded_files(bundle, built.routing, checks, sheets, made, built.history)
    return RunFiles(files, summary, bundle.findings)
