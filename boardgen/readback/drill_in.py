"""A drill file as holes and slots, read by gerbonara."""

from __future__ import annotations

import re
import warnings

from gerbonara import ExcellonFile
from gerbonara.graphic_objects import Flash, Line
from gerbonara.utils import MM
from shapely import LineString
from shapely import Point as ShapelyPoint

from boardgen.board.geometry import Shape
from boardgen.readback.model import FabHole

NM = 1e6
MAX_HOLES = 50_000
_FUNCTION = re.compile(r"TF\.FileFunction,(Plated|NonPlated)\b")


def holes_of(text: str, path: str, plated: bool) -> tuple[tuple[FabHole, ...], tuple[str, ...]]:
    """Return the holes in *text* and the reader's warnings, in file order.

    *plated* is what the file is for. Raises any exception of the reader's for a file that cannot be read.
    """
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        file = ExcellonFile.from_string(text, filename=path)
    if len(file.objects) > MAX_HOLES:
        raise ValueError(f"more than {MAX_HOLES} holes")
    holes = []
    for item in file.objects:
        scale = float(MM(1.0, item.unit)) * NM
        across = float(round(float(MM(item.tool.diameter, item.tool.unit)) * NM))
        if isinstance(item, Flash):
            start = end = (float(round(item.x * scale)), float(round(item.y * scale)))
            shape = Shape(ShapelyPoint(start), across / 2)
        elif isinstance(item, Line):
            start = (float(round(item.x1 * scale)), float(round(item.y1 * scale)))
            end = (float(round(item.x2 * scale)), float(round(item.y2 * scale)))
            start, end = min(start, end), max(start, end)
            shape = Shape(ShapelyPoint(start) if start == end else LineString([start, end]), across / 2)
        else:
            raise ValueError(f"a cut that is neither hole nor straight slot: {type(item).__name__}")
        holes.append(FabHole(path, plated, across, start, end, shape))
    said = tuple(dict.fromkeys(str(item.message) for item in caught))
    return tuple(holes), said


def says_plated(text: str) -> bool | None:
    """Return what the file says of itself: whether its holes are plated; None where it says nothing."""
    found = _FUNCTION.search(text)
    return None if found is None else found[1] == "Plated"
