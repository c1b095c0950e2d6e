"""What became of the revision before: kept pins and what they cost, and what was carried over."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shapely import LineString
from shapely import Point as ShapelyPoint

from boardgen.board.geometry import outline_polygon, track_shape
from boardgen.board.model import Board, LegendLine, LegendText, Part, PartKind, Placement, Track
from boardgen.catalog.model import Module
from boardgen.circuit.assign_usable import why_reserved, why_unfit
from boardgen.circuit.model import PinMap
from boardgen.design.model import BoundDesign, LockedTrack, PlacedPart
from boardgen.electrical.model import ElectricalPlan
from boardgen.layout.held import matched
from boardgen.layout.legend_hindrance import area_hindrance, print_hindrance
from boardgen.layout.legend_strokes import length_of, stroke_area, stroke_paths, strokes_on
from boardgen.layout.place_room import part_area, usable
from boardgen.layout.route.locked import hindrance, via_hindrance
from boardgen.units import Nm, format_mm

NEAR = 2_000  # nm; places are written to whole um
ON_LINE = 2.0  # nm; corners are whole nm


@dataclass(frozen=True, slots=True)
class ChangedPin:
    """A signal that did not stay on its pin; *now* is "" where it has none. *why* is a clause."""

    signal: str
    before: str
    now: str
    why: str


@dataclass(frozen=True, slots=True)
class Kept:
    """Kept pins: *asked* of them, those *changed*, and what keeping costs against a free choice.

    Lengths in mm. The free figures are None where the same floorplan has no free choice that can be routed.
    """

    asked: int
    changed: tuple[ChangedPin, ...]
    vias: int
    length_mm: float
    free_vias: int | None = None
    free_length_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Carried:
    """A person's work of the revision before: *verdict* is "kept", "adapted" or "impossible"."""

    kind: str
    thing: str
    verdict: str
    reason: str = ""


@dataclass(frozen=True, slots=True)
class History:
    """All of it; empty for a design that was not opened from an earlier revision."""

    kept: Kept | None = None
    carried: tuple[Carried, ...] = ()


def changed_pins(bound: BoundDesign, plan: ElectricalPlan, pinmap: PinMap) -> tuple[ChangedPin, ...]:
    """Return the signals of ``[[keep]]`` that stand on another pin than before, with the reason."""
    found = []
    for keep in bound.design.keep:
        choice = next((c for c in pinmap.choices if c.request.signal == keep.signal), None)
        name = keep.pin.removeprefix("#")
        if choice is not None and name in (choice.pin_name, choice.pin_number):
            continue
        now = "" if choice is None else choice.pin_name
        why = _why(bound, plan, keep.signal, keep.pin, choice is not None and choice.fixed)
        found.append(ChangedPin(keep.signal, keep.pin, now, why))
    return tuple(found)


def _why(bound: BoundDesign, plan: ElectricalPlan, signal: str, pin_name: str, fixed: bool) -> str:
    request = next((r for r in plan.requests if r.signal == signal), None)
    if request is None:
        return "the design has no such signal that needs a pin"
    if fixed:
        return "the design fixes it to another pin"
    module: Module = bound.module
    wanted = pin_name.removeprefix("#")
    pin = next((p for p in module.pins if p.name == wanted), None)
    pin = pin or next((p for p in module.pins if p.number == wanted), None)
    if pin is None:
        return f"module {module.id} has no such pin"
    reserved = why_reserved(pin, bound.design.waivers)
    if reserved:
        return f"the pin is reserved: {reserved}"
    unfit = why_unfit(pin, request, module)
    if unfit:
        return f"the pin {unfit}"
    other = next((f.signal for f in bound.design.fixed if f.pin in (pin.number, pin.name)), None)
    if other is not None:
        return f"the design fixes {other} to that pin"
    return "groups and buses of the design leave no choice with fewer changes"


def carried_parts(bound: BoundDesign, board: Board, trouble: str = "") -> tuple[Carried, ...]:
    """Return what became of the parts that a person's hand placed."""
    nets = {part.ref: frozenset(net for _, net in part.nets) for part in board.parts if part.nets}
    now = {placed.ref: ref for ref, placed in matched(bound.design.placed, nets).items()}
    parts = {part.ref: part for part in board.parts}
    found = []
    for placed in bound.design.placed:
        ref = now.get(placed.ref)
        if ref is None:
            found.append(Carried("part", placed.ref, "impossible", "the board has no such part any more"))
            continue
        found.append(_part(bound, board, parts[ref], placed, trouble))
    return tuple(found)


