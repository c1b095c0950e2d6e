"""The copper, mask, legend, paste and profile layers as Gerber X2 files."""

from __future__ import annotations

import hashlib
import math

from shapely import LineString, Polygon
from shapely import Point as ShapelyPoint

from boardgen.board.geometry import pad_centre, pad_shape, sides_of
from boardgen.board.model import (
    Board,
    LegendText,
    OutlineArc,
    Part,
    PourPiece,
    Side,
)
from boardgen.board.strokes import text_strokes
from boardgen.export.bundle import FabBundle
from boardgen.export.files import OutFile
from boardgen.export.frame import FabFrame, fab_frame
from boardgen.export.gerber_writer import GerberLayer
from boardgen.export.identity import identity_text, project_id
from boardgen.footprint.model import Pad, PadKind
from boardgen.units import ORIGIN, Nm, Point, nm

# Conventional file endings: some intakes know a layer only by these.
ENDINGS = {
    ("copper", Side.TOP): "GTL",
    ("copper", Side.BOTTOM): "GBL",
    ("mask", Side.TOP): "GTS",
    ("mask", Side.BOTTOM): "GBS",
    ("legend", Side.TOP): "GTO",
    ("legend", Side.BOTTOM): "GBO",
    ("paste", Side.TOP): "GTP",
    ("paste", Side.BOTTOM): "GBP",
}
PROFILE_WIDTH = Nm(100_000)


def _attributes(bundle: FabBundle, function: tuple[str, ...], polarity: str) -> tuple[tuple[str, ...], ...]:
    """File attributes; the project's id follows from name and revision, never from a clock."""
    stem = bundle.stem
    same = hashlib.sha256(stem.encode()).hexdigest()[:16]
    tool, _, version = bundle.tool.partition(" ")
    return (
        ("GenerationSoftware", "boardgen", tool, version),
        ("ProjectId", *project_id(bundle)),
        ("SameCoordinates", same),
        ("Part", "Array" if bundle.board.copies else "Single"),
        ("FileFunction", *function),
        ("FilePolarity", polarity),
    )


def _pad_aperture(layer: GerberLayer, part: Part, pad: Pad, grow: int, function: str) -> int:
    """Aperture for the pad's copper grown by *grow*, whatever its shape and turn."""
    shape = pad_shape(part, pad)
    centre = pad_centre(part, pad)
    radius = round(shape.radius) + grow
    skeleton = shape.skeleton

    def about(x: float, y: float) -> Point:
        return Point(nm(x - centre.x), nm(centre.y - y))

    if isinstance(skeleton, ShapelyPoint):
        middle = about(skeleton.x, skeleton.y)
        if middle != ORIGIN:
            return layer.rounded_line(middle, middle, radius, function)
        return layer.circle(Nm(2 * radius), function)
    if isinstance(skeleton, LineString):
        a, b = (about(x, y) for x, y in skeleton.coords)
        if (a.x, a.y) != (-b.x, -b.y):
            return layer.rounded_line(a, b, radius, function)
        if a.y == b.y:
            return layer.obround(Nm(abs(a.x - b.x) + 2 * radius), Nm(2 * radius), function)
        if a.x == b.x:
            return layer.obround(Nm(2 * radius), Nm(abs(a.y - b.y) + 2 * radius), function)
        return layer.rounded_line(a, b, radius, function)
    if not isinstance(skeleton, Polygon):
        raise TypeError(f"pad of an unknown shape: {type(skeleton).__name__}")
    corners = tuple(about(x, y) for x, y in skeleton.exterior.coords[:-1])
    xs, ys = {p.x for p in corners}, {p.y for p in corners}
    if radius == 0 and len(corners) == 4 and len(xs) == len(ys) == 2 and sum(xs) == sum(ys) == 0:
        return layer.rectangle(Nm(max(xs) - min(xs)), Nm(max(ys) - min(ys)), function)
    return layer.rounded_polygon(corners, radius, function)


def _tag_pad(layer: GerberLayer, part: Part, pad: Pad) -> None:
    tags = {}
    net = part.net_of(pad.number)
    if net is not None:
        tags["N"] = net
    elif pad.number:
        tags["N"] = ""  # the specification's mark for a pad without a net
    if pad.number:
        tags["P"] = f"{part.ref}\x1f{pad.number}"
    tags["C"] = part.ref
    layer.tag(**tags)


def _pour_pieces(board: Board, side: Side) -> list[tuple[str, PourPiece]]:
    pieces = [(pour.net, piece) for pour in board.pours if pour.side is side for piece in pour.pieces]
    # Larger first: a piece that lies inside another's hole must be drawn after the hole is erased.
    return sorted(pieces, key=lambda item: (-Polygon(item[1].outer).area, item[1].outer))


def copper_layer(bundle: FabBundle, side: Side, frame: FabFrame) -> GerberLayer:
    """Return the copper of *side*: pours first (with their holes erased), then tracks, vias, pads."""
    board = bundle.board
    number = "L1" if side is Side.TOP else "L2"
    if board.copper == (Side.BOTTOM,):
        number = "L1"
    layer = GerberLayer(
        frame,
        _attributes(bundle, ("Copper", number, "Top" if side is Side.TOP else "Bot"), "Positive"),
    )
    for net, piece in _pour_pieces(board, side):
        layer.polarity(True)
        layer.tag(N=net)
        layer.region(piece.outer)
        if piece.holes:
            layer.tag()
            layer.polarity(False)
            for hole in piece.holes:
                layer.region(hole)
    layer.polarity(True)
    for track in board.tracks:
        if track.side is side:
            layer.tag(N=track.net)
            layer.stroke(layer.circle(track.width, "Conductor"), (track.start, track.end))
    for via in board.vias:
        layer.tag(N=via.net)
        layer.flash(layer.circle(via.diameter, "ViaPad"), via.at)
    for part in board.parts:
        for pad in part.footprint.pads:
            if side in sides_of(part, pad, board.copper):
                function = "SMDPad,CuDef" if pad.kind is PadKind.SURFACE else "ComponentPad"
                _tag_pad(layer, part, pad)
                layer.flash(_pad_aperture(layer, part, pad, 0, function), pad_centre(part, pad))
    layer.tag()
    return layer


