"""A small picture of the place a finding is about, as SVG.

Top copper is hatched rising, bottom copper falling, so that sides are told apart
without colour; the two things of a clash are drawn stronger, and the gap between
them as a measured line. Lengths in the picture are mm.
"""

from __future__ import annotations

from dataclasses import dataclass
from html import escape

import shapely
from shapely.geometry.base import BaseGeometry

from boardgen.board.geometry import (
    Copper,
    Shape,
    copper_items,
    hole_shape,
    outline_polygon,
    part_courtyard,
    piece_polygon,
    polygons_of,
    via_hole_shape,
    whole_loops,
)
from boardgen.board.model import Board, LegendText, Side
from boardgen.board.strokes import text_strokes
from boardgen.errors import Finding
from boardgen.units import format_mm

REACH = 3_000_000.0  # nm shown to each side of the place

# Blue and orange differ for every common kind of colour blindness; the dark red of
# the gap also differs from both in lightness.
TOP = "#b8541a"
BOTTOM = "#1f5f99"
BOARD = "#f4f1e6"
LEGEND = "#55504a"
MARK = "#7a0f2b"
LINE = "#22201d"


@dataclass(frozen=True, slots=True)
class _View:
    """The window in nm and what lies in it."""

    left: float
    top: float

    @property
    def window(self) -> BaseGeometry:
        return shapely.box(self.left, self.top, self.left + 2 * REACH, self.top + 2 * REACH)

    def xy(self, x: float, y: float) -> str:
        return f"{(x - self.left) / 1e6:.3f} {(y - self.top) / 1e6:.3f}"

    def path(self, area: BaseGeometry) -> str:
        """Return the path data of polygons and lines, cut to a little more than the window."""
        seen = shapely.intersection(area, self.window.buffer(200_000, join_style="mitre"))
        parts = []
        for polygon in polygons_of(seen):
            for ring in (polygon.exterior, *polygon.interiors):
                parts.append("M" + "L".join(self.xy(x, y) for x, y in ring.coords[:-1]) + "Z")
        lines = [g for g in getattr(seen, "geoms", [seen]) if g.geom_type == "LineString" and not g.is_empty]
        parts.extend("M" + "L".join(self.xy(x, y) for x, y in line.coords) for line in lines)
        return "".join(parts)


def _hatch(view: _View, rising: bool) -> BaseGeometry:
    """Return parallel lines over the window, drawn (not a pattern) so that every viewer shows them."""
    span, step = 2 * REACH, 240_000.0
    lines = []
    for i in range(int(2 * span / step) + 1):
        off = i * step
        low, high = view.left + off - span, view.left + off
        bottom = view.top + span
        ends = ((low, bottom), (high, view.top)) if rising else ((low, view.top), (high, bottom))
        lines.append(shapely.LineString(ends))
    return shapely.MultiLineString(lines)


def _copper(view: _View, items: list[Copper], finding: Finding) -> list[str]:
    """Return the copper, bottom first, the finding's own items last and strongest."""
    marks = []
    for side in (Side.BOTTOM, Side.TOP):
        colour = TOP if side is Side.TOP else BOTTOM
        hatch = _hatch(view, side is Side.TOP)
        shown = not finding.layer.endswith("copper") or finding.layer.startswith(side.value)
        for strong in (False, True):
            for item in items:
                named = shown and item.name in finding.items
                if item.side is not side or named is not strong:
                    continue
                area = item.shape.polygon() if item.shape.radius else item.shape.skeleton
                data = view.path(area)
                if data:
                    dim = "" if shown else ' opacity="0.45"'
                    lines = view.path(shapely.intersection(hatch, shapely.intersection(area, view.window)))
                    marks.append(
                        f'<g{dim} stroke="{colour}"><path d="{data}" fill="{colour}" fill-opacity="0.14" '
                        f'fill-rule="evenodd" stroke-width="{0.06 if strong else 0.02}"/>'
                        f'<path d="{lines}" fill="none" stroke-width="{0.1 if strong else 0.025}"/></g>'
                    )
    return marks


def _ink(view: _View, board: Board, finding: Finding) -> list[str]:
    marks = []
    for item in (*board.legend, *(text for _, text in board.references)):
        if finding.layer.startswith("legend") and not finding.layer.endswith(item.side.value):
            continue
        if isinstance(item, LegendText):
            mirrored = item.side is Side.BOTTOM
            paths = text_strokes(item.text, item.at, item.height, item.stroke, item.rotation, mirrored)
        else:
            paths = (item.points,)
        for points in paths:
            line = shapely.LineString(points)
            if line.intersects(view.window) and (data := view.path(line)):
                marks.append(
                    f'<path d="{data}" fill="none" stroke="{LEGEND}" stroke-width="{item.stroke.mm:.3f}" '
                    'stroke-linecap="round" stroke-opacity="0.55"/>'
                )
    return marks


