"""Outline, holes and places of two runs: what the case and the hands that solder notice."""

from __future__ import annotations

from collections.abc import Mapping

import shapely
from shapely.geometry.base import BaseGeometry

from boardgen.readback.model import Wanted
from boardgen.revision.geometry import BoardFiles
from boardgen.revision.model import Change, EnclosureVerdict
from boardgen.revision.rows import Row, changes, length, number
from boardgen.revision.runs import OpenedRun
from boardgen.units import NM_PER_MM

OUTLINE_SAME = 5_000.0  # nm: chords of a corner drawn twice may stand that far apart


def outline_changes(a: BaseGeometry, b: BaseGeometry) -> list[Change]:
    """Return how far the outlines (nm, board axes) stand apart, nothing where they are one."""
    if a.is_empty and b.is_empty:
        return []
    if a.is_empty or b.is_empty:
        sizes = [None if one.is_empty else _size(one) for one in (a, b)]
        return [Change("outline", "outline", sizes[0], sizes[1])]
    apart = float(shapely.hausdorff_distance(a.boundary, b.boundary))
    if apart <= OUTLINE_SAME:
        return []
    one, two = _size(a), _size(b)
    if one == two:
        one, two = (f"{text}, {_area(g)}" for text, g in ((one, a), (two, b)))
    thing = f"outline (up to {length(round(apart / NM_PER_MM, 2))} apart)"
    return [Change("outline", thing, one, two)]


def _size(outline: BaseGeometry) -> str:
    left, top, right, bottom = outline.bounds
    width, height = ((high - low) / NM_PER_MM for low, high in ((left, right), (top, bottom)))
    return f"{width:.2f} x {height:.2f} mm"


def _area(outline: BaseGeometry) -> str:
    return f"{outline.area / NM_PER_MM**2:.2f} mm2"


def _holes(source: Wanted) -> dict[str, Row]:
    """Unplated holes that belong to no part with contacts, by where they stand."""
    parts = {pad.ref for pad in source.pads if pad.number}
    found: dict[str, Row] = {}
    for name, shape in source.bare or ():
        if name.removeprefix("hole of ") in parts:
            continue
        at = shape.skeleton.centroid
        thing = f"hole at {length(at.x / NM_PER_MM)}, {length(at.y / NM_PER_MM)}"
        found[thing] = {"diameter": length(2 * shape.radius / NM_PER_MM)}
    return found


def places(run: OpenedRun) -> dict[str, Row]:
    """Return where each part stands, in board axes, from the positions file."""
    left, bottom = (value / NM_PER_MM for value in run.record.origin)
    return {
        row["Designator"]: {
            "at": f"{length(left + float(row['X (mm)']))}, {length(bottom - float(row['Y (mm)']))}",
            "turned": f"{float(row['Rotation']):g} degrees",
            "": row["Side"].lower(),
        }
        for row in run.table("assembly/positions.csv")
    }


def _board(run: OpenedRun) -> dict[str, Row]:
    board: Mapping[str, object] = run.data["board"]
    routing: Mapping[str, object] = run.data["routing"]
    return {
        "module": {"": str(run.data["module"])},
        "connector": {"": str(run.data["connector"])},
        "fab class": {"": str(run.data["fab"])},
        "copper layers": {"": str(board["copper_layers"])},
        "thickness": {"": number(board.get("thickness_mm"), "mm")},
        "vias": {"": str(routing["vias"])},
        "wire links": {"": str(routing["links"])},
        "track": {"": number(routing["length_mm"], "mm", 1)},
    }


def body_changes(a: BoardFiles, b: BoardFiles) -> list[Change]:
    """Return what differs in build, outline, mounting holes and places of parts."""
    return [
        *changes("board", _board(a.run), _board(b.run)),
        *outline_changes(a.outline, b.outline),
        *changes("mounting holes", _holes(a.source), _holes(b.source)),
        *changes("places", places(a.run), places(b.run)),
    ]


def enclosure_verdict(a: OpenedRun, b: OpenedRun, found: list[Change]) -> EnclosureVerdict:
    """Return whether the case of run *a* takes the board of run *b*; *found* are the changes between them.

    What the case touches: outline, thickness, mounting holes, where connector and USB stand, and heights. A
    board with less height on a side still fits.
    """
    reasons = []
    for change in found:
        if change.section in ("outline", "mounting holes"):
            reasons.append(said(change))
        elif change.section == "places" and change.thing in ("J1", "U1"):
            what = "connector" if change.thing == "J1" else "module, and its USB socket with it,"
            reasons.append(f"the {what} stands elsewhere: {change.before} before, {change.after} now")
        elif change.section == "board" and change.thing in ("module", "connector", "thickness"):
            reasons.append(said(change))
    tall = [run.data["board"].get("tallest_mm") or {} for run in (a, b)]
    for side in sorted({*tall[0], *tall[1]}):
        one, two = (float(heights.get(side, 0.0)) for heights in tall)
        if two > one + 1e-6:
            reasons.append(f"parts on the {side} stand {length(two)} high, {length(one)} before")
    return EnclosureVerdict(not reasons, tuple(reasons))


def said(change: Change) -> str:
    """Return *change* as one line."""
    if change.before is None:
        return f"{change.thing}: new, {change.after}"
    if change.after is None:
        return f"{change.thing}: gone, was {change.before}"
    return f"{change.thing}: {change.before} before, {change.after} now"
