"""The profile of a CAD board: lines, arcs, circles, rectangles and polygons tied to loops."""

from __future__ import annotations

from collections.abc import Sequence

from shapely import Polygon

from boardgen.board.geometry import loop_points
from boardgen.board.model import Outline, OutlineArc, OutlineLine, OutlinePiece, Placement
from boardgen.errors import InputError
from boardgen.footprint.reading import Reader
from boardgen.footprint.sexpr import Node, child, head
from boardgen.readback.cad_board.layers import EDGE, layer_of, layers_of
from boardgen.readback.cad_board.notes import Notes
from boardgen.readback.tangles import is_tangled
from boardgen.units import Point, mm, nm

JOINS = mm("0.005")  # ends this near are one corner, as CAD programs take them
_TRACED = mm("1")  # an end this near goes on the same loop, which is then open there
MOST_PIECES = 20_000


def read_outline(where: str, board: Node, placed: Sequence[tuple[Node, Placement]], notes: Notes) -> Outline:
    """Return the board's outline: the largest loop, all others as cut-outs. Pieces of parts count too.

    Ends within :data:`JOINS` of each other are one corner; a wider gap stays, for the rule check to find.
    """
    reader = Reader(where)
    pieces: list[OutlinePiece] = []
    closed: list[tuple[OutlinePiece, ...]] = []
    items: list[tuple[Node, Placement | None]] = [
        (item, None) for item in board if isinstance(item, list) and head(item).startswith("gr_")
    ]
    for item, placement in (*items, *placed):
        if EDGE not in layers_of(item) and layer_of(item) != EDGE:
            continue
        try:
            loose, loops = _pieces(reader, item, placement)
        except InputError as error:
            notes.failed(f"a {_word(item)} of the profile", error, True, "profile")
            continue
        pieces += loose
        closed += loops
        if len(pieces) > MOST_PIECES or len(closed) > MOST_PIECES:
            raise InputError("the profile has too many pieces", where, allowed=f"at most {MOST_PIECES}")
    loops_ = [*closed, *_chained(pieces)]
    if not loops_:
        return Outline(())
    loops_.sort(key=lambda loop: (-_area(loop), _first(loop)))
    return Outline(loops_[0], tuple(loops_[1:]))


def _word(item: Node) -> str:
    return head(item).partition("_")[2].replace("_", " ")


def _area(loop: tuple[OutlinePiece, ...]) -> float:
    points = loop_points(loop)
    return float(Polygon(points).area) if len(points) > 2 else 0.0


def _first(loop: tuple[OutlinePiece, ...]) -> Point:
    return min(piece.start for piece in loop)


def _pieces(
    reader: Reader, item: Node, placement: Placement | None
) -> tuple[list[OutlinePiece], list[tuple[OutlinePiece, ...]]]:
    """Return loose pieces, and loops closed in themselves."""

    def at(name: str) -> Point:
        return put(reader.point(item, name, ""))

    def put(local: Point) -> Point:
        # child coordinates of the file are those of the board but for turn and place, on either side
        return local if placement is None else local.turned(placement.rotation).plus(placement.at)

    kind = _word(item)
    if kind == "line":
        start, end = at("start"), at("end")
        return ([OutlineLine(start, end)] if start != end else []), []
    if kind == "arc":
        if child(item, "mid") is None:
            raise reader.fail("an arc needs its middle", "", allowed="start, mid and end")
        return [OutlineArc(at("start"), at("mid"), at("end"))], []
    if kind == "circle":
        centre, rim = at("center"), at("end")
        radius = nm(centre.distance(rim))
        if radius <= 0:
            raise reader.fail("a circle needs a radius", "")
        west, east = Point(centre.x - radius, centre.y), Point(centre.x + radius, centre.y)
        north, south = Point(centre.x, centre.y - radius), Point(centre.x, centre.y + radius)
        return [], [(OutlineArc(west, north, east), OutlineArc(east, south, west))]
    if kind == "rect":
        a, b = reader.point(item, "start", ""), reader.point(item, "end", "")
        return [], [_closed([put(p) for p in (a, Point(b.x, a.y), b, Point(a.x, b.y))], reader)]
    if kind == "poly":
        points = []
        for corner in (child(item, "pts") or [])[1:]:
            if not isinstance(corner, list) or head(corner) != "xy" or len(corner) < 3:
                raise reader.fail("a polygon of other than straight sides", "")
            points.append(put(Point(reader.length(corner[1], ""), reader.length(corner[2], ""))))
        return [], [_closed(points, reader)]
    if kind in ("text", "text box"):
        return [], []
    raise reader.fail(
        "curves of this kind are not followed", "", kind, "lines, arcs, circles, rectangles, polygons"
    )


