"""The files' geometry against everything that says what the board should be."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from boardgen.errors import Finding, Severity
from boardgen.export.summary import Check
from boardgen.readback.bodies import Copper, copper_of
from boardgen.readback.case import Case
from boardgen.readback.fills import check_fills
from boardgen.readback.frames import way_back
from boardgen.readback.holes import check_holes, check_inside, middle, wanted_holes
from boardgen.readback.labels import check_labels
from boardgen.readback.limits import RULES, check_agreement, measured_rules
from boardgen.readback.match import XY
from boardgen.readback.model import FabGeometry, FabHole, FabLayer, Kind, Pad, ReadbackReport, Role, Wanted
from boardgen.readback.nets import Joints, check_nets, joints_of
from boardgen.readback.place import moved_holes, moved_layer, on_board
from boardgen.readback.profile import check_profile
from boardgen.readback.reader import drill_of, file_finding, layer_of
from boardgen.readback.tables import check_tables, in_place
from boardgen.readback.things import (
    check_flashes,
    check_kinds,
    check_strokes,
    expected_layers,
    wanted_copper,
    wanted_mask,
    wanted_paste,
)


def _places(layer: FabLayer) -> list[XY]:
    rows = [thing.start for thing in layer.things if thing.kind is not Kind.AREA]
    return rows + [thing.end for thing in layer.things if thing.kind is Kind.STROKE]


def _wanted_places(first: Wanted, layer: FabLayer) -> list[XY]:
    side = layer.side
    if layer.role is Role.SCORE:
        return [at for line in first.scores or () for at in (line.start, line.end)]
    if layer.role is Role.PROFILE:
        outline = first.outline
        rings = [] if outline is None else list(getattr(outline, "geoms", [outline]))
        return [(x, y) for g in rings for ring in (g.exterior, *g.interiors) for x, y in ring.coords[:-1]]
    if side is None:
        return []
    if layer.role is Role.LEGEND:
        return [at for s in first.legend or () if s.side is side for at in (s.start, s.end)]
    if layer.role is Role.MASK:
        return [row[1] for row in wanted_mask(first, side)]
    if layer.role is Role.PASTE:
        return [row[1] for row in wanted_paste(first, side)]
    tracks = [at for t in first.tracks or () if t.side is side for at in (t.start, t.end)]
    return [row[1] for row in wanted_copper(first, side)] + tracks


def _in_place(geometry: FabGeometry, case: Case) -> tuple[FabGeometry, list[Finding]]:
    """Return the geometry on the board with whole-layer faults told and mended."""
    placed = on_board(geometry, *case.origin)
    first = case.first
    box = first.outline.bounds if first.outline is not None and not first.outline.is_empty else (0.0,) * 4
    bounds = (float(box[0]), float(box[1]), float(box[2]), float(box[3]))
    found: list[Finding] = []
    layers = []
    for layer in placed.layers:
        known = _wanted_places(first, layer)
        way, finding = way_back(_places(layer), known, bounds, case.origin, layer.path, layer.name)
        layers.append(moved_layer(layer, way) if way is not None else layer)
        found += [finding] if finding is not None else []
    holes: list[FabHole] = []
    hole_places = [hole.at for hole in wanted_holes(first)]
    for path, plated in placed.drills:
        mine = tuple(hole for hole in placed.holes if hole.path == path)
        name = "plated drilling" if plated else "unplated drilling"
        way, finding = way_back([middle(h.shape) for h in mine], hole_places, bounds, case.origin, path, name)
        holes += moved_holes(mine, way) if way is not None else mine
        found += [finding] if finding is not None else []
    return replace(placed, layers=tuple(layers), holes=tuple(holes)), found


def _presence(geometry: FabGeometry, first: Wanted, unread: set[str]) -> list[Finding]:
    """Return layers and drill files that are missing, or that the board has no use for."""
    found = []
    expected = expected_layers(first)
    there = [(layer.role, layer.side) for layer in geometry.layers]
    for role, side in expected:
        if (role, side) not in there and (role, side) not in map(layer_of, unread):
            name = f"{side.value} {role.value}" if side is not None else role.value
            message = f"the file for {name} is missing"
            found.append(Finding("readback-layer", Severity.ERROR, message, None, name, (name,)))
    for layer in geometry.layers:
        surplus = (layer.role, layer.side) not in expected
        silent = (layer.role is Role.LEGEND and first.legend is None) or (
            layer.role is Role.SCORE and first.scores is None
        )
        if surplus and not silent:
            message = f"{layer.name} that the {first.body} has not"
            found.append(file_finding("readback-layer", layer.path, message))
    for plated in (True, False):
        wanted = any(hole.plated is plated for hole in wanted_holes(first))
        there_too = [*(kind for _, kind in geometry.drills), *map(drill_of, unread)]
        if wanted and plated not in there_too:
            name = f"{'plated' if plated else 'unplated'} holes"
            message = f"the drill file for {name} is missing"
            found.append(Finding("readback-layer", Severity.ERROR, message, None, "drill", (name,)))
    return found


def _whole(geometry: FabGeometry, first: Wanted) -> bool:
    """Return whether all copper and plated holes there should be were read: else much would seem open."""
    sides = {layer.side for layer in geometry.layers if layer.role is Role.COPPER}
    plated = any(hole.plated for hole in wanted_holes(first))
    return sides >= set(first.copper) and (not plated or any(kind for _, kind in geometry.drills))


def _drawn(geometry: FabGeometry, first: Wanted) -> tuple[list[Finding], dict[str, int]]:
    found: list[Finding] = []
    counts = {"pads and vias": 0, "openings": 0, "tracks": 0, "pours": 0, "printed lines": 0, "labels": 0}
    for layer in geometry.layers:
        found += check_kinds(layer)
        if layer.role is Role.SCORE and first.scores is not None:
            more, agreed = check_strokes(layer, first.scores, first.body, "readback-layer", "score line")
            found, counts["score lines"] = found + more, agreed
        if layer.side is None:
            continue
        if layer.role is Role.COPPER:
            more, agreed = check_labels(layer, layer.side, first)
            found, counts["labels"] = found + more, counts["labels"] + agreed
            more, agreed = check_flashes(layer, wanted_copper(first, layer.side), first.body)
            found, counts["pads and vias"] = found + more, counts["pads and vias"] + agreed
            if first.tracks is not None:
                more, agreed = check_strokes(layer, first.tracks, first.body, "readback-copper", "track")
                found, counts["tracks"] = found + more, counts["tracks"] + agreed
            if first.fills is not None:
                more, agreed = check_fills(layer, first.fills, first.body)
                found, counts["pours"] = found + more, counts["pours"] + agreed
        elif layer.role is Role.MASK:
            more, agreed = check_flashes(layer, wanted_mask(first, layer.side), first.body)
            found, counts["openings"] = found + more, counts["openings"] + agreed
        elif layer.role is Role.PASTE:
            more, agreed = check_flashes(layer, wanted_paste(first, layer.side), first.body)
            found, counts["openings"] = found + more, counts["openings"] + agreed
        elif layer.role is Role.LEGEND and first.legend is not None:
            more, agreed = check_strokes(layer, first.legend, first.body, "readback-layer", "printed line")
            found, counts["printed lines"] = found + more, counts["printed lines"] + agreed
    return found, counts


def _company(joints: Joints) -> Callable[[Pad], str]:
    """Return a function that says with which other contacts the copper joins a pad."""
    members: dict[int, list[Pad]] = {}
    numbers = {(pad.ref, pad.number, pad.at): n for n, pad in enumerate(joints.pads)}
    for number, pad in enumerate(joints.pads):
        for body in joints.bodies(number):
            members.setdefault(body, []).append(pad)

    def words(pad: Pad) -> str:
        bodies = joints.bodies(numbers[pad.ref, pad.number, pad.at])
        rest = [
            p.name for body in bodies for p in members[body] if (p.ref, p.number) != (pad.ref, pad.number)
        ]
        names = list(dict.fromkeys(rest))
        more = f" and {len(names) - 3} more" if len(names) > 3 else ""
        return (
            f"the copper joins it with {', '.join(names[:3])}{more}"
            if names
            else "the copper joins it with nothing"
        )

    return words


def _known(model: Sequence[Finding], rule: str, nets: set[str]) -> frozenset[str]:
    """Return the nets that the model's check has already told of under *rule*."""
    mine = [f for f in model if f.rule == rule]
    if rule == "unconnected":
        return frozenset(n for n in nets if any(f.message.startswith(f"net {n} ") for f in mine))
    bare = {f"{item} (no net)" for f in mine for item in f.items}
    return frozenset(n for n in nets if any(f"({n})" in f.message for f in mine)) | bare


