"""What a later revision holds a CAD file edited by hand against: copper, areas and drawings as made.

Things are told by short digests of what they are, in the board axes of the run, so that thousands of them
take little room; what a person did not touch has the same digest again.
"""

from __future__ import annotations

import hashlib
import itertools
from collections.abc import Iterable

from shapely import LineString

from boardgen.board.model import Board, LegendLine, PartKind, Pour, Side, Track, Via
from boardgen.design.model import BoundDesign
from boardgen.footprint.model import Footprint, Pad
from boardgen.layout.legend_strokes import stroke_area
from boardgen.units import Nm, Point

_SEAM = 2_000.0  # nm: chords of a filled area's rim may stand that far outside it


def _digest(*what: object) -> str:
    return hashlib.sha256(" ".join(map(str, what)).encode()).hexdigest()[:8]


def _ends(a: Point, b: Point) -> tuple[int, ...]:
    first, last = sorted((a, b))
    return (*map(int, first), *map(int, last))


def track_digest(track: Track) -> str:
    """Return the digest of a track, either end first."""
    return _digest("track", track.side.value, int(track.width), *_ends(track.start, track.end))


def via_digest(via: Via) -> str:
    """Return the digest of a via."""
    return _digest("via", *map(int, (*via.at, via.diameter, via.hole)))


def stroke_digest(side: Side, width: Nm, a: Point, b: Point) -> str:
    """Return the digest of a straight stroke of the legend, either end first."""
    return _digest("stroke", side.value, int(width), *_ends(a, b))


def ring_digest(ring: Iterable[Point]) -> str:
    """Return the digest of a ring's corners, wherever and whichever way round it begins."""
    return _digest("ring", sorted({(int(at.x), int(at.y)) for at in ring}))


def pour_digest(pour: Pour) -> str:
    """Return the digest of what a pour was asked to be; how it is filled does not count."""
    asked = map(int, (pour.spacing, pour.min_width, pour.thermal_gap, pour.spoke_width))
    return _digest("pour", ring_digest(pour.area), *asked)


def pads_digest(footprint: Footprint) -> str:
    """Return the digest of a footprint's pads: number, kind, place, size and hole of each."""
    return _digest("pads", sorted(map(_pad, footprint.pads)))


def _pad(pad: Pad) -> tuple[object, ...]:
    hole = (0, 0) if pad.hole is None else (int(pad.hole.w), int(pad.hole.h))
    size = (int(pad.size.w), int(pad.size.h))
    return (pad.number, pad.kind.value, int(pad.at.x), int(pad.at.y), size, hole)


def _copper(board: Board) -> dict[str, str]:
    found: dict[str, list[str]] = {}
    for track in board.tracks:
        found.setdefault(track.net, []).append(track_digest(track))
    for via in board.vias:
        found.setdefault(via.net, []).append(via_digest(via))
    return {net: " ".join(sorted(found[net])) for net in sorted(found)}


def _strokes(bound: BoundDesign, board: Board) -> list[str]:
    """Return, for each stroke of the design, the digests of what of it is printed."""
    lines = [item for item in board.legend if isinstance(item, LegendLine) and item.origin == "board"]
    left = list(zip(lines, (LineString(line.points) for line in lines), strict=True))
    rows = []
    for wish in bound.design.strokes:
        area = stroke_area(wish, bound.fab).buffer(_SEAM)
        mine = [row for row in left if row[0].side is wish.side and area.covers(row[1])]
        left = [row for row in left if row not in mine]
        rows.append(" ".join(sorted(d for line, _ in mine for d in line_digests(line))))
    return rows


def line_digests(line: LegendLine) -> list[str]:
    """Return the digests of a printed line, stroke by stroke."""
    return [stroke_digest(line.side, line.stroke, a, b) for a, b in itertools.pairwise(line.points)]


def standing_data(bound: BoundDesign, board: Board) -> dict[str, object]:
    """Return the section "standing" of the record."""
    return {
        "copper": _copper(board),
        "pours": [
            {"net": pour.net, "side": pour.side.value, "asked": pour_digest(pour)} for pour in board.pours
        ],
        "keepouts": [{"reason": area.reason, "ring": ring_digest(area.ring)} for area in board.keepouts],
        "strokes": _strokes(bound, board),
        "holes": {
            part.ref: pad.hole.w.mm
            for part in board.parts
            if part.kind is PartKind.HOLE
            for pad in part.footprint.pads[:1]
            if pad.hole is not None
        },
        "pads": {part.ref: pads_digest(part.footprint) for part in board.parts},
        "values": {part.ref: part.value for part in board.parts},
    }
