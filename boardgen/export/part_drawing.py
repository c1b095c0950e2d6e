"""One catalogue entry as a drawing: its land pattern, and a connector's mating face beside it."""

from __future__ import annotations

from dataclasses import dataclass

from shapely import Polygon
from shapely.affinity import affine_transform
from shapely.geometry.base import BaseGeometry

from boardgen.board.geometry import arc_points, hole_shape, pad_shape
from boardgen.board.model import Part, Placement
from boardgen.catalog.model import Component, Connector, Module
from boardgen.export.sheet import Sheet
from boardgen.export.sheet_svg import sheet_svg
from boardgen.footprint.model import Arc, Circle, Footprint, Line, Pad, PadKind, PartLayer
from boardgen.footprint.model import Polygon as Ring
from boardgen.palette import BODY, FAINT, HOLE, INK, LEGEND, MARK, TOP
from boardgen.units import NM_PER_MM, ORIGIN, Box, Point

MARGIN = 6.0  # mm of paper round each view
TITLE = 12.0  # mm above the views
LEAST_WIDE = 110.0
VIEW = 110.0  # the longer side of a view aims at this many mm
FIRST = ("1", "A1")  # drawn in the mark colour


@dataclass(frozen=True, slots=True)
class _View:
    """Part coordinates (nm) to paper (mm): moved by *x*, *y*, *scale* times as large."""

    x: float
    y: float
    scale: float

    def at(self, point: Point) -> tuple[float, float]:
        return self.x + point.x.mm * self.scale, self.y + point.y.mm * self.scale

    def shape(self, geometry: BaseGeometry) -> BaseGeometry:
        factor = self.scale / NM_PER_MM
        return affine_transform(geometry, [factor, 0, 0, factor, self.x, self.y])


def part_svg(entry: Module | Connector | Component, footprint: Footprint) -> str:
    """Return an SVG of *entry*: pads with their numbers, body, courtyard, legend; a connector's face.

    The land pattern is seen from the side the part is mounted on, the mating
    face as one looks at it. Both show contact 1 in the mark colour.
    """
    box = _extent(entry, footprint)
    scale = _scale(box)
    wide, high = box.width.mm * scale, box.height.mm * scale
    face = _extent_of_face(entry) if isinstance(entry, Connector) else None
    face_scale = 0.0 if face is None else _scale(face)
    face_wide = 0.0 if face is None else face.width.mm * face_scale + 2 * MARGIN
    face_high = 0.0 if face is None else face.height.mm * face_scale
    width = max(LEAST_WIDE, wide + 2 * MARGIN + face_wide)
    height = TITLE + max(high, face_high) + 2 * MARGIN
    sheet = Sheet(f"{entry.id}: {entry.name}", width, height)
    sheet.text(MARGIN, 7, sheet.title, 3.5, bold=True)
    sheet.text(MARGIN, TITLE + 2, "land pattern, seen from the part", 2.6)
    top = TITLE + MARGIN
    _land_pattern(
        sheet, entry, footprint, _View(MARGIN - box.left.mm * scale, top - box.top.mm * scale, scale)
    )
    if face is not None and isinstance(entry, Connector):
        left = wide + 3 * MARGIN
        sheet.text(left, TITLE + 2, f"mating face ({entry.gender})", 2.6)
        _face(
            sheet,
            entry,
            face,
            _View(left - face.left.mm * face_scale, top - face.top.mm * face_scale, face_scale),
        )
    return sheet_svg(sheet)


def _scale(box: Box) -> float:
    return VIEW / max(box.width.mm, box.height.mm, 1.0)


def _extent(entry: Module | Connector | Component, footprint: Footprint) -> Box:
    points: list[Point] = []
    for pad in footprint.pads:
        points += Box(pad.at.x, pad.at.y, pad.at.x, pad.at.y).grown(max(pad.size)).corners()
    for item in footprint.graphics:
        if isinstance(item, Line):
            points += [item.start, item.end]
        elif isinstance(item, Ring):
            points += item.points
    if not isinstance(entry, Component):
        points += entry.body.corners()
    return Box.around(points)


def _extent_of_face(entry: Connector) -> Box:
    return Box.around([contact.at for contact in entry.contacts]).grown(4_000_000)


