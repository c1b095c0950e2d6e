"""The drawings a board is made and checked from: fabrication, connector views, assembly, copper."""

from __future__ import annotations

from collections import defaultdict

from boardgen.board.geometry import outline_polygon, pad_centre, part_courtyard
from boardgen.board.model import Board, PartKind, Side
from boardgen.export.board_view import (
    BoardArt,
    View,
    board_art,
    draw_bodies,
    draw_copper,
    draw_legend,
    draw_outline,
    draw_pads,
    fitted_view,
)
from boardgen.export.bundle import Bundle
from boardgen.export.connector_views import connector_sheet
from boardgen.export.files import OutFile
from boardgen.export.holes import Hole, board_holes
from boardgen.export.identity import identity_text
from boardgen.export.page import page
from boardgen.export.sheet import Sheet
from boardgen.export.sheet_pdf import sheets_pdf
from boardgen.export.sheet_svg import sheet_svg
from boardgen.palette import MARK
from boardgen.units import Nm, Point, format_mm


def _dimension(sheet: Sheet, a: tuple[float, float], b: tuple[float, float], text: str) -> None:
    """A dimension line from *a* to *b* (upright or level), slashes at its ends, the figure on it."""
    sheet.line(a, b, width=0.15)
    level = a[1] == b[1]
    for x, y in (a, b):
        sheet.line((x - 0.8, y + 0.8), (x + 0.8, y - 0.8), width=0.25)
        if level:
            sheet.line((x, y - 1.5), (x, y + 1.5), width=0.12)
        else:
            sheet.line((x - 1.5, y), (x + 1.5, y), width=0.12)
    mx, my = (a[0] + b[0]) / 2, (a[1] + b[1]) / 2
    if level:
        sheet.text(mx, my - 1, text, 2.8, "middle")
    else:
        sheet.text(mx - 1, my, text, 2.8, "middle", turn=90)


def _hole_groups(board: Board) -> list[tuple[str, list[Hole]]]:
    groups: dict[tuple[int, bool, str], list[Hole]] = defaultdict(list)
    for hole in board_holes(board):
        long = round(hole.start.distance(hole.end))
        label = format_mm(hole.diameter, 2)
        if long:
            label += f" x {format_mm(hole.diameter + long, 2)} slot"
        groups[hole.diameter, not hole.plated, label].append(hole)
    return [("ABCDEFGHJKLMNPQRSTUVWXYZ"[i % 24], groups[key]) for i, key in enumerate(sorted(groups))]


