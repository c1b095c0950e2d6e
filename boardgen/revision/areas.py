"""Pours and areas kept free that a person drew, changed or took off in a CAD board."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from shapely import Polygon

from boardgen.board.model import Board, Keepout
from boardgen.export.standing_data import pour_digest, ring_digest
from boardgen.revision.drawn import Ways
from boardgen.revision.remark import Remark, at_words
from boardgen.units import Point

MOST_POINTS = 500  # of one area in a design
MOST_AREAS = 40
LONGEST = 120  # letters of a reason
_OURS = "it belongs to the module, or to a screw's head, and is made anew: draw an area of your own beside it"
_POURED = (
    "pours are made anew round everything else: keep copper off by an area kept free, or edit B's CAD file"
)
_ADDED = (
    "boards are poured with ground alone: lead this net by locked tracks, or pour it anew in B's CAD file"
)
_NONE = "the ground is poured again: set ground_pour = false in [board]"


def _moved(area: Keepout, way: Point) -> Keepout:
    return replace(area, ring=tuple(at.plus(way) for at in area.ring))


def kept_free(
    board: Board,
    ways: Ways,
    earlier: Sequence[Keepout],
    data: Mapping[str, Any],
    remarks: list[Remark],
) -> tuple[Keepout, ...]:
    """Return the areas that the next design keeps free; what a person did is told in *remarks*.

    *earlier* are those of the design, *data* is the record. Only areas that bar all copper on both sides
    are read from a CAD board; the reader tells of others.
    """
    mine = {ring_digest(area.ring): area for area in earlier}
    rows = {str(row["ring"]): str(row["reason"]) for row in data.get("standing", {}).get("keepouts", ())}
    ours = {reason for ring, reason in rows.items() if ring not in mine}
    found: list[Keepout] = []
    seen = set()
    back = Point(-ways.corner.x, -ways.corner.y)
    for area in (_moved(area, ways.way) for area in board.keepouts):
        ring = ring_digest(area.ring)
        seen.add(ring)
        if ring in mine:
            found.append(_moved(mine[ring], back))
        elif ring not in rows:
            _take(_moved(area, back), ours, found, remarks)
    for ring, reason in rows.items():
        if ring not in seen:
            thing = f"area kept free ({reason}), changed or taken off"
            remarks.append(Remark(thing, "" if ring in mine else _OURS))
    found += [_moved(area, back) for ring, area in mine.items() if ring not in rows and ring not in seen]
    return tuple(sorted(found, key=lambda area: (area.ring, area.reason)))


def _take(area: Keepout, ours: set[str], found: list[Keepout], remarks: list[Remark]) -> None:
    thing = f"area kept free ({area.reason[:60]}) at {at_words(min(area.ring))}"
    if area.reason in ours:
        remarks.append(Remark(thing, _OURS))
    elif len(area.ring) > MOST_POINTS or len(found) >= MOST_AREAS:
        why = f"a design takes {MOST_AREAS} areas of at most {MOST_POINTS} corners: draw it simpler"
        remarks.append(Remark(thing, why))
    elif not Polygon(area.ring).is_valid:
        remarks.append(Remark(thing, "its rim crosses itself: draw it otherwise"))
    else:
        remarks.append(Remark(thing))
        reason = "".join(letter if letter.isprintable() else " " for letter in area.reason)[:LONGEST].strip()
        found.append(replace(area, reason=reason or "kept free by hand"))


def tell_pours(board: Board, way: Point, data: Mapping[str, Any], remarks: list[Remark]) -> None:
    """Tell of pours that a person added, changed or took off: none of them is carried."""
    rows = [
        (str(row["net"]), str(row["side"]), str(row["asked"]))
        for row in data.get("standing", {}).get("pours", ())
    ]
    left = list(rows)
    new = []
    for pour in board.pours:
        moved = replace(pour, area=tuple(at.plus(way) for at in pour.area))
        key = (pour.net, pour.side.value, pour_digest(moved))
        if key in left:
            left.remove(key)
        else:
            new.append(key)
    for net, side, _ in new:
        was = next((row for row in left if row[:2] == (net, side)), None)
        thing = f"pour of {net} on the {side}"
        if was is not None:
            left.remove(was)
        remarks.append(Remark(f"{thing}, changed", _POURED) if was else Remark(f"{thing}, added", _ADDED))
    for net, side, _ in left:
        remarks.append(Remark(f"pour of {net} on the {side}, taken off", _NONE))
