"""Read ``.kicad_mod`` files, ours and those of part makers and CAD libraries.

What the model cannot hold is never passed over in silence: copper that would
come out wrong is an error that names the pad; a drawing that is left out is
named in ``Footprint.warnings``.
"""

from __future__ import annotations

from collections.abc import Callable

from boardgen.errors import InputError
from boardgen.footprint import sexpr
from boardgen.footprint.model import (
    Arc,
    Circle,
    Footprint,
    Graphic,
    Line,
    Pad,
    PadKind,
    Polygon,
    Text,
)
from boardgen.footprint.pad_reader import read_pad
from boardgen.footprint.reading import Reader
from boardgen.footprint.sexpr import Node, child, children, head, to_degrees, words
from boardgen.units import ORIGIN, Point, Size, mm, nm

MAX_PADS = 5000
MAX_GRAPHICS = 50_000


def read_footprint(text: str, where: str = "") -> Footprint:
    """Return the footprint that *text* holds; *where* names the file in errors.

    Accepts the generations from the old ``module`` form on. Raises InputError
    for broken text and for a pad whose copper the model cannot hold (in pieces,
    with a hole in it, drawn with free curves); what is left out of the drawing
    is listed in ``warnings``.
    """
    root = sexpr.parse(text, where)
    if head(root) not in ("footprint", "module") or len(root) < 2 or isinstance(root[1], list):
        raise InputError("this is not a footprint file", where, line=1, allowed="(footprint NAME ...)")
    reader = Reader(where)
    name = str(root[1]).rpartition(":")[2]
    if not name:
        raise InputError("the footprint has no name", where, line=1)
    pads: list[Pad] = []
    graphics: list[Graphic] = []
    places = {"reference": ORIGIN, "value": ORIGIN}
    for item in root[2:]:
        kind = head(item)
        if not isinstance(item, list):
            continue
        if kind == "pad":
            pad = read_pad(reader, item, len(pads) + 1)
            if pad is not None:
                pads.append(pad)
        elif kind in ("fp_text", "property"):
            read_text(reader, item, places, graphics)
        elif kind in GRAPHICS:
            drawn = GRAPHICS[kind](reader, item, f"{kind} {len(graphics) + 1}")
            if drawn is not None:
                graphics.append(drawn)
        elif kind in ("zone", "fp_curve", "fp_text_box", "image", "dimension", "table"):
            reader.skipped[kind.removeprefix("fp_"), "this footprint"] += 1
    if len(pads) > MAX_PADS or len(graphics) > MAX_GRAPHICS:
        raise InputError(
            "the footprint has too many pads or graphics",
            where,
            found=f"{len(pads)} pads, {len(graphics)} graphics",
            allowed=f"at most {MAX_PADS} and {MAX_GRAPHICS}",
        )
    for (what, layer), count in sorted(reader.skipped.items()):
        reader.warnings.append(f"{count} {what} item{'s' if count > 1 else ''} on {layer} left out")
    attr = words(child(root, "attr"))
    surface = any(pad.kind is PadKind.SURFACE for pad in pads)
    return Footprint(
        name=name,
        pads=tuple(pads),
        graphics=tuple(graphics),
        description=" ".join(words(child(root, "descr"))),
        tags=tuple(" ".join(words(child(root, "tags"))).split()),
        through_hole="through_hole" in attr or ("smd" not in attr and not surface),
        reference_at=places["reference"],
        value_at=places["value"],
        warnings=tuple(reader.warnings),
    )


