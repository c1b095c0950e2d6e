"""Both revisions' copper in one drawing: kept, gone and new told apart by tone and by hatch."""

from __future__ import annotations

import shapely
from shapely.geometry.base import BaseGeometry

from boardgen.export.sheet import Sheet
from boardgen.export.sheet_svg import sheet_svg
from boardgen.palette import BODY, BOTTOM, BOTTOM_HATCH_DEGREES, INK, MARK, PAPER, TOP, TOP_HATCH_DEGREES
from boardgen.revision.geometry import BoardFiles, SidePicture
from boardgen.revision.model import Change
from boardgen.units import NM_PER_MM

_MARGIN, _GAP, _HEAD, _PANEL = 8.0, 12.0, 16.0, 130.0
_PITCH = 0.9
_TOUCH = 1_000.0  # nm


def _moved(area: BaseGeometry, scale: float, dx: float, dy: float) -> BaseGeometry:
    """Return *area* (nm on the board) as it stands on the page (mm)."""
    return shapely.transform(area, lambda rows: rows / NM_PER_MM * scale + (dx, dy))


def _apart(area: BaseGeometry) -> BaseGeometry:
    """Return *area* (nm) less what touches itself within 2 um, which no hatching would survive."""
    return area.buffer(-_TOUCH, join_style="mitre").buffer(_TOUCH / 2, join_style="mitre")


def _kept(sheet: Sheet, area: BaseGeometry) -> None:
    sheet.area(area, BODY, 0.05, BODY)


def _gone(sheet: Sheet, area: BaseGeometry) -> None:
    sheet.area(area, BOTTOM, 0.2, PAPER)
    sheet.hatch(area, BOTTOM_HATCH_DEGREES, _PITCH, BOTTOM, 0.2)


def _new(sheet: Sheet, area: BaseGeometry) -> None:
    sheet.area(area, TOP, 0.2, TOP)
    sheet.hatch(area, TOP_HATCH_DEGREES, _PITCH, PAPER, 0.15)


def _at(text: str | None) -> tuple[float, float] | None:
    """Return the place (mm) that a change of a part's place names."""
    if text is None or not text.startswith("at "):
        return None
    x, y = text.removeprefix("at ").split(", ")[:2]
    return float(x.removesuffix(" mm")), float(y.removesuffix(" mm"))


def _arrows(sheet: Sheet, moved: tuple[Change, ...], scale: float, dx: float, dy: float) -> None:
    for change in moved:
        start, end = _at(change.before), _at(change.after)
        if start is None or end is None:
            continue
        a, b = ((x * scale + dx, y * scale + dy) for x, y in (start, end))
        sheet.line(a, b, stroke=MARK, width=0.5, dash=(1.5, 1.0))
        sheet.disc(*b, 0.9, stroke=MARK, fill=MARK)
        sheet.text(b[0] + 1.6, b[1] - 1.2, change.thing, 3.0, colour=MARK, bold=True)


def copper_picture(
    a: BoardFiles, b: BoardFiles, pictures: tuple[SidePicture, ...], moved: tuple[Change, ...]
) -> str:
    """Return the drawing as SVG, a panel a side, both seen from the top; *moved* are changed places."""
    outlines = [area for area in (a.outline, b.outline) if not area.is_empty] or [
        area for _, area in (*a.copper, *b.copper) if not area.is_empty
    ]
    if not outlines:
        return ""
    left, top, right, bottom = shapely.union_all(outlines).bounds
    width, height = (right - left) / NM_PER_MM, (bottom - top) / NM_PER_MM
    scale = min(_PANEL / width, _PANEL / height)
    page = (2 * _MARGIN + len(pictures) * width * scale + (len(pictures) - 1) * _GAP, 0.0)
    tall = _HEAD + height * scale + _MARGIN + 10
    name = a.run.record.design
    before, after = a.run.record.revision, b.run.record.revision
    sheet = Sheet(f"{name}: copper of revisions {before} and {after}", max(page[0], 120.0), tall)
    sheet.text(_MARGIN, 7, sheet.title, 4, bold=True)
    y = _HEAD - top / NM_PER_MM * scale
    for place, picture in enumerate(pictures):
        x = _MARGIN + place * (width * scale + _GAP) - left / NM_PER_MM * scale
        sheet.text(x + left / NM_PER_MM * scale, 13, f"{picture.side.value} copper, seen from the top", 3)
        areas = picture.kept, _apart(picture.gone), _apart(picture.new)
        for area, paint in zip(areas, (_kept, _gone, _new), strict=True):
            if not area.is_empty:
                paint(sheet, _moved(area, scale, x, y))
        for outline, dash in ((a.outline, (2.0, 1.0)), (b.outline, ())):
            for line in _rings(_moved(outline, scale, x, y)):
                sheet.ring(line, INK, 0.3, dash=dash)
        _arrows(sheet, moved, scale, x, y)
    _key(sheet, tall - _MARGIN, before, after)
    return sheet_svg(sheet, whole=False)


def _rings(area: BaseGeometry) -> list[tuple[tuple[float, float], ...]]:
    polygons = getattr(area, "geoms", [area])
    return [
        tuple((float(x), float(y)) for x, y in ring.coords[:-1])
        for polygon in polygons
        if not polygon.is_empty
        for ring in (polygon.exterior, *polygon.interiors)
    ]


def _key(sheet: Sheet, y: float, before: str, after: str) -> None:
    x = _MARGIN
    for words, paint in (("in both", _kept), (f"only in {before}", _gone), (f"only in {after}", _new)):
        paint(sheet, shapely.box(x, y, x + 6, y + 4))
        sheet.text(x + 8, y + 3.2, words, 3)
        x += 34
