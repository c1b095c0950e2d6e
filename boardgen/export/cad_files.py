"""The CAD project of a finished board: it opens in KiCad without a complaint."""

from __future__ import annotations

from boardgen.board.model import PartKind
from boardgen.export.bundle import Bundle
from boardgen.export.cad_board import board_text
from boardgen.export.cad_footprints import library_nodes, named_footprints
from boardgen.export.cad_nodes import NetNames
from boardgen.export.cad_parts import sheet_of
from boardgen.export.cad_project import library_table, project_text
from boardgen.export.cad_schematic import library_text, local_nets, root_stamp, schematic_text
from boardgen.export.cad_sheet import arrange
from boardgen.export.files import OutFile, text_file
from boardgen.footprint.model import Footprint
from boardgen.footprint.sexpr import dump
from boardgen.layout.history import locked_legs


def board_files(bundle: Bundle) -> tuple[OutFile, OutFile]:
    """Return the board and the settings of the project alone: all that a check of the board reads."""
    spelling = NetNames(local_nets(arrange(bundle, sheet_of(bundle))))
    footprints = named_footprints(bundle.board, bundle.bound.fab)
    return _board_file(bundle, footprints, spelling), _settings_file(bundle, spelling)


def _board_file(bundle: Bundle, footprints: dict[str, Footprint], spelling: NetNames) -> OutFile:
    design = bundle.bound.design
    locked = {leg for track in design.tracks for leg in locked_legs(track)} | set(design.vias)
    text = board_text(bundle, footprints, spelling, locked)
    return text_file(f"cad/{bundle.board.name}.kicad_pcb", text)


def _settings_file(bundle: Bundle, spelling: NetNames) -> OutFile:
    board, fab = bundle.board, bundle.bound.fab
    return text_file(
        f"cad/{board.name}.kicad_pro", project_text(board, fab, root_stamp(board.name), spelling)
    )


def cad_files(bundle: Bundle) -> tuple[OutFile, ...]:
    """Return the project under "cad/": settings, schematic, board, libraries and their tables.

    The same bundle gives the same bytes. Raises ValueError where a pour's hole
    lies outside its piece.
    """
    board, fab = bundle.board, bundle.bound.fab
    name = board.name
    footprints = named_footprints(board, fab)
    symbolised = {part.ref for part in bundle.netlist.parts if part.kind is not PartKind.HOLE}
    sheet = sheet_of(bundle)
    arranged = arrange(bundle, sheet)
    spelling = NetNames(local_nets(arranged))
    names = {ref: footprint.name for ref, footprint in footprints.items()}
    files = [
        _settings_file(bundle, spelling),
        text_file(f"cad/{name}.kicad_sch", schematic_text(bundle, sheet, arranged, names)),
        _board_file(bundle, footprints, spelling),
        text_file(f"cad/{name}.kicad_sym", library_text(arranged)),
        text_file("cad/fp-lib-table", library_table("fp", name, "pretty", "Footprints of this board")),
        text_file("cad/sym-lib-table", library_table("sym", name, "kicad_sym", "Symbols of this board")),
    ]
    written: set[str] = set()
    for part in sorted(board.parts, key=lambda part: part.ref):
        own = footprints[part.ref]
        if own.name not in written:
            written.add(own.name)
            entry = library_nodes(part, own, board, fab, part.ref not in symbolised)
            files.append(text_file(f"cad/{name}.pretty/{own.name}.kicad_mod", dump(entry)))
    return tuple(files)