def compare(geometry: FabGeometry, case: Case) -> ReadbackReport:
    """Compare files read back with the case: every difference is a finding that names file and place."""
    first = case.first
    unread = {
        f.items[0] for f in geometry.findings if f.rule == "readback-file" and "cannot be read" in f.message
    }
    found: list[Finding] = list(geometry.findings)
    geometry, framed = _in_place(geometry, case)
    found += framed
    found += _presence(geometry, first, unread)
    drawn, counts = _drawn(geometry, first)
    found += drawn
    profile = geometry.layer(Role.PROFILE, None)
    area: BaseGeometry = first.outline if first.outline is not None else Polygon()
    if profile is not None:
        read_area, more = check_profile(profile, first.outline)
        area = area if read_area.is_empty else read_area
        found += more
    drilled, holes_agreed = check_holes(geometry.holes, geometry.drills, first)
    found += drilled + check_inside(geometry.holes, area)
    sheets = tuple(layer for layer in geometry.layers if layer.role is Role.COPPER)
    copper = copper_of(sheets, geometry.holes)
    joints = joints_of(copper, first)
    nets = {pad.net for pad in first.pads if pad.net is not None}
    whole = _whole(geometry, first)
    if whole:
        found += check_nets(
            copper, joints, _known(case.model, "unconnected", nets), _known(case.model, "short", nets)
        )
    agreed: dict[str, object] = {first.name: sum(bool(o) for o in joints.owners)}
    for source in case.others:
        other, more = in_place(first, source)
        found += more
        more, same = check_tables(first, other, _company(joints))
        found += more
        agreed[other.name] = same
    rule_check = _rules(geometry, copper, joints, area, case, found) if whole else ()
    return ReadbackReport(
        tuple(found),
        (
            _files_check(geometry, counts, holes_agreed, found),
            _nets_check(copper, joints, nets, agreed, whole and _passed(found, _CONNECTION)),
            *rule_check,
        ),
    )


