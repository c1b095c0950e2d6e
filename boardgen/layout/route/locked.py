"""Tracks that a person locked: copper of their own net that the router starts from and leaves as it is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shapely import LineString, Polygon
from shapely import Point as ShapelyPoint
from shapely.geometry.base import BaseGeometry

from boardgen.board.geometry import Shape, hole_shape, outline_polygon, pad_shape, sides_of, track_shape
from boardgen.board.model import Board, Track, Via
from boardgen.catalog.model import FabClass
from boardgen.units import Nm, Point

TOUCH = 2.0  # nm: copper this near is one conductor


@dataclass(frozen=True, slots=True)
class Reach:
    """A pad of a net as copper: *lines* within *radius* nm on *sides* (indices), its place at *at*."""

    at: Point
    lines: tuple[BaseGeometry, ...]
    radius: float
    sides: frozenset[int]


@dataclass(frozen=True, slots=True)
class Joint:
    """A place one piece of a net is reached at: the pad of that index, or the free end of a locked track."""

    pad: int | None
    track: int | None = None
    at: Point | None = None


def joints(
    pads: Sequence[Reach], tracks: Sequence[tuple[Track, int]], vias: Sequence[Reach] = ()
) -> list[tuple[Joint, ...]]:
    """Return the pieces a net is in, once its locked *tracks* (with the index of their side) and *vias* lie.

    Pads that locked tracks join already count as one piece. Each piece tells where it is to be reached: at
    the free ends of its tracks, where it has any (joined elsewhere, they would end in nothing), else at its
    pads.
    """
    real = len(pads)
    pads = (*pads, *vias)
    count = len(pads)
    parent = list(range(count + len(tracks)))

    def root(i: int) -> int:
        while parent[i] != i:
            parent[i] = parent[parent[i]]
            i = parent[i]
        return i

    shapes = [track_shape(track) for track, _ in tracks]
    for k, (track, side) in enumerate(tracks):
        for p, pad in enumerate(pads):
            if side in pad.sides and _meets(pad, shapes[k]):
                parent[root(count + k)] = root(p)
        for other in range(k):
            if tracks[other][0].side is track.side and shapes[k].distance(shapes[other]) <= TOUCH:
                parent[root(count + k)] = root(count + other)
    found: list[tuple[Joint, ...]] = []
    pieces: dict[int, list[int]] = {}
    for i in range(len(parent)):
        pieces.setdefault(root(i), []).append(i)
    for members in sorted(pieces.values()):
        free = _free_ends(members, count, pads, tracks, shapes)
        own = [i for i in members if i < real]
        if free:
            found.append(free)
        elif own:
            found.append(tuple(Joint(i) for i in own))
        elif members[-1] >= count:
            k = next(i for i in members if i >= count) - count
            found.append((Joint(None, k, tracks[k][0].start),))
    return found


def _meets(pad: Reach, shape: Shape) -> bool:
    if shape.skeleton.distance(ShapelyPoint(pad.at)) <= shape.radius + TOUCH:
        return True
    return any(line.distance(shape.skeleton) - pad.radius - shape.radius <= TOUCH for line in pad.lines)


def _free_ends(
    members: Sequence[int],
    count: int,
    pads: Sequence[Reach],
    tracks: Sequence[tuple[Track, int]],
    shapes: Sequence[Shape],
) -> tuple[Joint, ...]:
    """Return the ends of the piece's tracks that lie on nothing else of it."""
    mine = [i - count for i in members if i >= count]
    found = []
    for k in mine:
        track, side = tracks[k]
        for end in dict.fromkeys((track.start, track.end)):
            tip = Shape(ShapelyPoint(end), 0.0)
            on_pad = any(side in pads[i].sides and _meets(pads[i], tip) for i in members if i < count)
            on_track = any(
                other != k and tracks[other][0].side is track.side and shapes[other].distance(tip) <= TOUCH
                for other in mine
            )
            if not on_pad and not on_track:
                found.append(Joint(None, k, end))
    return tuple(found)


def lines_of(rows: Sequence[tuple[float, float, float, float]]) -> tuple[BaseGeometry, ...]:
    """Return rows of segments as geometry; a segment without length is a point."""
    return tuple(
        ShapelyPoint(ax, ay) if (ax, ay) == (bx, by) else LineString([(ax, ay), (bx, by)])
        for ax, ay, bx, by in rows
    )


