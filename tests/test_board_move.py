"""A moved board keeps every distance: copper, holes and profile move as one."""

from __future__ import annotations

import sys
from pathlib import Path

import shapely

from boardgen.board.geometry import copper_items, outline_polygon, piece_polygon
from boardgen.board.move import moved_board
from boardgen.units import point_mm

sys.path.insert(0, str(Path(__file__).parent / "export"))
from fabkit import odd_board


def test_everything_moves_by_the_same_vector():
    board = odd_board()
    moved = moved_board(board, point_mm(12.5, -3))
    step = [12_500_000, -3_000_000]

    def shifted(shape):
        return shapely.transform(shape, lambda rows: rows + step)

    for before, after in zip(copper_items(board), copper_items(moved), strict=True):
        assert after.name == before.name
        assert after.shape.skeleton.equals_exact(shifted(before.shape.skeleton), 1.0)
    assert outline_polygon(moved.outline).equals_exact(shifted(outline_polygon(board.outline)), 2.0)
    for old, new in zip(board.pours[0].pieces, moved.pours[0].pieces, strict=True):
        assert piece_polygon(new).equals(shifted(piece_polygon(old)))
    assert moved_board(moved, point_mm(-12.5, 3)) == board
