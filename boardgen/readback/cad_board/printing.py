"""The printing of a CAD board: texts and graphics on the legend layers."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import shapely
from shapely import Polygon

from boardgen.board.model import LegendItem, LegendLine, LegendText, Placement, Side
from boardgen.board.strokes import text_width
from boardgen.errors import InputError
from boardgen.footprint.kicad_mod_reader import GRAPHICS
from boardgen.footprint.model import Circle, Face, Graphic, PartLayer
from boardgen.footprint.model import Polygon as PartPolygon
from boardgen.footprint.reading import Reader
from boardgen.footprint.sexpr import Node, Sym, child, head, words
from boardgen.layout.legend_room import filling, graphic_paths
from boardgen.readback.cad_board.layers import LEGEND, layer_of
from boardgen.readback.cad_board.notes import Notes
from boardgen.readback.tangles import is_tangled
from boardgen.units import Nm, Point, Size, mm

MOST_LETTERS = 500  # of one printed text
_WIDEST = 150  # pens from rim to middle of an area that is filled
_MOST_CORNERS = 3_000
_UNREAD = ("text_box", "image", "dimension", "curve", "table", "barcode", "target")


def hidden(node: Node) -> bool:
    """Return whether a text is kept from view."""
    places = (node, child(node, "effects") or [])
    return any("hide" in bare_words(place) or words(child(place, "hide")) == ["yes"] for place in places)


def bare_words(node: Node) -> list[str]:
    """Return the unquoted words of a list, its head left out."""
    return [str(item) for item in node[1:] if isinstance(item, Sym)]


def read_text(
    reader: Reader, node: Node, place: Callable[[Point], Point], words_: str, origin: str, notes: Notes
) -> LegendText | None:
    """Return a text that is printed, or None for one that is not.

    *words_* is what it says once its variables are filled in, *place* turns its place into the board's.
    A text set to one side of its place is moved to stand about its own middle, as wide as ours make it.
    """
    side = LEGEND.get(layer_of(node))
    if side is None or hidden(node) or not words_.strip():
        return None
    key = f"text {words_[:40]!r}"
    effects = child(node, "effects") or []
    font = child(effects, "font") or []
    size_node = child(font, "size")
    size = reader.size(list(size_node[1:]), key, "size") if size_node else Size(mm(1), mm(1))
    given = words(child(font, "thickness"))
    stroke = reader.length(given[0], key) if given else Nm(size.h * 15 // 100)
    if stroke <= 0:
        stroke = Nm(size.h * 15 // 100)
    lines = words_.replace("\\n", "\n").split("\n")
    if len(words_) > MOST_LETTERS or len(lines) > 1:
        notes.unread(f"{key} is too long, or of several lines, and is not checked", False, layer=_layer(side))
        return None
    justify = words(child(effects, "justify"))
    angle = reader.angle(node, key)
    mirrored = "mirror" in justify
    if mirrored != (side is Side.BOTTOM):
        notes.unread(f"{key} reads mirrored on its side; taken as if it did not", False, layer=_layer(side))
    if child(font, "face") is not None:
        notes.unread(
            f"{key} is set in a font of its own; taken as drawn in strokes", False, layer=_layer(side)
        )
    half_w, half_h = text_width(words_, size.h, stroke) / 2, size.h / 2
    dx = half_w if "left" in justify else -half_w if "right" in justify else 0.0
    dy = half_h if "top" in justify else -half_h if "bottom" in justify else 0.0
    off = Point(Nm(round(-dx if side is Side.BOTTOM else dx)), Nm(round(dy))).turned(angle)
    return LegendText(
        side, words_, place(reader.point(node, "at", key)).plus(off), size.h, stroke, angle, origin
    )


def _layer(side: Side) -> str:
    return f"legend {side.value}"


def read_graphic(reader: Reader, node: Node, notes: Notes) -> Graphic | None:
    """Return a graphic on a layer the model has (legend, drawing, courtyard); None for another.

    *node* may be of a footprint or of the board itself. What cannot be read is noted.
    """
    kind = head(node).replace("gr_", "fp_", 1)
    try:
        if kind in GRAPHICS:
            drawn = GRAPHICS[kind](reader, node, kind.removeprefix("fp_"))
            if isinstance(drawn, PartPolygon) and is_tangled(drawn.points):
                raise reader.fail("a polygon that crosses itself all over", "")
            return drawn
    except InputError as error:
        notes.failed(f"a graphic on {layer_of(node) or 'no layer'}", error, False)
        return None
    if kind.removeprefix("fp_") in _UNREAD and layer_of(node) in LEGEND:
        words_ = kind.removeprefix("fp_").replace("_", " ")
        notes.unread(f"a {words_} on the legend is not read", False, layer=_layer(LEGEND[layer_of(node)]))
    return None


def _is_vast(graphic: PartPolygon | Circle, pen: Nm) -> bool:
    """Return whether filling an area with a pen would take too many strokes."""
    if isinstance(graphic, Circle):
        return graphic.radius > _WIDEST * pen
    xs, ys = zip(*graphic.points, strict=True)
    return len(xs) > _MOST_CORNERS or min(max(xs) - min(xs), max(ys) - min(ys)) > 2 * _WIDEST * pen


def printed_paths(
    graphic: Graphic, placement: Placement, pen: Nm, origin: str, notes: Notes
) -> list[LegendItem]:
    """Return what a legend graphic prints, in place; *pen* fills areas that have no stroke of their own."""
    if graphic.layer is not PartLayer.LEGEND:
        return []
    side = placement.side if graphic.face is Face.NEAR else placement.side.other
    width: Nm = pen if not hasattr(graphic, "width") else graphic.width
    if isinstance(graphic, PartPolygon | Circle) and graphic.filled and _is_vast(graphic, pen):
        message = "a filled area of the legend is too large to be followed; its rim alone is checked"
        notes.unread(message, False, layer=_layer(side))
        graphic = replace(graphic, filled=False, width=max(graphic.width, pen))
    if isinstance(graphic, PartPolygon | Circle) and graphic.filled and graphic.width < pen:
        area = (
            Polygon(graphic.points)
            if isinstance(graphic, PartPolygon)
            else shapely.Point(graphic.centre).buffer(float(graphic.radius))
        )
        paths, width = filling(area.buffer(0), float(pen)), pen
    else:
        paths = graphic_paths(graphic, width, placement)
    return [
        LegendLine(side, tuple(placement.place(p) for p in path), width, origin) for path in paths if path
    ]