def fabrication_sheet(bundle: Bundle, art: BoardArt) -> Sheet:
    """Return the fabrication drawing: outline, sizes from a datum hole, hole chart, order fields."""
    board, fab = bundle.board, bundle.bound.fab
    sheet = page(bundle, "Fabrication drawing", "Dimensions in mm. Seen from the top. Do not scale.")
    view = fitted_view(board, 28, 32, 165, 150, 2.0)
    draw_outline(sheet, view, art)
    left, top, right, bottom = (Nm(round(v)) for v in outline_polygon(board.outline).bounds)
    x0, y0 = view.xy((left, top))
    x1, y1 = view.xy((right, bottom))
    _dimension(sheet, (x0, y1 + 9), (x1, y1 + 9), format_mm(right - left, 2))
    _dimension(sheet, (x0 - 9, y0), (x0 - 9, y1), format_mm(bottom - top, 2))
    groups = _hole_groups(board)
    for letter, holes in groups:
        for hole in holes:
            for point in {hole.start, hole.end}:
                x, y = view.xy(point)
                sheet.disc(x, y, hole.diameter / 2e6 * view.scale, width=0.12, fill="#ffffff")
            x, y = view.xy(Point((hole.start.x + hole.end.x) // 2, (hole.start.y + hole.end.y) // 2))
            size = min(2.0, max(1.0, hole.diameter / 1e6 * view.scale * 0.6))
            sheet.text(x, y + size * 0.36, letter, size, "middle")
    _datum(sheet, view, board, (left, top, right, bottom))
    _chart(sheet, groups, board)
    notes = [
        f"Material FR-4, {format_mm(board.thickness, 1)} mm +/- 10 %; copper layers: {len(board.copper)}",
        f"Copper {fab.copper_um} um; finish {fab.finish}",
        f"Mask {fab.mask_colour}; legend {fab.legend_colour if fab.legend else 'none'}; vias covered",
        f"Holes: finished, +/- {format_mm(fab.hole_tolerance)}; rout +/- {format_mm(fab.rout_tolerance)}",
        f"Smallest track {format_mm(fab.track_min)}, gap {format_mm(fab.gap_min)}",
        f"Smallest ring {format_mm(fab.ring_min)}, hole to hole {format_mm(fab.hole_gap_min)}",
        f"Drawing scale {view.scale:g} : 1",
    ]
    y = 130.0
    sheet.text(205, y, "Notes", 3.5, bold=True)
    for index, note in enumerate(notes):
        sheet.text(205, y + 5.5 * (index + 1), f"{index + 1}. {note}", 2.5)
    return sheet


def _datum(sheet: Sheet, view: View, board: Board, box: tuple[Nm, Nm, Nm, Nm]) -> None:
    """Place dimensions from the datum: the mounting hole nearest the lower left, else that corner."""
    left, _top, _right, bottom = box
    holes = [p for p in board.parts if p.kind is PartKind.HOLE]
    corner = Point(left, bottom)
    ordered = sorted(holes, key=lambda p: (p.placement.at.distance(corner), p.ref))
    at = ordered[0].placement.at if ordered else corner
    x, y = view.xy(at)
    sheet.disc(x, y, 2.6 * max(1.0, view.scale / 2), MARK, 0.3)
    sheet.text(x + 3.2, y - 3.2, "datum 0, 0", 2.6, colour=MARK)
    if ordered:
        _dimension(sheet, (view.xy(corner)[0], view.xy(corner)[1] + 4), (x, view.xy(corner)[1] + 4),
                   format_mm(at.x - left, 2))  # fmt: skip
        _dimension(sheet, (view.xy(corner)[0] - 4, view.xy(corner)[1]), (view.xy(corner)[0] - 4, y),
                   format_mm(bottom - at.y, 2))  # fmt: skip
    row = 32.0
    sheet.text(205, 28, "Places from the datum (x right, y up)", 3.5, bold=True)
    named = [*ordered[1:], *(p for p in board.parts if p.kind in (PartKind.CONNECTOR, PartKind.MODULE))]
    for part in named[:10]:
        spot = part.placement.at
        what = "hole centre"
        if part.kind is not PartKind.HOLE:
            pads = part.footprint.numbered("1") or part.footprint.pads
            spot, what = pad_centre(part, pads[0]), "pad 1"
        where = f"{format_mm(spot.x - at.x, 2)}, {format_mm(at.y - spot.y, 2)}"
        sheet.text(205, row + 2, f"{part.ref} {what}", 2.6)
        sheet.text(287, row + 2, where, 2.6, "end")
        row += 4.6


def _chart(sheet: Sheet, groups: list[tuple[str, list[Hole]]], board: Board) -> None:
    y = 84.0
    sheet.text(205, y, "Hole chart (finished)", 3.5, bold=True)
    for letter, holes in groups:
        y += 4.6
        hole = holes[0]
        size = format_mm(hole.diameter, 2)
        if hole.start != hole.end:
            size += f" x {format_mm(hole.diameter + round(hole.start.distance(hole.end)), 2)}"
        sheet.text(205, y, letter, 2.6, bold=True)
        sheet.text(211, y, size, 2.6)
        sheet.text(240, y, "plated" if hole.plated else "not plated", 2.6)
        sheet.text(287, y, f"{len(holes)} off", 2.6, "end")
    if not board.plated:
        sheet.text(205, y + 4.6, "No hole of this board is plated.", 2.6)


def assembly_sheet(bundle: Bundle, art: BoardArt) -> Sheet:
    """Return the assembly view: bodies, pads, references and pin-1 marks, with the parts list."""
    board = bundle.board
    sheet = page(bundle, "Assembly", "Seen from the top. Pad 1 of every part is marked. Fit low parts first.")
    view = fitted_view(board, 12, 28, 185, 160, 3.0)
    draw_outline(sheet, view, art)
    draw_bodies(sheet, view, board, Side.TOP)
    draw_pads(sheet, view, art, board.copper[0])
    for part in board.parts:
        if part.kind is PartKind.HOLE:
            continue
        ones = part.footprint.numbered("1")
        if ones and len(part.footprint.numbers()) > 1:
            x, y = view.xy(pad_centre(part, ones[0]))
            sheet.disc(x, y, 0.45 * view.scale, MARK, 0.1, MARK)
        room = part_courtyard(part, part.placement.side)
        centre = room.centroid if not room.is_empty else None
        x, y = view.xy((centre.x, centre.y) if centre is not None else part.placement.at)
        big = part.kind in (PartKind.MODULE, PartKind.CONNECTOR)
        sheet.text(x, y + 1, part.ref, 4.0 if big else 2.2, "middle", bold=True)
    y = 30.0
    sheet.text(205, y, "Parts", 3.5, bold=True)
    rows = sorted(
        (p for p in bundle.netlist.parts if p.kind is not PartKind.HOLE),
        key=lambda p: (p.ref.rstrip("0123456789"), len(p.ref), p.ref),
    )
    step = min(4.6, 150 / max(1, len(rows)))
    for row in rows:
        y += step
        sheet.text(205, y, row.ref, min(2.6, step * 0.6), bold=True)
        words = row.value if row.mpn.startswith(row.value) else f"{row.value}, {row.mpn}"
        sheet.text(217, y, words if len(words) <= 50 else words[:49].rstrip() + "...", min(2.5, step * 0.58))
    return sheet


def copper_sheet(bundle: Bundle, art: BoardArt, side: Side) -> Sheet:
    """Return one side's copper with its printing; the bottom is shown as seen from below."""
    board = bundle.board
    below = side is Side.BOTTOM
    words = "seen from below" if below else "seen from the top"
    sheet = page(bundle, f"{'Bottom' if below else 'Top'} copper and legend", f"Board {words}.")
    view = fitted_view(board, 12, 26, 273, 165, 4.0, below)
    draw_outline(sheet, view, art)
    draw_copper(sheet, view, art, side)
    draw_legend(sheet, view, board, side)
    return sheet


def preview_sheet(bundle: Bundle, art: BoardArt) -> Sheet:
    """Return both sides of the board next to each other, as it will arrive, without a page round them."""
    board = bundle.board
    left, top, right, bottom = outline_polygon(board.outline).bounds
    scale = 2.0
    wide, high = (right - left) / 1e6 * scale, (bottom - top) / 1e6 * scale
    gap = 8.0
    sheet = Sheet(
        f"{identity_text(bundle)}, both sides",
        (wide + gap) * len(board.copper) + gap,
        high + 2 * gap,
    )
    for index, side in enumerate(board.copper):
        x = gap + index * (wide + gap)
        below = side is Side.BOTTOM
        middle = (left + right) / 2
        view = View((x + wide / 2 - middle / 1e6 * scale, gap - top / 1e6 * scale), scale, below, middle)
        draw_outline(sheet, view, art)
        draw_copper(sheet, view, art, side)
        draw_legend(sheet, view, board, side)
        words = "bottom, seen from below" if below else "top"
        sheet.text(x + wide / 2, high + gap + 5.5, words, 3, "middle")
    return sheet


def drawing_sheets(bundle: Bundle) -> tuple[tuple[str, Sheet], ...]:
    """Return every drawing with its file stem, in reading order."""
    art = board_art(bundle.board)
    copper = tuple((f"copper-{side}", copper_sheet(bundle, art, side)) for side in bundle.board.copper)
    return (
        ("fabrication", fabrication_sheet(bundle, art)),
        ("connector-views", connector_sheet(bundle)),
        ("assembly", assembly_sheet(bundle, art)),
        *copper,
        ("board", preview_sheet(bundle, art)),
    )


def drawing_files(bundle: Bundle, sheets: tuple[tuple[str, Sheet], ...]) -> tuple[OutFile, ...]:
    """Return the drawings under ``assembly/``: one SVG each, and all of them in one PDF."""
    files = [OutFile(f"assembly/{stem}.svg", sheet_svg(sheet).encode()) for stem, sheet in sheets]
    title = identity_text(bundle)
    pdf = sheets_pdf([sheet for stem, sheet in sheets if stem != "board"], title)
    return (*files, OutFile("assembly/drawings.pdf", pdf))
