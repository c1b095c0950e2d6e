"""A Gerber file as exact shapes, read by gerbonara (which shares no code with the writer).

Flashes and strokes stay exact: a skeleton and a radius. Erased areas are cut off what was drawn before;
only there, and for arcs, do round edges become chords, within ``CHORD`` nm of the curve.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Iterable
from dataclasses import replace
from typing import Any

import numpy as np
import shapely
from gerbonara import GerberFile
from gerbonara.graphic_objects import Arc, Flash, Line, Region
from gerbonara.graphic_primitives import Arc as PrimitiveArc
from gerbonara.graphic_primitives import ArcPoly, Circle, Rectangle
from gerbonara.graphic_primitives import Line as PrimitiveLine
from gerbonara.utils import MM
from shapely import LineString, Polygon
from shapely import Point as ShapelyPoint
from shapely.affinity import translate
from shapely.geometry.base import BaseGeometry

from boardgen.board.geometry import Shape, polygons_of
from boardgen.readback.match import difference
from boardgen.readback.model import CHORD, Kind, Thing

NM = 1e6  # nm a mm, gerbonara's unit
MAX_THINGS = 200_000
MAX_ERASED = 2_000  # things that erase: each is cut off all that was drawn before


def arc_ring(
    start: tuple[float, float], end: tuple[float, float], centre: tuple[float, float], clockwise: bool
) -> list[tuple[float, float]]:
    """Return points along an arc (nm), both ends included, chords within CHORD of it; y up."""
    radius = math.dist(start, centre)
    a = math.atan2(start[1] - centre[1], start[0] - centre[0])
    b = math.atan2(end[1] - centre[1], end[0] - centre[0])
    sweep = -((a - b) % math.tau) if clockwise else (b - a) % math.tau
    if sweep == 0.0:
        sweep = -math.tau if clockwise else math.tau
    half = math.acos(max(0.0, 1 - CHORD / radius)) if radius > CHORD else math.pi / 4
    count = max(2, math.ceil(abs(sweep) / 2 / half))
    inner = [
        (
            centre[0] + radius * math.cos(a + sweep * k / count),
            centre[1] + radius * math.sin(a + sweep * k / count),
        )
        for k in range(1, count)
    ]
    return [start, *inner, end]


def solid(shape: Shape) -> BaseGeometry:
    """Return the shape as a polygon whose chords lie inside the curve, within CHORD of it."""
    if shape.radius <= 0:
        return shape.skeleton
    half = math.acos(max(0.0, 1 - CHORD / shape.radius)) if shape.radius > CHORD else math.pi / 16
    return shape.skeleton.buffer(shape.radius, quad_segs=max(8, math.ceil(math.pi / 4 / half)))


def _segment(a: tuple[float, float], b: tuple[float, float], radius: float) -> Shape:
    return Shape(ShapelyPoint(a) if a == b else LineString([a, b]), radius)


def _ring(points: Iterable[tuple[float, float]], arcs: list[Any]) -> BaseGeometry:
    corners = [(x, y) for x, y in points]
    if any(arc and arc[0] is not None for arc in arcs):
        drawn: list[tuple[float, float]] = []
        for i, start in enumerate(corners):
            end = corners[(i + 1) % len(corners)]
            arc = arcs[i] if i < len(arcs) else None
            drawn += arc_ring(start, end, arc[1], arc[0])[:-1] if arc and arc[0] is not None else [start]
        corners = drawn
    if len(corners) < 3:
        return Polygon()
    area = Polygon(corners)
    return area if area.is_valid else shapely.make_valid(area)


def _primitive(item: Any) -> Shape:
    """Return one of gerbonara's primitives (mm) as a shape in nm."""
    if isinstance(item, Circle):
        return Shape(ShapelyPoint(item.x * NM, item.y * NM), item.r * NM)
    if isinstance(item, Rectangle):
        w, h, turn = item.w * NM / 2, item.h * NM / 2, item.rotation
        c, s = (math.cos(turn), math.sin(turn)) if turn else (1.0, 0.0)
        corners = [(-w, -h), (w, -h), (w, h), (-w, h)]
        return Shape(
            Polygon([(item.x * NM + x * c - y * s, item.y * NM + x * s + y * c) for x, y in corners]), 0.0
        )
    if isinstance(item, PrimitiveLine):
        return _segment((item.x1 * NM, item.y1 * NM), (item.x2 * NM, item.y2 * NM), item.width * NM / 2)
    if isinstance(item, ArcPoly):
        arcs = [
            (arc[0], (arc[1][0] * NM, arc[1][1] * NM)) if arc and arc[0] is not None else None
            for arc in item.arc_centers
        ]
        return Shape(_ring([(x * NM, y * NM) for x, y in item.outline], arcs), 0.0)
    if isinstance(item, PrimitiveArc):
        ends = (item.x1 * NM, item.y1 * NM), (item.x2 * NM, item.y2 * NM)
        points = arc_ring(*ends, (item.cx * NM, item.cy * NM), item.clockwise)
        return Shape(LineString(points), item.width * NM / 2)
    raise ValueError(f"a shape that is not known: {type(item).__name__}")


