"""Faults of what is joined: cut, bridged, swapped, left over."""

from __future__ import annotations

from dataclasses import replace

import shapely
from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from boardgen.board.geometry import Shape, pad_shape, piece_polygon, polygons_of, ring_of, track_shape
from boardgen.board.model import Board, PartKind, Pour, PourPiece, Side, Track
from boardgen.footprint.model import PadKind
from boardgen.units import Nm, Point, nm
from tests.mutation.boards import Ground
from tests.mutation.copper_kinds import pad_sides, pads_of, with_track
from tests.mutation.judge import SLACK, Judge, bodies, gaps_to, least
from tests.mutation.kind import Job, Planted, kind, with_pad


def along(track: Track, share: float) -> Point:
    dx, dy = track.end.x - track.start.x, track.end.y - track.start.y
    return Point(nm(track.start.x + share * dx), nm(track.start.y + share * dy))


@kind("unconnected")
def cut_track(job: Job) -> Planted | None:
    """A track in two parts whose round ends just do not touch (1 um inside: they do)."""
    for track in job.shuffled(job.board.tracks):
        length = track.start.distance(track.end)
        gap = track.width - job.by  # from end to end
        if length < 3 * track.width:
            continue
        half = gap / 2 / length
        cut = (replace(track, end=along(track, 0.5 - half)), replace(track, start=along(track, 0.5 + half)))
        made = with_track(job.board, track, *cut)
        wide = 20 * SLACK / length
        clear = with_track(
            job.board,
            track,
            replace(track, end=along(track, 0.5 - half - wide)),
            replace(track, start=along(track, 0.5 + half + wide)),
        )
        if bodies(Judge(replace(job.board, tracks=clear), job.ground.fab), track.net) != 2:
            continue  # something else joins it too
        # Nothing else of its net lies at the ends, which would make a stub of neither.
        return job.planted(LineString([cut[0].end, cut[1].start]), tracks=made)
    return None


def poured(board: Board, change) -> tuple[Pour, ...]:
    """All pours with each side's area changed."""
    made = []
    for pour in board.pours:
        area = change(pour, shapely.union_all([piece_polygon(p) for p in pour.pieces]))
        pieces = tuple(
            PourPiece(ring_of(p), tuple(ring_of(Polygon(hole)) for hole in p.interiors))
            for p in polygons_of(area)
            if p.area > 1e9
        )
        made.append(replace(pour, pieces=pieces))
    return tuple(made)


def bodies_of(board: Board, ground: Ground, net: str) -> int:
    return bodies(Judge(board, ground.fab), net)


@kind("unconnected", limited=False, bare=False)
def cut_pour(job: Job) -> Planted | None:
    """A slit of 10 um through the pours of both sides."""
    if not job.board.pours:
        return None
    net = job.board.pours[0].net
    left, top, right, bottom = job.judge.area.bounds
    for _ in range(12):
        if job.draw.random() < 0.5:
            x = job.draw.uniform(0.2, 0.8) * (right - left) + left
            line = LineString([(x, top - 1e6), (x, bottom + 1e6)])
        else:
            y = job.draw.uniform(0.2, 0.8) * (bottom - top) + top
            line = LineString([(left - 1e6, y), (right + 1e6, y)])
        slit = line.buffer(5_000, cap_style="flat")
        if any(
            c.net == net and not _is_pour(c) and c.shape.skeleton.dwithin(line, c.shape.radius + 10_000)
            for c in job.judge.copper
        ):
            continue  # through a pad or track: another fault
        pours = poured(job.board, lambda _, area, slit=slit: area.difference(slit))
        if bodies_of(replace(job.board, pours=pours), job.ground, net) > 1:
            return job.planted(line, pours=pours)
    return None


def _is_pour(copper) -> bool:
    return isinstance(copper.source, PourPiece)


