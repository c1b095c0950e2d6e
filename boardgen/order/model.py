"""What an order is made of, as frozen values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from boardgen.board.model import Board
from boardgen.catalog.model import Connector, FabClass, Module
from boardgen.errors import Finding
from boardgen.export.files import OutFile
from boardgen.pipeline.record import Record


@dataclass(frozen=True, slots=True)
class Ordered:
    """A run that may be ordered: its record, its files as recorded, and its board as those files have it.

    *summary* is the record as plain data, *digest* the sha256 of the record's file, *module* and *connector*
    are its catalogue entries, *notes* what its user should know. *board* stands in the CAD file's axes (nm).
    """

    record: Record
    summary: dict[str, Any]
    digest: str
    files: tuple[OutFile, ...]
    fab: FabClass
    board: Board
    module: Module
    connector: Connector
    notes: tuple[Finding, ...] = ()

    @property
    def stem(self) -> str:
        """Design name and revision, as the run's files are named."""
        return f"{self.record.design}-{self.record.revision}"

    def file(self, path: str) -> OutFile:
        """Return the run's file at *path*; raises KeyError."""
        for file in self.files:
            if file.path == path:
                return file
        raise KeyError(path)

    def under(self, folder: str) -> tuple[OutFile, ...]:
        """Return the run's files under *folder*, sorted by path."""
        found = (file for file in self.files if file.path.startswith(f"{folder}/"))
        return tuple(sorted(found, key=lambda file: file.path))
