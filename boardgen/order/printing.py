"""A run's printing as its fabrication files have it: what a panel prints on every copy."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from boardgen.board.geometry import outline_polygon
from boardgen.board.model import Board, LegendLine, Part
from boardgen.export.files import OutFile
from boardgen.footprint.model import PartLayer
from boardgen.units import Point, nm


def printed_as_made(board: Board, files: Sequence[OutFile]) -> Board:
    """Return *board* with the printing of the legend layers among *files*, stroke by stroke, and no other.

    A CAD file prints a part's outline with the part, cut anew, and sets texts in a font of its own; the
    legend layers are what was checked and what a single board comes with.
    """
    from boardgen.readback import read  # noqa: PLC0415 - loads the readers
    from boardgen.readback.model import Kind, Role  # noqa: PLC0415
    from boardgen.readback.place import on_board  # noqa: PLC0415

    left, _top, _right, bottom = (float(round(v)) for v in outline_polygon(board.outline).bounds)
    legends = [file for file in files if file.path.endswith((".GTO", ".GBO"))]
    strokes = [
        LegendLine(layer.side, (_point(thing.start), _point(thing.end)), nm(thing.width))
        for layer in on_board(read(legends), left, bottom).layers
        if layer.role is Role.LEGEND and layer.side is not None
        for thing in layer.things
        if thing.kind is Kind.STROKE
    ]
    return replace(board, parts=tuple(map(_unprinted, board.parts)), legend=tuple(strokes), references=())


def _point(at: tuple[float, float]) -> Point:
    return Point(nm(at[0]), nm(at[1]))


def _unprinted(part: Part) -> Part:
    """Return *part* without printing of its own."""
    kept = tuple(item for item in part.footprint.graphics if item.layer is not PartLayer.LEGEND)
    return replace(part, footprint=replace(part.footprint, graphics=kept))
