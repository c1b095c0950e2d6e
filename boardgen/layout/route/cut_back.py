"""Locked tracks cut back to where something joins them: an end in nothing is an aerial, not a connection."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from shapely import Point as ShapelyPoint

from boardgen.board.geometry import Shape, pad_shape, sides_of, track_shape
from boardgen.board.model import Board, Track, Via
from boardgen.units import Point

TOUCH = 2.0  # nm: copper this near is one conductor


def cut_back(
    board: Board,
    locked: tuple[Sequence[Track], Sequence[Via]],
    others: Sequence[Track],
    vias: Sequence[Via],
    skip: Sequence[str],
) -> tuple[tuple[Track, ...], tuple[Via, ...]]:
    """Return *locked* without what ends in nothing, given all other copper of *board* (its pours apart).

    A leg is shortened to the last place where a track, via or pad of its net meets it, and left out where
    none does; so is a via that joins no two sides. Nets of *skip* stay as they are: the pour joins them.
    """
    tracks, held = list(locked[0]), list(locked[1])
    while True:
        tracks = _legs(board, tracks, others, (*held, *vias), skip)
        lone = [via for via in held if via.net not in skip and not _used(via, (*tracks, *others))]
        if not lone:
            return tuple(tracks), tuple(held)
        held = [via for via in held if via not in lone]


def _used(via: Via, tracks: Sequence[Track]) -> bool:
    copper = Shape(ShapelyPoint(via.at), via.diameter / 2)
    near = (track for track in tracks if track.net == via.net)
    return len({track.side for track in near if track_shape(track).distance(copper) <= TOUCH}) > 1


def _legs(
    board: Board, locked: Sequence[Track], others: Sequence[Track], vias: Sequence[Via], skip: Sequence[str]
) -> list[Track]:
    found = list(locked)
    changed = True
    while changed:
        changed = False
        for i, leg in enumerate(found):
            if leg.net in skip:
                continue
            rest = [t for t in (*found[:i], *found[i + 1 :], *others) if _joins(t, leg)]
            shorter = _shortened(leg, rest, _fixed(board, vias, leg))
            if shorter != leg:
                found[i : i + 1] = [] if shorter is None else [shorter]
                changed = True
                break
    return found


def _joins(other: Track, leg: Track) -> bool:
    return other.net == leg.net and other.side is leg.side


def _fixed(board: Board, vias: Sequence[Via], leg: Track) -> list[tuple[Point, Shape]]:
    """Pads and vias of the leg's net with copper on its side: their places and their copper."""
    found = [(via.at, Shape(ShapelyPoint(via.at), via.diameter / 2)) for via in vias if via.net == leg.net]
    for part in board.parts:
        for pad in part.footprint.pads:
            if part.net_of(pad.number) == leg.net and leg.side in sides_of(part, pad, board.copper):
                found.append((part.placement.place(pad.at), pad_shape(part, pad)))
    return found


def _shortened(leg: Track, rest: Sequence[Track], fixed: Sequence[tuple[Point, Shape]]) -> Track | None:
    """Return *leg* up to what joins it on either end; None where nothing is left of it."""
    shapes = [track_shape(track) for track in rest] + [shape for _, shape in fixed]

    def loose(end: Point) -> bool:
        return all(shape.distance(Shape(ShapelyPoint(end), 0.0)) > TOUCH for shape in shapes)

    for end, far in ((leg.start, leg.end), (leg.end, leg.start)):
        if not loose(end):
            continue
        spots = [spot for spot in _meetings(leg, rest, fixed) if spot != end]
        if not spots:
            return None
        nearest = min(spots, key=lambda spot: (spot.distance(end), spot))
        if nearest == far:
            return None
        return replace(leg, start=nearest, end=far) if end == leg.start else replace(leg, end=nearest)
    return leg


def _meetings(leg: Track, rest: Sequence[Track], fixed: Sequence[tuple[Point, Shape]]) -> Iterator[Point]:
    """Yield the places on the middle line of *leg* that other copper of its net is led to."""
    line = track_shape(leg).skeleton
    ends = [end for track in rest for end in (track.start, track.end)] + [at for at, _ in fixed]
    for at in (*ends, leg.start, leg.end):
        if at in (leg.start, leg.end):
            shapes = [track_shape(track) for track in rest] + [shape for _, shape in fixed]
            if any(shape.distance(Shape(ShapelyPoint(at), 0.0)) <= TOUCH for shape in shapes):
                yield at
        elif line.distance(ShapelyPoint(at)) <= TOUCH:
            yield at
