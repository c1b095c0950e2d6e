"""The A4 page that every drawing of a run stands on."""

from __future__ import annotations

from boardgen.export.bundle import Bundle
from boardgen.export.sheet import Sheet
from boardgen.palette import FAINT, INK

PAGE = (297.0, 210.0)
MARGIN = 10.0


def page(bundle: Bundle, title: str, note: str) -> Sheet:
    """An A4 page with a heading line and a foot line of our own."""
    board = bundle.board
    sheet = Sheet(f"{board.name} revision {board.revision}: {title}", *PAGE)
    sheet.text(MARGIN, 15, title, 5.5, bold=True)
    sheet.text(PAGE[0] - MARGIN, 12, f"{board.name}  rev {board.revision}", 4, "end", bold=True)
    sheet.text(PAGE[0] - MARGIN, 17, board.title, 3, "end")
    sheet.line((MARGIN, 20), (PAGE[0] - MARGIN, 20), width=0.4)
    foot = PAGE[1] - 8
    sheet.line((MARGIN, foot - 4.5), (PAGE[0] - MARGIN, foot - 4.5), stroke=FAINT)
    sheet.text(MARGIN, foot, note, 2.6, colour=INK)
    sheet.text(PAGE[0] - MARGIN, foot, f"{bundle.tool}  pin map {bundle.pinmap.digest()}", 2.6, "end", FAINT)
    return sheet
