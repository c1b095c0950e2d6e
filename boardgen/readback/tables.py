"""Two descriptions of one board against each other: pads by contact and place, nets, holes, tracks, outline.

Rules ``readback-netlist`` (a net that differs), ``readback-pad``, ``readback-drill``, ``readback-copper`` and
``readback-profile``, each naming the file that differs from the first source.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable
from dataclasses import replace

import shapely
from shapely.affinity import translate

from boardgen.board.geometry import Shape
from boardgen.errors import Finding, Severity
from boardgen.readback.fills import check_table_fills
from boardgen.readback.match import XY, pairs_by_place
from boardgen.readback.model import SAME, Pad, Via, Wanted
from boardgen.readback.profile import SLACK
from boardgen.readback.things import limited, spot
from boardgen.units import format_mm, nm

Contact = tuple[str, str]
WIDE_REF, WIDE_PIN = 6, 4  # columns a test netlist has for reference and pin

Company = Callable[[Pad], str]


def _find(
    rule: str, message: str, at: XY | None, item: str, path: str, measured: float | None = None
) -> Finding:
    off = None if measured is None else nm(measured)
    place = None if at is None else spot(at)
    return Finding(rule, Severity.ERROR, message, place, "", (item, path), off)


def lone_nets(wanted: Wanted) -> frozenset[str]:
    """Return the nets with one contact: they join nothing, and a file may leave them out."""
    members: Counter[str] = Counter()
    for net in {(pad.ref, pad.number): pad.net for pad in wanted.pads}.values():
        if net is not None:
            members[net] += 1
    return frozenset(net for net, count in members.items() if count == 1)


def _short(contact: Contact, other: Wanted) -> Contact:
    return (contact[0][:WIDE_REF], contact[1][:WIDE_PIN]) if other.grid else contact


def _pads(first: Wanted, other: Wanted, company: Company) -> tuple[list[Finding], int]:
    rest: dict[Contact, list[Pad]] = {}
    for pad in other.pads:
        rest.setdefault((pad.ref, pad.number), []).append(pad)
    lone = lone_nets(first)
    slack = other.grid / 2 + SAME
    found: list[Finding] = []
    agreed = 0
    for pad in first.pads:
        if not pad.sides:
            continue
        twins = rest.get(_short((pad.ref, pad.number), other), [])
        if not twins:
            message = f"{other.name}: {pad.name} of the {first.body} is missing"
            found.append(_find("readback-pad", message, pad.at, pad.name, other.name))
            continue
        twin = min(twins, key=lambda item: (math.dist(item.at, pad.at), item.at))
        twins.remove(twin)
        bad = _pad(pad, twin, other, slack)
        net, said = pad.net, twin.net
        if net != said and not (said is None and net in lone):
            words = (
                f"{other.name}: {pad.name} is on {said or 'no net'}, the {first.name} says {net or 'no net'}"
            )
            message = f"{words}; {company(pad)}"
            bad.append(_find("readback-netlist", message, pad.at, pad.name, other.name))
        agreed += not bad
        found += bad
    for left in rest.values():
        for pad in left:
            message = f"{other.name}: {pad.name} that the {first.body} has not"
            found.append(_find("readback-pad", message, pad.at, pad.name, other.name))
    return limited(found), agreed


def _pad(pad: Pad, twin: Pad, other: Wanted, slack: float) -> list[Finding]:
    found = []
    off = max(abs(twin.at[0] - pad.at[0]), abs(twin.at[1] - pad.at[1]))
    if off > slack:
        message = f"{other.name}: {pad.name} stands {format_mm(nm(off), 4)} mm off"
        found.append(_find("readback-pad", message, pad.at, pad.name, other.name, off))
    if set(twin.sides) != set(pad.sides):
        message = f"{other.name}: {pad.name} is not on the same copper sides"
        found.append(_find("readback-pad", message, pad.at, pad.name, other.name))
    if (pad.hole is None) is not (twin.hole is None):
        message = f"{other.name}: {pad.name} has {'no' if twin.hole is None else 'a'} hole"
        found.append(_find("readback-drill", message, pad.at, pad.name, other.name))
    elif pad.hole is not None and twin.hole is not None:
        # A record has one figure for a slot: its length.
        across = 2 * pad.hole.radius + (float(pad.hole.skeleton.length) if other.grid else 0.0)
        said = 2 * twin.hole.radius
        if abs(across - said) > slack:
            sizes = f"{format_mm(nm(said))} mm, not {format_mm(nm(across))} mm"
            message = f"{other.name}: the hole of {pad.name} is {sizes}"
            found.append(_find("readback-drill", message, pad.at, pad.name, other.name, said))
        if twin.plated is not pad.plated:
            message = (
                f"{other.name}: the hole of {pad.name} is {'' if twin.plated else 'not '}said to be plated"
            )
            found.append(_find("readback-drill", message, pad.at, pad.name, other.name))
    return found


def in_place(first: Wanted, other: Wanted) -> tuple[Wanted, list[Finding]]:
    """Return *other* moved to where *first* stands, and a ``readback-frame`` finding where it had to be."""
    mine: dict[Contact, list[Pad]] = {}
    for pad in first.pads:
        mine.setdefault(_short((pad.ref, pad.number), other), []).append(pad)
    ways = [
        (round(twins[0].at[0] - pad.at[0]), round(twins[0].at[1] - pad.at[1]))
        for pad in other.pads
        if len(twins := mine.get((pad.ref, pad.number), [])) == 1
    ]
    slack = other.grid + SAME
    if not ways:
        return other, []
    dx, dy = (sorted(values)[len(ways) // 2] for values in zip(*ways, strict=True))
    alike = sum(abs(x - dx) <= slack and abs(y - dy) <= slack for x, y in ways)
    if max(abs(dx), abs(dy)) <= slack or alike < 0.8 * len(ways):
        return other, []
    words = f"{other.name}: everything is shifted by {format_mm(-dx, 3)}, {format_mm(-dy, 3)} mm"
    told = _find("readback-frame", words, first.pads[0].at, "origin", other.name, math.hypot(dx, dy))
    return moved(other, float(dx), float(dy)), [told]


def moved(wanted: Wanted, dx: float, dy: float) -> Wanted:
    """Return *wanted* moved by a vector (nm)."""

    def to(at: XY) -> XY:
        return at[0] + dx, at[1] + dy

    def shape(item: Shape | None) -> Shape | None:
        return None if item is None else Shape(translate(item.skeleton, dx, dy), item.radius)

    bare = [(name, made) for name, hole in wanted.bare or () if (made := shape(hole)) is not None]
    tracks = [replace(t, start=to(t.start), end=to(t.end)) for t in wanted.tracks or ()]
    fills = [replace(fill, shape=translate(fill.shape, dx, dy)) for fill in wanted.fills or ()]
    return replace(
        wanted,
        pads=tuple(replace(p, at=to(p.at), shape=shape(p.shape), hole=shape(p.hole)) for p in wanted.pads),
        vias=tuple(replace(via, at=to(via.at)) for via in wanted.vias),
        bare=None if wanted.bare is None else tuple(bare),
        tracks=None if wanted.tracks is None else tuple(tracks),
        fills=None if wanted.fills is None else tuple(fills),
        outline=None if wanted.outline is None else translate(wanted.outline, dx, dy),
    )


def _vias(first: Wanted, other: Wanted) -> tuple[list[Finding], int]:
    grid = other.grid or 1.0

    def place(via: Via) -> XY:
        return round(via.at[0] / grid) * grid, round(via.at[1] / grid) * grid

    pairs, missing, extra = pairs_by_place([place(v) for v in first.vias], [place(v) for v in other.vias])
    slack = other.grid + SAME
    found = []
    for i, j in pairs:
        via, twin = first.vias[i], other.vias[j]
        name = f"via of {via.net}"
        if math.dist(via.at, twin.at) > 2 * slack:
            message = f"{other.name}: the {name} stands off"
            found.append(_find("readback-pad", message, via.at, name, other.name))
        if abs(via.hole - twin.hole) > slack or abs(via.diameter - twin.diameter) > slack:
            message = f"{other.name}: the {name} has another size"
            found.append(_find("readback-drill", message, via.at, name, other.name))
        if via.net != twin.net:
            message = f"{other.name}: the {name} is on {twin.net or 'no net'}"
            found.append(_find("readback-netlist", message, via.at, name, other.name))
    for i in missing:
        name = f"via of {first.vias[i].net}"
        message = f"{other.name}: a {name} of the {first.body} is missing"
        found.append(_find("readback-pad", message, first.vias[i].at, name, other.name))
    for j in extra:
        message = f"{other.name}: a via that the {first.body} has not"
        found.append(_find("readback-pad", message, other.vias[j].at, "via", other.name))
    return limited(found), len(pairs)


def _tracks(first: Wanted, other: Wanted) -> list[Finding]:
    if first.tracks is None or other.tracks is None:
        return []

    def counted(wanted: Wanted) -> Counter[tuple[object, ...]]:
        return Counter(
            (t.side, min(t.start, t.end), max(t.start, t.end), t.width, t.net) for t in wanted.tracks or ()
        )

    a, b = counted(first), counted(other)
    lost, over = sorted((a - b).items(), key=str), sorted((b - a).items(), key=str)
    found = []
    for (side, start, end, width, net), _count in lost:
        twin = next((row for row, _ in over if row[:4] == (side, start, end, width)), None)
        at = start if isinstance(start, tuple) else (0.0, 0.0)
        name = f"track of {net}"
        if twin is not None:
            message = f"{other.name}: the {name} is on {twin[4] or 'no net'}"
            found.append(_find("readback-netlist", message, at, name, other.name))
        else:
            message = f"{other.name}: a {name} of the {first.body} on {side} copper is missing or differs"
            found.append(_find("readback-copper", message, at, name, other.name))
    known = {row[:4] for row, _ in lost}
    for (side, start, end, width, net), _count in over:
        if (side, start, end, width) not in known:
            at = start if isinstance(start, tuple) else (0.0, 0.0)
            name = f"track of {net or 'no net'}"
            message = f"{other.name}: a {name} on {side} copper that the {first.body} has not"
            found.append(_find("readback-copper", message, at, name, other.name))
    return limited(found)


def _bare(first: Wanted, other: Wanted) -> list[Finding]:
    if first.bare is None or other.bare is None:
        return []

    def rows(wanted: Wanted) -> Counter[tuple[int, int, int, int]]:
        boxes = (shape.bounds for _, shape in wanted.bare or ())
        return Counter((round(a), round(b), round(c), round(d)) for a, b, c, d in boxes)

    a, b = rows(first), rows(other)
    found = []
    for box, words in [(box, "missing or differs") for box in sorted(a - b)] + [
        (box, f"one that the {first.body} has not") for box in sorted(b - a)
    ]:
        at = ((box[0] + box[2]) / 2, (box[1] + box[3]) / 2)
        message = f"{other.name}: an unplated hole is {words}"
        found.append(_find("readback-drill", message, at, "unplated hole", other.name))
    return limited(found)


def _outline(first: Wanted, other: Wanted) -> list[Finding]:
    if first.outline is None or other.outline is None or first.outline.is_empty:
        return []
    if other.outline.is_empty:
        return [_find("readback-profile", f"{other.name}: the outline is open", None, "outline", other.name)]
    apart = float(shapely.hausdorff_distance(first.outline.boundary, other.outline.boundary))
    if apart <= SLACK:
        return []
    spot_ = first.outline.symmetric_difference(other.outline).representative_point()
    message = f"{other.name}: the outline is up to {format_mm(nm(apart), 3)} mm off"
    return [_find("readback-profile", message, (spot_.x, spot_.y), "outline", other.name, apart)]


def check_tables(first: Wanted, other: Wanted, company: Company) -> tuple[list[Finding], int]:
    """Compare *other* with *first*; returns the findings and how many pads agree.

    *company* says in words with what the copper joins a pad.
    """
    found, agreed = _pads(first, other, company)
    vias, _count = _vias(first, other)
    found += vias
    for check in (_tracks, check_table_fills, _bare, _outline):
        found += check(first, other)
    return found, agreed
