"""The one turn from the board's axes to a fabrication file's.

Fabrication files have x right and y UP; all of a run's files share one origin,
the lower left corner of the box round the outline, so that every coordinate
on the board is positive.
"""

from __future__ import annotations

from dataclasses import dataclass

from boardgen.board.geometry import outline_polygon
from boardgen.board.model import Board
from boardgen.units import Nm, Point


@dataclass(frozen=True, slots=True)
class FabFrame:
    """Where the shared origin lies on the board, in nm of the board's own axes."""

    left: Nm
    bottom: Nm

    def turn(self, at: Point) -> Point:
        """Return a board point in the files' axes, nm, y up."""
        return Point(at.x - self.left, self.bottom - at.y)


def fab_frame(board: Board) -> FabFrame:
    """Return the frame that all fabrication files of *board* share."""
    left, _top, _right, bottom = outline_polygon(board.outline).bounds
    return FabFrame(Nm(round(left)), Nm(round(bottom)))


def attribute_text(text: str) -> str:
    r"""Write *text* as a Gerber attribute field: control, ``%*,\\`` and non-ASCII as ``\\uXXXX``.

    Source: Gerber layer format specification, section on attributes (field = no
    "%", "*", ","; a Unicode escape stands for any other character).
    """
    out: list[str] = []
    for char in text:
        code = ord(char)
        if 32 <= code < 127 and char not in "%*,\\":
            out.append(char)
        elif code <= 0xFFFF:
            out.append(f"\\u{code:04X}")
        else:
            out.append(f"\\U{code:08X}")
    return "".join(out)