def _gap(view: _View, items: list[Copper], finding: Finding) -> str:
    """Return the measured gap between the two items of the finding, where both are copper."""
    if finding.measured is None or finding.measured <= 0 or finding.at is None:
        return ""
    sided = [
        c for c in items if not finding.layer.endswith("copper") or finding.layer.startswith(c.side.value)
    ]
    place = shapely.Point(finding.at)
    named = [
        min(
            (c for c in sided if c.name == name), key=lambda c: c.shape.skeleton.distance(place), default=None
        )
        for name in finding.items[:2]
    ]
    if len(named) < 2 or named[0] is None or named[1] is None or named[0] is named[1]:
        return ""
    line = shapely.shortest_line(named[0].shape.polygon(), named[1].shape.polygon())
    data = view.path(line)
    return f'<path d="{data}" stroke="{MARK}" stroke-width="0.05" fill="none"/>' if data else ""


def _measure(finding: Finding) -> str:
    """Return the measured length and its limit in words, as far as there are any."""
    if finding.measured is None:
        return ""
    what = "overlap" if finding.measured < 0 else "measured"
    words = f"{what} {format_mm(abs(finding.measured), 3)} mm"
    return words if finding.limit is None else f"{words}, limit {format_mm(finding.limit, 3)} mm"


def spot_svg(board: Board, finding: Finding) -> str:
    """Return a picture of 6 by 6 mm round the finding's place; "" where it has none.

    All text is escaped. There are no ids, so many pictures can stand in one page.
    """
    if finding.at is None:
        return ""
    view = _View(float(finding.at.x) - REACH, float(finding.at.y) - REACH)
    items = [c for c in copper_items(board) if c.shape.skeleton.dwithin(view.window, c.shape.radius)]
    for pour in board.pours:
        for piece in pour.pieces:
            from_piece = Copper(
                f"pour of {pour.net}", pour.net, pour.side, Shape(piece_polygon(piece), 0.0), piece
            )
            items.append(from_piece)
    side = 2 * REACH / 1e6
    words = finding.message
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {side:g} {side:g}" width="240" height="240" '
        f'role="img"><title>{escape(words)}</title>',
        f'<rect width="{side:g}" height="{side:g}" fill="#ffffff"/>',
    ]
    outline = whole_loops(board.outline)
    profile = "" if outline is None else view.path(outline_polygon(outline).buffer(0))
    out.append(
        f'<path d="{profile}" fill="{BOARD}" fill-rule="evenodd" stroke="{LINE}" stroke-width="0.04"/>'
    )
    out.extend(_copper(view, items, finding))
    holes = [hole_shape(p, pad) for p in board.parts for pad in p.footprint.pads if pad.hole is not None]
    holes.extend(via_hole_shape(v) for v in board.vias)
    for hole in holes:
        data = view.path(hole.polygon())
        if data:
            out.append(f'<path d="{data}" fill="#ffffff" stroke="{LINE}" stroke-width="0.03"/>')
    if finding.rule in ("courtyard", "overhang"):
        for part in board.parts:
            data = view.path(part_courtyard(part, part.placement.side))
            if data:
                weight = 0.06 if part.ref in finding.items else 0.02
                out.append(
                    f'<path d="{data}" fill="none" stroke="{MARK}" stroke-width="{weight}" '
                    'stroke-dasharray="0.2 0.1"/>'
                )
    out.extend(_ink(view, board, finding))
    out.append(_gap(view, items, finding))
    middle = side / 2
    out.append(
        f'<circle cx="{middle:g}" cy="{middle:g}" r="0.45" fill="none" stroke="{MARK}" stroke-width="0.05"/>'
    )
    label = _measure(finding)
    if label:
        out.append(
            f'<rect x="0" y="{side - 0.5:g}" width="{side:g}" height="0.5" fill="#ffffff" '
            'fill-opacity="0.85"/>'
            f'<text x="0.12" y="{side - 0.14:g}" font-size="0.3" font-family="sans-serif" '
            f'fill="{LINE}">{escape(label)}</text>'
        )
    out.append("</svg>")
    return "".join(out)
