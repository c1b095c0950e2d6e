"""What was drilled wider than the parts ask, because the fab class has no drill of their size."""

from __future__ import annotations

from collections.abc import Iterator

from boardgen.board.model import Board, PartKind
from boardgen.catalog.drills import drill_changes
from boardgen.catalog.load import Catalog
from boardgen.design.model import BoundDesign
from boardgen.errors import Finding, Severity


def drill_notes(bound: BoundDesign, catalog: Catalog, board: Board) -> Iterator[Finding]:
    """Yield a note for each part whose holes differ from those of its footprint in *catalog*."""
    names = {PartKind.MODULE: bound.module.footprint, PartKind.CONNECTOR: bound.connector.footprint}
    for part in board.parts if bound.fab.drills else ():
        name = names.get(part.kind)
        if part.kind is PartKind.COMPONENT and part.entry:
            name = catalog.component(part.entry).footprint
        if name is None:
            continue
        for words in drill_changes(catalog.footprint(name), part.footprint):
            yield Finding(
                "drill-choice",
                Severity.NOTE,
                f"{part.ref}: {words}, the next drill that fab class {bound.fab.id} has",
                part.placement.at,
                "drill",
                (part.ref,),
            )
