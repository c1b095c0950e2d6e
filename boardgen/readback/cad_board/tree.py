"""The file's text as nested lists, by two readers that share nothing; what it is, and how old."""

from __future__ import annotations

from boardgen.errors import InputError, Severity
from boardgen.footprint.sexpr import Node, child, head, parse, words
from boardgen.readback.cad_board.notes import Notes
from boardgen.readback.cad_trees import tree_by_skip

MAX_BYTES = 8_000_000  # some twenty times a demo board with its fills
LEAST_VERSION = 20211014  # the first generation with arcs by their middle and ids on everything
NEWEST_VERSION = 20260101  # what is later has not been seen by this reader
_KINDS = {
    "footprint": "a footprint",
    "module": "a footprint",
    "kicad_sch": "a schematic",
    "kicad_symbol_lib": "a symbol library",
    "kicad_wks": "a drawing sheet",
    "fp_lib_table": "a library table",
    "sym_lib_table": "a library table",
    "kicad_dru": "a rule file",
}


def read_tree(data: bytes, where: str, notes: Notes) -> Node:
    """Return the lists of a board file. Raises InputError for what is none.

    Our own reader finds damage and says where; kicad-skip's reads the same text again, and both must hold
    the same lists. Where it cannot, a note says so.
    """
    if len(data) > MAX_BYTES:
        raise InputError(
            "the board file is too large", where, found=f"{len(data)} bytes", allowed=f"{MAX_BYTES}"
        )
    if b"\0" in data[:4096]:
        raise InputError("this is not a CAD board: not a text file", where, allowed="a .kicad_pcb file")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise InputError("the file is not UTF-8 text", where, line=line) from None
    if not text.lstrip().startswith("("):
        raise InputError("this is not a CAD board", where, line=1, allowed="(kicad_pcb (version ...) ...)")
    tree = parse(text, where)
    kind = head(tree)
    if kind != "kicad_pcb":
        found = _KINDS.get(kind, f"a list called {kind[:40]!r}" if kind else "a list without a name")
        raise InputError("this is not a CAD board", where, line=1, found=found, allowed="(kicad_pcb ...)")
    _second_reading(data, text, tree, notes)
    return tree


def _second_reading(data: bytes, text: str, tree: Node, notes: Notes) -> None:
    try:
        other = tree_by_skip(data.removeprefix(b"\xef\xbb\xbf"))
    except Exception as error:
        message = (
            f"kicad-skip cannot read this file ({type(error).__name__}); our own reader's word alone counts"
        )
        notes.tell("cad-unread", Severity.NOTE, message)
        return
    if not _alike(tree, other):
        message = "kicad-skip and our own reader do not find the same lists in this file; our own's are taken"
        notes.tell("cad-unread", Severity.WARNING, message)


def _alike(a: object, b: object) -> bool:
    """Return whether two trees are the same, numbers compared as numbers."""
    if isinstance(a, list) or isinstance(b, list):
        if not (isinstance(a, list) and isinstance(b, list) and len(a) == len(b)):
            return False
        return all(_alike(x, y) for x, y in zip(a, b, strict=True))
    if str(a) == str(b):
        return True
    try:
        return float(str(a)) == float(str(b))
    except ValueError:
        return False


def version_of(tree: Node, where: str, notes: Notes) -> int:
    """Return the file's version number. Raises InputError for one that is missing or too old."""
    given = words(child(tree, "version"))
    if not given or not given[0].isdigit() or len(given[0]) > 8:
        raise InputError("the board does not say its version", where, "version")
    version = int(given[0])
    if version < LEAST_VERSION:
        raise InputError(
            "the board is of too old a form; open it in version 7 of the CAD program or later and save it",
            where,
            "version",
            found=str(version),
            allowed=f"{LEAST_VERSION} or later",
        )
    if version >= NEWEST_VERSION:
        message = f"the file is of version {version}, later than any this reader has been tried on"
        notes.tell("cad-unread", Severity.NOTE, message)
    return version
