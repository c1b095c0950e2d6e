"""Faults of copper against copper, holes, keepouts and edge."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import shapely
from shapely.geometry.base import BaseGeometry

from boardgen.board.geometry import Copper, Shape, hole_shape, pad_shape, track_shape
from boardgen.board.model import Board, Keepout, Part, PartKind, Placement, PourPiece, Side, Track, Via
from boardgen.footprint.model import Footprint, Pad, PadKind, PadShape
from boardgen.units import ZERO, Box, Nm, Point, Size, nm
from tests.mutation.boards import Ground
from tests.mutation.judge import SLACK, Judge, gaps_to, least
from tests.mutation.kind import UM, Job, Planted, kind, with_pad


def with_track(board: Board, old: Track, *new: Track) -> tuple[Track, ...]:
    """All tracks with *old* (by identity) replaced by *new*."""
    return tuple(t for track in board.tracks for t in (new if track is old else (track,)))


def is_pad(copper: Copper) -> bool:
    return bool(copper.ref)


def is_track(copper: Copper) -> bool:
    return isinstance(copper.source, Track)


def is_via(copper: Copper) -> bool:
    return isinstance(copper.source, Via)


def is_pour(copper: Copper) -> bool:
    return isinstance(copper.source, PourPiece)


def widened(job: Job, wanted: Callable[[Copper], bool]) -> Planted | None:
    """A track widened to the limit from its nearest foreign copper, which is of the *wanted* sort."""
    judge = job.judge
    for track in job.shuffled(job.board.tracks):
        shape = track_shape(track)
        others = judge.foreign(track.net, track.side)
        gaps = gaps_to(shape, [c.shape for c in others])
        if not len(gaps) or not wanted(others[int(gaps.argmin())]):
            continue
        grow = float(gaps.min()) - judge.fab.gap_min
        grown = Shape(shape.skeleton, shape.radius + grow)
        if grow < 2 * SLACK or not judge.ground_free(Shape(grown.skeleton, grown.radius + SLACK)):
            continue
        wide = replace(track, width=nm(track.width + 2 * (grow - job.by)))
        near = others[int(gaps.argmin())]
        where = grown.polygon(judge.fab.gap_min + UM).intersection(near.shape.polygon(UM))
        return job.planted(where, tracks=with_track(job.board, track, wide))
    return None


@kind("track-width")
def thin_track(job: Job) -> Planted | None:
    if not job.board.tracks:
        return None
    track = job.draw.choice(job.board.tracks)
    thin = replace(track, width=Nm(job.ground.fab.track_min + job.by))
    return job.planted(track_shape(track).skeleton, tracks=with_track(job.board, track, thin))


@kind("spacing")
def track_near_track(job: Job) -> Planted | None:
    return widened(job, is_track)


@kind("spacing")
def track_near_pad(job: Job) -> Planted | None:
    return widened(job, is_pad)


@kind("spacing", bare=False)
def track_near_pour(job: Job) -> Planted | None:
    return widened(job, is_pour)


@dataclass(frozen=True)
class Dive:
    """A board whose track goes by *via* to the other side and back; *track* is what was there before."""

    job: Job
    via: Via
    track: Track


def dive(job: Job) -> Dive | None:
    """A clean board with two vias more: a straight track led over the other side on its middle part."""
    board, fab, judge = job.board, job.ground.fab, job.judge
    if len(board.copper) < 2:
        return None
    across = Nm(fab.via_diameter + 20_000)  # hole and ring may both be 1 um above their limits
    for track in job.shuffled(board.tracks):
        length = track.start.distance(track.end)
        if length < 4 * fab.via_diameter:
            continue

        def at(share: float, track: Track = track) -> Point:
            return Point(
                nm(track.start.x + share * (track.end.x - track.start.x)),
                nm(track.start.y + share * (track.end.y - track.start.y)),
            )

        places = (at(0.3), at(0.7))
        vias = [Via(track.net, place, across, fab.via_hole) for place in places]
        middle = replace(track, side=track.side.other, start=places[0], end=places[1])
        rings = [Shape(shapely.Point(p), across / 2) for p in places]
        drills = [Shape(shapely.Point(p), fab.via_hole / 2) for p in places]
        if not all(judge.copper_free(ring, track.net, board.copper) for ring in rings):
            continue
        # Nothing of its own net there, so that the via alone joins the sides.
        own = [c.shape for c in judge.copper if c.net == track.net and c.source is not track]
        if (
            not judge.copper_free(track_shape(middle), track.net, (middle.side,))
            or least(track_shape(middle), own) < SLACK
        ):
            continue
        room = [Shape(d.skeleton, d.radius + fab.via_diameter / 2) for d in drills]
        if any(least(ring, own) < fab.via_diameter for ring in rings) or not all(map(judge.hole_free, room)):
            continue
        if drills[0].distance(drills[1]) < fab.hole_gap_min + 2 * fab.via_diameter:
            continue
        ends = (replace(track, end=places[0]), replace(track, start=places[1]))
        made = replace(
            board,
            tracks=with_track(board, track, ends[0], middle, ends[1]),
            vias=(*board.vias, *vias),
        )
        ground = replace(job.ground, board=made)
        return Dive(replace(job, ground=ground, judge=Judge(made, fab)), vias[0], track)
    return None


def via_changed(made: Dive, via: Via, where: BaseGeometry | None = None) -> Planted:
    vias = tuple(via if v is made.via else v for v in made.job.board.vias)
    return made.job.planted(where or shapely.Point(made.via.at), vias=vias)


@kind("spacing")
def track_near_via(job: Job) -> Planted | None:
    """The via grown until it is at the limit from its nearest foreign copper."""
    made = dive(job)
    if made is None:
        return None
    judge = made.job.judge
    ring = Shape(shapely.Point(made.via.at), made.via.diameter / 2)
    others = [c.shape for side in made.job.board.copper for c in judge.foreign(made.via.net, side)]
    if not others:
        return None
    gaps = gaps_to(ring, others)
    grow = float(gaps.min()) - judge.fab.gap_min
    if not judge.ground_free(Shape(ring.skeleton, ring.radius + grow + SLACK)):
        return None
    where = shapely.shortest_line(ring.skeleton, others[int(gaps.argmin())].skeleton)
    return via_changed(made, replace(made.via, diameter=nm(made.via.diameter + 2 * (grow - job.by))), where)


@kind("stub")
def via_off_its_track(job: Job) -> Planted | None:
    """The via moved aside until it no longer touches the tracks that end there."""
    made = dive(job)
    if made is None:
        return None
    track, via = made.track, made.via
    length = track.start.distance(track.end)
    away = via.diameter / 2 + track.width / 2 - job.by
    for way in (1, -1):
        shift = (
            -way * (track.end.y - track.start.y) * away / length,
            way * (track.end.x - track.start.x) * away / length,
        )
        moved = Point(nm(via.at.x + shift[0]), nm(via.at.y + shift[1]))
        ring, hole = (Shape(shapely.Point(moved), d / 2 + SLACK) for d in (via.diameter, via.hole))
        judge = made.job.judge
        own = [h for h in judge.holes if h.skeleton.distance(shapely.Point(via.at)) > 10]
        if (
            not judge.copper_free(ring, via.net, made.job.board.copper)
            or least(hole, own) < judge.fab.hole_gap_min
        ):
            continue
        return via_changed(made, replace(via, at=moved))
    return None


@kind("annular-ring")
def via_ring_thin(job: Job) -> Planted | None:
    made = dive(job)
    ring = job.ground.fab.ring_min + job.by
    return made and via_changed(made, replace(made.via, hole=Nm(made.via.diameter - 2 * ring)))


@kind("annular-ring")
def via_too_small(job: Job) -> Planted | None:
    fab = job.ground.fab
    made = dive(job)
    size = Nm(fab.via_diameter_min + job.by)
    hole = Nm(min(fab.via_hole, fab.via_diameter_min - 2 * fab.ring_min))
    return made and via_changed(made, replace(made.via, diameter=size, hole=hole))


@kind("drill-size")
def via_hole_too_small(job: Job) -> Planted | None:
    made = dive(job)
    return made and via_changed(made, replace(made.via, hole=Nm(job.ground.fab.hole_min + job.by)))


def pads_of(job: Job, sort: PadKind | None = None):
    """(part, number, pad) of pads with a number, shuffled."""
    return job.shuffled(
        (part, i, pad)
        for part, i, pad in job.judge.pads
        if pad.number and part.kind is not PartKind.LINK and (sort is None or pad.kind is sort)
    )


def pad_sides(job: Job, part: Part, pad: Pad) -> list[Side]:
    return [c.side for c in job.judge.copper if c.source is pad and c.ref == part.ref]


def pad_clear(job: Job, part: Part, pad: Pad, old: Pad, spared: Shape | None = None) -> bool:
    """Whether *pad* in the place of *old* keeps mask webs, holes, rooms of the other side and legend."""
    judge, fab = job.judge, job.ground.fab
    shape = pad_shape(part, pad)
    opened = Shape(shape.skeleton, shape.radius + fab.mask_margin)
    for side in pad_sides(job, part, old):
        for copper, other in judge.openings(side):
            if copper is not None and (copper.source is old and copper.ref == part.ref):
                continue
            if spared is not None and other.skeleton is spared.skeleton:
                continue
            if opened.distance(other) < fab.mask_web_min + SLACK:
                return False
    if pad.hole is not None and old.hole is not None:
        was = hole_shape(part, old)
        hole = hole_shape(part, pad)
        others = [h for h in judge.holes if not h.skeleton.equals(was.skeleton)]
        if least(hole, others) < fab.hole_gap_min + SLACK:
            return False
    far = part.placement.side.other
    body = shape.polygon(SLACK)
    return not any(room.intersects(body) for ref, room in judge.rooms(far) if ref != part.ref)


@kind("spacing")
def pad_shifted(job: Job) -> Planted | None:
    """A land pattern whose pad is off, as far as the limit from the copper beside it."""
    judge, fab = job.judge, job.ground.fab
    for part, number, pad in pads_of(job):
        net = part.net_of(pad.number)
        sides = pad_sides(job, part, pad)
        if net is None or not sides or part.footprint.numbered(pad.number) != (pad,):
            continue
        shape = pad_shape(part, pad)
        others = [c for side in sides for c in judge.foreign(net, side) if not is_pad(c)]
        gaps = gaps_to(shape, [c.shape for c in others])
        if not len(gaps) or not 2 * SLACK < gaps.min() - fab.gap_min < min(pad.size) / 2:
            continue
        near = others[int(gaps.argmin())].shape
        (x1, y1), (x2, y2) = shapely.get_coordinates(shapely.shortest_line(shape.skeleton, near.skeleton))
        away = math.hypot(x2 - x1, y2 - y1)

        def moved(
            by: float,
            ux: float = (x2 - x1) / away,
            uy: float = (y2 - y1) / away,
            part: Part = part,
            pad: Pad = pad,
        ) -> Pad:
            frame = Placement(Point(ZERO, ZERO), 0.0, part.placement.side)
            turned = Point(nm(ux * by), nm(uy * by)).turned(-part.placement.rotation)
            local = frame.place(turned)
            return replace(pad, at=pad.at.plus(local))

        low, high = 0.0, min(pad.size) / 2
        for _ in range(40):
            middle = (low + high) / 2
            gap = pad_shape(part, moved(middle)).distance(near)
            low, high = (middle, high) if gap > fab.gap_min + job.by else (low, middle)
        new = moved(low)
        grown = pad_shape(part, new)
        rest = [c.shape for side in sides for c in judge.foreign(net, side, pad) if c.shape is not near]
        if (
            not judge.ground_free(grown)
            or least(grown, rest) < fab.gap_min + SLACK
            or not pad_clear(job, part, new, pad)
        ):
            continue
        ground = with_pad(job.ground, part.ref, number, new, library_too=True)
        return Planted(ground, shapely.shortest_line(grown.skeleton, near.skeleton))
    return None


@kind("spacing")
def pad_too_large(job: Job) -> Planted | None:
    """A pad grown to the limit from copper that is no pad."""
    judge, fab = job.judge, job.ground.fab
    for part, number, pad in pads_of(job):
        net = part.net_of(pad.number)
        sides = pad_sides(job, part, pad)
        if net is None or not sides or pad.shape not in (PadShape.CIRCLE, PadShape.OVAL):
            continue
        shape = pad_shape(part, pad)
        others = [c for side in sides for c in judge.foreign(net, side)]
        gaps = gaps_to(shape, [c.shape for c in others])
        if not len(gaps) or is_pad(others[int(gaps.argmin())]):
            continue
        grow = float(gaps.min()) - fab.gap_min
        by = nm(2 * (grow - job.by))
        new = replace(pad, size=Size(pad.size.w + by, pad.size.h + by))
        grown = pad_shape(part, new)
        if grow < 2 * SLACK or not judge.ground_free(Shape(grown.skeleton, grown.radius + SLACK)):
            continue
        if pad_clear(job, part, new, pad):
            ground = with_pad(job.ground, part.ref, number, new, library_too=True)
            return Planted(
                ground, shapely.shortest_line(shape.skeleton, others[int(gaps.argmin())].shape.skeleton)
            )
    return None


@kind("mask-web")
def mask_sliver(job: Job) -> Planted | None:
    """A pad grown until the mask between it and the next is at the limit."""
    judge, fab = job.judge, job.ground.fab
    if fab.mask_web_min <= 0:
        return None
    for part, number, pad in pads_of(job):
        sides = pad_sides(job, part, pad)
        if not sides or pad.shape not in (PadShape.CIRCLE, PadShape.OVAL):
            continue
        net = part.net_of(pad.number)
        opened = Shape(pad_shape(part, pad).skeleton, pad_shape(part, pad).radius + fab.mask_margin)
        others = [
            (c, s) for side in sides for c, s in judge.openings(side) if c is not None and c.source is not pad
            and (net is None or c.net != net)
        ]  # fmt: skip
        gaps = gaps_to(opened, [s for _, s in others])
        if not len(gaps):
            continue
        grow = float(gaps.min()) - fab.mask_web_min
        by = nm(2 * (grow - job.by))
        new = replace(pad, size=Size(pad.size.w + by, pad.size.h + by))
        grown = pad_shape(part, new)
        rest = [c.shape for side in sides for c in judge.foreign(net, side, pad)]
        own = [c.shape for c in judge.copper if c.ref and c.net == net and c.source is not pad]
        if grow < 2 * SLACK or least(grown, rest) < fab.gap_min + SLACK or not judge.ground_free(grown):
            continue
        if net is not None and least(grown, own) < fab.mask_web_min + 2 * fab.mask_margin + SLACK:
            continue
        where = shapely.shortest_line(opened.skeleton, others[int(gaps.argmin())][1].skeleton)
        far = part.placement.side.other
        if any(room.intersects(grown.polygon(SLACK)) for ref, room in judge.rooms(far) if ref != part.ref):
            continue
        return Planted(with_pad(job.ground, part.ref, number, new, library_too=True), where)
    return None


def square(x: float, y: float, half: float) -> tuple[Point, Point, Point, Point]:
    """A small square about a place."""
    return Box(nm(x - half), nm(y - half), nm(x + half), nm(y + half)).corners()


def beside(job: Job, size: float, limit: float, things, own_gap: Callable[[Shape, object], bool]):
    """A place for a disc of diameter *size* at *limit* from one of *things*, where *own_gap* holds.

    Yields (thing, centre as floats, unit vector away from the thing).
    """
    for thing in job.shuffled(things):
        skeleton, radius = thing.shape.skeleton, thing.shape.radius
        ends = shapely.get_coordinates(skeleton)
        (x1, y1), (x2, y2) = ends[0], ends[-1]
        x, y = (x1 + x2) / 2, (y1 + y2) / 2
        angle = math.atan2(y2 - y1, x2 - x1) + math.pi / 2 if (x1, y1) != (x2, y2) else job.draw.random() * 7
        for turn in (0.0, math.pi):
            ux, uy = math.cos(angle + turn), math.sin(angle + turn)
            away = radius + limit + size / 2
            centre = Shape(shapely.Point(x + ux * away, y + uy * away), size / 2)
            if own_gap(centre, thing):
                yield thing, (x + ux * away, y + uy * away), (ux, uy)


def tracks_as_copper(job: Job) -> list[Copper]:
    return [c for c in job.judge.copper if is_track(c) and len(c.shape.skeleton.coords) > 1]


@kind("spacing")
def track_near_bare_hole(job: Job) -> Planted | None:
    """A peg's hole beside a track."""
    judge, fab = job.judge, job.ground.fab
    size = 1.0e6

    def fits(disc: Shape, thing: object) -> bool:
        rest = [c.shape for c in judge.copper if c is not thing]
        openings = [s for side in Side for _, s in judge.openings(side)]
        wide = Shape(disc.skeleton, disc.radius + fab.mask_margin)
        return (
            least(disc, rest) >= fab.npth_copper_min + 2 * SLACK
            and judge.inside(disc, max(fab.hole_gap_min, fab.edge_copper_min))
            and least(disc, judge.holes) >= fab.hole_gap_min + 2 * SLACK
            and least(wide, openings) >= fab.mask_web_min + 2 * SLACK
            and not any(room.intersects(disc.polygon(SLACK)) for s in Side for _, room in judge.rooms(s))
        )

    if fab.drills:
        size = float(fab.drills[0])
    for thing, (x, y), (ux, uy) in beside(job, size, fab.npth_copper_min, tracks_as_copper(job), fits):
        at = Point(nm(x + ux * job.by), nm(y + uy * job.by))
        hole = Pad(
            "",
            PadKind.UNPLATED,
            PadShape.CIRCLE,
            Point(ZERO, ZERO),
            Size(nm(size), nm(size)),
            Size(nm(size), nm(size)),
        )
        new = Part("H99", "", Footprint("peg", (hole,)), Placement(at), PartKind.HOLE)
        where = shapely.shortest_line(thing.shape.skeleton, shapely.Point(at))
        return job.planted(where, parts=(*job.board.parts, new))
    return None


