"""Mounting holes of a CAD board: where they stand now, how wide, and what of that a person did."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from boardgen.board.model import Board, Part
from boardgen.footprint.model import PadKind
from boardgen.revision.lettering import place_of
from boardgen.revision.remark import Remark, at_words
from boardgen.units import Nm, Point, format_mm, mm

NEAR = 1_500  # nm
LEAST, MOST = mm(1), mm(10)  # diameters that a design takes
MOST_HOLES = 40


@dataclass(frozen=True, slots=True)
class Hole:
    """A mounting hole in the axes of the next board."""

    at: Point
    diameter: Nm


def hole_of(part: Part) -> Nm | None:
    """Return the diameter of a part that is one bare round hole, None for another."""
    if len(part.footprint.pads) != 1:
        return None
    pad = part.footprint.pads[0]
    if pad.kind is not PadKind.UNPLATED or pad.hole is None or pad.hole.w != pad.hole.h:
        return None
    return pad.hole.w


def standing_holes(
    board: Board, way: Point, corner: Point, data: Mapping[str, Any], remarks: list[Remark]
) -> tuple[Hole, ...]:
    """Return the mounting holes, top left first; those that came, went or changed are told in *remarks*."""
    widths = data.get("standing", {}).get("holes", {})
    before = {
        place_of(row).at.minus(corner): widths.get(str(row["ref"]))
        for row in data["places"]
        if not row["nets"] and str(row["ref"]).startswith("H")
    }
    found: list[Hole] = []
    for part in board.parts:
        width = hole_of(part)
        if width is None:
            continue
        at = part.placement.at.plus(way)
        was = next((there for there in before if at.distance(there) <= NEAR), None)
        thing = f"mounting hole, now at {at_words(at)}"
        if was is not None and before[was] is not None and abs(width.mm - float(before[was])) > 1e-6:
            thing = f"mounting hole at {at_words(at)}, now {format_mm(width)} mm wide"
        elif was is not None:
            thing = ""
        if not LEAST <= width <= MOST or len(found) >= MOST_HOLES:
            why = f"a design takes {MOST_HOLES} holes of {format_mm(LEAST)} to {format_mm(MOST)} mm"
            remarks.append(Remark(thing or f"mounting hole at {at_words(at)}", f"{why}: drill it by hand"))
            continue
        found.append(Hole(at, width))
        if thing:
            remarks.append(Remark(thing))
    for was in sorted(before):
        if all(was.distance(hole.at) > NEAR for hole in found):
            remarks.append(Remark(f"mounting hole taken from {at_words(was)}"))
    return tuple(sorted(found, key=lambda hole: (hole.at.y, hole.at.x)))