def _aperture(aperture: Any) -> tuple[Shape, ...]:
    """Return an aperture's shapes about its own centre."""
    shapes: list[Shape] = []
    for item in aperture.flash(0, 0, MM, True):
        shape = _primitive(item)
        if item.polarity_dark:
            shapes.append(shape)
        else:
            left = shapely.union_all([solid(s) for s in shapes]).difference(solid(shape))
            shapes = [Shape(polygon, 0.0) for polygon in polygons_of(left)]
    return _one_shape(tuple(shape for shape in shapes if not shape.skeleton.is_empty))


def _one_shape(parts: tuple[Shape, ...]) -> tuple[Shape, ...]:
    """Return discs of one size and what lies between them as the one rounded shape they make, if they do."""
    discs = [shape for shape in parts if shape.radius > 0]
    if len(parts) < 2 or not discs or any(shape.radius != discs[0].radius for shape in discs):
        return parts
    whole = Shape(shapely.union_all([shape.skeleton for shape in discs]).convex_hull, discs[0].radius)
    return (whole,) if difference([whole], parts) is None else parts


def _about(thing: Any) -> tuple[str, tuple[str, str]]:
    attributes = thing.attrs if isinstance(thing.attrs, dict) else {}
    net = attributes.get(".N", ("",))
    pad = attributes.get(".P", ("", ""))
    return str(net[0]) if net else "", (str(pad[0]), str(pad[1])) if len(pad) > 1 else ("", "")


class _Reader:
    """Turns one file's objects into things; apertures are worked out once."""

    def __init__(self) -> None:
        self._apertures: dict[int, tuple[Shape, ...]] = {}

    def thing(self, item: Any) -> Thing:
        scale = float(MM(1.0, item.unit)) * NM
        net, pad = _about(item)
        if isinstance(item, Flash):
            at = (item.x * scale, item.y * scale)
            at = (float(round(at[0])), float(round(at[1])))
            key = id(item.aperture)
            if key not in self._apertures:
                self._apertures[key] = _aperture(item.aperture)
            parts = tuple(
                Shape(
                    ShapelyPoint(at)
                    if isinstance(s.skeleton, ShapelyPoint) and s.skeleton.x == 0 and s.skeleton.y == 0
                    else translate(s.skeleton, *at),
                    s.radius,
                )
                for s in self._apertures[key]
            )
            return Thing(Kind.FLASH, parts, at, at, 0.0, net, pad)
        if isinstance(item, Region):
            corners = np.round(np.asarray(item.outline, dtype=float) * scale)
            arcs = [
                (arc[0], (arc[1][0] * scale, arc[1][1] * scale)) if arc and arc[0] is not None else None
                for arc in item.arc_centers
            ]
            area = _ring(map(tuple, corners.tolist()), arcs)
            return Thing(Kind.AREA, tuple(Shape(p, 0.0) for p in polygons_of(area)), net=net, pad=pad)
        start = (float(round(item.x1 * scale)), float(round(item.y1 * scale)))
        end = (float(round(item.x2 * scale)), float(round(item.y2 * scale)))
        width = float(round(item.aperture.equivalent_width(MM) * NM))
        if isinstance(item, Line):
            return Thing(Kind.STROKE, (_segment(start, end, width / 2),), start, end, width, net, pad)
        if isinstance(item, Arc):
            centre = (start[0] + item.cx * scale, start[1] + item.cy * scale)
            path = LineString(arc_ring(start, end, centre, item.clockwise))
            return Thing(Kind.STROKE, (Shape(path, width / 2),), start, end, width, net, pad)
        raise ValueError(f"an object that is not known: {type(item).__name__}")


def _erased(dark: list[Thing], clear: list[Thing]) -> list[Thing]:
    """Return *dark* with what *clear* covers taken off; what falls apart becomes several things."""
    gone = shapely.union_all([solid(shape) for thing in clear for shape in thing.parts])
    shapely.prepare(gone)  # arcs have many corners, and unprepared every two of them would be compared
    left: list[Thing] = []
    for thing in dark:
        if not any(gone.dwithin(shape.skeleton, shape.radius) for shape in thing.parts):
            left.append(thing)
            continue
        whole = [solid(shape) for shape in thing.parts]
        area = (whole[0] if len(whole) == 1 else shapely.union_all(whole)).difference(gone)
        for polygon in polygons_of(area):
            left.append(replace(thing, kind=Kind.AREA, parts=(Shape(polygon, 0.0),)))
    return left


def things_of(text: str, path: str) -> tuple[tuple[Thing, ...], dict[str, tuple[str, ...]], tuple[str, ...]]:
    """Return what *text* draws, its file attributes, and the reader's warnings, in file order.

    Raises any exception of the reader's for a file that cannot be read.
    """
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        file = GerberFile.from_string(text, filename=path)
    if len(file.objects) > MAX_THINGS:
        raise ValueError(f"more than {MAX_THINGS} drawn things")
    if sum(not item.polarity_dark for item in file.objects) > MAX_ERASED:
        raise ValueError(f"more than {MAX_ERASED} things that erase others")
    reader = _Reader()
    dark: list[Thing] = []
    clear: list[Thing] = []
    for item in file.objects:
        thing = reader.thing(item)
        if not item.polarity_dark:
            clear.append(thing)
            continue
        if clear:
            dark, clear = _erased(dark, clear), []
        dark.append(thing)
    if clear:
        dark = _erased(dark, clear)
    said = tuple(dict.fromkeys(str(item.message) for item in caught))
    return tuple(dark), dict(file.file_attrs), said
