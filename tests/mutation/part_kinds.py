"""Faults of parts' rooms, of the profile and of the printing."""

from __future__ import annotations

import math
from dataclasses import replace

import shapely
from shapely import LineString

from boardgen.board.geometry import Shape, hole_shape, pad_shape
from boardgen.board.model import (
    Keepout,
    LegendItem,
    LegendLine,
    LegendText,
    Outline,
    OutlineLine,
    Part,
    PartKind,
    Placement,
    Serving,
    Side,
    outline_from_ring,
)
from boardgen.footprint.model import Footprint, Pad, PadKind, PadShape, PartLayer, Polygon
from boardgen.units import ORIGIN, ZERO, Box, Nm, Point, Size, mm, nm
from tests.mutation.copper_kinds import square, with_cutout
from tests.mutation.judge import FAR, SLACK, Judge, least
from tests.mutation.kind import UM, Job, Planted, kind

BODY = 600_000  # nm, half the side of a planted part's room


def planted_part(at: Point, side: Side, sort: PartKind = PartKind.HOLE, half: int = BODY) -> Part:
    """A part that is nothing but a room (as a hole it stands outside any netlist)."""
    corners = Box(Nm(-half), Nm(-half), Nm(half), Nm(half)).corners()
    room = Polygon(PartLayer.COURTYARD, corners, mm("0.05"))
    return Part("X99", "", Footprint("room", (), (room,)), Placement(at, 0.0, side), sort)


def far_pins(judge: Judge, side: Side) -> list[Shape]:
    """What comes out on *side* of parts mounted on the other."""
    return [
        pad_shape(p, pad) if pad.kind is PadKind.PLATED else hole_shape(p, pad)
        for p, _, pad in judge.pads
        if p.placement.side is not side and pad.kind is not PadKind.SURFACE
    ]


def room_free(judge: Judge, box: shapely.Polygon, side: Side, spared: str = "") -> bool:
    """Whether a room meets no other part, no pin from the other side and no area kept free of parts."""
    gap = judge.fab.courtyard_gap_min + SLACK
    return (
        min((box.distance(room) for ref, room in judge.rooms(side) if ref != spared), default=FAR) >= gap
        and all(box.distance(pin.skeleton) - pin.radius >= SLACK for pin in far_pins(judge, side))
        and all(box.distance(k.skeleton) >= SLACK for k in judge.keepouts)
    )


@kind("courtyard")
def courtyard_overlap(job: Job) -> Planted | None:
    """A part beside another, its room at the limit."""
    judge = job.judge
    limit = job.ground.fab.courtyard_gap_min
    for side in job.shuffled(Side):
        for ref, room in job.shuffled(judge.rooms(side)):
            left, top, right, bottom = room.bounds
            if not room.equals(shapely.box(left, top, right, bottom)):
                continue
            away = limit + BODY + job.by
            x, y = job.draw.uniform(left, right), job.draw.uniform(top, bottom)
            for at in job.shuffled(
                ((left - away, y), (right + away, y), (x, top - away), (x, bottom + away))
            ):
                place = Point(nm(at[0]), nm(at[1]))
                box = shapely.box(place.x - BODY, place.y - BODY, place.x + BODY, place.y + BODY)
                if room_free(judge, box, side, ref):
                    where = shapely.shortest_line(box, room).buffer(BODY)
                    return job.planted(where, parts=(*job.board.parts, planted_part(place, side)))
    return None


