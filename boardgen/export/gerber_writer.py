"""A small writer of Gerber X2 (extended Gerber with attributes), one layer at a time.

Source of the syntax: the open Gerber layer format specification. Coordinates
are written as format 4.6 in mm, so one unit is exactly one nanometre.
"""

from __future__ import annotations

import itertools
import re

from boardgen.export.frame import FabFrame, attribute_text
from boardgen.units import Nm, Point, format_mm


def _number(value: int) -> str:
    return format_mm(value, 6)


class GerberLayer:
    """Collects one layer's objects and returns its text; not shared between layers."""

    def __init__(self, frame: FabFrame, attributes: tuple[tuple[str, ...], ...]) -> None:
        self._frame = frame
        self._head = [
            f"%TF.{name},{','.join(attribute_text(field) for field in fields)}*%"
            for name, *fields in attributes
        ]
        self._macros: dict[str, str] = {}
        self._apertures: dict[tuple[str, str], int] = {}
        self._body: list[str] = []
        self._current: int | None = None
        self._dark = True
        self._objects: dict[str, str] = {}
        self.flashes = 0
        self.strokes = 0
        self.regions = 0

    def aperture(self, template: str, function: str = "") -> int:
        """Return the number of the aperture with *template* ("C,0.25") and function attribute."""
        return self._apertures.setdefault((template, function), 10 + len(self._apertures))

    def circle(self, diameter: Nm, function: str = "") -> int:
        """Return a round aperture."""
        return self.aperture(f"C,{_number(diameter)}", function)

    def rectangle(self, width: Nm, height: Nm, function: str = "") -> int:
        """Return an upright rectangular aperture."""
        return self.aperture(f"R,{_number(width)}X{_number(height)}", function)

    def obround(self, width: Nm, height: Nm, function: str = "") -> int:
        """Return an upright aperture with two round ends."""
        return self.aperture(f"O,{_number(width)}X{_number(height)}", function)

    def rounded_polygon(self, corners: tuple[Point, ...], radius: int, function: str = "") -> int:
        """Return an aperture of all points within *radius* of the convex ring *corners*.

        *corners* in nm about the flash point, y up, either way round. Made of an
        outline for the ring, a thick line for each side and a disc at each corner.
        """
        ring = [*corners, corners[0]]
        outline = ",".join(f"{_number(p.x)},{_number(p.y)}" for p in ring)
        parts = [f"4,1,{len(corners)},{outline},0*"]
        if radius > 0:
            width = _number(2 * radius)
            for a, b in itertools.pairwise(ring):
                parts.append(f"20,1,{width},{_number(a.x)},{_number(a.y)},{_number(b.x)},{_number(b.y)},0*")
                parts.append(f"1,1,{width},{_number(a.x)},{_number(a.y)}*")
        text = "\n".join(parts)
        name = self._macros.setdefault(text, f"PAD{len(self._macros) + 1}")
        return self.aperture(name, function)

    def rounded_line(self, start: Point, end: Point, radius: int, function: str = "") -> int:
        """Return an aperture of all points within *radius* of a segment about the flash point."""
        width = _number(2 * radius)
        text = "\n".join(
            [
                f"20,1,{width},{_number(start.x)},{_number(start.y)},{_number(end.x)},{_number(end.y)},0*",
                f"1,1,{width},{_number(start.x)},{_number(start.y)}*",
                f"1,1,{width},{_number(end.x)},{_number(end.y)}*",
            ]
        )
        name = self._macros.setdefault(text, f"PAD{len(self._macros) + 1}")
        return self.aperture(name, function)

    def tag(self, **objects: str) -> None:
        """Set the object attributes for what follows: N (net), P ("ref,pin"), C (ref).

        Those not named are dropped.
        """
        if objects == self._objects:
            return
        if set(self._objects) - set(objects):
            self._body.append("%TD*%")
            self._objects = {}
        for key, value in objects.items():
            if self._objects.get(key) != value:
                fields = ",".join(attribute_text(field) for field in value.split("\x1f"))
                self._body.append(f"%TO.{key},{fields}*%")
        self._objects = dict(objects)

    def polarity(self, dark: bool) -> None:
        """Draw (*dark*) or erase from here on."""
        if dark != self._dark:
            self._body.append("%LPD*%" if dark else "%LPC*%")
            self._dark = dark

    def _use(self, aperture: int) -> None:
        if aperture != self._current:
            self._body.append(f"D{aperture}*")
            self._current = aperture

    def _xy(self, at: Point) -> str:
        turned = self._frame.turn(at)
        return f"X{int(turned.x)}Y{int(turned.y)}"

    def flash(self, aperture: int, at: Point) -> None:
        """Stamp *aperture* at a board point."""
        self._use(aperture)
        self._body.append(f"{self._xy(at)}D03*")
        self.flashes += 1

    def stroke(self, aperture: int, points: tuple[Point, ...]) -> None:
        """Draw a polyline through board points with a round aperture."""
        self._use(aperture)
        self._body.append("G01*")
        self._body.append(f"{self._xy(points[0])}D02*")
        self._body.extend(f"{self._xy(point)}D01*" for point in points[1:])
        self.strokes += 1

    def arc(self, aperture: int, start: Point, centre: Point, end: Point, clockwise_seen: bool) -> None:
        """Draw a circular stroke; *clockwise_seen* is the sense as the board is seen from the top."""
        self._use(aperture)
        offset_x, offset_y = int(centre.x - start.x), -int(centre.y - start.y)
        self._body.append("G75*")
        self._body.append("G02*" if clockwise_seen else "G03*")
        self._body.append(f"{self._xy(start)}D02*")
        self._body.append(f"{self._xy(end)}I{offset_x}J{offset_y}D01*")
        self._body.append("G01*")
        self.strokes += 1

    def region(self, ring: tuple[Point, ...]) -> None:
        """Fill the inside of a closed ring of board points (first not repeated)."""
        self._body.append("G36*")
        self._body.append("G01*")
        self._body.append(f"{self._xy(ring[0])}D02*")
        self._body.extend(f"{self._xy(point)}D01*" for point in (*ring[1:], ring[0]))
        self._body.append("G37*")
        self.regions += 1

    def text(self, remark: str = "") -> str:
        """Return the layer as a Gerber file; *remark* stands in a comment, its commas kept."""
        words = " ".join(attribute_text(part) for part in re.split(r"(?<=,) ", remark))
        said = [f"G04 {words}*"] if remark else []
        lines = [*self._head, *said, "%FSLAX46Y46*%", "%MOMM*%"]
        for body, name in self._macros.items():
            lines.append(f"%AM{name}*")
            lines.append(f"{body}%")
        function_now = ""
        for (template, function), number in self._apertures.items():
            if function != function_now:
                if function_now:
                    lines.append("%TD.AperFunction*%")
                if function:
                    lines.append(f"%TA.AperFunction,{function}*%")
                function_now = function
            lines.append(f"%ADD{number}{template}*%")
        if function_now:
            lines.append("%TD.AperFunction*%")
        lines += ["%LPD*%", "G01*", *self._body, "M02*"]
        return "\n".join(lines) + "\n"
