"""Building one footprint: pads first, then a legend that keeps clear of them, then the courtyard."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from boardgen.errors import InputError
from boardgen.footprint.families.mating import Face as MatingFace
from boardgen.footprint.model import (
    Arc,
    Circle,
    Face,
    Footprint,
    Graphic,
    Line,
    Pad,
    PadKind,
    PadShape,
    PartLayer,
    Polygon,
    Text,
)
from boardgen.units import ZERO, Box, Nm, Point, Size, format_mm, mm

STROKE = mm("0.15")  # legend: the economy pool's least line (PRACTICE.md 2)
THIN = mm("0.1")  # assembly drawing
COURTYARD_STROKE = mm("0.05")
PAD_GAP = mm("0.2")  # legend ink to copper or hole
INK_GAP = mm("0.15")  # a legend line to a mark or text
EDGE_GAP = mm("0.3")  # legend ink to the board's edge
OUTLINE_GAP = mm("0.1")  # middle of the legend's outline to the body
SHORTEST = mm("0.3")  # a piece of legend line shorter than this is left out
TEXT_HEIGHT = mm(1)
PART_MARGIN = mm("0.25")  # courtyard round small parts
CONNECTOR_MARGIN = mm("0.5")  # courtyard round connectors and modules
_WIDE = "MWmw@%&+-<=>"
_FLAT = set(
    "ABCDEFGHIKLMNOPRSTUVWXZabcdehiklnorstuvxz 0123456789"
)  # nothing below the line or above capitals
_FAR_OFF = mm(1000)
NOWHERE = Box(ZERO, ZERO, ZERO, ZERO)
_PAD_MIN_GAP = mm("0.1")


@dataclass(frozen=True, slots=True)
class Drawn:
    """What a family gives: the footprint, the mating face and shell of a connector, edge and body.

    *face* holds contact numbers and places on the mating face (nm from its
    middle, x right, y down); *edge* is the y of the board's edge, None for a part
    that does not care; *body* is in the footprint's frame.
    """

    footprint: Footprint
    face: MatingFace = ()
    shell: tuple[str, ...] = ()
    edge: Nm | None = None
    body: Box = NOWHERE


def pad_box(pad: Pad) -> Box:
    """Return the upright box round *pad* (copper, or the bare hole)."""
    w, h = pad.size.w, pad.size.h
    return Box(pad.at.x - w // 2, pad.at.y - h // 2, pad.at.x + w // 2, pad.at.y + h // 2)


def _apart(a: Box, b: Box) -> float:
    dx = max(a.left - b.right, b.left - a.right, 0)
    dy = max(a.top - b.bottom, b.top - a.bottom, 0)
    return math.hypot(dx, dy)


class Sketch:
    """A footprint in the making; call :meth:`finish` once."""

    def __init__(self, edge: Nm | None = None) -> None:
        self.pads: list[Pad] = []
        self.graphics: list[Graphic] = []
        self.edge = edge
        self._ink: list[tuple[Box, Face]] = []  # marks and texts, which the lines go round
        self._lines: list[tuple[Point, Point, Face]] = []
        self._rings: list[tuple[Point, Nm, int, int]] = []

    # pads -----------------------------------------------------------------

    def plated(self, number: str, at: Point, hole: Nm | Size, size: Nm | Size, square: bool = False) -> None:
        """Add a plated hole with a round, long or (*square*) rectangular pad."""
        drill = hole if isinstance(hole, Size) else Size(hole, hole)
        copper = size if isinstance(size, Size) else Size(size, size)
        if copper.w <= drill.w or copper.h <= drill.h:
            raise InputError(
                "the pad must be larger than its hole",
                key="family",
                found=f"pad {format_mm(copper.w)} x {format_mm(copper.h)}, hole {format_mm(drill.w)} mm",
            )
        shape = PadShape.CIRCLE if copper.w == copper.h else PadShape.OVAL
        self.pads.append(Pad(number, PadKind.PLATED, PadShape.RECT if square else shape, at, copper, drill))

    def peg(self, at: Point, hole: Nm) -> None:
        """Add a bare hole for a peg or a screw."""
        size = Size(hole, hole)
        self.pads.append(Pad("", PadKind.UNPLATED, PadShape.CIRCLE, at, size, size))

    def surface(self, number: str, at: Point, size: Size, face: Face = Face.NEAR) -> None:
        """Add a rectangular pad without a hole."""
        self.pads.append(Pad(number, PadKind.SURFACE, PadShape.RECT, at, size, face=face))

    # legend ---------------------------------------------------------------

    def _blocks(self, face: Face) -> list[Box]:
        """Return where the legend's ink may not be on *face*: pads with their gap, and past the edge."""
        found = [
            pad_box(pad).grown(PAD_GAP)
            for pad in self.pads
            if pad.kind is not PadKind.SURFACE or pad.face is face
        ]
        found += [box.grown(INK_GAP) for box, side in self._ink if side is face]
        if self.edge is not None:
            found.append(Box(-_FAR_OFF, self.edge - EDGE_GAP, _FAR_OFF, _FAR_OFF))
        return found

    def line(self, start: Point, end: Point, face: Face = Face.NEAR) -> None:
        """Ask for an upright or level legend line; what would touch pads or pass the edge is left out.

        Lines are drawn last, round the marks and texts.
        """
        self._lines.append((start, end, face))

    def _draw_line(self, start: Point, end: Point, face: Face) -> None:
        level = start.y == end.y
        low, high = sorted((start.x, end.x) if level else (start.y, end.y))
        across = start.y if level else start.x
        half = STROKE // 2
        cuts: list[tuple[int, int]] = []
        for block in self._blocks(face):
            near, far = (block.top, block.bottom) if level else (block.left, block.right)
            if near - half < across < far + half:
                first, last = (block.left, block.right) if level else (block.top, block.bottom)
                cuts.append((first - half, last + half))
        for a, b in _left_over(low, high, cuts):
            p, q = (Point(Nm(a), across), Point(Nm(b), across))
            if not level:
                p, q = (Point(across, Nm(a)), Point(across, Nm(b)))
            self.graphics.append(Line(PartLayer.LEGEND, p, q, STROKE, face))

    def outline(self, points: Iterable[Point], face: Face = Face.NEAR) -> None:
        """Ask for a closed legend outline of level and upright lines through *points*."""
        loop = tuple(points)
        for i, point in enumerate(loop):
            self.line(point, loop[(i + 1) % len(loop)], face)

    def ring(self, centre: Point, radius: Nm, start: int = 0, sweep: int = 360) -> None:
        """Ask for a legend arc from *start* over *sweep* degrees (counter-clockwise), clear of the pads."""
        self._rings.append((centre, radius, start, sweep))

    def _draw_ring(self, centre: Point, radius: Nm, start: int, sweep: int) -> None:
        half = STROKE // 2
        blocks = self._blocks(Face.NEAR)
        slack = mm("0.02")  # between two samples the arc may come this much nearer

        def at(degree: int) -> Point:
            angle = math.radians(degree)
            # whole micrometres, so that the last digit of the sine cannot show
            x, y = (round(radius / 1000 * f(angle)) * 1000 for f in (math.cos, math.sin))
            return Point(centre.x + x, centre.y - y)

        def clear(degree: int) -> bool:
            p = at(degree)
            dot = Box(p.x, p.y, p.x, p.y)
            return all(_apart(dot, block) > half + slack for block in blocks)

        good = [clear(start + step) for step in range(sweep + 1)]
        if sweep == 360 and all(good):
            self.graphics.append(Circle(PartLayer.LEGEND, centre, radius, STROKE))
            return
        step = 0
        while step <= sweep:
            if not good[step]:
                step += 1
                continue
            last = step
            while last + 1 <= sweep and good[last + 1]:
                last += 1
            if last - step >= 6:
                ends = (at(start + step), at(start + (step + last) // 2), at(start + last))
                self.graphics.append(Arc(PartLayer.LEGEND, *ends, STROKE))
            step = last + 1

    def free(self, box: Box, face: Face = Face.NEAR) -> bool:
        """Return whether ink anywhere in *box* keeps clear of pads and edge."""
        return all(_apart(box, block) > 0 for block in self._blocks(face))

    def patch(self, points: Iterable[Point], face: Face = Face.NEAR) -> bool:
        """Print a filled area if it keeps clear of the pads; return whether it does."""
        loop = tuple(points)
        if not self.free(Box.around(loop).grown(THIN // 2), face):
            return False
        self.graphics.append(Polygon(PartLayer.LEGEND, loop, THIN, True, face))
        self._ink.append((Box.around(loop).grown(THIN // 2), face))
        return True

    def label(
        self,
        text: str,
        at: Point,
        height: Nm = TEXT_HEIGHT,
        face: Face = Face.NEAR,
        turned: bool = False,
        within: Box | None = None,
    ) -> bool:
        """Print *text* if it keeps clear of the pads and inside *within*; return whether it does."""
        box = text_box(text, at, height, turned)
        if not text or not self.free(box, face):
            return False
        if within is not None and Box.around([*box.corners(), *within.corners()]) != within:
            return False
        stroke = max(STROKE, height * 15 // 100)
        self._ink.append((box, face))
        self.graphics.append(Text(PartLayer.LEGEND, text, at, height, stroke, 90.0 if turned else 0.0, face))
        return True

    def pin_one(self, at: Point, body: Box) -> None:
        """Point at contact 1 with a small triangle on the body's outline, on the nearest clear side.

        The triangle's middle stands level with the contact, its tip toward it. There
        is none where another contact would be nearer to the tip.
        """
        others = [pad.at for pad in self.pads if pad.number != "1" and pad.number.isdigit()]
        depth, half = mm("0.45"), mm("0.5")
        x, y = at
        sides = (
            (y - body.top, 0, (x, body.top), (0, -1)),
            (x - body.left, 1, (body.left, y), (-1, 0)),
            (body.right - x, 2, (body.right, y), (1, 0)),
            (body.bottom - y, 3, (body.bottom, y), (0, 1)),
        )
        for _, _, (foot_x, foot_y), (dx, dy) in sorted(sides):
            if dy == 1:
                continue  # an edge connector's front
            tip = Point(Nm(foot_x), Nm(foot_y))
            if any(other.distance(tip) <= at.distance(tip) for other in others):
                continue
            a = Point(Nm(foot_x + dx * depth - dy * half), Nm(foot_y + dy * depth + dx * half))
            b = Point(Nm(foot_x + dx * depth + dy * half), Nm(foot_y + dy * depth - dx * half))
            if self.patch((tip, a, b)):
                return

    # the end --------------------------------------------------------------

    def drawing(self, points: Iterable[Point]) -> None:
        """Add a closed outline to the assembly drawing."""
        self.graphics.append(Polygon(PartLayer.DRAWING, tuple(points), THIN))

    def courtyard(self, points: Iterable[Point], face: Face = Face.NEAR) -> None:
        """Add the courtyard as one closed outline."""
        self.graphics.append(Polygon(PartLayer.COURTYARD, tuple(points), COURTYARD_STROKE, face=face))

    def extent(self, body: Box) -> Box:
        """Return the box round the body and all pads."""
        boxes = [body, *(pad_box(pad) for pad in self.pads)]
        return Box.around([corner for box in boxes for corner in box.corners()])

    def finish(self, name: str, description: str, body: Box, tags: tuple[str, ...] = ()) -> Footprint:
        """Return the footprint; raises InputError where two pads would touch."""
        self._check_gaps()
        for line in self._lines:
            self._draw_line(*line)
        for ring in self._rings:
            self._draw_ring(*ring)
        round_about = self.extent(body).grown(CONNECTOR_MARGIN)
        middle = body.centre.x
        return Footprint(
            name=name,
            pads=tuple(self.pads),
            graphics=tuple(self.graphics),
            description=description,
            tags=tags,
            through_hole=any(pad.kind is PadKind.PLATED for pad in self.pads)
            or not any(pad.kind is PadKind.SURFACE for pad in self.pads),
            reference_at=Point(middle, round_about.top - mm("0.7")),
            value_at=Point(middle, round_about.bottom + mm("0.7")),
        )

    def _check_gaps(self) -> None:
        for i, a in enumerate(self.pads):
            for b in self.pads[i + 1 :]:
                both_surface = a.kind is PadKind.SURFACE and b.kind is PadKind.SURFACE
                if both_surface and a.face is not b.face:
                    continue
                gap = _apart(pad_box(a), pad_box(b))
                round_pads = PadShape.RECT not in (a.shape, b.shape)
                if round_pads:
                    gap = max(gap, a.at.distance(b.at) - max(a.size) / 2 - max(b.size) / 2)
                if gap < _PAD_MIN_GAP:
                    raise InputError(
                        f"pads {a.number or 'bare hole'} and {b.number or 'bare hole'} are too close",
                        key="family",
                        found=f"{gap / 1e6:.3f} mm",
                        allowed=f"at least {format_mm(_PAD_MIN_GAP)} mm between pads",
                    )


def text_box(text: str, at: Point, height: Nm, turned: bool = False) -> Box:
    """Return a box that surely holds *text* in a stroke font: 1.1 heights a character, 1.5 a wide one."""
    tenths = sum(15 if letter in _WIDE else 11 for letter in text)
    long = height * tenths // 20 + STROKE // 2
    tall = height * (13 if set(text) <= _FLAT else 19) // 20 + STROKE // 10
    w, h = (tall, long) if turned else (long, tall)
    return Box(at.x - w, at.y - h, at.x + w, at.y + h)


def _left_over(low: int, high: int, cuts: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Return what remains of low..high without the *cuts*, short pieces dropped."""
    pieces: list[tuple[int, int]] = []
    at = low
    for first, last in sorted(cuts):
        if first > at:
            pieces.append((at, min(first, high)))
        at = max(at, last)
        if at >= high:
            break
    if at < high:
        pieces.append((at, high))
    return [(a, b) for a, b in pieces if b - a >= SHORTEST]


def tee(upper: Box, lower: Box) -> tuple[Point, ...]:
    """Return the outline of two boxes, the wider *lower* joined under *upper*, clockwise from top left."""
    joint = lower.top
    if joint <= upper.top:
        return lower.corners()
    return (
        Point(upper.left, upper.top),
        Point(upper.right, upper.top),
        Point(upper.right, joint),
        Point(lower.right, joint),
        Point(lower.right, lower.bottom),
        Point(lower.left, lower.bottom),
        Point(lower.left, joint),
        Point(upper.left, joint),
    )
