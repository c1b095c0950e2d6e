"""An outline from a DXF drawing: closed loops of lines, arcs, polylines and circles, in mm.

The largest loop is the profile, loops inside it are cut-outs. DXF's y runs up;
the outline's runs down.
"""

from __future__ import annotations

import io
import logging
import math
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from boardgen.board.model import Outline, OutlineArc, OutlineLine, OutlinePiece
from boardgen.errors import InputError
from boardgen.units import Nm, Point, format_mm, mm

JOIN = mm("0.01")  # ends this near are taken as one
MAX_BYTES = 5_000_000
MOST_PIECES = 2000
MOST_LINES = 250_000  # of the file's text; 2000 pieces and all that programs write round them take a third
MILLIMETRES = (0, 4)  # $INSUNITS: none said, mm
FARTHEST = 10_000.0


def outline_from_dxf(raw: bytes, where: str) -> Outline:
    """Return the outline drawn in the DXF file *raw*; *where* names it in messages.

    Raises InputError: not DXF, units other than mm, other kinds of entity, an
    open or branching loop (with the place in the drawing's mm).
    """
    if len(raw) > MAX_BYTES:
        raise InputError("the drawing is too large", where, allowed=f"at most {MAX_BYTES} bytes")
    lines = raw.count(b"\n") + raw.count(b"\r")
    if lines > 2 * MOST_LINES:
        found, allowed = f"{lines} lines of text", f"at most {MOST_LINES}"
        raise InputError("the drawing has too many pieces", where, found=found, allowed=allowed)
    pieces = list(_pieces(_document(raw, where), where))
    if not pieces:
        raise InputError("the drawing has no lines", where, allowed="LINE, ARC, LWPOLYLINE, CIRCLE")
    if len(pieces) > MOST_PIECES:
        raise InputError(
            "the drawing has too many pieces", where, found=str(len(pieces)), allowed=f"at most {MOST_PIECES}"
        )
    loops = _loops(pieces, where)
    loops.sort(key=lambda loop: -abs(_area(loop)))
    # as a rectangle's outline runs: the profile clockwise as seen, cut-outs the other way
    outer, *inner = loops
    return Outline(_turned(outer, True), tuple(_turned(loop, False) for loop in inner))


@contextmanager
def _hushed() -> Iterator[None]:
    """Keep the library's running remarks on a damaged drawing off the user's screen."""
    logger = logging.getLogger("ezdxf")
    was = logger.disabled
    logger.disabled = True
    try:
        yield
    finally:
        logger.disabled = was


def _document(raw: bytes, where: str) -> Any:
    from ezdxf import recover  # noqa: PLC0415

    try:
        with _hushed():
            document, _ = recover.read(io.BytesIO(raw))
        units = int(document.header.get("$INSUNITS", 0))
    except RecursionError:
        raise InputError("the drawing is nested too deep", where) from None
    except Exception:  # the library answers damage with whatever went wrong inside, assertions included
        raise InputError("this is not a DXF drawing that can be read", where) from None
    if units not in MILLIMETRES:
        name = {1: "inches", 2: "feet", 5: "centimetres", 6: "metres"}.get(units, f"unit {units}")
        raise InputError("the drawing's units must be mm", where, "$INSUNITS", found=name)
    return document


def _pieces(document: Any, where: str) -> Iterator[OutlinePiece]:
    for entity in document.modelspace():
        kind = entity.dxftype()
        try:
            if kind in ("TEXT", "MTEXT", "DIMENSION", "POINT"):
                continue
            if kind == "LINE":
                start, end = entity.dxf.start, entity.dxf.end
                if _at(start.x, start.y) != _at(end.x, end.y):
                    yield OutlineLine(_at(start.x, start.y), _at(end.x, end.y))
            elif kind == "ARC":
                yield _arc(entity.dxf.center, entity.dxf.radius, entity.dxf.start_angle, entity.dxf.end_angle)
            elif kind == "CIRCLE":
                for start_angle in (0.0, 180.0):
                    yield _arc(entity.dxf.center, entity.dxf.radius, start_angle, start_angle + 180.0)
            elif kind == "LWPOLYLINE":
                yield from _polyline(list(entity.get_points("xyb")), bool(entity.closed))
            else:
                raise InputError(
                    "the outline cannot hold this entity",
                    where,
                    found=kind,
                    allowed="LINE, ARC, LWPOLYLINE, CIRCLE",
                )
        except (ValueError, OverflowError):
            raise InputError(f"a {kind} has a size or place that is not possible", where) from None


def _at(x: float, y: float) -> Point:
    if not (abs(x) <= FARTHEST and abs(y) <= FARTHEST):  # also catches NaN
        raise ValueError("too far away")
    return Point(mm(float(x)), mm(float(-y)))