@kind("unconnected", limited=False, bare=False)
def missing_thermal(job: Job) -> Planted | None:
    """Every spoke of a pad cut away."""
    if not job.board.pours:
        return None
    net = job.board.pours[0].net
    for part, _, pad in pads_of(job):
        if part.net_of(pad.number) != net:
            continue
        shape = pad_shape(part, pad)
        ring = shape.polygon(job.ground.fab.thermal_gap)
        pours = poured(job.board, lambda _, area, ring=ring: area.difference(ring))
        if bodies_of(replace(job.board, pours=pours), job.ground, net) > 1:
            return job.planted(ring, pours=pours)
    return None


@kind("short", limited=False, bare=False)
def pour_bridge(job: Job) -> Planted | None:
    """A sliver of pour left between the pour and foreign copper."""
    for pour in job.shuffled(job.board.pours):
        area = shapely.union_all([piece_polygon(p) for p in pour.pieces])
        others = [c for c in job.judge.foreign(pour.net, pour.side) if not _is_pour(c)]
        if not others:
            continue
        other = job.draw.choice(others)
        line = shapely.shortest_line(other.shape.skeleton, area)
        if line.length < 1:
            continue
        (x1, y1), (x2, y2) = shapely.get_coordinates(line)
        far = 1 + 60_000 / line.length
        bridge = LineString([(x1, y1), (x1 + far * (x2 - x1), y1 + far * (y2 - y1))]).buffer(
            60_000, cap_style="flat"
        )
        side = pour.side
        pours = poured(
            job.board,
            lambda p, area, side=side, bridge=bridge: area.union(bridge) if p.side is side else area,
        )
        return job.planted(line, pours=pours)
    return None


@kind("short", limited=False)
def track_bridge(job: Job) -> Planted | None:
    """A track more, between two pads of different nets."""
    for part, _, pad in pads_of(job):
        net = part.net_of(pad.number)
        sides = pad_sides(job, part, pad)
        if net is None or not sides:
            continue
        shape = pad_shape(part, pad)
        others = [c for c in job.judge.foreign(net, sides[0]) if c.ref and c.net is not None]
        gaps = gaps_to(shape, [c.shape for c in others])
        if not len(gaps):
            continue
        other = others[int(gaps.argmin())]
        ends = [Point(nm(s.centroid.x), nm(s.centroid.y)) for s in (shape.skeleton, other.shape.skeleton)]
        track = Track(net, sides[0], ends[0], ends[1], job.ground.fab.track)
        return job.planted(LineString(ends), tracks=(*job.board.tracks, track))
    return None


@kind("unconnected", limited=False, bare=False)
def swapped_nets(job: Job) -> Planted | None:
    """Two contacts exchanged on the board, not in the netlist."""
    for part in job.shuffled(p for p in job.board.parts if p.kind is not PartKind.LINK):
        nets = dict(part.nets)
        for one in job.shuffled(nets):
            for other, net in nets.items():
                if nets[one] == net:
                    continue
                swapped = {**nets, one: net, other: nets[one]}
                new = replace(part, nets=tuple(sorted(swapped.items())))
                where = shapely.union_all(
                    [pad_shape(part, p).polygon() for n in (one, other) for p in part.footprint.numbered(n)]
                )
                parts = tuple(new if p is part else p for p in job.board.parts)
                return job.planted(where, parts=parts)
    return None


@kind("unconnected", limited=False, bare=False)
def net_lost(job: Job) -> Planted | None:
    """A pad that has no net on the board."""
    for part, _, pad in pads_of(job):
        if part.net_of(pad.number) is None:
            continue
        new = replace(part, nets=tuple(pair for pair in part.nets if pair[0] != pad.number))
        where = shapely.union_all([pad_shape(part, p).polygon() for p in part.footprint.numbered(pad.number)])
        return job.planted(where, parts=tuple(new if p is part else p for p in job.board.parts))
    return None


