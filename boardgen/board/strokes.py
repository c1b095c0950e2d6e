"""Text as strokes: what a printing machine or a drawing needs of a letter.

The text is centred on its place: capitals reach half the height above and below
it, whatever the letters. Lengths in nm; angles in degrees counter-clockwise as
seen from the top; mirrored text is turned over about its own upright axis
first, so that it reads from below.
"""

from __future__ import annotations

from boardgen.board.glyphs import ADVANCE, ADVANCE_OTHER, BOX, GLYPHS, LOW, TALL
from boardgen.units import Nm, Point, nm

_MARGIN = 0.11  # of the height, left free on either side of a glyph within its room
_CAP = 6.0  # glyph units from baseline to the top of capitals
_DOT = 0.02  # of the height; a dot is drawn as a stroke this long, since a pen must move


def text_width(text: str, height: Nm, stroke: Nm) -> Nm:
    """Return the printed length of *text* along its line in nm, ink included."""
    hundredths = sum(ADVANCE.get(character, ADVANCE_OTHER) for character in text)
    return nm(hundredths * height / 100 + stroke)


def _put(x: float, y: float, at: Point, rotation: float, mirrored: bool) -> Point:
    if mirrored:
        x = -x
    return Point(nm(x), nm(y)).turned(rotation).plus(at)


def text_strokes(
    text: str,
    at: Point,
    height: Nm,
    stroke: Nm,
    rotation: float = 0.0,
    mirrored: bool = False,
) -> tuple[tuple[Point, ...], ...]:
    """Return the pen's paths for *text* centred on *at*; each has two points or more.

    *height* is that of a capital along the middle of its strokes; *stroke* is the
    pen's width, which the caller draws with round ends.
    """
    paths: list[tuple[Point, ...]] = []
    pen = -(text_width(text, height, stroke) - stroke) / 2
    for character in text:
        room = ADVANCE.get(character, ADVANCE_OTHER) / 100
        scale = max(room - 2 * _MARGIN, 0.1) / 4 * height
        left = pen + _MARGIN * height
        for word in GLYPHS.get(character, BOX).split():
            places = [(int(word[i]), int(word[i + 1])) for i in range(0, len(word), 2)]
            local = [(left + x * scale, (5 - y) / _CAP * height) for x, y in places]
            if len(set(places)) == 1:  # a dot
                local = [local[0], (local[0][0] + _DOT * height, local[0][1])]
            paths.append(tuple(_put(x, y, at, rotation, mirrored) for x, y in local))
        pen += room * height
    return tuple(paths)


def text_ring(
    text: str,
    at: Point,
    height: Nm,
    stroke: Nm,
    rotation: float = 0.0,
    mirrored: bool = False,
) -> tuple[Point, Point, Point, Point]:
    """Return the corners of the room *text* takes, ink included.

    The room also holds the text as the shared stroke font of CAD programs sets it at the same
    height, whose capitals stand 5 % of the height higher.
    """
    half = text_width(text, height, stroke) / 2
    letters = set(text)
    up = (0.70 if letters & TALL else 0.56) * height + stroke / 2
    down = (0.86 if letters & LOW else 0.51) * height + stroke / 2
    corners = ((-half, -up), (half, -up), (half, down), (-half, down))
    a, b, c, d = (_put(x, y, at, rotation, mirrored) for x, y in corners)
    return (a, b, c, d)
