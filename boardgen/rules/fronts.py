"""Edge connectors set back from the edge that their mating face must reach: part of rule ``overhang``."""

from __future__ import annotations

import shapely
from shapely import Polygon

from boardgen.board.model import Front, Part
from boardgen.errors import Finding
from boardgen.rules.survey import ROUNDING, Survey, below, finding
from boardgen.units import Nm, Point, format_mm, mm, nm

# What the finer classes promise of a routed edge: nobody who fits a plug can tell less.
SET_BACK = mm("0.2")
BEFORE = mm(30)  # how far out a plug and its cable must come past; board farther off meets neither


def set_back(part: Part, front: Front, area: shapely.Geometry) -> float:
    """Return how far the board reaches past where *part* needs its edge, nm; 0 where it does not."""
    corners = (
        Point(front.left, front.edge),
        Point(front.right, front.edge),
        Point(front.right, Nm(front.edge + BEFORE)),
        Point(front.left, Nm(front.edge + BEFORE)),
    )
    placed = [part.placement.place(corner) for corner in corners]
    there = Polygon(placed).intersection(area)
    if there.area == 0:
        return 0.0
    (x0, y0), (x1, y1) = placed[0], placed[3]
    ux, uy = (x1 - x0) / BEFORE, (y1 - y0) / BEFORE
    return max(float((x - x0) * ux + (y - y0) * uy) for x, y in shapely.get_coordinates(there))


def check_fronts(survey: Survey) -> tuple[list[Finding], int]:
    """Return the connectors that stand too far back for their mates, and how many were looked at.

    Board in the way of a plug keeps it from going home: its shell or its hood meets the edge first. Nothing
    is plugged in on a panel, whose rails may run past a connector.
    """
    found = []
    parts = () if survey.board.copies else survey.board.parts
    fronts = [(part, part.front) for part in parts if part.front is not None]
    for part, front in fronts:
        reach = set_back(part, front, survey.area)
        if reach <= SET_BACK + ROUNDING:
            continue
        message = (
            f"{part.ref} stands {below(reach, SET_BACK)} mm back from the edge that its mating face must "
            f"reach, more than {format_mm(SET_BACK)} mm: the plug meets the board"
        )
        at = part.placement.place(Point(Nm((front.left + front.right) // 2), front.edge))
        found.append(
            finding("overhang", message, at, "profile", (part.ref, "board edge"), nm(reach), SET_BACK)
        )
    return found, len(fronts)
