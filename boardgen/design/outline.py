"""The outline a design asks for: its keys checked against each other, a drawn one made exact."""

from __future__ import annotations

from pathlib import Path, PurePosixPath, PureWindowsPath

from shapely import LinearRing, Polygon
from shapely.validation import explain_validity

from boardgen.board.model import Outline, OutlineArc, OutlineLine, OutlinePiece, outline_from_ring
from boardgen.catalog.tomlfile import TomlFile
from boardgen.design.model import OutlineKind, OutlineWish
from boardgen.design.schema import OutlineForm
from boardgen.errors import InputError
from boardgen.readfile import leads_out, read_bytes
from boardgen.units import Box, Nm, Point, format_mm, mm

MAX_DXF_BYTES = 5_000_000
LEAST = mm(5)
MOST = mm(500)


def outline_wish(form: OutlineForm, file: TomlFile, folder: Path) -> tuple[OutlineWish, bytes]:
    """Return the wish, and the bytes of the DXF file it was read from (empty for none).

    A drawn outline is moved so that the top left of its box is 0,0. Raises
    InputError with the key's line in *file*.
    """

    def wrong(message: str, key: str, found: str = "", allowed: str = "") -> InputError:
        path = ("outline", key) if key else ("outline",)
        return InputError(message, file.where, ".".join(path), file.line(path), found, allowed)

    sized = form.width_mm is not None or form.height_mm is not None
    ways = [
        name
        for name, there in (
            ("margin_mm", form.margin_mm is not None),
            ("width_mm and height_mm", sized),
            ("points_mm", form.points_mm is not None),
            ("dxf", form.dxf is not None),
        )
        if there
    ]
    if len(ways) > 1:
        raise wrong("the outline is given in more than one way", "", ", ".join(ways), "one of them")
    drawn = form.points_mm is not None or form.dxf is not None
    if drawn and form.corner_radius_mm is not None:
        raise wrong("a drawn outline has its own corners", "corner_radius_mm")
    if sized and (form.width_mm is None or form.height_mm is None):
        missing = "height_mm" if form.height_mm is None else "width_mm"
        raise wrong(f"width_mm and height_mm go together, {missing} is missing", "")
    radius = None if form.corner_radius_mm is None else mm(form.corner_radius_mm)
    if form.width_mm is not None and form.height_mm is not None:
        for key, value in (("width_mm", form.width_mm), ("height_mm", form.height_mm)):
            if mm(value) < LEAST:
                raise wrong("the board is too small", key, f"{value:g}", f"at least {format_mm(LEAST)}")
        most = min(form.width_mm, form.height_mm) / 2
        if radius is not None and radius > mm(most):
            raise wrong(
                "the corners are rounder than the board", "corner_radius_mm", allowed=f"at most {most:g}"
            )
        width, height = mm(form.width_mm), mm(form.height_mm)
        return OutlineWish(OutlineKind.SIZE, width, height, corner_radius=radius), b""
    raw = b""
    if form.points_mm is not None:
        outline = outline_from_ring(tuple(Point(mm(x), mm(y)) for x, y in form.points_mm))
        key = "points_mm"
    elif form.dxf is not None:
        raw = _drawing(form.dxf, file, folder)
        from boardgen.design.dxf import outline_from_dxf  # noqa: PLC0415

        outline = outline_from_dxf(raw, (folder / form.dxf).as_posix())
        key = "dxf"
    else:
        margin = None if form.margin_mm is None else mm(form.margin_mm)
        return OutlineWish(margin=margin, corner_radius=radius), b""
    fault = outline_fault(outline)
    if fault:
        raise wrong(fault, key)
    outline = moved_home(outline)
    box = outline_box(outline)
    return OutlineWish(OutlineKind.POLYGON, box.width, box.height, shape=outline), raw


def _drawing(name: str, file: TomlFile, folder: Path) -> bytes:
    path = PurePosixPath(name)
    outside = path.is_absolute() or PureWindowsPath(name).drive or "\\" in name or ".." in path.parts
    if outside or path.suffix.lower() != ".dxf":
        raise InputError(
            "the drawing must lie in the design's folder",
            file.where,
            "outline.dxf",
            file.line(("outline", "dxf")),
            repr(name[:60]),
            "a .dxf file, its path without ..",
        )
    drawing = folder / path
    if leads_out(drawing, folder):
        raise InputError(
            "a link leads out of the design's folder",
            file.where,
            "outline.dxf",
            file.line(("outline", "dxf")),
            repr(name[:60]),
            "the drawing itself in the folder",
        )
    return read_bytes(drawing, drawing.as_posix(), MAX_DXF_BYTES, "drawing")


def loop_points(loop: tuple[OutlinePiece, ...]) -> tuple[Point, ...]:
    """Return the corners of *loop*, arcs by their start and middle."""
    points: list[Point] = []
    for piece in loop:
        points.append(piece.start)
        if isinstance(piece, OutlineArc):
            points.append(piece.mid)
    return tuple(points)


def outline_box(outline: Outline) -> Box:
    """Return the box round the corners and arc middles of the outer loop."""
    return Box.around(loop_points(outline.outer))


def outline_fault(outline: Outline) -> str:
    """Return what is wrong with *outline* as a board's profile, "" where nothing is.

    Arcs are judged by their start and middle.
    """
    outer = loop_points(outline.outer)
    if len(set(outer)) < len(outer):
        twice = next(p for n, p in enumerate(outer) if p in outer[:n])
        return f"the outline passes twice through ({format_mm(twice.x)}, {format_mm(twice.y)}) mm"
    box = Box.around(list(outer))
    for name, length in (("wide", box.width), ("high", box.height)):
        if not LEAST <= length <= MOST:
            limits = f"{format_mm(LEAST)} to {format_mm(MOST)} mm"
            return f"the outline is {format_mm(length, 2)} mm {name}, {limits} are possible"
    if len(outer) < 3:
        return "the outline goes there and back: it needs three corners"
    if not LinearRing(outer).is_simple:
        place = explain_validity(Polygon(outer)).partition("[")
        where = ""
        if place[2]:
            x, _, y = place[2].rstrip("]").partition(" ")
            where = f" near ({format_mm(Nm(round(float(x))), 2)}, {format_mm(Nm(round(float(y))), 2)}) mm"
        return f"the outline crosses itself{where}"
    board = Polygon(outer)
    if board.area < float(LEAST) * float(LEAST):
        return "the outline encloses hardly any area"
    rings = [loop_points(loop) for loop in outline.cutouts]
    for n, ring in enumerate(rings):
        if len(ring) < 3:
            return f"cut-out {n + 1} goes there and back: it needs three corners"
    holes = [Polygon(ring) for ring in rings]
    for n, hole in enumerate(holes):
        if not hole.is_valid or not board.contains(hole):
            return f"cut-out {n + 1} does not lie inside the outline"
        if any(hole.intersects(other) for other in holes[:n]):
            return f"cut-out {n + 1} meets another one"
    return ""


def moved_home(outline: Outline) -> Outline:
    """Return *outline* moved so that the top left of its box is 0,0."""
    box = outline_box(outline)
    by = Point(-box.left, -box.top)

    def moved(piece: OutlinePiece) -> OutlinePiece:
        if isinstance(piece, OutlineArc):
            return OutlineArc(piece.start.plus(by), piece.mid.plus(by), piece.end.plus(by))
        return OutlineLine(piece.start.plus(by), piece.end.plus(by))

    return Outline(
        tuple(moved(piece) for piece in outline.outer),
        tuple(tuple(moved(piece) for piece in loop) for loop in outline.cutouts),
    )