@kind("spacing")
def track_in_keepout(job: Job) -> Planted | None:
    judge = job.judge
    half = 200_000.0

    def fits(disc: Shape, thing: object) -> bool:
        rest = [c.shape for c in judge.copper if c is not thing and not c.ref]
        return least(disc, rest) >= half

    for thing, (x, y), (ux, uy) in beside(job, 2 * half, 0.0, tracks_as_copper(job), fits):
        dx, dy = x + ux * job.by, y + uy * job.by
        corners = [(-half, -half), (-half, half), (half, half), (half, -half)]
        # One side along the track.
        ring = tuple(Point(nm(dx + a * ux - b * uy), nm(dy + a * uy + b * ux)) for a, b in corners)
        where = shapely.shortest_line(thing.shape.skeleton, shapely.Polygon(ring))
        return job.planted(where, keepouts=(*job.board.keepouts, Keepout(ring, "a planted area")))
    return None


@kind("edge-distance")
def copper_at_the_edge(job: Job) -> Planted | None:
    """A cut-out beside a track."""
    judge, fab = job.judge, job.ground.fab
    half = 300_000.0
    limit = float(fab.edge_copper_min)

    def fits(disc: Shape, thing: object) -> bool:
        wide = Shape(disc.skeleton, half * 1.5)
        rest = [c.shape for c in judge.copper if c is not thing]
        rooms = any(room.intersects(wide.polygon()) for s in Side for _, room in judge.rooms(s))
        return (
            least(wide, rest) >= limit + 2 * SLACK
            and least(wide, judge.holes) >= fab.hole_gap_min + 2 * SLACK
            and judge.inside(wide, 100_000)
            and not rooms
        )

    for thing, (x, y), (ux, uy) in beside(job, 2 * half, limit, tracks_as_copper(job), fits):
        dx, dy = x + ux * job.by, y + uy * job.by
        corners = [(-half, -half), (-half, half), (half, half), (half, -half)]
        ring = tuple(Point(nm(dx + a * ux - b * uy), nm(dy + a * uy + b * ux)) for a, b in corners)
        where = shapely.shortest_line(thing.shape.skeleton, shapely.Polygon(ring))
        return job.planted(where, outline=with_cutout(job.board, ring))
    return None


def with_cutout(board: Board, ring: tuple[Point, ...]):
    from boardgen.board.model import outline_from_ring

    return replace(board.outline, cutouts=(*board.outline.cutouts, outline_from_ring(ring).outer))


__all__ = ["Dive", "Ground", "beside", "dive", "square", "tracks_as_copper", "with_cutout", "with_track"]