def mask_layer(bundle: FabBundle, side: Side, frame: FabFrame) -> GerberLayer:
    """Return the mask openings of *side*: pads and bare holes grown by the class's margin; vias covered."""
    board, margin = bundle.board, bundle.bound.fab.mask_margin
    layer = GerberLayer(
        frame, _attributes(bundle, ("Soldermask", "Top" if side is Side.TOP else "Bot"), "Negative")
    )
    for part in board.parts:
        for pad in part.footprint.pads:
            bare = pad.kind is PadKind.UNPLATED
            if bare or side in sides_of(part, pad, board.copper):
                own = margin if pad.mask_margin is None else pad.mask_margin
                aperture = _pad_aperture(layer, part, pad, own, "Material" if bare else "")
                layer.flash(aperture, pad_centre(part, pad))
    return layer


def paste_layer(bundle: FabBundle, side: Side, frame: FabFrame) -> GerberLayer | None:
    """Return the paste openings of *side*, or None where nothing is soldered flat there."""
    board = bundle.board
    layer = GerberLayer(
        frame, _attributes(bundle, ("Paste", "Top" if side is Side.TOP else "Bot"), "Positive")
    )
    for part in board.parts:
        for pad in part.footprint.pads:
            if pad.kind is PadKind.SURFACE and pad.paste and side in sides_of(part, pad, board.copper):
                layer.flash(_pad_aperture(layer, part, pad, 0, ""), pad_centre(part, pad))
    return layer if layer.flashes else None


def legend_layer(bundle: FabBundle, side: Side, frame: FabFrame) -> GerberLayer | None:
    """Return the printing of *side*, or None where there is none."""
    layer = GerberLayer(
        frame, _attributes(bundle, ("Legend", "Top" if side is Side.TOP else "Bot"), "Positive")
    )
    texts = [text for _ref, text in bundle.board.references]
    for item in (*bundle.board.legend, *texts):
        if item.side is not side:
            continue
        aperture = layer.circle(item.stroke)
        if isinstance(item, LegendText):
            for points in text_strokes(
                item.text, item.at, item.height, item.stroke, item.rotation, side is Side.BOTTOM
            ):
                layer.stroke(aperture, points if len(points) > 1 else (points[0], points[0]))
        else:
            layer.stroke(aperture, item.points)
    return layer if layer.strokes else None


def arc_centre(arc: OutlineArc) -> tuple[Point, bool]:
    """Return the arc's centre (nm) and whether it runs clockwise as the board is seen."""
    ax, ay, bx, by, cx, cy = (float(v) for p in (arc.start, arc.mid, arc.end) for v in p)
    d = 2 * (ax * (by - cy) + bx * (cy - ay) + cx * (ay - by))
    a2, b2, c2 = math.hypot(ax, ay) ** 2, math.hypot(bx, by) ** 2, math.hypot(cx, cy) ** 2
    x = (a2 * (by - cy) + b2 * (cy - ay) + c2 * (ay - by)) / d
    y = (a2 * (cx - bx) + b2 * (ax - cx) + c2 * (bx - ax)) / d
    return Point(nm(x), nm(y)), d > 0


def profile_layer(bundle: FabBundle, frame: FabFrame) -> GerberLayer:
    """Return the profile: the outline's loops alone, as drawn lines and arcs."""
    layer = GerberLayer(frame, _attributes(bundle, ("Profile", "NP"), "Positive"))
    aperture = layer.circle(PROFILE_WIDTH, "Profile")
    outline = bundle.board.outline
    for loop in (outline.outer, *outline.cutouts):
        for piece in loop:
            if isinstance(piece, OutlineArc):
                centre, clockwise = arc_centre(piece)
                layer.arc(aperture, piece.start, centre, piece.end, clockwise)
            else:
                layer.stroke(aperture, (piece.start, piece.end))
    return layer


def score_layer(bundle: FabBundle, frame: FabFrame) -> GerberLayer | None:
    """Return the score lines of a panel, cut from both faces, or None where there are none."""
    layer = GerberLayer(frame, _attributes(bundle, ("Vcut",), "Positive"))
    aperture = layer.circle(PROFILE_WIDTH)
    for line in bundle.board.scores:
        layer.stroke(aperture, (line.start, line.end))
    return layer if layer.strokes else None


def gerber_files(bundle: FabBundle) -> tuple[OutFile, ...]:
    """Return every Gerber layer the board has, under ``fab/``."""
    frame = fab_frame(bundle.board)
    stem = f"fab/{bundle.stem}"
    remark = identity_text(bundle)
    layers: list[tuple[str, GerberLayer | None]] = []
    for side in bundle.board.copper:
        layers.append((ENDINGS["copper", side], copper_layer(bundle, side, frame)))
        layers.append((ENDINGS["mask", side], mask_layer(bundle, side, frame)))
        layers.append((ENDINGS["paste", side], paste_layer(bundle, side, frame)))
    for side in (Side.TOP, Side.BOTTOM):
        layers.append((ENDINGS["legend", side], legend_layer(bundle, side, frame)))
    layers.append(("GKO", profile_layer(bundle, frame)))
    layers.append(("GVC", score_layer(bundle, frame)))
    return tuple(
        OutFile(f"{stem}.{ending}", layer.text(remark).encode("ascii")) for ending, layer in layers if layer
    )
