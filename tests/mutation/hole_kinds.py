"""Faults of holes."""

from __future__ import annotations

import math
from dataclasses import replace

import shapely

from boardgen.board.geometry import Shape, hole_shape, pad_shape
from boardgen.board.model import Via
from boardgen.footprint.model import Pad, PadKind, PadShape
from boardgen.units import Nm, Point, Size, nm
from tests.mutation.copper_kinds import pads_of, square, with_cutout
from tests.mutation.judge import SLACK, least
from tests.mutation.kind import Job, Planted, kind, with_pad


def round_pads(job: Job):
    """Plated pads as wide as they are high with a round hole, where any drill is to be had."""
    for part, number, pad in pads_of(job, PadKind.PLATED):
        if (
            pad.hole is not None
            and pad.hole.w == pad.hole.h
            and pad.size.w == pad.size.h
            and not job.ground.fab.drills
        ):
            yield part, number, pad


def with_hole(job: Job, part, number: int, pad: Pad, size: int) -> Planted:
    new = replace(pad, hole=Size(Nm(size), Nm(size)))
    ground = with_pad(job.ground, part.ref, number, new, library_too=True)
    return Planted(ground, shapely.Point(part.placement.place(pad.at)))


@kind("annular-ring")
def hole_enlarged(job: Job) -> Planted | None:
    fab = job.ground.fab
    for part, number, pad in round_pads(job):
        size = pad.size.w - 2 * (fab.ring_min + job.by)
        was = hole_shape(part, pad)
        hole = Shape(was.skeleton, size / 2 + SLACK)
        if job.judge.hole_free(hole, was) and size + SLACK < fab.hole_max:
            return with_hole(job, part, number, pad, size)
    return None


@kind("drill-size")
def hole_reduced(job: Job) -> Planted | None:
    for part, number, pad in round_pads(job):
        return with_hole(job, part, number, pad, job.ground.fab.hole_min + job.by)
    return None


@kind("drill-size")
def hole_too_large(job: Job) -> Planted | None:
    """A pad and its hole grown together to the largest drill."""
    fab = job.ground.fab
    for part, number, pad in round_pads(job):
        size = fab.hole_max - job.by
        across = size + 2 * fab.ring_min + 100_000
        if part.footprint.numbered(pad.number) != (pad,):
            continue
        new = replace(
            pad, hole=Size(Nm(size), Nm(size)), size=Size(Nm(across), Nm(across)), shape=PadShape.CIRCLE
        )
        # It would swallow its neighbours, so they are taken away.
        ground = with_pad(job.ground, part.ref, number, new, library_too=True)
        board = replace(
            ground.board,
            parts=tuple(
                replace(p, footprint=replace(p.footprint, pads=(new,), graphics=()), nets=())
                for p in ground.board.parts
                if p.ref == part.ref
            ),
            tracks=(),
            vias=(),
            keepouts=(),
        )
        grown = pad_shape(part, new)
        if not job.judge.inside(grown, fab.edge_copper_min):
            continue
        return Planted(replace(ground, board=board, netlist=None), grown.skeleton)
    return None


@kind("drill-size", limited=False)
def drill_not_on_the_list(job: Job) -> Planted | None:
    """Where only some drills are to be had: one between them."""
    fab = job.ground.fab
    for part, number, pad in pads_of(job, PadKind.PLATED):
        if not fab.drills or pad.hole is None or pad.hole.w != pad.hole.h:
            continue
        return with_hole(job, part, number, pad, int(pad.hole.w) - 10_000)
    return None


@kind("annular-ring")
def pad_ring_thin(job: Job) -> Planted | None:
    """The pad's copper shrunk."""
    fab = job.ground.fab
    for part, number, pad in round_pads(job):
        assert pad.hole is not None
        size = Nm(pad.hole.w + 2 * (fab.ring_min + job.by))
        new = replace(pad, size=Size(size, size))
        ground = with_pad(job.ground, part.ref, number, new, library_too=True)
        return Planted(ground, shapely.Point(part.placement.place(pad.at)))
    return None


@kind("annular-ring", limited=False)
def bare_hole_plated(job: Job) -> Planted | None:
    """A peg's or screw's hole said to be plated, with no copper round it."""
    for part, number, pad in job.shuffled(job.judge.pads):
        if pad.kind is not PadKind.UNPLATED:
            continue
        new = replace(pad, kind=PadKind.PLATED)
        ground = with_pad(job.ground, part.ref, number, new, library_too=True)
        return Planted(ground, shapely.Point(part.placement.place(pad.at)))
    return None


