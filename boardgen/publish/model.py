"""What the published page is made from, as frozen values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from boardgen.board.model import Board, Side
from boardgen.catalog.model import Component, Connector, Module
from boardgen.design.model import Design, Erratum
from boardgen.errors import Finding
from boardgen.export.bringup_model import Plan
from boardgen.pipeline.record import Record


@dataclass(frozen=True, slots=True)
class Edition:
    """One revision as firmware meets it: *pins* is its JSON pin file; *digest* that of its pin map.

    *board* is there where the run it came from still lies beside the one published; it stands as in the CAD
    file, and *origin* is where the design has the lower left corner of its outline (nm, board axes).
    """

    revision: str
    digest: str
    pins: Mapping[str, Any]
    board: Board | None = None
    origin: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Subject:
    """A run opened for its page.

    *data* is its record, *parts_list* the rows of its parts list by column, *components* what the catalogue
    says of a reference, *design* None where it is not at hand; *earlier* are other revisions, oldest first.
    """

    record: Record
    data: Mapping[str, Any]
    board: Board
    module: Module
    connector: Connector
    plan: Plan
    parts_list: tuple[Mapping[str, str], ...]
    components: Mapping[str, Component]
    edition: Edition
    design: Design | None = None
    earlier: tuple[Edition, ...] = ()
    notes: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the assembly: what is fitted (*refs*), from which side, and how, in sentences.

    *sockets*: the module's sockets are meant, not the module. *marks* are pads (ref, number) that the picture
    marks. A step without *refs* has no picture.
    """

    title: str
    words: tuple[str, ...]
    refs: tuple[str, ...] = ()
    side: Side = Side.TOP
    sockets: bool = False
    marks: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Fault:
    """A known fault as the page tells it; *erratum* is its geometry where the design was at hand."""

    revision: str
    symptom: str
    cause: str
    workaround: str
    fixed_in: str
    steps: tuple[str, ...]
    erratum: Erratum | None = None


@dataclass(frozen=True, slots=True)
class Fit:
    """How firmware built for revision *built* does on a board of revision *board*, with the reasons."""

    built: str
    board: str
    verdict: str
    reasons: tuple[str, ...]
