"""A CAD board held against what its design wants: parts, nets of pads, numbering, outline."""

from __future__ import annotations

from dataclasses import dataclass

import shapely
from shapely.affinity import translate
from shapely.geometry.base import BaseGeometry

from boardgen.board.geometry import outline_polygon, whole_loops
from boardgen.board.model import Board, Part, PartKind
from boardgen.errors import Finding, Severity
from boardgen.readback.cad_board.drilling import check_holes
from boardgen.readback.cad_board.model import CadBoard, Intent
from boardgen.readback.cad_board.numbering import check_numbering
from boardgen.units import Point, format_mm, nm

OUTLINE_OFF = 5_000.0  # nm: what ends joined within a corner's slack and arcs drawn with chords may differ by
_MOST_SWAPS = 200


@dataclass(frozen=True, slots=True)
class Comparison:
    """What differs from the design, and how much was compared."""

    findings: tuple[Finding, ...]
    counts: tuple[tuple[str, int], ...]


def against_design(read: CadBoard, intent: Intent) -> Comparison:
    """Compare the board *read* with what the design wants.

    Rules: ``cad-part`` (a part is missing, too many, or on the other side), ``cad-net`` (a pad is on another
    net), ``cad-contact`` and ``cad-pin`` (numbering of the connector and of the module), ``cad-outline``.
    """
    board = read.board
    found: list[Finding] = []
    parts = {_cut(part.ref, intent.ref_width): part for part in board.parts}
    found += _parts(board, parts, intent)
    nets, compared = _nets(parts, intent)
    found += nets
    numbered = 0
    for wanted in intent.parts:
        part = parts.get(_cut(wanted.ref, intent.ref_width))
        if part is None or wanted.footprint is None:
            continue
        rule, what = {
            PartKind.CONNECTOR: ("cad-contact", "contact"),
            PartKind.MODULE: ("cad-pin", "pin"),
        }.get(wanted.kind, ("cad-pin", "pad"))
        numbered += len(wanted.footprint.numbers())
        found += check_numbering(part, wanted.footprint, rule, what)
        found += check_holes(part, wanted.footprint, rule)
    outline = _outline(read, intent)
    found += outline
    counts = (
        ("pads compared with the design", compared),
        ("numbers compared with the catalogue", numbered),
        ("outline compared", int(intent.outline is not None)),
    )
    return Comparison(tuple(found), counts)


def _cut(text: str, width: int | None) -> str:
    return text if width is None else text[:width]


def _parts(board: Board, parts: dict[str, Part], intent: Intent) -> list[Finding]:
    found = []
    known = {_cut(wanted.ref, intent.ref_width) for wanted in intent.parts}
    for wanted in intent.parts:
        part = parts.get(_cut(wanted.ref, intent.ref_width))
        if part is None:
            message = f"{wanted.ref} of the design is not on the board"
            found.append(Finding("cad-part", Severity.ERROR, message, None, "", (wanted.ref,)))
        elif wanted.side is not None and part.placement.side is not wanted.side:
            message = f"{wanted.ref} stands on the {part.placement.side.value}, in the design on the "
            at, ref = part.placement.at, wanted.ref
            found.append(Finding("cad-part", Severity.WARNING, message + wanted.side.value, at, "", (ref,)))
    for part in board.parts:
        if _cut(part.ref, intent.ref_width) not in known and part.footprint.numbers():
            message = f"{part.ref} is on the board but not in the design"
            found.append(Finding("cad-part", Severity.WARNING, message, part.placement.at, "", (part.ref,)))
    return found


def _nets(parts: dict[str, Part], intent: Intent) -> tuple[list[Finding], int]:
    """Return pads on other nets than the design's; two that have each other's are told as one."""
    wanted = _joining(intent)
    off: dict[tuple[str, str], tuple[str | None, str | None]] = {}
    names: dict[tuple[str, str], tuple[Part, str]] = {}
    count = 0
    found: list[Finding] = []
    for (ref, number), net in wanted.items():
        part = parts.get(ref)
        if part is None:
            continue
        numbers = [n for n in part.footprint.numbers() if _cut(n, intent.pad_width) == number]
        if not numbers:
            if net is not None:
                message = f"{part.ref} has no pad {number}, which the design has on {net}"
                name = f"{part.ref} pad {number}"
                found.append(Finding("cad-net", Severity.ERROR, message, part.placement.at, "", (name,)))
            continue
        count += 1
        have = part.net_of(numbers[0])
        names[ref, number] = (part, numbers[0])
        if have != net:
            off[ref, number] = (have, net)
    told: set[tuple[str, str]] = set()
    for key, (have, net) in off.items():
        if key in told:
            continue
        twin = _twin(key, off, told)
        part, number = names[key]
        name, at = f"{part.ref} pad {number}", _at(part, number)
        if twin is not None:
            told |= {key, twin}
            other = names[twin]
            second = f"{other[0].ref} pad {other[1]}"
            message = f"{name} and {second} have each other's nets: {name} is on {have or 'no net'}, "
            message += f"the design has it on {net or 'no net'}"
            found.append(Finding("cad-net", Severity.ERROR, message, at, "", (name, second)))
            continue
        message = f"{name} is on {have or 'no net'}, the design has it on {net or 'no net'}"
        found.append(Finding("cad-net", Severity.ERROR, message, at, "", (name,)))
    return found, count


def _at(part: Part, number: str) -> Point:
    return next((part.placement.place(pad.at) for pad in part.footprint.numbered(number)), part.placement.at)


def _twin(
    key: tuple[str, str],
    off: dict[tuple[str, str], tuple[str | None, str | None]],
    told: set[tuple[str, str]],
) -> tuple[str, str] | None:
    """Return the one other pad of the same part that has this one's net, and whose net this one has."""
    if len(off) > _MOST_SWAPS:
        return None
    have, net = off[key]
    found = [
        o for o, pair in off.items() if o != key and o not in told and o[0] == key[0] and pair == (net, have)
    ]
    return found[0] if len(found) == 1 else None


def _joining(intent: Intent) -> dict[tuple[str, str], str | None]:
    """Return the wanted nets; one that has a single pad joins nothing and counts as open."""
    members: dict[str, int] = {}
    for net in intent.nets.values():
        if net is not None:
            members[net] = members.get(net, 0) + 1
    return {
        (_cut(ref, intent.ref_width), _cut(number, intent.pad_width)): (
            net if net is not None and members[net] > 1 else None
        )
        for (ref, number), net in sorted(intent.nets.items())
    }


def _outline(read: CadBoard, intent: Intent) -> list[Finding]:
    outline = whole_loops(read.board.outline)
    if intent.outline is None or intent.outline.is_empty or outline is None:
        return []  # a board without an outline is the rule check's to tell
    have: BaseGeometry = outline_polygon(outline, 100.0)
    if not have.is_valid:
        return []
    left, _top, _right, bottom = have.bounds
    if read.origin is not None:
        by = (float(read.origin.x) - intent.origin[0], float(read.origin.y) - intent.origin[1])
    else:
        by = (left - intent.origin[0], bottom - intent.origin[1])
    want = translate(intent.outline, *by)
    apart = float(shapely.hausdorff_distance(have.boundary, want.boundary))
    if apart <= OUTLINE_OFF:
        return []
    rest = have.symmetric_difference(want)
    spot = rest.representative_point()
    message = f"the outline is up to {format_mm(nm(apart), 3)} mm off the design's"
    at = Point(nm(spot.x), nm(spot.y))
    return [Finding("cad-outline", Severity.WARNING, message, at, "profile", ("outline",), nm(apart))]