@kind("unconnected", limited=False, bare=False)
def part_lost(job: Job) -> Planted | None:
    """A part of the netlist that is not on the board."""
    parts = [p for p in job.board.parts if p.kind not in (PartKind.HOLE, PartKind.LINK)]
    part = job.draw.choice(parts)
    return job.planted(job.judge.area, parts=tuple(p for p in job.board.parts if p is not part))


@kind("unconnected", limited=False, bare=False)
def part_unknown(job: Job) -> Planted | None:
    """A part with nets that the netlist does not have."""
    part = job.draw.choice([p for p in job.board.parts if p.nets and p.kind is not PartKind.LINK])
    netlist = job.ground.netlist
    assert netlist is not None
    rest = replace(netlist, parts=tuple(p for p in netlist.parts if p.ref != part.ref))
    where = shapely.union_all([pad_shape(part, pad).polygon() for pad in part.footprint.pads])
    return job.planted(where.convex_hull, rest)


def mirrored(ground: Ground, ref: str, library_too: bool) -> Ground:
    made = ground
    for part in ground.board.parts:
        if part.ref == ref:
            for number, pad in enumerate(part.footprint.pads):
                turned = replace(pad, at=Point(-pad.at.x, pad.at.y), rotation=-pad.rotation)
                made = with_pad(made, ref, number, turned, library_too)
    return made


def connectors(job: Job):
    """Connectors whose mirror image puts a contact where another net arrives."""
    for part in job.shuffled(p for p in job.board.parts if p.kind is PartKind.CONNECTOR):
        places = {(int(p.at.x), int(p.at.y)): part.net_of(p.number) for p in part.footprint.pads if p.number}
        if any(places.get((-x, y)) not in (net, None) for (x, y), net in places.items()):
            yield part


@kind("footprint", limited=False, bare=False)
def mirrored_connector(job: Job) -> Planted | None:
    """The land pattern on the board is the mirror image of the library's."""
    for part in connectors(job):
        where = shapely.union_all([pad_shape(part, pad).polygon() for pad in part.footprint.pads])
        return Planted(mirrored(job.ground, part.ref, False), where)
    return None


@kind("short", limited=False)
def mirrored_connector_of_the_library(job: Job) -> Planted | None:
    """The library's own pattern is as wrong: the copper arrives at other contacts."""
    for part in connectors(job):
        where = shapely.union_all([pad_shape(part, pad).polygon() for pad in part.footprint.pads])
        return Planted(mirrored(job.ground, part.ref, True), where.convex_hull)
    return None


@kind("footprint", bare=True)
def pad_off_its_pattern(job: Job) -> Planted | None:
    """One pad 1 um off the library's pattern (inside: off by no more than rounding)."""
    for part, number, pad in pads_of(job):
        off = (100_000 if job.coarse else 1_000) if job.by < 0 else 1
        new = replace(pad, at=Point(Nm(pad.at.x + off), pad.at.y))
        return Planted(with_pad(job.ground, part.ref, number, new, False), pad_shape(part, pad).polygon())
    return None


@kind("stub")
def stub(job: Job) -> Planted | None:
    """A track that leaves a pad and ends just beyond it (inside: just within)."""
    for part, _, pad in pads_of(job):
        net = part.net_of(pad.number)
        sides = pad_sides(job, part, pad)
        if net is None or not sides or part.footprint.numbered(pad.number) != (pad,):
            continue
        shape = pad_shape(part, pad)
        width = job.ground.fab.track
        angle_x, angle_y = job.draw.choice(((1, 0), (-1, 0), (0, 1), (0, -1)))
        at = part.placement.place(pad.at)
        # From the middle outward until the round end is off the pad.
        low, high = 0.0, 10e6
        for _ in range(60):
            middle = (low + high) / 2
            end = Shape(shapely.Point(at.x + angle_x * middle, at.y + angle_y * middle), width / 2)
            low, high = (middle, high) if end.distance(shape) < -job.by else (low, middle)
        end = Point(nm(at.x + angle_x * high), nm(at.y + angle_y * high))
        track = Track(net, sides[0], at, end, width)
        own = [
            c.shape for c in job.judge.copper if c.net == net and c.source is not pad and c.side is sides[0]
        ]
        wide = Shape(track_shape(track).skeleton, width / 2 + SLACK)
        if not job.judge.copper_free(wide, net, (sides[0],)):
            continue
        if least(Shape(shapely.Point(end), width / 2), own) < SLACK:
            continue
        return job.planted(shapely.Point(end), tracks=(*job.board.tracks, track))
    return None