@kind("courtyard")
def part_on_pins(job: Job) -> Planted | None:
    """A part on the other side, its room at a pin."""
    judge = job.judge
    for part, _, pad in job.shuffled(judge.pads):
        side = part.placement.side.other
        if pad.kind is PadKind.SURFACE:
            continue
        pin = pad_shape(part, pad) if pad.kind is PadKind.PLATED else hole_shape(part, pad)
        at = part.placement.place(pad.at)
        left, _, right, _ = pin.bounds
        for dx, edge in ((1, right), (-1, left)):
            place = Point(nm(edge + dx * (BODY + job.by)), at.y)
            box = shapely.box(place.x - BODY, place.y - BODY, place.x + BODY, place.y + BODY)
            rest = [p for p in far_pins(judge, side) if not p.skeleton.equals(pin.skeleton)]
            free = all(box.distance(p.skeleton) - p.radius >= SLACK for p in rest)
            free = free and all(box.distance(room) >= SLACK for _, room in judge.rooms(side))
            free = free and all(box.distance(k.skeleton) >= SLACK for k in judge.keepouts)
            if free:
                return job.planted(pin.polygon(), parts=(*job.board.parts, planted_part(place, side)))
    return None


@kind("courtyard")
def part_in_keepout(job: Job) -> Planted | None:
    """An area kept free of parts too, at a part's room; no copper in it."""
    judge = job.judge
    half = 100_000
    for side in job.shuffled(Side):
        for ref, room in job.shuffled(judge.rooms(side)):
            part = job.board.part(ref)
            left, top, right, bottom = room.bounds
            if part.kind is PartKind.MODULE or not room.equals(shapely.box(left, top, right, bottom)):
                continue
            x, y = job.draw.uniform(left, right), job.draw.uniform(top, bottom)
            away = half + job.by
            for at in job.shuffled(
                ((left - away, y), (right + away, y), (x, top - away), (x, bottom + away))
            ):
                ring = square(at[0], at[1], half)
                area = shapely.Polygon(ring)
                rooms = [(r, p) for s in Side for r, p in judge.rooms(s) if r != ref or s is not side]
                clear = all(
                    job.board.part(r).kind is PartKind.MODULE or area.distance(p) >= SLACK for r, p in rooms
                )
                copper = (c.shape for c in judge.copper if not c.ref)
                clear = clear and all(area.distance(c.skeleton) - c.radius >= SLACK for c in copper)
                if clear:
                    keepout = Keepout(ring, "planted", parts_too=True)
                    return job.planted(area, keepouts=(*job.board.keepouts, keepout))
    return None


@kind("overhang")
def part_over_the_edge(job: Job) -> Planted | None:
    """A small part whose body reaches past a straight edge (its room is 0.25 mm wider than it)."""
    judge = job.judge
    body = BODY - 250_000
    for piece in job.shuffled(job.board.outline.outer):
        if not isinstance(piece, OutlineLine) or not (
            piece.start.x == piece.end.x or piece.start.y == piece.end.y
        ):
            continue
        share = job.draw.uniform(0.1, 0.9)
        x = piece.start.x + share * (piece.end.x - piece.start.x)
        y = piece.start.y + share * (piece.end.y - piece.start.y)
        length = piece.start.distance(piece.end)
        ux, uy = (piece.end.y - piece.start.y) / length, -(piece.end.x - piece.start.x) / length
        if judge.area.contains(shapely.Point(x + ux * 1e3, y + uy * 1e3)):
            ux, uy = -ux, -uy
        inward = body + job.by
        place = Point(nm(x - ux * inward), nm(y - uy * inward))
        inner = shapely.box(place.x - body, place.y - body, place.x + body, place.y + body)
        beyond = inner.difference(judge.area)
        box = shapely.box(place.x - BODY, place.y - BODY, place.x + BODY, place.y + BODY)
        if beyond.area > 3_000 * body or not room_free(judge, box, Side.TOP):
            continue
        if job.by > 0 and beyond.area > 0:
            continue
        new = planted_part(place, Side.TOP, PartKind.COMPONENT)
        made = job.planted(box, parts=(*job.board.parts, new))
        return replace(made, ground=replace(made.ground, netlist=None))
    return None


