"""Finished runs in memory, and small boards without a design, for read-back tests."""

from __future__ import annotations

import functools
from collections.abc import Callable
from pathlib import Path

from boardgen.board.model import Board
from boardgen.catalog.load import load_catalog
from boardgen.catalog.model import FabClass
from boardgen.design.load import load_design
from boardgen.export.bundle import Bundle
from boardgen.export.cad_files import cad_files
from boardgen.export.drill import drill_files
from boardgen.export.files import OutFile
from boardgen.export.gerber import gerber_files
from boardgen.export.ipc356 import ipc356_files
from boardgen.export.package import fab_package
from boardgen.pipeline.choose import choose_module
from boardgen.pipeline.stages import build
from boardgen.readback import ReadbackReport, examine_board

DESIGNS = Path(__file__).parents[2] / "designs"
Files = dict[str, bytes]


@functools.cache
def bundle_of(name: str) -> Bundle:
    catalog = load_catalog()
    return build(choose_module(load_design(DESIGNS / name), catalog), catalog).bundle


@functools.cache
def _files_of(name: str) -> tuple[OutFile, ...]:
    bundle = bundle_of(name)
    fab = (*gerber_files(bundle), *drill_files(bundle), *ipc356_files(bundle))
    return (*fab, *fab_package(bundle, fab), *cad_files(bundle))


def files_of(name: str) -> Files:
    """Return a run's files by path; the zip left out, so that a fault is planted once."""
    return {f.path: f.data for f in _files_of(name) if not f.path.endswith(".zip")}


def out_files(files: Files) -> tuple[OutFile, ...]:
    return tuple(OutFile(path, data) for path, data in sorted(files.items()))


def examined(name: str, change: Callable[[Files], None] | None = None) -> ReadbackReport:
    bundle = bundle_of(name)
    files = files_of(name)
    if change is not None:
        change(files)
    return examine_board(out_files(files), bundle.board, bundle.netlist, bundle.bound.fab, bundle.findings)


def path_of(files: Files, ending: str) -> str:
    return next(path for path in sorted(files) if path.endswith(ending))


def fab_class(name: str = "economy-2l") -> FabClass:
    return load_catalog().fab(name)


__all__ = ["Board", "Files", "bundle_of", "examined", "fab_class", "files_of", "out_files", "path_of"]