def _part(bound: BoundDesign, board: Board, part: Part, placed: PlacedPart, trouble: str) -> Carried:
    thing = placed.ref if placed.ref == part.ref else f"{placed.ref} (now {part.ref})"
    if same_place(part.placement, placed.placement):
        return Carried("part", thing, "kept")
    at = part.placement.at
    why = _obstacle(bound, board, part, placed.placement) or _because(
        "no board with it there came out clean", trouble
    )
    where = f"it stands at {format_mm(at.x, 3)}, {format_mm(at.y, 3)} mm"
    return Carried("part", thing, "adapted", f"{where}: {why}")


def _obstacle(bound: BoundDesign, board: Board, part: Part, wish: Placement) -> str:
    moved = Part(part.ref, part.value, part.footprint, wish, part.kind, part.nets)
    area = part_area(moved)
    if area.difference(usable(board.outline, bound.fab.edge_copper_min)).area > 1e6:
        return "there it would reach over the edge of the board"
    for other in board.parts:
        if other.ref != part.ref and area.intersection(part_area(other)).area > 1e6:
            return f"{other.ref} stands there"
    return ""


def _because(text: str, trouble: str) -> str:
    return f"{text}: {trouble}" if trouble else text


def same_place(a: Placement, b: Placement) -> bool:
    """Return whether two places are one, to the digits that are written."""
    turn = abs((a.rotation - b.rotation + 180.0) % 360.0 - 180.0)
    return a.side is b.side and a.at.distance(b.at) <= NEAR and turn < 0.01


def carried_legend(bound: BoundDesign, board: Board) -> tuple[Carried, ...]:
    """Return what became of the texts that a person put on the legend, or took off."""
    printed = {(item.text, item.side, item.at) for item in board.legend if isinstance(item, LegendText)}
    found = []
    for wish in bound.design.legend:
        if not wish.text:
            found.append(Carried("legend", f"{wish.instead_of}, left out", "kept"))
        elif (wish.text, wish.side, wish.at) in printed:
            found.append(Carried("legend", wish.text, "kept"))
        else:
            found.append(Carried("legend", wish.text, "impossible", print_hindrance(board, bound.fab, wish)))
    return tuple(found)


def carried_strokes(bound: BoundDesign, board: Board) -> tuple[Carried, ...]:
    """Return what became of what a person drew on the legend: whole, in part and why, or not at all."""
    fab = bound.fab
    there = {item for item in board.legend if isinstance(item, LegendLine)}
    found = []
    for wish, lines in zip(bound.design.strokes, strokes_on(board, fab, bound.design.strokes), strict=True):
        start = wish.points[0]
        thing = f"{'area' if wish.filled else 'line'} at {format_mm(start.x, 3)}, {format_mm(start.y, 3)} mm"
        paths = stroke_paths(wish, fab)
        left = length_of([line for line in lines if line in there])
        whole = length_of([way for way, _ in paths])
        if not fab.legend:
            found.append(Carried("stroke", thing, "impossible", "the fab class does not print"))
        elif left < whole - len(paths) * NEAR:
            why = area_hindrance(board, fab, wish.side, stroke_area(wish, fab)) or "no room for it"
            part = f"{left / 1e6:.2f} of {whole / 1e6:.2f} mm are printed: {why}"
            verdict = ("adapted", part) if left > 0 else ("impossible", why)
            found.append(Carried("stroke", thing, *verdict))
        elif wish.width < fab.legend_stroke_min:
            why = f"{format_mm(fab.legend_stroke_min)} mm wide, the least that the fab prints"
            found.append(Carried("stroke", thing, "adapted", why))
        else:
            found.append(Carried("stroke", thing, "kept"))
    return tuple(found)


def carried_keepouts(bound: BoundDesign, board: Board, trouble: str = "") -> tuple[Carried, ...]:
    """Return what became of the areas that a person keeps free of copper."""
    why = _because("no board that leaves it free came out clean", trouble)
    return tuple(
        Carried("keepout", area.reason, "kept")
        if area in board.keepouts
        else Carried("keepout", area.reason, "impossible", why)
        for area in bound.design.keepouts
    )


def carried_outline(bound: BoundDesign, board: Board, trouble: str = "") -> tuple[Carried, ...]:
    """Return whether outline and holes that stay are those of the board."""
    stays = bound.design.stays
    if stays is None:
        return ()
    found = []
    if stays.outline is not None:
        apart = outline_polygon(stays.outline).symmetric_difference(outline_polygon(board.outline)).area
        same = apart < 1e9
        why = "" if same else _because("no board of that outline came out clean", trouble)
        found.append(Carried("outline", "outline", "kept" if same else "adapted", why))
    if stays.holes is not None:
        there = [(part.placement.at, _drilled(part)) for part in board.parts if part.kind is PartKind.HOLE]
        wanted = stays.hole_diameters or (None,) * len(stays.holes)
        gone = [
            at
            for at, width in zip(stays.holes, wanted, strict=True)
            if not any(at.distance(o) <= NEAR and (width is None or abs(width - w) <= NEAR) for o, w in there)
        ]
        more = len(there) - len(stays.holes) + len(gone)
        thing = f"mounting holes ({len(stays.holes)})"
        if gone or more:
            where = "; ".join(f"{format_mm(at.x, 3)}, {format_mm(at.y, 3)} mm" for at in gone)
            why = _because(f"no board with holes at {where or 'these places alone'} came out clean", trouble)
            found.append(Carried("holes", thing, "adapted", why))
        else:
            found.append(Carried("holes", thing, "kept"))
    return tuple(found)