@kind("decoupling")
def capacitor_far(job: Job) -> Planted | None:
    """A capacitor whose pad is at its limit from the pin it serves, where nothing else is near."""
    judge, side = job.judge, job.board.copper[0]
    size = Size(mm("0.6"), mm("0.6"))
    own = Pad("1", PadKind.SURFACE, PadShape.CIRCLE, ORIGIN, size)
    for part, _, pad in job.shuffled(judge.pads):
        if not pad.number or len(part.footprint.numbered(pad.number)) > 1:
            continue
        pin = part.placement.place(pad.at)
        for ux, uy in job.shuffled(((1, 0), (-1, 0), (0, 1), (0, -1))):
            away = 10_000_000 - job.by
            at = Point(nm(pin.x + ux * away), nm(pin.y + uy * away))
            room = shapely.box(at.x - BODY, at.y - BODY, at.x + BODY, at.y + BODY)
            spot = Shape(shapely.Point(at), 300_000.0)
            if (
                not judge.area.covers(room.buffer(SLACK))
                or least(spot, [c.shape for c in judge.copper]) < 1_000_000
                or least(spot, judge.holes) < 1_000_000
                or not judge.inside(spot, job.ground.fab.edge_copper_min)
                or not room_free(judge, room, side)
            ):
                continue
            blank = planted_part(at, side, PartKind.COMPONENT)
            print_ = replace(blank.footprint, pads=(own,), through_hole=False)
            new = replace(blank, ref="C99", footprint=print_, serves=Serving(part.ref, ("1",), (pad.number,)))
            made = job.planted(spot.skeleton, parts=(*job.board.parts, new))
            return replace(made, ground=replace(made.ground, netlist=None))
    return None