def _arc(centre: Any, radius: float, start: float, end: float) -> OutlineArc:
    if not 0 < radius <= FARTHEST:
        raise ValueError("no such radius")
    span = (end - start) % 360.0 or 360.0

    def at(degrees: float) -> Point:
        turn = math.radians(degrees)
        return _at(centre.x + radius * math.cos(turn), centre.y + radius * math.sin(turn))

    return OutlineArc(at(start), at(start + span / 2), at(start + span))


def _polyline(corners: list[tuple[float, float, float]], closed: bool) -> Iterator[OutlinePiece]:
    count = len(corners) if closed else len(corners) - 1
    for n in range(count):
        x1, y1, bulge = corners[n]
        x2, y2, _ = corners[(n + 1) % len(corners)]
        start, end = _at(x1, y1), _at(x2, y2)
        if start == end:
            continue
        if not bulge:
            yield OutlineLine(start, end)
            continue
        # bulge = tan(angle / 4): the arc's middle stands off the chord by half the chord times bulge
        x, y = (x1 + x2) / 2 + bulge * (y2 - y1) / 2, (y1 + y2) / 2 - bulge * (x2 - x1) / 2
        yield OutlineArc(start, _at(x, y), end)


@dataclass(slots=True)
class _End:
    """An end of a piece: *first* says which."""

    piece: int
    first: bool
    at: Point


def _loops(pieces: list[OutlinePiece], where: str) -> list[tuple[OutlinePiece, ...]]:
    """Join *pieces* end to start into closed loops, ends that nearly meet made one."""
    grid: dict[tuple[int, int], list[_End]] = {}
    for n, piece in enumerate(pieces):
        for first, at in ((True, piece.start), (False, piece.end)):
            grid.setdefault(_cell(at), []).append(_End(n, first, at))
    used: set[int] = set()
    loops = []
    for n in range(len(pieces)):
        if n in used:
            continue
        used.add(n)
        loop = [pieces[n]]
        while loop[-1].end.distance(loop[0].start) > JOIN:
            place = loop[-1].end
            near = [end for end in _near(grid, place) if end.piece not in used]
            if not near:
                raise _fault("the outline is open", place, where)
            if len(near) > 1:
                raise _fault("the outline branches", place, where)
            piece = pieces[near[0].piece]
            used.add(near[0].piece)
            loop.append(_from(piece if near[0].first else _reversed(piece), place))
        if len(loop) == 1:
            raise _fault("a piece of the outline closes on itself", loop[0].start, where)
        loop[-1] = _to(loop[-1], loop[0].start)
        loops.append(tuple(loop))
    return loops


def _fault(message: str, at: Point, where: str) -> InputError:
    return InputError(f"{message} at ({format_mm(at.x, 3)}, {format_mm(Nm(-at.y), 3)}) mm", where)


def _cell(at: Point) -> tuple[int, int]:
    return int(at.x) // int(JOIN), int(at.y) // int(JOIN)


def _near(grid: dict[tuple[int, int], list[_End]], at: Point) -> list[_End]:
    x, y = _cell(at)
    cells = ((x + dx, y + dy) for dx in (-1, 0, 1) for dy in (-1, 0, 1))
    return [end for cell in cells for end in grid.get(cell, ()) if end.at.distance(at) <= JOIN]


def _reversed(piece: OutlinePiece) -> OutlinePiece:
    if isinstance(piece, OutlineArc):
        return OutlineArc(piece.end, piece.mid, piece.start)
    return OutlineLine(piece.end, piece.start)


def _from(piece: OutlinePiece, start: Point) -> OutlinePiece:
    if isinstance(piece, OutlineArc):
        return OutlineArc(start, piece.mid, piece.end)
    return OutlineLine(start, piece.end)


def _to(piece: OutlinePiece, end: Point) -> OutlinePiece:
    return _reversed(_from(_reversed(piece), end))


def _area(loop: tuple[OutlinePiece, ...]) -> int:
    """Return twice the signed area in nm^2, positive where the loop runs clockwise as seen (y down)."""
    points: list[Point] = []
    for piece in loop:
        points.append(piece.start)
        if isinstance(piece, OutlineArc):
            points.append(piece.mid)
    pairs = zip(points, points[1:] + points[:1], strict=True)
    return sum(int(a.x) * int(b.y) - int(b.x) * int(a.y) for a, b in pairs)


def _turned(loop: tuple[OutlinePiece, ...], clockwise: bool) -> tuple[OutlinePiece, ...]:
    if (_area(loop) > 0) == clockwise:
        return loop
    return tuple(_reversed(piece) for piece in reversed(loop))