def _drilled(part: Part) -> Nm:
    """Return the diameter of a mounting hole."""
    return next((pad.hole.w for pad in part.footprint.pads if pad.hole is not None), Nm(0))


def locked_legs(track: LockedTrack) -> tuple[Track, ...]:
    """Return a locked track leg by leg."""
    return tuple(
        Track(track.net, track.side, a, b, track.width)
        for a, b in zip(track.points, track.points[1:], strict=False)
    )


def carried_tracks(bound: BoundDesign, board: Board) -> tuple[Carried, ...]:
    """Return what became of locked tracks: kept whole, cut back to where they are joined, or not there."""
    found = []
    there = set(board.tracks)
    for wish in bound.design.tracks:
        start = wish.points[0]
        thing = f"track of {wish.net} at {format_mm(start.x, 3)}, {format_mm(start.y, 3)} mm"
        legs = locked_legs(wish)
        if all(leg in there for leg in legs):
            found.append(Carried("track", thing, "kept"))
            continue
        left = sum(_left(board, leg) for leg in legs)
        if left > 0:
            whole = sum(leg.start.distance(leg.end) for leg in legs)
            why = f"{left / 1e6:.2f} of {whole / 1e6:.2f} mm stay: the rest would end in nothing"
            found.append(Carried("track", thing, "adapted", why))
            continue
        reasons = [reason for leg in legs if (reason := hindrance(board, bound.fab, leg))]
        found.append(Carried("track", thing, "impossible", reasons[0] if reasons else _gone(board, legs)))
    return tuple(found)


def _left(board: Board, leg: Track) -> float:
    """Return how much (nm) of *leg* is there, cut back on one end or both."""
    line = LineString([leg.start, leg.end])
    return sum(
        track.start.distance(track.end)
        for track in board.tracks
        if (track.net, track.side, track.width) == (leg.net, leg.side, leg.width)
        and (track.start in (leg.start, leg.end) or track.end in (leg.start, leg.end))
        and all(line.distance(ShapelyPoint(end)) <= ON_LINE for end in (track.start, track.end))
    )


def _gone(board: Board, legs: Sequence[Track]) -> str:
    """Return what lies where *legs* lay: a track of another net, or nothing that would join them."""
    for track in board.tracks:
        for leg in legs:
            if track.net != leg.net and track.side is leg.side:
                near = track_shape(track).distance(track_shape(leg))
                if near < 1.0:
                    return f"a track of {track.net} is in its way"
    return "its ends would join nothing"


def carried_vias(bound: BoundDesign, board: Board) -> tuple[Carried, ...]:
    """Return what became of locked vias: kept, or not there with the reason."""
    tracks = [track for track in board.tracks if any(track in locked_legs(w) for w in bound.design.tracks)]
    found = []
    for wish in bound.design.vias:
        thing = f"via of {wish.net} at {format_mm(wish.at.x, 3)}, {format_mm(wish.at.y, 3)} mm"
        if wish in board.vias:
            found.append(Carried("via", thing, "kept"))
            continue
        why = via_hindrance(board, bound.fab, wish, tracks) or "it would join no two sides"
        found.append(Carried("via", thing, "impossible", why))
    return tuple(found)


def carried(bound: BoundDesign, board: Board, trouble: str = "") -> tuple[Carried, ...]:
    """Return what became of a person's work, part by part.

    *trouble* is what was wrong with the board on which everything stood as asked, "" where it was clean.
    """
    pieces: Sequence[tuple[Carried, ...]] = (
        carried_parts(bound, board, trouble),
        carried_outline(bound, board, trouble),
        carried_legend(bound, board),
        carried_strokes(bound, board),
        carried_keepouts(bound, board, trouble),
        carried_tracks(bound, board),
        carried_vias(bound, board),
    )
    return tuple(item for piece in pieces for item in piece)


def length_mm(board: Board) -> float:
    """Return the length of all tracks in mm."""
    total = sum(track.start.distance(track.end) for track in board.tracks)
    return float(total) / Nm(1_000_000)
