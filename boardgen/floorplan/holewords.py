"""Mounting holes in words: how many and why, and which stand off their corners for what."""

from __future__ import annotations

from collections.abc import Sequence

from boardgen.design.model import HoleWish
from boardgen.floorplan.frame import Turn, apart
from boardgen.floorplan.holes import EDGE_LAND, IN_LINE, head_of
from boardgen.floorplan.region import Region
from boardgen.units import Box, Nm, Point, format_mm

USUAL = 4  # corners of a board, and holes where a design does not say how many
_NUMBERS = ("no", "one", "two", "three", "four")


def corners_of(region: Region, wish: HoleWish) -> tuple[Point, ...]:
    """Return where holes stand that nothing is in the way of, in the order in which corners are taken."""
    inset = head_of(wish) // 2 + EDGE_LAND
    left, top, right, bottom = region.box.grown(Nm(-inset))
    return (Point(left, top), Point(right, bottom), Point(right, top), Point(left, bottom))


def hole_words(
    region: Region, turn: Turn, wish: HoleWish, places: Sequence[Point], parts: Sequence[tuple[str, Box]]
) -> str:
    """Return a sentence or two on the holes at canonical *places*; "" where there are none.

    *parts* are what stands in the way of holes, by name.
    """
    if not places:
        return ""
    many = f"{_number(len(places)).capitalize()} mounting hole{'s' if len(places) > 1 else ''} of "
    many += f"{format_mm(wish.diameter)} mm"
    stand = "stand" if len(places) > 1 else "stands"
    if wish.at is not None:
        return f"{many} {stand} where the design puts them."
    asked = "" if len(places) == USUAL else f", as many as the design asks for ({USUAL} are usual),"
    text = f"{many}{asked} {stand} {_which(len(places))}"
    for corner, at in zip(corners_of(region, wish), places, strict=False):
        off = abs(at.x - corner.x) + abs(at.y - corner.y)
        if off > IN_LINE:
            text += f"; the one at the {_corner(turn, corner)} is {format_mm(Nm(off), 1)} mm along the edge"
            text += _because(corner, wish, parts)
    return f"{text}."


def _number(count: int) -> str:
    return _NUMBERS[count] if count < len(_NUMBERS) else str(count)


def _which(count: int) -> str:
    return {1: "in a corner", 2: "in opposite corners", 4: "in the corners"}.get(count, "in corners")


def _corner(turn: Turn, corner: Point) -> str:
    """Name a corner as it lies on the board."""
    at, size = turn.point(corner), turn.board_size
    return f"{'top' if 2 * at.y < size.h else 'bottom'} {'left' if 2 * at.x < size.w else 'right'}"


def _because(corner: Point, wish: HoleWish, parts: Sequence[tuple[str, Box]]) -> str:
    radius = head_of(wish) // 2
    room = Box(corner.x, corner.y, corner.x, corner.y).grown(radius)
    for name, box in parts:
        if apart(room, box) < 0:
            return f", since the {name} takes its corner"
    return ""
