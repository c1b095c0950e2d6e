"""Rule ``readback-rule``: the fab's limits on the copper read back, against what the model's check said.

Spacing, edge distance, hole spacing and widths are the rule check's own functions on a survey made of the
files; rings, drills and mask webs are measured here. A clean model must read back clean, and a finding on
the model must be found again with the same figure.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from boardgen.board.geometry import Copper as ModelCopper
from boardgen.board.geometry import Shape, polygons_of, ring_of
from boardgen.board.model import Board, Keepout, Outline, Track, outline_from_ring
from boardgen.catalog.model import FabClass
from boardgen.errors import Finding, Severity
from boardgen.readback.bodies import Copper
from boardgen.readback.gerber_in import solid
from boardgen.readback.holes import middle
from boardgen.readback.match import XY
from boardgen.readback.model import SAME, FabHole, FabLayer, Kind, Thing
from boardgen.readback.nets import Joints
from boardgen.readback.things import limited, spot
from boardgen.rules.clearances import check_clearances
from boardgen.rules.edges import check_edges
from boardgen.rules.openings import check_openings
from boardgen.rules.sizes import check_sizes, ring_width
from boardgen.rules.survey import ROUNDING, Hole, Layer, Survey, array_of, near_pairs
from boardgen.units import Nm, Point, nm

RULES = (
    "spacing",
    "edge-distance",
    "hole-spacing",
    "track-width",
    "annular-ring",
    "drill-size",
    "mask-web",
)
AGREE = 20.0  # nm between two measurements of the same thing


def _keys(copper: Copper, joints: Joints) -> dict[int, str]:
    """Return for each owner what copper it must keep no distance from: its net, by the pads of its body."""
    nets: dict[int, set[str]] = {}
    own: dict[int, str] = {}
    for number, pad in enumerate(joints.pads):
        key = pad.net if pad.net is not None else pad.name
        for owner in joints.owners[number]:
            nets.setdefault(int(joints.body[owner]), set()).add(key)
            own.setdefault(owner, key)
    keys = {}
    for sheet in copper.sheets:
        for owner, thing in enumerate(sheet.layer.things, sheet.first):
            body = int(joints.body[owner])
            mine = nets.get(body, set())
            fallback = thing.net or own.get(owner, f"body {body}")
            keys[owner] = next(iter(mine)) if len(mine) == 1 else fallback
    return keys


def _layer(copper: Copper, number: int, keys: dict[int, str], codes: dict[str, int], pads: set[int]) -> Layer:
    sheet = copper.sheets[number]
    items: list[tuple[ModelCopper, int]] = []
    pieces: list[tuple[ModelCopper, int]] = []
    for owner, thing in enumerate(sheet.layer.things, sheet.first):
        for part in thing.parts:
            made = ModelCopper(
                f"thing {owner}", keys[owner], sheet.side, part, thing, "pad" if owner in pads else "", ""
            )
            (pieces if thing.kind is Kind.AREA else items).append((made, owner))

    def numbers(rows: list[tuple[ModelCopper, int]]) -> tuple[list[int], list[int]]:
        return [codes.setdefault(keys[o], len(codes)) for _, o in rows], [o for _, o in rows]

    own, filled = numbers(items), numbers(pieces)
    return Layer(
        side=sheet.side,
        items=tuple(item for item, _ in items),
        skeletons=array_of([item.shape.skeleton for item, _ in items]),
        radii=np.array([item.shape.radius for item, _ in items], dtype=float),
        keys=np.array(own[0], dtype=np.int64),
        owners=np.array(own[1], dtype=np.int64),
        pieces=tuple(item for item, _ in pieces),
        piece_keys=np.array(filled[0], dtype=np.int64),
        piece_owners=np.array(filled[1], dtype=np.int64),
    )


def _point(at: XY) -> Point:
    return Point(nm(at[0]), nm(at[1]))


def _ringed(copper: Copper, holes: Sequence[FabHole]) -> list[list[Thing]]:
    """Return for each hole the flashes on copper round its middle (the ends of slots stand on whole nm)."""
    flashes = [thing for sheet in copper.sheets for thing in sheet.layer.flashes]
    if not flashes:
        return [[] for _ in holes]
    tree = shapely.STRtree(shapely.points([thing.start for thing in flashes]))
    middles = [middle(hole.shape) for hole in holes]
    found: list[list[Thing]] = [[] for _ in holes]
    if middles:
        a, b = tree.query(shapely.points(middles), predicate="dwithin", distance=SAME)
        for i, j in sorted(zip(a.tolist(), b.tolist(), strict=True)):
            found[i].append(flashes[j])
    return found


def _survey(
    copper: Copper,
    joints: Joints,
    holes: Sequence[FabHole],
    area: BaseGeometry,
    fab: FabClass,
    keepouts: tuple[Keepout, ...],
) -> Survey:
    keys = _keys(copper, joints)
    codes: dict[str, int] = {}
    pads = {owner for owners in joints.owners for owner in owners}
    layers = tuple(_layer(copper, n, keys, codes, pads) for n in range(len(copper.sheets)))
    tracks = tuple(
        Track("", sheet.side, _point(t.start), _point(t.end), nm(t.width))
        for sheet in copper.sheets
        for t in sheet.layer.things
        if t.kind is Kind.STROKE
    )
    polygons = polygons_of(area)
    outline = outline_from_ring(ring_of(polygons[0])) if polygons else Outline(())
    board = Board("", "", "", outline, tracks=tracks, keepouts=keepouts)
    # On a board without plating a hole in a pad is no bare hole either.
    ringed = [bool(things) for things in _ringed(copper, holes)]
    drilled = tuple(
        Hole(f"hole {n}", h.shape, inside) for n, (h, inside) in enumerate(zip(holes, ringed, strict=True))
    )
    return Survey(board, None, fab, layers, drilled, area, area.boundary, len(joints.body))


def _rings(
    copper: Copper, holes: Sequence[FabHole], vias: set[tuple[int, int]], fab: FabClass
) -> Iterator[Finding]:
    for hole, things in zip(holes, _ringed(copper, holes), strict=True):
        if not things:
            continue
        place = (round(things[0].start[0]), round(things[0].start[1]))
        name = f"hole at {place}"
        ring = min(ring_width(_whole(thing), hole.shape) for thing in things)
        if ring < fab.ring_min - ROUNDING:
            yield _found("annular-ring", hole.start, "drill", name, ring, fab.ring_min)
        across = min(2 * max(part.radius for part in thing.parts) for thing in things)
        if place in vias and across < fab.via_diameter_min - ROUNDING:
            yield _found("annular-ring", hole.start, "drill", name, across, fab.via_diameter_min)


def _whole(thing: Thing) -> Shape:
    """Return the thing as one shape; where it is made of several, within CHORD."""
    if len(thing.parts) == 1:
        return thing.parts[0]
    return Shape(polygons_of(shapely.union_all([solid(part) for part in thing.parts]))[0], 0.0)


def _drills(holes: Sequence[FabHole], fab: FabClass) -> Iterator[Finding]:
    for number, hole in enumerate(holes):
        width = nm(hole.diameter)
        outside = not fab.hole_min <= width <= fab.hole_max
        if outside or (fab.drills and width not in fab.drills):
            yield _found("drill-size", hole.start, "drill", f"hole {number}", width, None)


def _webs(layer: FabLayer, owner_keys: dict[tuple[int, int], str], fab: FabClass) -> Iterator[Finding]:
    if fab.mask_web_min <= 0:
        return
    flashes = layer.flashes
    shapes = [(number, part) for number, thing in enumerate(flashes) for part in thing.parts]
    skeletons = array_of([part.skeleton for _, part in shapes])
    radii = np.array([part.radius for _, part in shapes], dtype=float)
    a, b, gaps = near_pairs(skeletons, radii, fab.mask_web_min - ROUNDING)
    for i, j, gap in zip(a, b, gaps, strict=True):
        one, two = shapes[i][0], shapes[j][0]
        if one == two:
            continue
        keys = [
            owner_keys.get((round(flashes[n].start[0]), round(flashes[n].start[1])), f"opening {n}")
            for n in (one, two)
        ]
        if keys[0] == keys[1] and gap <= -2 * fab.mask_margin + ROUNDING:
            continue
        yield _found("mask-web", flashes[one].start, layer.name, f"{one} {two}", float(gap), fab.mask_web_min)


def _found(rule: str, at: XY, layer: str, item: str, measured: float, limit: int | None) -> Finding:
    most = None if limit is None else Nm(limit)
    return Finding(rule, Severity.ERROR, "", spot(at), layer, (item,), nm(measured), most)


def _once(found: Sequence[Finding]) -> list[Finding]:
    """Return one finding for each pair of things, the worst: a thing may be made of several shapes."""
    worst: dict[tuple[object, ...], Finding] = {}
    for number, item in enumerate(found):
        of_pair = item.rule in ("spacing", "edge-distance", "mask-web")
        key = (item.rule, item.layer, tuple(sorted(item.items)), item.limit) if of_pair else (number,)
        kept = worst.get(key)
        if kept is None or (item.measured or 0) < (kept.measured or 0):
            worst[key] = item
    return list(worst.values())


def measured_rules(
    copper: Copper,
    joints: Joints,
    holes: Sequence[FabHole],
    masks: Sequence[FabLayer],
    area: BaseGeometry,
    fab: FabClass,
    vias: set[tuple[int, int]],
    keepouts: tuple[Keepout, ...] = (),
) -> tuple[list[Finding], int]:
    """Return what the fab's rules say of the copper read back, and how much was looked at."""
    survey = _survey(copper, joints, holes, area, fab, keepouts)
    outcomes = [*check_clearances(survey), *check_sizes(survey), *check_openings(survey)]
    if not area.is_empty:
        outcomes += check_edges(survey)
    chosen = ("spacing", "edge-distance", "hole-spacing", "track-width")
    found = [f for outcome in outcomes if outcome.rule in chosen for f in outcome.findings]
    found += _rings(copper, holes, vias, fab)
    found += _drills(holes, fab)
    by_place = {
        (round(pad.at[0]), round(pad.at[1])): pad.net if pad.net is not None else pad.name
        for pad in joints.pads
    }
    for mask in masks:
        found += _webs(mask, by_place, fab)
    looked = sum(outcome.items + outcome.pairs for outcome in outcomes if outcome.rule in chosen)
    return _once(found), looked + len(holes) * 2 + sum(len(mask.things) for mask in masks)


