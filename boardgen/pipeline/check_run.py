"""A finished run looked at again: its files against its record, and read back against each other."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from boardgen.catalog.load import load_catalog
from boardgen.catalog.model import FabClass
from boardgen.errors import BoardgenError, Finding, InputError, Severity
from boardgen.export.files import OutFile
from boardgen.export.run_folder import RECORD
from boardgen.export.summary import Check
from boardgen.pipeline.record import Listed, read_record
from boardgen.readfile import read_bytes

MAX_FILE = 64_000_000
TIMINGS = "timings.json"  # differs from run to run, so it has no digest


@dataclass(frozen=True, slots=True)
class RunCheck:
    """What ``check`` says of a run: the record's findings, then those on its files."""

    design: str
    revision: str
    findings: tuple[Finding, ...]
    checks: tuple[Check, ...]


def is_run(path: Path) -> bool:
    """Return whether *path* is a run folder, or the record in one."""
    return path.name == RECORD or (path / RECORD).is_file()


def check_run(path: Path, catalogs: Sequence[Path] = ()) -> RunCheck:
    """Check the run at *path* (its folder or its record); nothing is written.

    Every file must be there with its recorded digest, the fabrication and CAD files must agree with each
    other and with the test netlist, and the fab's limits must hold on them as they did on the model. Raises
    InputError for a folder that is no run, MachineError where reading is forbidden.
    """
    folder = path.parent if path.name == RECORD else path
    record, _data = read_record(folder / RECORD)
    files, found = recorded_files(folder, record.files)
    fab, missing = _fab(record.fab, catalogs)
    found += missing
    from boardgen.readback import examine_run  # noqa: PLC0415 - loads the independent readers
    from boardgen.readback.cad_trees import tree_by_skip  # noqa: PLC0415

    report = examine_run(files, record.copper, record.origin, fab, record.findings, trees=(tree_by_skip,))
    kept = tuple(f for f in record.findings if not f.rule.startswith(("readback-", "run-")))
    bad = {f.items for f in found if f.severity is Severity.ERROR}
    evidence = {"files": len(record.files), "as recorded": len(record.files) - len(bad)}
    whole = Check("recorded files", not bad, evidence)
    return RunCheck(
        record.design, record.revision, (*kept, *found, *report.findings), (whole, *report.checks)
    )


def _fab(name: str, catalogs: Sequence[Path]) -> tuple[FabClass | None, list[Finding]]:
    try:
        return load_catalog(tuple(catalogs)).fab(name), []
    except BoardgenError:
        message = f"fab class {name!r} is not in the catalogue: its limits are not checked on the files"
        return None, [Finding("readback-rule", Severity.NOTE, message)]


def recorded_files(folder: Path, listed: Sequence[Listed]) -> tuple[list[OutFile], list[Finding]]:
    """Return the *listed* files as they are in *folder*, and what is missing, changed or not of the run.

    Raises MachineError where reading is forbidden.
    """
    files: list[OutFile] = []
    found: list[Finding] = []

    def tell(path: str, words: str, severity: Severity = Severity.ERROR) -> None:
        found.append(Finding("run-file", severity, f"{path}: {words}", items=(path,)))

    root = folder.resolve()
    for entry in listed:
        place = folder / entry.path
        try:
            if not place.resolve().is_relative_to(root):
                tell(entry.path, "leads out of the run's folder")
                continue
            if not place.is_file():
                tell(entry.path, "is missing")
                continue
            data = read_bytes(place, place.as_posix(), MAX_FILE)
        except InputError:  # larger than any file of a run
            tell(entry.path, "is not the file that was recorded")
            continue
        except (RuntimeError, OSError):  # a link that leads to itself, a name that no file can have
            tell(entry.path, "is missing")
            continue
        if len(data) != entry.size or hashlib.sha256(data).hexdigest() != entry.sha256:
            tell(entry.path, "is not the file that was recorded")
        files.append(OutFile(entry.path, data))
    known = {entry.path for entry in listed} | {RECORD, TIMINGS}
    for place in sorted(folder.rglob("*")):
        name = place.relative_to(folder).as_posix()
        if not place.is_dir() and name not in known:
            tell(name, "is not of the run", Severity.WARNING)
    return files, found