def hindrance(board: Board, fab: FabClass, track: Track) -> str:
    """Return what keeps a locked *track* from lying where it lay, "" where nothing does.

    Looks at pads and holes of other nets, at the profile, and at what the fab class makes.
    """
    if track.net not in {net.name for net in board.nets}:
        return f"there is no net {track.net} any more"
    if track.side not in board.copper:
        return f"the fab class has no {track.side.value} copper"
    if track.width < fab.track_min:
        return f"the fab class makes no track of {track.width.mm:g} mm"
    shape = track_shape(track)
    area = outline_polygon(board.outline)
    if not area.covers(shape.skeleton) or area.boundary.distance(shape.skeleton) < _far(
        fab.edge_copper_min, track
    ):
        return "the edge of the board is too near"
    for part in board.parts:
        for pad in part.footprint.pads:
            name = f"{part.ref} pad {pad.number}" if pad.number else part.ref
            if track.side not in sides_of(part, pad, board.copper):
                if pad.hole is not None and hole_shape(part, pad).distance(shape) < fab.npth_copper_min:
                    return f"the hole of {name} is too near"
                continue
            if part.net_of(pad.number) == track.net:
                continue
            if pad_shape(part, pad).distance(shape) < fab.gap_min:
                return f"{name} is in its way"
    for keepout in board.keepouts:
        if shape.distance(Shape(Polygon(keepout.ring), 0.0)) <= 0:
            return f"no copper may lie there: {keepout.reason}"
    return ""


def _far(edge: Nm, track: Track) -> float:
    return float(edge) + track.width / 2


def via_hindrance(board: Board, fab: FabClass, via: Via, tracks: Sequence[Track]) -> str:
    """Return what keeps a locked *via* from its place, "" where nothing does; *tracks* are locked and lie."""
    if via.net not in {net.name for net in board.nets}:
        return f"there is no net {via.net} any more"
    if not board.plated or len(board.copper) < 2:
        return "the fab class makes no vias"
    if via.hole < fab.hole_min or via.diameter < max(fab.via_diameter_min, via.hole + 2 * fab.ring_min):
        return f"the fab class makes no via of {via.diameter.mm:g} mm with a hole of {via.hole.mm:g} mm"
    copper, hole = (Shape(ShapelyPoint(via.at), size / 2) for size in (via.diameter, via.hole))
    area = outline_polygon(board.outline)
    if not area.covers(copper.skeleton) or area.boundary.distance(copper.skeleton) < copper.radius + float(
        fab.edge_copper_min
    ):
        return "the edge of the board is too near"
    for part in board.parts:
        for pad in part.footprint.pads:
            name = f"{part.ref} pad {pad.number}" if pad.number else part.ref
            if pad.hole is not None and hole_shape(part, pad).distance(hole) < fab.hole_gap_min:
                return f"the hole of {name} is too near"
            if part.net_of(pad.number) == via.net or not sides_of(part, pad, board.copper):
                continue
            if pad_shape(part, pad).distance(copper) < fab.gap_min:
                return f"{name} is in its way"
    for keepout in board.keepouts:
        if copper.distance(Shape(Polygon(keepout.ring), 0.0)) <= 0:
            return f"no copper may lie there: {keepout.reason}"
    near = [track for track in tracks if track_shape(track).distance(copper) < fab.gap_min]
    for track in near:
        if track.net != via.net:
            return f"a locked track of {track.net} is in its way"
    own = {track.side for track in near if track_shape(track).distance(copper) <= TOUCH}
    if len(own) < 2:
        return "no locked tracks meet it on both sides"
    return ""


def usable_vias(
    board: Board, fab: FabClass, wishes: Sequence[Via], tracks: Sequence[Track]
) -> tuple[Via, ...]:
    """Return the vias of *wishes* that can lie on *board* with those locked *tracks*; of two the first."""
    found: list[Via] = []
    for via in wishes:
        apart = all(
            via.at.distance(other.at) >= (via.hole + other.hole) / 2 + fab.hole_gap_min for other in found
        )
        if apart and not via_hindrance(board, fab, via, tracks):
            found.append(via)
    return tuple(found)


def usable_tracks(board: Board, fab: FabClass, wishes: Sequence[tuple[Track, ...]]) -> tuple[Track, ...]:
    """Return the tracks of those *wishes* (a person's track each, leg by leg) that can lie on *board*.

    A wish lies whole or not at all; of two that clash the first stays.
    """
    found: list[Track] = []
    for legs in wishes:
        if any(hindrance(board, fab, leg) for leg in legs):
            continue
        clash = any(
            other.net != leg.net
            and other.side is leg.side
            and track_shape(other).distance(track_shape(leg)) < fab.gap_min
            for leg in legs
            for other in found
        )
        if not clash:
            found.extend(legs)
    return tuple(found)