def _figure(finding: Finding) -> float:
    return float(finding.measured) if finding.measured is not None else 0.0


def check_agreement(
    read: Sequence[Finding], model: Sequence[Finding], files: str
) -> tuple[list[Finding], int]:
    """Compare what the rules say of the files with what they said of the model, by rule and layer.

    Returns ``readback-rule`` findings and how many agree.
    """
    found: list[Finding] = []
    agreed = 0
    sides = {f.layer for f in (*read, *model)}
    for rule in RULES:
        for layer in sorted(sides):
            mine = sorted((f for f in read if f.rule == rule and f.layer == layer), key=_figure)
            theirs = sorted((f for f in model if f.rule == rule and f.layer == layer), key=_figure)
            while mine and theirs:
                gap = _figure(mine[0]) - _figure(theirs[0])
                if abs(gap) <= AGREE:
                    mine.pop(0)
                    theirs.pop(0)
                    agreed += 1
                elif gap < 0:
                    found.append(_disagrees(mine.pop(0), files, True))
                else:
                    found.append(_disagrees(theirs.pop(0), files, False))
            found += [_disagrees(item, files, True) for item in mine]
            found += [_disagrees(item, files, False) for item in theirs]
    return limited(found), agreed


def _disagrees(item: Finding, files: str, in_files: bool) -> Finding:
    figure = "" if item.measured is None else f" ({item.measured.mm:.6g} mm)"
    who = (
        "the files break it, the model's check found nothing"
        if in_files
        else "the model breaks it, the files do not"
    )
    message = f"{files}: rule {item.rule}{figure}: {who}"
    return Finding(
        "readback-rule",
        Severity.ERROR,
        message,
        item.at,
        item.layer,
        (item.rule, files),
        item.measured,
        item.limit,
    )