@kind("drill-size", limited=False, bare=False)
def missing_drill(job: Job) -> Planted | None:
    """A pad or peg without its hole; the library is as wrong."""
    for part, number, pad in job.shuffled(job.judge.pads):
        if pad.kind is PadKind.SURFACE:
            continue
        ground = with_pad(job.ground, part.ref, number, replace(pad, hole=None), library_too=True)
        return Planted(ground, pad_shape(part, pad).polygon())
    return None


@kind("footprint", limited=False, bare=False)
def missing_pad(job: Job) -> Planted | None:
    """A pad of the land pattern that is not on the board."""
    for part, number, pad in pads_of(job):
        return Planted(
            with_pad(job.ground, part.ref, number, None, library_too=False), pad_shape(part, pad).polygon()
        )
    return None


@kind("footprint", limited=False, bare=False)
def hole_of_another_size(job: Job) -> Planted | None:
    """A hole that every rule allows, but not the one of the land pattern."""
    for part, number, pad in pads_of(job, PadKind.PLATED):
        assert pad.hole is not None
        new = replace(pad, hole=Size(Nm(pad.hole.w - 100_000), Nm(pad.hole.h - 100_000)))
        ground = with_pad(job.ground, part.ref, number, new, library_too=False)
        return Planted(ground, pad_shape(part, pad).polygon())
    return None


@kind("hole-spacing")
def hole_at_hole(job: Job) -> Planted | None:
    """A via of the same net so near that its hole and the pad's are at the limit."""
    fab, board = job.ground.fab, job.board
    if len(board.copper) < 2:
        return None
    for part, _, pad in pads_of(job, PadKind.PLATED):
        net = part.net_of(pad.number)
        if net is None or pad.hole is None or pad.hole.w != pad.hole.h:
            continue
        at = part.placement.place(pad.at)
        away = pad.hole.w / 2 + fab.via_hole / 2 + fab.hole_gap_min + job.by
        angle = job.draw.choice(range(8)) * math.pi / 4
        place = Point(nm(at.x + away * math.cos(angle)), nm(at.y + away * math.sin(angle)))
        ring = Shape(shapely.Point(place), fab.via_diameter / 2)
        hole = Shape(ring.skeleton, fab.via_hole / 2 + SLACK)
        if ring.distance(pad_shape(part, pad)) > -SLACK or not job.judge.copper_free(ring, net, board.copper):
            continue
        own = hole_shape(part, pad)
        if (
            least(hole, [h for h in job.judge.holes if not h.skeleton.equals(own.skeleton)])
            < fab.hole_gap_min + SLACK
        ):
            continue
        via = Via(net, place, fab.via_diameter, fab.via_hole)
        return job.planted(ring.skeleton, vias=(*board.vias, via))
    return None


@kind("edge-distance")
def hole_at_the_edge(job: Job) -> Planted | None:
    """A cut-out beside an unplated hole."""
    judge, fab = job.judge, job.ground.fab
    half = 300_000
    for part, _, pad in job.shuffled(judge.pads):
        if pad.kind is not PadKind.UNPLATED or pad.hole is None or pad.hole.w != pad.hole.h:
            continue
        at = part.placement.place(pad.at)
        for dx, dy in job.shuffled(((1, 0), (-1, 0), (0, 1), (0, -1))):
            away = pad.hole.w // 2 + fab.hole_gap_min + half + job.by
            ring = square(at.x + dx * away, at.y + dy * away, half)
            wide = Shape(shapely.Polygon(ring), 0.0)
            own = hole_shape(part, pad)
            rest = [h for h in judge.holes if not h.skeleton.equals(own.skeleton)]
            if (
                least(wide, [c.shape for c in judge.copper]) >= fab.edge_copper_min + SLACK
                and least(wide, rest) >= fab.hole_gap_min + SLACK
                and judge.inside(wide, 100_000)
                and not any(
                    room.intersects(wide.skeleton)
                    for side in board_sides()
                    for ref, room in judge.rooms(side)
                    if ref != part.ref
                )
            ):
                return job.planted(
                    shapely.shortest_line(own.skeleton, wide.skeleton), outline=with_cutout(job.board, ring)
                )
    return None


def board_sides():
    from boardgen.board.model import Side

    return tuple(Side)
