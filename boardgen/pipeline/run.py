"""From a path to a run folder, or to findings alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from boardgen.board.model import Board
from boardgen.catalog.load import Catalog, load_catalog
from boardgen.design.load import design_catalogs, load_design
from boardgen.design.model import BoundDesign
from boardgen.errors import Finding
from boardgen.export.run_folder import check_writable, hold_run
from boardgen.export.summary import json_file
from boardgen.layout.route import needs_compiling, warm
from boardgen.pipeline.choose import choose_module
from boardgen.pipeline.files import make_files
from boardgen.pipeline.stages import build
from boardgen.pipeline.stopwatch import Progress, Stopwatch


@dataclass(frozen=True, slots=True)
class RunResult:
    """What ``generate`` leaves: the folder, the record, and the findings."""

    folder: Path
    summary: dict[str, object]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class CheckResult:
    """What ``check`` found on the board of a design."""

    findings: tuple[Finding, ...]
    board: Board
    evidence: tuple[tuple[str, int], ...]


def _read(path: Path, revision: str | None, catalogs: Sequence[Path]) -> tuple[BoundDesign, Catalog]:
    design = load_design(path, revision)
    catalog = load_catalog(design_catalogs(path, catalogs))
    return choose_module(design, catalog), catalog


def generate(
    path: Path,
    out: Path,
    revision: str | None = None,
    catalogs: Sequence[Path] = (),
    progress: Progress | None = None,
) -> RunResult:
    """Do the main job: read the design at *path* and leave a whole run folder under *out*.

    Raises InputError or MachineError; then nothing was written and an earlier
    run is as it was.
    """
    watch = Stopwatch(progress)
    with watch.stage("reading"):
        bound, catalog = _read(path, revision, catalogs)
        stem = f"{bound.design.name}-{bound.design.revision}"
        check_writable(out, stem)
    with hold_run(out, stem) as place:
        any_angle, one_side = bound.design.any_angle, bound.fab.copper_layers == 1
        if needs_compiling(any_angle, one_side):
            with watch.stage("compiling the router (first run here, some 15 to 20 s)"):
                warm(any_angle, one_side)
        built = build(bound, catalog, watch)
        with watch.stage("files"):
            made = make_files(built)
        with watch.stage("writing"):
            timings = json_file("timings.json", {k: round(v, 4) for k, v in watch.seconds.items()})
            folder = place.write((*made.files, timings))
    return RunResult(folder, made.summary, made.findings)


def check(
    path: Path,
    revision: str | None = None,
    catalogs: Sequence[Path] = (),
    progress: Progress | None = None,
) -> CheckResult:
    """Build the design at *path* in memory and return what the checks find; nothing is written."""
    bound, catalog = _read(path, revision, catalogs)
    built = build(bound, catalog, Stopwatch(progress))
    counts = next(c for c in built.checks if c.name == "rule check")
    evidence = tuple((str(k), int(str(v))) for k, v in counts.evidence.items())
    return CheckResult(built.bundle.findings, built.bundle.board, evidence)