def _land_pattern(
    sheet: Sheet, entry: Module | Connector | Component, footprint: Footprint, view: _View
) -> None:
    if not isinstance(entry, Component):
        sheet.ring(tuple(view.at(p) for p in entry.body.corners()), FAINT, 0.25, BODY)
    if isinstance(entry, Connector) and entry.edge is not None:
        box = entry.body
        y = view.at(Point(box.left, entry.edge))[1]
        ends = view.at(Point(box.left, entry.edge))[0] - 4, view.at(Point(box.right, entry.edge))[0] + 4
        sheet.line((ends[0], y), (ends[1], y), width=0.4, dash=(3.0, 1.5))
        sheet.text(ends[1], y - 1, "board edge", 2.2, "end")
    for layer, colour, dash in ((PartLayer.COURTYARD, FAINT, (1.5, 1.0)), (PartLayer.LEGEND, LEGEND, ())):
        _graphics(sheet, footprint, layer, colour, dash, view)
    part = Part(entry.id, "", footprint, Placement(ORIGIN))
    for pad in footprint.pads:
        _pad(sheet, part, pad, pad.number in FIRST, view)
    if isinstance(entry, Module):
        _pin_names(sheet, entry, footprint, view)


def _graphics(
    sheet: Sheet, footprint: Footprint, layer: PartLayer, colour: str, dash: tuple[float, ...], view: _View
) -> None:
    for item in footprint.graphics:
        if item.layer is not layer:
            continue
        if isinstance(item, Line):
            width = max(0.15, item.width.mm * view.scale)
            sheet.line(view.at(item.start), view.at(item.end), stroke=colour, width=width, dash=dash)
        elif isinstance(item, Arc):
            points = arc_points(item.start, item.mid, item.end)
            sheet.line(*(view.at(p) for p in points), stroke=colour, width=0.2, dash=dash)
        elif isinstance(item, Ring):
            fill = colour if item.filled else ""
            sheet.ring(tuple(view.at(p) for p in item.points), colour, 0.2, fill, dash)
        elif isinstance(item, Circle):
            x, y = view.at(item.centre)
            fill = colour if item.filled else ""
            sheet.disc(x, y, item.radius.mm * view.scale, colour, max(0.15, item.width.mm * view.scale), fill)


def _pad(sheet: Sheet, part: Part, pad: Pad, first: bool, view: _View) -> None:
    x, y = view.at(pad.at)
    if pad.kind is not PadKind.UNPLATED:
        colour = MARK if first else TOP
        sheet.area(view.shape(pad_shape(part, pad).polygon()), colour, 0.3, colour)
    if pad.hole is not None:
        sheet.area(view.shape(hole_shape(part, pad).polygon()), INK, 0.15, HOLE)
    if pad.number:
        room = min(pad.size if pad.hole is None else pad.hole).mm * view.scale
        size = min(2.6, 0.75 * room, 1.1 * room / len(pad.number))
        colour = INK if pad.hole is not None else HOLE
        sheet.text(x, y + size * 0.36, pad.number, size, "middle", colour, bold=True)


def _pin_names(sheet: Sheet, module: Module, footprint: Footprint, view: _View) -> None:
    for pin in module.pins:
        for pad in footprint.numbered(pin.number)[:1]:
            x, y = view.at(pad.at)
            aside = max(pad.size).mm * view.scale / 2 + 1
            left = pad.at.x < 0
            sheet.text(x + aside if left else x - aside, y + 0.8, pin.name, 2.2, "start" if left else "end")


def _face(sheet: Sheet, entry: Connector, face: Box, view: _View) -> None:
    corners = [view.at(p) for p in face.corners()]
    shell = Polygon(corners).buffer(-1.5 * view.scale / 2).buffer(1.5 * view.scale / 2)
    sheet.area(shell, INK, 0.4, BODY)
    nearest = _nearest(entry)
    radius = min(3.2, 0.42 * nearest * view.scale)
    for contact in entry.contacts:
        x, y = view.at(contact.at)
        colour = MARK if contact.number in FIRST else INK
        sheet.disc(x, y, radius, colour, 0.3, HOLE)
        size = min(2.6, radius * 1.1)
        sheet.text(x, y + size * 0.36, contact.number, size, "middle", colour, bold=colour == MARK)


def _nearest(entry: Connector) -> float:
    """Return the least distance of two contacts in mm."""
    spots = [contact.at for contact in entry.contacts]
    gaps = [a.distance(b) / 1e6 for n, a in enumerate(spots) for b in spots[:n]]
    return min(gaps, default=2.54)