_CONNECTION = ("readback-open", "readback-short", "readback-netlist")


def _passed(found: Sequence[Finding], rules: Sequence[str], but: bool = False) -> bool:
    return not any(f.severity is Severity.ERROR and (f.rule in rules) is not but for f in found)


def _files_check(
    geometry: FabGeometry, counts: dict[str, int], holes: int, found: Sequence[Finding]
) -> Check:
    polygons = sum(len(thing.parts) for layer in geometry.layers for thing in layer.things)
    evidence: dict[str, object] = {
        "layers": len(geometry.layers),
        "drill files": len(geometry.drills),
        "polygons": polygons,
        "holes": len(geometry.holes),
        "holes as wanted": holes,
        **{f"{what} as wanted": number for what, number in counts.items()},
    }
    return Check("read-back, files", _passed(found, (*_CONNECTION, "readback-rule"), True), evidence)


def _nets_check(
    copper: Copper, joints: Joints, nets: set[str], agreed: dict[str, object], passed: bool
) -> Check:
    evidence: dict[str, object] = {
        "copper things": len(copper.body),
        "contacts": len(copper.contacts) + len(copper.through),
        "bodies": len(set(copper.body.tolist())),
        "nets": len(nets),
        "joints compared": len(joints.pads),
        **{f"joints as in {name}": number for name, number in agreed.items()},
    }
    return Check("read-back, connections", passed, evidence)


def _rules(
    geometry: FabGeometry,
    copper: Copper,
    joints: Joints,
    area: BaseGeometry,
    case: Case,
    found: list[Finding],
) -> tuple[Check, ...]:
    if case.fab is None:
        return ()
    masks = [
        layer for layer in geometry.layers if layer.role is Role.MASK and layer.side in case.first.copper
    ]
    vias = {(round(via.at[0]), round(via.at[1])) for via in case.first.vias}
    measured, looked = measured_rules(
        copper, joints, geometry.holes, masks, area, case.fab, vias, case.keepouts
    )
    files = ", ".join(sheet.layer.path for sheet in copper.sheets)
    more, agreed = check_agreement(measured, [f for f in case.model if f.rule in RULES], files)
    found += more
    evidence: dict[str, object] = {
        "rules": len(RULES),
        "measured": looked,
        "findings on the files": len(measured),
        "findings agreed": agreed,
    }
    return (Check("read-back, rules", _passed(found, ("readback-rule",)), evidence),)
