"""Length and capacitance of each line, from its finished copper and what lies round it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from boardgen.board.geometry import Shape, pad_shape, sides_of, via_shape
from boardgen.board.model import Board, Side, Track
from boardgen.catalog.model import FabClass
from boardgen.footprint.model import PadKind
from boardgen.measure.model import LineCapacitance
from boardgen.measure.strip import FR4, Floats, coplanar, coplanar_over_plane, flanks, microstrip
from boardgen.measure.surroundings import Bools, Surroundings, look_round

STEP = 1.5e6  # nm along a track between the places looked at
LEAST_GAP = 50_000.0  # nm; no copper of another net lies nearer than any fab makes


def line_capacitance(board: Board, net: str, fab: FabClass) -> LineCapacitance:
    """Return length and capacitance of the copper of *net* against all other copper at rest."""
    return line_capacitances(board, (net,), fab)[0]


def line_capacitances(board: Board, nets: tuple[str, ...], fab: FabClass) -> tuple[LineCapacitance, ...]:
    """Return length and capacitance of each of *nets*, in their order.

    Tracks are cut into pieces; each is a strip over a plane, beside copper,
    both or neither, after what is found there (see :mod:`boardgen.measure.strip`),
    half of it for either flank. A pad or via counts as a strip of its own width,
    half its rim long; a plated one has no plane below, but two sides. FR-4 of
    4.5, ``fab.thickness`` and ``fab.copper_um`` are taken; mask is left out (a
    few per cent), and so is what a line shares across the board with a track
    alone.
    """
    round_ = look_round(board)
    row = {net: i for i, net in enumerate(nets)}
    farads, length, over = (np.zeros(len(nets)) for _ in range(3))
    for side in board.copper:
        tracks = [t for t in board.tracks if t.side is side and t.net in row and t.start != t.end]
        along = _tracks(tracks, side, fab, round_)
        at = np.array([row[t.net] for t in tracks], dtype=np.int64)
        np.add.at(farads, at, along[0])
        np.add.at(length, at, along[1])
        np.add.at(over, at, along[2])
        patches = _patches(board, side, row)
        at = np.array([row[patch.net] for patch in patches], dtype=np.int64)
        np.add.at(farads, at, _patch_farads(patches, side, fab, round_))
    return tuple(
        LineCapacitance(net, float(farads[i] * 1e12), float(length[i] / 1e6), float(over[i] / 1e6))
        for net, i in row.items()
    )


def _per_metre(width: Floats, gap: Floats, over: Bools, fab: FabClass, reach: float) -> Floats:
    """Return F/m of strips with *gap* on both sides; *over* says which have a plane below."""
    height, thick = float(fab.thickness), fab.copper_um * 1e3
    gap = np.maximum(gap, LEAST_GAP)
    beside = coplanar_over_plane(width, gap, height, FR4) + flanks(thick, gap)
    plane = np.where(gap >= reach, microstrip(width, height, FR4), beside)
    return np.where(over, plane, coplanar(width, gap, height, FR4) + flanks(thick, gap))


def _tracks(
    tracks: list[Track], side: Side, fab: FabClass, round_: Surroundings
) -> tuple[Floats, Floats, Floats]:
    """Return per track: farads, nm of length, and nm over poured copper."""
    if not tracks:
        none = np.zeros(0)
        return none, none, none
    ends = np.array([[*t.start, *t.end] for t in tracks], dtype=float)
    start, run = ends[:, :2], ends[:, 2:] - ends[:, :2]
    length = np.hypot(*run.T)
    count = np.maximum(1, np.ceil(length / STEP)).astype(np.int64)
    of = np.repeat(np.arange(len(tracks)), count)
    place = (np.arange(len(of)) - np.repeat(np.cumsum(count) - count, count) + 0.5) / count[of]
    points = start[of] + run[of] * place[:, None]
    width = np.array([float(t.width) for t in tracks])[of]
    own = np.array([round_.numbers[t.net] for t in tracks], dtype=np.int64)[of]
    over = round_.covered(side.other, points)
    across = np.column_stack([run[:, 1], -run[:, 0]])[of] / length[of][:, None]
    dense = np.zeros(len(of))
    for out in (across, -across):
        gap = round_.free_way(side, own, points + out * width[:, None] / 2, out)
        dense += _per_metre(width, gap, over, fab, round_.reach) / 2
    share = (length / count)[of]
    farads, covered = np.zeros(len(tracks)), np.zeros(len(tracks))
    np.add.at(farads, of, dense * share * 1e-9)
    np.add.at(covered, of, over * share)
    return farads, length, covered


@dataclass(frozen=True, slots=True)
class _Patch:
    """A pad's or via's copper on one side; *through* where its hole is plated."""

    net: str
    shape: Shape
    through: bool


def _patches(board: Board, side: Side, nets: dict[str, int]) -> list[_Patch]:
    found = []
    for part in board.parts:
        for pad in part.footprint.pads:
            net = part.net_of(pad.number)
            if net in nets and pad.kind is not PadKind.UNPLATED and side in sides_of(part, pad, board.copper):
                found.append(_Patch(str(net), pad_shape(part, pad), pad.kind is PadKind.PLATED))
    found += [_Patch(via.net, via_shape(via), True) for via in board.vias if via.net in nets]
    return found


def _patch_farads(patches: list[_Patch], side: Side, fab: FabClass, round_: Surroundings) -> Floats:
    if not patches:
        return np.zeros(0)
    shapes = [patch.shape for patch in patches]
    left, top, right, bottom = np.array([shape.skeleton.bounds for shape in shapes]).T
    radius = np.array([shape.radius for shape in shapes])
    # The rim of the skeleton: round an area, there and back along a line, none round a point.
    skeleton = [s.skeleton.length * (1 if s.skeleton.geom_type == "Polygon" else 2) for s in shapes]
    rim = np.array(skeleton) + 2 * math.pi * radius
    width = np.minimum(right - left, bottom - top) + 2 * radius
    over = round_.covered(side.other, np.column_stack([left + right, top + bottom]) / 2)
    over &= ~np.array([patch.through for patch in patches])
    gap = round_.clear(side, shapes)
    return _per_metre(width, gap, over, fab, round_.reach) * rim / 2 * 1e-9
