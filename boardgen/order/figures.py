"""What an order form asks of a board, measured on it: size, holes, the smallest of each thing."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from boardgen.board.geometry import outline_polygon
from boardgen.board.model import Board
from boardgen.catalog.model import FabClass
from boardgen.export.holes import Hole, board_holes
from boardgen.footprint.model import PadKind
from boardgen.rules.survey import Layer, near_pairs, reaches, take_survey
from boardgen.units import Nm, Size, mm, nm

_FAR = mm(2)  # gaps beyond this are of no interest to a fab


@dataclass(frozen=True, slots=True)
class BoardFigures:
    """Lengths in nm; None where the board has no such thing (or no gap under 2 mm)."""

    size: Size
    plated_holes: int
    unplated_holes: int
    slots: int
    vias: int
    smallest_track: Nm | None
    smallest_gap: Nm | None
    smallest_hole: Nm | None
    smallest_ring: Nm | None
    surface_pads: int
    cutouts: int


def board_figures(board: Board, fab: FabClass) -> BoardFigures:
    """Return the figures of *board* as a fab of class *fab* makes it."""
    left, top, right, bottom = (round(v) for v in outline_polygon(board.outline).bounds)
    holes = board_holes(board)
    pads = [pad for part in board.parts for pad in part.footprint.pads]
    rings = [
        Nm((min(p.size) - min(p.hole)) // 2) for p in pads if p.kind is PadKind.PLATED and p.hole is not None
    ] + [Nm((via.diameter - via.hole) // 2) for via in board.vias]
    gaps = [gap for layer in take_survey(board, None, fab).layers if (gap := smallest_gap(layer)) is not None]
    return BoardFigures(
        size=Size(Nm(right - left), Nm(bottom - top)),
        plated_holes=sum(hole.plated for hole in holes),
        unplated_holes=sum(not hole.plated for hole in holes),
        slots=sum(_is_slot(hole) for hole in holes),
        vias=len(board.vias),
        smallest_track=min((track.width for track in board.tracks), default=None),
        smallest_gap=min(gaps, default=None),
        smallest_hole=min((hole.diameter for hole in holes), default=None),
        smallest_ring=min(rings, default=None),
        surface_pads=sum(pad.kind is PadKind.SURFACE for pad in pads),
        cutouts=len(board.outline.cutouts),
    )


def _is_slot(hole: Hole) -> bool:
    return hole.start != hole.end


def smallest_gap(layer: Layer) -> Nm | None:
    """Return the least distance between copper of different nets on *layer*; None for none under 2 mm."""
    a, b, gaps = near_pairs(layer.skeletons, layer.radii, float(_FAR))
    other = layer.keys[a] != layer.keys[b]
    least = float(gaps[other].min()) if other.any() else float("inf")
    for number, piece in enumerate(layer.pieces):
        apart = np.flatnonzero(layer.keys != layer.piece_keys[number])
        if len(apart):
            near = apart[reaches(piece.shape.skeleton, layer.skeletons[apart], layer.radii[apart] + _FAR)]
            if len(near):
                away = shapely.distance(piece.shape.skeleton, layer.skeletons[near]) - layer.radii[near]
                least = min(least, float(away.min()))
    return None if least > _FAR else nm(least)
