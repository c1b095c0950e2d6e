"""Paints sheets as one PDF, a page each, at true size, the same bytes every time."""

from __future__ import annotations

import io
from collections.abc import Sequence

from reportlab import rl_config
from reportlab.lib.colors import HexColor
from reportlab.pdfgen.canvas import Canvas

from boardgen.export.sheet import PathMark, Sheet, TextMark

POINTS_PER_MM = 72 / 25.4


def _path(page: Canvas, mark: PathMark, height: float) -> None:
    k = POINTS_PER_MM
    operators = []
    for line in mark.lines:
        spots = [f"{x * k:.2f} {(height - y) * k:.2f}" for x, y in line]
        operators.append(f"{spots[0]} m {' l '.join(spots[1:] or spots)} l{' h' if mark.closed else ''}")
    stroked = bool(mark.width > 0 and mark.stroke)
    if stroked:
        page.setStrokeColor(HexColor(mark.stroke))
        page.setLineWidth(mark.width * k)
    page.setDash([d * k for d in mark.dash] if mark.dash else [])
    if mark.fill:
        page.setFillColor(HexColor(mark.fill))
    path = page.beginPath()
    path._code.extend(operators)  # the library's own point-by-point calls take ten times as long
    page.drawPath(path, stroke=int(stroked), fill=int(bool(mark.fill)), fillMode=0)


def _text(page: Canvas, mark: TextMark, height: float) -> None:
    k = POINTS_PER_MM
    page.saveState()
    page.translate(mark.at[0] * k, (height - mark.at[1]) * k)
    page.rotate(mark.turn)
    page.setFillColor(HexColor(mark.colour))
    page.setFont("Helvetica-Bold" if mark.bold else "Helvetica", mark.size * k)
    # The PDF's built-in fonts know only this set; anything else shows as a question mark.
    text = mark.text.encode("cp1252", "replace").decode("cp1252")
    {"start": page.drawString, "middle": page.drawCentredString, "end": page.drawRightString}[mark.anchor](
        0, 0, text
    )
    page.restoreState()


def sheets_pdf(sheets: Sequence[Sheet], title: str) -> bytes:
    """Return the sheets as one PDF document."""
    rl_config.useA85 = 0  # plain binary streams: a third smaller, and no slow text encoding
    out = io.BytesIO()
    page = Canvas(out, invariant=1, pageCompression=1)
    page.setTitle(title)
    page.setAuthor("boardgen")
    page.setLineCap(1)
    page.setLineJoin(1)
    for sheet in sheets:
        page.setPageSize((sheet.width * POINTS_PER_MM, sheet.height * POINTS_PER_MM))
        for mark in sheet.marks:
            if isinstance(mark, PathMark):
                _path(page, mark, sheet.height)
            else:
                _text(page, mark, sheet.height)
        page.showPage()
    page.save()
    return out.getvalue()
