"""A whole board moved, and turned by quarters."""

from __future__ import annotations

from dataclasses import replace

from boardgen.board.model import (
    Board,
    LegendText,
    Outline,
    OutlineArc,
    OutlineLine,
    OutlinePiece,
    PourPiece,
)
from boardgen.units import Point


def moved_board(board: Board, by: Point, turn: int = 0) -> Board:
    """Return *board* turned about the origin, then moved by the vector *by* (nm).

    *turn* in degrees counter-clockwise as seen from the top, a multiple of 90, so that all stays exact.
    """
    if turn % 90:
        raise ValueError(f"a board turns by quarters, not by {turn} degrees")

    def to(at: Point) -> Point:
        return at.turned(turn).plus(by)

    def turned(degrees: float) -> float:
        return (degrees + turn) % 360 if turn else degrees

    def ring(points: tuple[Point, ...]) -> tuple[Point, ...]:
        return tuple(to(point) for point in points)

    def piece(item: OutlinePiece) -> OutlinePiece:
        if isinstance(item, OutlineArc):
            return OutlineArc(to(item.start), to(item.mid), to(item.end))
        return OutlineLine(to(item.start), to(item.end))

    def text(item: LegendText) -> LegendText:
        return replace(item, at=to(item.at), rotation=turned(item.rotation))

    outline = Outline(
        tuple(piece(item) for item in board.outline.outer),
        tuple(tuple(piece(item) for item in loop) for loop in board.outline.cutouts),
    )
    return replace(
        board,
        outline=outline,
        parts=tuple(
            replace(
                part,
                placement=replace(
                    part.placement, at=to(part.placement.at), rotation=turned(part.placement.rotation)
                ),
            )
            for part in board.parts
        ),
        tracks=tuple(replace(t, start=to(t.start), end=to(t.end)) for t in board.tracks),
        vias=tuple(replace(via, at=to(via.at)) for via in board.vias),
        pours=tuple(
            replace(
                pour,
                area=ring(pour.area),
                pieces=tuple(PourPiece(ring(p.outer), tuple(map(ring, p.holes))) for p in pour.pieces),
            )
            for pour in board.pours
        ),
        legend=tuple(
            text(item) if isinstance(item, LegendText) else replace(item, points=ring(item.points))
            for item in board.legend
        ),
        references=tuple((ref, text(item)) for ref, item in board.references),
        keepouts=tuple(replace(area, ring=ring(area.ring)) for area in board.keepouts),
        scores=tuple(replace(line, start=to(line.start), end=to(line.end)) for line in board.scores),
    )