@kind("overhang")
def connector_set_back(job: Job) -> Planted | None:
    """The board longer before a connector's mating face (its far half moved out: all else stays)."""
    judge = job.judge
    for part in job.shuffled(job.board.parts):
        front = part.front
        if front is None:
            continue
        middle = Nm((front.left + front.right) // 2)
        edge = part.placement.place(Point(middle, front.edge))
        away = part.placement.place(Point(middle, Nm(front.edge + 1_000_000)))
        ux, uy = (away.x - edge.x) // 1_000_000, (away.y - edge.y) // 1_000_000
        if abs(ux) + abs(uy) != 1:
            continue
        left, top, right, bottom = judge.area.bounds
        ends = [x * ux + y * uy for x, y in ((left, top), (right, bottom))]
        more = nm(edge.x * ux + edge.y * uy + 200_000 - job.by - max(ends))
        if more <= UM or set(judge.area.interiors):
            continue

        def moved(
            at: Point, half: float = sum(ends) / 2, ux: int = ux, uy: int = uy, by: int = more
        ) -> Point:
            return Point(at.x + ux * by, at.y + uy * by) if at.x * ux + at.y * uy > half else at

        outer = tuple(
            replace(piece, start=moved(piece.start), end=moved(piece.end))
            if isinstance(piece, OutlineLine)
            else replace(piece, start=moved(piece.start), mid=moved(piece.mid), end=moved(piece.end))
            for piece in job.board.outline.outer
        )
        ends_at = [part.placement.place(Point(x, front.edge)) for x in (front.left, front.right)]
        return job.planted(LineString(ends_at), outline=replace(job.board.outline, outer=outer))
    return None


@kind("overhang", limited=False)
def pad_outside(job: Job) -> Planted | None:
    """A cut-out where a pad is."""
    for part, _, pad in job.shuffled(job.judge.pads):
        if not pad.number:
            continue
        shape = pad_shape(part, pad)
        left, top, right, bottom = shape.bounds
        ring = Box(nm(left - 50_000), nm(top - 50_000), nm(right + 50_000), nm(bottom + 50_000)).corners()
        if job.judge.area.contains_properly(shapely.Polygon(ring)):
            return job.planted(shape.skeleton, outline=with_cutout(job.board, ring))
    return None


@kind("profile", limited=False, bare=False)
def open_profile(job: Job) -> Planted | None:
    """One piece of the profile left out, or its end 1 um off."""
    pieces = list(job.board.outline.outer)
    number = job.draw.randrange(len(pieces))
    piece = pieces[number]
    if job.draw.random() < 0.5:
        del pieces[number]
    else:
        pieces[number] = replace(
            piece, end=Point(piece.end.x + (100_000 if job.coarse else 1_000), piece.end.y)
        )
    where = shapely.MultiPoint([piece.start, piece.end])
    return job.planted(where, outline=Outline(tuple(pieces), job.board.outline.cutouts))


@kind("profile", limited=False, bare=False)
def doubled_profile(job: Job) -> Planted | None:
    """The profile drawn twice: as a loop run twice, or as a cut-out as large as the board."""
    outline = job.board.outline
    if job.draw.random() < 0.5:
        made = replace(outline, outer=outline.outer * 2)
    else:
        made = replace(outline, cutouts=(*outline.cutouts, outline.outer))
    return job.planted(job.judge.area, outline=made)


@kind("profile")
def cut_outs_meet(job: Job) -> Planted | None:
    """Two cut-outs that overlap (inside: that keep 1 um apart), where nothing else is."""
    judge, fab = job.judge, job.ground.fab
    half = 250_000
    left, top, right, bottom = judge.area.bounds
    for _ in range(80):
        x, y = job.draw.uniform(left, right), job.draw.uniform(top, bottom)
        rings = (square(x, y, half), square(x + 2 * half + job.by, y + 1000, half))
        both = shapely.union_all([shapely.Polygon(r) for r in rings]).convex_hull
        wide = Shape(both, 0.0)
        if not judge.inside(wide, 100_000):
            continue
        if any(wide.distance(c.shape) < fab.edge_copper_min + SLACK for c in judge.copper):
            continue
        if any(wide.distance(h) < fab.hole_gap_min + SLACK for h in judge.holes):
            continue
        if any(room.intersects(both) for s in Side for _, room in judge.rooms(s)):
            continue
        loops = tuple(outline_from_ring(r).outer for r in rings)
        outline = replace(job.board.outline, cutouts=(*job.board.outline.cutouts, *loops))
        return job.planted(both, outline=outline)
    return None


@kind("profile")
def board_too_large(job: Job) -> Planted | None:
    """The board drawn out to the largest the fab takes."""
    left, top, right, bottom = (nm(v) for v in job.judge.area.bounds)
    most = max(job.ground.fab.board_max)
    where = shapely.Point(left, top)
    if any(p.kind is PartKind.COMPONENT and p.footprint.pads == () for p in job.board.parts):
        return None
    right = Nm(left + most - job.by)
    return job.planted(where, outline=outline_from_ring(Box(left, top, right, bottom).corners()))


def ink_beside(job: Job, targets, limit: int):
    """A short printed line at *limit* (less what is to break) from one of *targets*, nothing else near."""
    stroke = job.ground.fab.legend_stroke_min
    for side, shape in job.shuffled(targets):
        x, y = shape.skeleton.centroid.x, shape.skeleton.centroid.y
        left, top, right, bottom = shape.bounds
        for ux, uy, reach in ((1, 0, right - x), (-1, 0, x - left), (0, 1, bottom - y), (0, -1, y - top)):
            away = reach + limit + stroke / 2 + job.by
            at = (x + ux * away, y + uy * away)
            # A line across, short, so that the nearest of it is its middle.
            ends = [Point(nm(at[0] - uy * s * 100_000), nm(at[1] + ux * s * 100_000)) for s in (-1, 1)]
            yield side, shape, LegendLine(side, (ends[0], ends[1]), stroke)


@kind("legend-clear")
def legend_on_a_pad(job: Job) -> Planted | None:
    """Printing at its limit from a mask opening."""
    judge, fab = job.judge, job.ground.fab
    if not fab.legend:
        return None
    targets = [(side, shape) for side in Side for copper, shape in judge.openings(side) if copper is not None]
    for side, shape, line in ink_beside(job, targets, fab.legend_pad_gap_min):
        ink = Shape(LineString(line.points), line.stroke / 2)
        if abs(ink.distance(shape) - fab.legend_pad_gap_min - job.by) > 2 or not judge.inside(
            ink, fab.legend_pad_gap_min
        ):
            continue
        rest = [s for _, s in judge.openings(side) if not s.skeleton.equals(shape.skeleton)]
        if all(ink.distance(s) >= fab.legend_pad_gap_min + SLACK for s in rest):
            return job.planted(ink.skeleton, legend=(*job.board.legend, line))
    return None


@kind("legend-clear")
def legend_on_a_hole(job: Job) -> Planted | None:
    judge, fab = job.judge, job.ground.fab
    if not fab.legend:
        return None
    targets = [(side, shape) for side in Side for copper, shape in judge.openings(side) if copper is None]
    for side, shape, line in ink_beside(job, targets, fab.legend_pad_gap_min):
        ink = Shape(LineString(line.points), line.stroke / 2)
        if abs(ink.distance(shape) - fab.legend_pad_gap_min - job.by) > 2 or not judge.inside(
            ink, fab.legend_pad_gap_min
        ):
            continue
        rest = [s for _, s in judge.openings(side) if not s.skeleton.equals(shape.skeleton)]
        if all(ink.distance(s) >= fab.legend_pad_gap_min + SLACK for s in rest):
            return job.planted(ink.skeleton, legend=(*job.board.legend, line))
    return None


@kind("legend-clear")
def legend_at_the_edge(job: Job) -> Planted | None:
    judge, fab = job.judge, job.ground.fab
    if not fab.legend:
        return None
    limit, stroke = fab.legend_pad_gap_min, fab.legend_stroke_min
    for piece in job.shuffled(p for p in job.board.outline.outer if isinstance(p, OutlineLine)):
        length = piece.start.distance(piece.end)
        if length < 2e6:
            continue
        ux, uy = (piece.end.x - piece.start.x) / length, (piece.end.y - piece.start.y) / length
        along = job.draw.uniform(0.5e6, length - 0.5e6)
        x, y = piece.start.x + along * ux, piece.start.y + along * uy
        vx, vy = -uy, ux
        if not judge.area.contains(shapely.Point(x + vx * 1e3, y + vy * 1e3)):
            vx, vy = uy, -ux
        away = limit + stroke / 2 + job.by
        ends = [Point(nm(x + vx * away + s * ux * 2e5), nm(y + vy * away + s * uy * 2e5)) for s in (-1, 1)]
        ink = Shape(LineString(ends), stroke / 2)
        if not judge.area.covers(ink.skeleton) or abs(ink.distance(judge.edge) - limit - job.by) > 2:
            continue
        side = job.draw.choice(tuple(Side))
        if all(ink.distance(s) >= limit + SLACK for _, s in judge.openings(side)):
            line = LegendLine(side, (ends[0], ends[1]), stroke)
            return job.planted(ink.skeleton, legend=(*job.board.legend, line))
    return None


def free_text(job: Job, height: int, stroke: int) -> LegendItem | None:
    judge, fab = job.judge, job.ground.fab
    if not fab.legend:
        return None
    left, top, right, bottom = judge.area.bounds
    for _ in range(60):
        at = Point(nm(job.draw.uniform(left, right)), nm(job.draw.uniform(top, bottom)))
        text = LegendText(job.draw.choice(tuple(Side)), "A1", at, Nm(height), Nm(stroke))
        if judge.ink_free(
            replace(text, height=Nm(fab.legend_height_min + SLACK), stroke=Nm(fab.legend_stroke_min + SLACK))
        ):
            return text
    return None


@kind("legend-size")
def legend_too_low(job: Job) -> Planted | None:
    fab = job.ground.fab
    text = free_text(job, fab.legend_height_min + job.by, fab.legend_stroke_min)
    return text and job.planted(shapely.Point(text.at), legend=(*job.board.legend, text))


@kind("legend-size")
def legend_too_thin(job: Job) -> Planted | None:
    fab = job.ground.fab
    text = free_text(job, fab.legend_height_min, fab.legend_stroke_min + job.by)
    return text and job.planted(shapely.Point(text.at), legend=(*job.board.legend, text))


__all__ = ["ZERO", "math"]