def _closed(points: list[Point], reader: Reader) -> tuple[OutlinePiece, ...]:
    corners = (
        [p for p, before in zip(points, [points[-1], *points[:-1]], strict=True) if p != before]
        if points
        else []
    )
    if is_tangled(corners):
        raise reader.fail("an outline that crosses itself all over", "")
    if len(corners) < 3:
        raise reader.fail("a closed outline needs three corners", "", str(len(corners)))
    return tuple(OutlineLine(a, b) for a, b in zip(corners, corners[1:] + corners[:1], strict=True))


def _turned(piece: OutlinePiece) -> OutlinePiece:
    if isinstance(piece, OutlineArc):
        return OutlineArc(piece.end, piece.mid, piece.start)
    return OutlineLine(piece.end, piece.start)


def _to_start(piece: OutlinePiece, start: Point) -> OutlinePiece:
    """Return the piece from *start* on, its own start being within :data:`JOINS` of there."""
    if isinstance(piece, OutlineArc):
        return OutlineArc(start, piece.mid, piece.end)
    return OutlineLine(start, piece.end)


class _Ends:
    """The free ends of pieces, in cells, so that the nearest is found without looking at all of them."""

    def __init__(self, pieces: list[OutlinePiece]) -> None:
        self._cells: dict[tuple[int, int], list[int]] = {}
        self._pieces = pieces
        self._used = [False] * len(pieces)
        for number, piece in enumerate(pieces):
            for end in (piece.start, piece.end):
                self._cells.setdefault(self._cell(end), []).append(number)

    @staticmethod
    def _cell(at: Point) -> tuple[int, int]:
        return int(at.x) // _TRACED, int(at.y) // _TRACED

    def take(self, number: int) -> OutlinePiece | None:
        """Return a piece that is still free, and take it."""
        if self._used[number]:
            return None
        self._used[number] = True
        return self._pieces[number]

    def nearest(self, at: Point) -> tuple[float, int, bool] | None:
        """Return how far, which piece, and whether by its end, for the nearest free end within 1 mm."""
        best: tuple[float, int, bool] | None = None
        x, y = self._cell(at)
        for cell in ((x + i, y + j) for i in (-1, 0, 1) for j in (-1, 0, 1)):
            free = [n for n in self._cells.get(cell, ()) if not self._used[n]]
            if cell in self._cells:
                self._cells[cell] = free
            for number in free:
                piece = self._pieces[number]
                for by_end, end in ((False, piece.start), (True, piece.end)):
                    found = (at.distance(end), number, by_end)
                    if found[0] <= _TRACED and (best is None or found < best):
                        best = found
        return best


def _chained(pieces: list[OutlinePiece]) -> list[tuple[OutlinePiece, ...]]:
    """Return the pieces in runs, end to start; a run that comes home is a loop."""
    ends = _Ends(pieces)
    runs: list[tuple[OutlinePiece, ...]] = []
    for number in range(len(pieces)):
        first = ends.take(number)
        if first is None:
            continue
        run = [first]
        while run[-1].end.distance(run[0].start) > JOINS or len(run) < 2:
            found = ends.nearest(run[-1].end)
            home = run[-1].end.distance(run[0].start)
            if found is None or (len(run) > 1 and home <= found[0] and found[0] > JOINS):
                break
            piece = ends.take(found[1])
            assert piece is not None
            piece = _turned(piece) if found[2] else piece
            run.append(_to_start(piece, run[-1].end) if found[0] <= JOINS else piece)
        if len(run) > 1 and run[-1].end != run[0].start and run[-1].end.distance(run[0].start) <= JOINS:
            run[0] = _to_start(run[0], run[-1].end)
        if is_tangled([piece.start for piece in run]):
            raise InputError("an outline that crosses itself all over")
        runs.append(tuple(run))
    return runs


__all__ = ["JOINS", "read_outline"]