def read_text(reader: Reader, node: Node, places: dict[str, Point], graphics: list[Graphic]) -> None:
    """Take the place of reference or value, or add a fixed text that is shown."""
    atoms = words(node)
    if len(atoms) < 2:
        raise reader.fail("a text needs its kind and its words", head(node))
    kind, text = atoms[0].lower(), atoms[1]
    key = f"text {text[:40]!r}"
    if kind in places:
        places[kind] = reader.point(node, "at", key)
        return
    if head(node) == "property" or kind != "user" or "hide" in atoms[2:] or _hidden(node):
        return
    if text in ("%R", "%V", "${REFERENCE}", "${VALUE}") or not text:
        return
    layer = reader.layer(node)
    if layer is None:
        return
    font = child(child(node, "effects") or [], "font") or []
    if {"left", "right", "top", "bottom"} & set(words(child(child(node, "effects") or [], "justify"))):
        reader.warnings.append(f"{key} is now set about its middle")
    size_node = child(font, "size")
    size = reader.size(list(size_node[1:]), key, "size") if size_node else Size(mm(1), mm(1))
    thickness = words(child(font, "thickness"))
    stroke = reader.length(thickness[0], key) if thickness else size.h * 15 // 100
    at = reader.point(node, "at", key)
    graphics.append(Text(layer[0], text, at, size.h, stroke, reader.angle(node, key), layer[1]))


def _hidden(node: Node) -> bool:
    places = (node, child(node, "effects") or [])
    return any("hide" in words(place) or words(child(place, "hide")) == ["yes"] for place in places)


def _filled(node: Node) -> bool:
    fill = child(node, "fill")
    given = words(fill)
    return (bool(given) and given[0] in ("solid", "yes")) or words(child(fill or [], "type")) == ["solid"]


def _line(reader: Reader, node: Node, key: str) -> Graphic | None:
    layer = reader.layer(node)
    if layer is None:
        return None
    start, end = (reader.point(node, name, key) for name in ("start", "end"))
    return Line(layer[0], start, end, reader.stroke(node, key), layer[1])


def _arc(reader: Reader, node: Node, key: str) -> Graphic | None:
    layer = reader.layer(node)
    if layer is None:
        return None
    start, end = (reader.point(node, name, key) for name in ("start", "end"))
    if child(node, "mid") is not None:
        mid = reader.point(node, "mid", key)
    else:  # the old form: "start" is the centre, "end" one end, "angle" the sweep, clockwise as seen
        given = words(child(node, "angle"))
        try:
            sweep = to_degrees(given[0] if given else "")
        except ValueError as error:
            raise reader.fail(str(error), key, allowed="a mid point, or an angle in degrees") from None
        centre, spoke = start, end.minus(start)
        start = end
        mid = centre.plus(spoke.turned(-sweep / 2))
        end = centre.plus(spoke.turned(-sweep))
    return Arc(layer[0], start, mid, end, reader.stroke(node, key), layer[1])


def _circle(reader: Reader, node: Node, key: str) -> Graphic | None:
    layer = reader.layer(node)
    if layer is None:
        return None
    centre, rim = (reader.point(node, name, key) for name in ("center", "end"))
    radius = nm(centre.distance(rim))
    return Circle(layer[0], centre, radius, reader.stroke(node, key), _filled(node), layer[1])


def _rect(reader: Reader, node: Node, key: str) -> Graphic | None:
    layer = reader.layer(node)
    if layer is None:
        return None
    a, b = (reader.point(node, name, key) for name in ("start", "end"))
    points = (a, Point(b.x, a.y), b, Point(a.x, b.y))
    return Polygon(layer[0], points, reader.stroke(node, key), _filled(node), layer[1])


def _polygon(reader: Reader, node: Node, key: str) -> Graphic | None:
    layer = reader.layer(node)
    if layer is None:
        return None
    points_node = child(node, "pts") or []
    if children(points_node, "arc"):
        reader.skipped["polygon with arcs", str(words(child(node, "layer"))[0])] += 1
        return None
    points: list[Point] = []
    for item in children(points_node, "xy"):
        if len(item) < 3:
            raise reader.fail("'xy' needs an x and a y", key)
        points.append(Point(reader.length(item[1], key), reader.length(item[2], key)))
    if len(points) < 3:
        raise reader.fail("a polygon needs three points", key, found=str(len(points)))
    return Polygon(layer[0], tuple(points), reader.stroke(node, key), _filled(node), layer[1])


GRAPHICS: dict[str, Callable[[Reader, Node, str], Graphic | None]] = {
    "fp_line": _line,
    "fp_arc": _arc,
    "fp_circle": _circle,
    "fp_rect": _rect,
    "fp_poly": _polygon,
}
