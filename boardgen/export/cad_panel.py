"""The CAD project of a panel: a board without a circuit, with its footprints and rules."""

from __future__ import annotations

from boardgen.export.bundle import FabBundle
from boardgen.export.cad_board import board_text
from boardgen.export.cad_footprints import library_nodes, named_footprints
from boardgen.export.cad_nodes import NetNames, stamp
from boardgen.export.cad_project import library_table, project_text
from boardgen.export.files import OutFile, text_file
from boardgen.footprint.sexpr import dump


def panel_cad_files(bundle: FabBundle) -> tuple[OutFile, ...]:
    """Return settings, board, library and its table under "cad/"; there is no schematic of a panel.

    The same bundle gives the same bytes.
    """
    board, fab = bundle.board, bundle.bound.fab
    name = board.name
    names = NetNames()
    footprints = named_footprints(board, fab, cut=False)
    files = [
        text_file(f"cad/{name}.kicad_pro", project_text(board, fab, stamp(name, "panel"), names)),
        text_file(f"cad/{name}.kicad_pcb", board_text(bundle, footprints, names)),
        text_file("cad/fp-lib-table", library_table("fp", name, "pretty", "Footprints of this panel")),
    ]
    written: set[str] = set()
    for part in sorted(board.parts, key=lambda part: part.ref):
        own = footprints[part.ref]
        if own.name not in written:
            written.add(own.name)
            entry = library_nodes(part, own, board, fab, True)
            files.append(text_file(f"cad/{name}.pretty/{own.name}.kicad_mod", dump(entry)))
    return tuple(files)