@kind("isolated-copper")
def island(job: Job) -> Planted | None:
    """A patch of pour of a net that just does not touch the net's pad (inside: just touches)."""
    for part, _, pad in pads_of(job):
        net = part.net_of(pad.number)
        sides = pad_sides(job, part, pad)
        if net is None or not sides:
            continue
        shape = pad_shape(part, pad)
        at = part.placement.place(pad.at)
        half = 200_000
        dx, dy = job.draw.choice(((1, 0), (-1, 0), (0, 1), (0, -1)))
        low, high = 0.0, 10e6
        for _ in range(60):
            middle = (low + high) / 2
            patch = shapely.box(*_box(at.x + dx * middle, at.y + dy * middle, half))
            low, high = (middle, high) if Shape(patch, 0.0).distance(shape) < -job.by else (low, middle)
        # Touching is measured negative only for round things, so the patch is a polygon beside a radius.
        patch = Shape(shapely.box(*_box(nm(at.x + dx * high), nm(at.y + dy * high), half)), 0.0)
        own = [
            c.shape for c in job.judge.copper if c.net == net and c.side is sides[0] and c.source is not pad
        ]
        if (
            shape.radius < 10_000
            or not job.judge.copper_free(patch, net, (sides[0],))
            or least(patch, own) < SLACK
        ):
            continue
        fab = job.ground.fab
        ring = ring_of(patch.skeleton)
        new = Pour(
            net,
            sides[0],
            ring,
            (PourPiece(ring),),
            fab.pour_gap,
            fab.pour_min_width,
            fab.thermal_gap,
            fab.thermal_spoke,
        )
        return job.planted(patch.skeleton, pours=(*job.board.pours, new))
    return None


def _box(x: float, y: float, half: float) -> tuple[float, float, float, float]:
    return x - half, y - half, x + half, y + half


@kind("isolated-copper", limited=False)
def lost_track(job: Job) -> Planted | None:
    """A piece of track far from its net."""
    left, top, right, bottom = job.judge.area.bounds
    nets = sorted({t.net for t in job.board.tracks})
    if not nets:
        return None
    for _ in range(60):
        x, y = job.draw.uniform(left, right), job.draw.uniform(top, bottom)
        track = Track(
            job.draw.choice(nets),
            job.board.copper[-1],
            Point(nm(x), nm(y)),
            Point(nm(x + 1e6), nm(y)),
            job.ground.fab.track,
        )
        if job.judge.copper_free(track_shape(track), None, (track.side,)):
            return job.planted(track_shape(track).skeleton, tracks=(*job.board.tracks, track))
    return None


@kind("unconnected", limited=False)
def wrong_plating(job: Job) -> Planted | None:
    """A contact's hole without plating: no copper to solder to. The library is as wrong."""
    for part, number, pad in pads_of(job, PadKind.PLATED):
        net = part.net_of(pad.number)
        if net is None or len(part.footprint.numbered(pad.number)) > 1:
            continue
        new = replace(pad, kind=PadKind.UNPLATED)
        ground = with_pad(job.ground, part.ref, number, new, library_too=True)
        return Planted(ground, pad_shape(part, pad).polygon())
    return None


__all__ = ["BaseGeometry", "Side"]
