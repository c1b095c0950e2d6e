"""What files are compared with: the sources gathered, each in the board's axes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from shapely.geometry.base import BaseGeometry

from boardgen.board.model import Board, Keepout
from boardgen.catalog.model import FabClass
from boardgen.circuit.model import Netlist
from boardgen.errors import Finding, InputError
from boardgen.export.files import OutFile
from boardgen.readback.from_board import wanted_by_board
from boardgen.readback.from_cad import tree_of, wanted_by_cad
from boardgen.readback.from_ipc import wanted_by_ipc
from boardgen.readback.model import Wanted
from boardgen.readback.reader import file_finding, short_reason

Origin = tuple[float, float]
OWN_ITEMS = 10_000_000  # words of a CAD board just written, a panel of many copies among them


@dataclass(frozen=True, slots=True)
class Case:
    """What the files are compared with: *first* is believed, *others* must say the same.

    *origin* is the files' origin on the board (nm). *fab* is None where the limits are not known; *model* are
    the findings of the rule check on the model.
    """

    first: Wanted
    others: tuple[Wanted, ...]
    origin: Origin
    fab: FabClass | None
    model: tuple[Finding, ...] = ()
    keepouts: tuple[Keepout, ...] = ()


def read_source(path: str, work: Callable[[], Wanted], found: list[Finding]) -> Wanted | None:
    """Return what *work* reads; whatever a damaged file does to its reader becomes a finding."""
    try:
        return work()
    except Exception as error:  # a finding, never a traceback
        reason = error.message if isinstance(error, InputError) else short_reason(error)
        found.append(file_finding("readback-file", path, f"cannot be read: {reason}"))
        return None


def case_of_board(
    board: Board,
    netlist: Netlist | None,
    fab: FabClass,
    ipc: OutFile | None,
    cad: OutFile | None,
    model: Sequence[Finding],
) -> tuple[Case, list[Finding]]:
    """Return the comparison with a board at hand, and what could not be read of the other sources."""
    first = wanted_by_board(board, netlist, fab)
    found: list[Finding] = []
    left, bottom = _corner(first.outline)
    others: list[Wanted] = []
    if ipc is not None:
        source = read_source(ipc.path, lambda: wanted_by_ipc(ipc.data, ipc.path, left, bottom), found)
        others += [source] if source else []
    if cad is not None:
        source = read_source(
            cad.path,
            lambda: wanted_by_cad(
                tree_of(cad.data, cad.path, OWN_ITEMS), cad.path, left, bottom, board.copper
            ),
            found,
        )
        others += [source] if source else []
    case = Case(first, on_sides(first, others), (left, bottom), fab, tuple(model), board.keepouts)
    return case, found


def on_sides(first: Wanted, others: Sequence[Wanted]) -> tuple[Wanted, ...]:
    """Return *others* with their pads on the copper sides the board has: a record's A00 means all of them."""
    return tuple(
        replace(
            other,
            pads=tuple(replace(p, sides=tuple(s for s in first.copper if s in p.sides)) for p in other.pads),
        )
        for other in others
    )


def _corner(outline: BaseGeometry | None) -> Origin:
    if outline is None or outline.is_empty:
        return 0.0, 0.0
    left, _top, _right, bottom = outline.bounds
    return float(round(left)), float(round(bottom))
