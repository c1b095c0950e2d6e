"""Rules ``readback-short`` and ``readback-open``: bodies of copper against the nets that should be."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely import Point as ShapelyPoint

from boardgen.board.geometry import Shape
from boardgen.errors import Finding, Severity
from boardgen.matching import connected
from boardgen.readback.bodies import Copper
from boardgen.readback.model import Pad, Wanted
from boardgen.rules.survey import array_of, between
from boardgen.units import Point, format_mm, nm


@dataclass(frozen=True, slots=True)
class Joints:
    """Which copper each wanted pad stands on: owners per pad, and the body after links are soldered."""

    pads: tuple[Pad, ...]
    owners: tuple[tuple[int, ...], ...]
    body: npt.NDArray[np.int64]

    def bodies(self, pad: int) -> list[int]:
        """Return the bodies that pad number *pad* stands on."""
        return sorted({int(self.body[owner]) for owner in self.owners[pad]})


def joints_of(copper: Copper, wanted: Wanted) -> Joints:
    """Return where the pads of *wanted* stand on *copper*; wire links join their ends."""
    met: list[list[int]] = [[] for _ in wanted.pads]
    for sheet in copper.sheets:
        here = [number for number, pad in enumerate(wanted.pads) if sheet.side in pad.sides]
        places = [Shape(ShapelyPoint(wanted.pads[number].at), 0.0) for number in here]
        for number, found in zip(here, sheet.under(places), strict=True):
            met[number] += found
    owners = [tuple(found) for found in met]
    by_contact = {(pad.ref, pad.number): own for pad, own in zip(wanted.pads, owners, strict=True) if own}
    joins = [(c.a, c.b) for c in copper.contacts] + list(copper.through)
    for ref, one, other in wanted.links:
        a, b = by_contact.get((ref, one)), by_contact.get((ref, other))
        if a and b:
            joins.append((a[0], b[0]))
    ends = np.array(joins, dtype=np.int64).reshape(-1, 2)
    body = connected(len(copper.body), ends[:, 0], ends[:, 1])
    return Joints(wanted.pads, tuple(owners), body)


def _net_key(pad: Pad) -> str:
    """A pad without a net is a net of its own, shared by pads of one contact."""
    return pad.net if pad.net is not None else f"{pad.name} (no net)"


def _nearest(a: Sequence[Shape], b: Sequence[Shape]) -> tuple[float, Point]:
    """Return the least gap between two groups of shapes, and the middle of it."""
    skeletons = array_of([shape.skeleton for shape in b])
    radii = np.array([shape.radius for shape in b])
    best: tuple[float, Point] | None = None
    for shape in a:
        gaps = shapely.distance(shape.skeleton, skeletons) - radii - shape.radius
        i = int(np.argmin(gaps))
        if best is None or gaps[i] < best[0]:
            best = (float(gaps[i]), between(shape, b[i]))
    if best is None:
        raise ValueError("no copper to measure from")
    return best


def _shapes(copper: Copper, joints: Joints, bodies: set[int], side: object = None) -> list[Shape]:
    return [
        shape
        for sheet in copper.sheets
        if side is None or sheet.side is side
        for shape, owner in zip(sheet.shapes, sheet.owner.tolist(), strict=True)
        if int(joints.body[owner]) in bodies
    ]


def _names(pads: Sequence[Pad], limit: int = 4) -> str:
    names = list(dict.fromkeys(pad.name for pad in pads))
    more = f" and {len(names) - limit} more" if len(names) > limit else ""
    return ", ".join(names[:limit]) + more


def _files(copper: Copper) -> str:
    return ", ".join(sheet.layer.path for sheet in copper.sheets)


def _open(copper: Copper, joints: Joints, net: str, members: list[int], known: bool) -> list[Finding]:
    """Return a finding for each group of *members* that stands apart from the first (largest)."""
    groups: dict[int, list[Pad]] = {}
    for pad in members:
        for body in joints.bodies(pad):
            groups.setdefault(body, []).append(joints.pads[pad])
    ordered = sorted(groups.items(), key=lambda item: (-len(item[1]), item[1][0].name, item[0]))
    found = []
    for body, apart in ordered[1:]:
        rest = {other for other, _ in ordered if other != body}
        best: tuple[float, Point, str] | None = None
        for sheet in copper.sheets:
            mine = _shapes(copper, joints, {body}, sheet.side)
            others = _shapes(copper, joints, rest, sheet.side)
            if mine and others:
                gap, at = _nearest(mine, others)
                if best is None or gap < best[0]:
                    best = (gap, at, sheet.layer.name)
        x, y = apart[0].at
        at, layer, gap_words = Point(nm(x), nm(y)), "", ""
        if best is not None:
            at, layer = best[1], best[2]
            gap_words = f"; the nearest copper of the rest is {format_mm(nm(max(best[0], 0.0)), 3)} mm away"
        pads = f"{_names(apart)} to {_names(ordered[0][1])}"
        message = f"net {net}: no copper in {_files(copper)} joins {pads}{gap_words}"
        severity = Severity.NOTE if known else Severity.ERROR
        items = (apart[0].name, ordered[0][1][0].name)
        found.append(Finding("readback-open", severity, message, at, layer, items))
    return found


def _short(copper: Copper, joints: Joints, body: int, pads: list[int], known: bool) -> list[Finding]:
    """Return where on *body* copper that belongs to different nets meets.

    Every thing takes the net of the pad it is fewest contacts away from; a contact between two nets is the
    place (the first of each pair of nets is told).
    """
    label: dict[int, str] = {}
    queue: deque[int] = deque()
    for pad in pads:
        for owner in joints.owners[pad]:
            if owner not in label and int(joints.body[owner]) == body:
                label[owner] = _net_key(joints.pads[pad])
                queue.append(owner)
    graph: dict[int, list[int]] = {}
    for a, b in [(c.a, c.b) for c in copper.contacts] + list(copper.through):
        graph.setdefault(a, []).append(b)
        graph.setdefault(b, []).append(a)
    while queue:
        owner = queue.popleft()
        for other in sorted(graph.get(owner, ())):
            if other not in label:
                label[other] = label[owner]
                queue.append(other)
    severity = Severity.NOTE if known else Severity.ERROR
    found: dict[tuple[str, str], Finding] = {}
    for contact in copper.contacts:
        one, two = label.get(contact.a), label.get(contact.b)
        if one is None or two is None or one == two:
            continue
        first, second = sorted((one, two))
        if (first, second) not in found:
            sheet = copper.sheet(contact.side)
            path = sheet.layer.path if sheet else ""
            name = sheet.layer.name if sheet else ""
            message = f"{path}: copper of {first} touches copper of {second}"
            at = between(*contact.shapes)
            found[first, second] = Finding("readback-short", severity, message, at, name, (first, second))
    if not found:
        nets = sorted({_net_key(joints.pads[pad]) for pad in pads})
        x, y = joints.pads[pads[0]].at
        message = f"{_files(copper)}: a plated hole or a wire joins {', '.join(nets[:4])}"
        at = Point(nm(x), nm(y))
        return [Finding("readback-short", severity, message, at, "", tuple(nets[:4]))]
    return [found[key] for key in sorted(found)]


def check_nets(
    copper: Copper, joints: Joints, known_open: frozenset[str], known_short: frozenset[str]
) -> list[Finding]:
    """Return every difference between the bodies of copper and the nets of the wanted pads.

    What the rule check found on the model already (nets in *known_open*, *known_short*) is a note here.
    """
    by_net: dict[str, list[int]] = {}
    by_body: dict[int, list[int]] = {}
    for number, pad in enumerate(joints.pads):
        if joints.owners[number]:
            by_net.setdefault(_net_key(pad), []).append(number)
        for body in joints.bodies(number):
            by_body.setdefault(body, []).append(number)
    found: list[Finding] = []
    for net, members in sorted(by_net.items()):
        if len({body for pad in members for body in joints.bodies(pad)}) > 1 and joints.pads[members[0]].net:
            found += _open(copper, joints, net, members, net in known_open)
    for body, members in sorted(by_body.items()):
        nets = {_net_key(joints.pads[pad]) for pad in members}
        if len(nets) > 1:
            found += _short(copper, joints, body, members, nets <= known_short)
    return found
