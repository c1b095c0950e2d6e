"""Rules ``unconnected`` and ``footprint`` against the netlist: parts, their nets and their land patterns.

A part on the board carries its own pads, so a pad that is off, missing, renumbered or otherwise drilled is
seen only by holding them against the pads the netlist's part has.
"""

from __future__ import annotations

from boardgen.board.geometry import sides_of
from boardgen.board.model import Board, Part, PartKind
from boardgen.circuit.model import CircuitPart
from boardgen.errors import Finding
from boardgen.footprint.model import Pad, PadKind
from boardgen.rules.survey import ROUNDING, Survey, finding
from boardgen.units import Point, Size, format_mm, nm

_MADE = {
    PadKind.PLATED: "plated through",
    PadKind.UNPLATED: "a hole without plating",
    PadKind.SURFACE: "on the surface",
}


def _place(part: Part, number: str) -> Point:
    """Return where a finding about pad *number* stands: at the first such pad, else at the part."""
    pads = part.footprint.numbered(number)
    return part.placement.place(pads[0].at) if pads else part.placement.at


def _pins(part: Part, wanted: CircuitPart) -> tuple[list[Finding], int]:
    found = []
    known = {pin.number for pin in wanted.pins}
    for pin in wanted.pins:
        have = part.net_of(pin.number)
        name = f"{wanted.ref} pad {pin.number}"
        message = ""
        if have != pin.net:
            message = f"{name} is on {have or 'no net'}, the netlist says {pin.net or 'no net'}"
        elif pin.net is not None and not part.footprint.numbered(pin.number):
            message = f"{name} of the netlist has no pad on the board"
        if message:
            found.append(finding("unconnected", message, _place(part, pin.number), "", (name,)))
    for number, net in part.nets:
        if number not in known:
            name = f"{part.ref} pad {number}"
            message = f"{name} is on {net}, the netlist does not know it"
            found.append(finding("unconnected", message, _place(part, number), "", (name,)))
    return found, len(wanted.pins)


def _name(part: Part, pad: Pad) -> str:
    return f"{part.ref} pad {pad.number}" if pad.number else f"hole of {part.ref}"


def _size(hole: Size | None) -> str:
    if hole is None:
        return "no hole"
    words = format_mm(hole.w) if hole.w == hole.h else f"{format_mm(hole.w)} by {format_mm(hole.h)}"
    return f"a hole of {words} mm"


def _differs(part: Part, pad: Pad, wanted: Pad) -> Finding | None:
    name = _name(part, pad)
    at = part.placement.place(pad.at)
    away = pad.at.distance(wanted.at)
    if away > ROUNDING:
        message = f"{name} is {format_mm(nm(away), 3)} mm from where its footprint has it"
        return finding("footprint", message, at, "", (name,), away, 0)
    if pad.kind is not wanted.kind:
        message = f"{name} is {_MADE[pad.kind]}, its footprint has it {_MADE[wanted.kind]}"
        return finding("footprint", message, at, "", (name,))
    if pad.hole != wanted.hole:
        message = f"{name} has {_size(pad.hole)}, its footprint {_size(wanted.hole)}"
        return finding("footprint", message, at, "drill", (name,))
    return None


def _pattern(part: Part, wanted: CircuitPart) -> list[Finding]:
    """Return where the pads of *part* are not those of its footprint in the netlist."""
    if part.footprint.pads == wanted.footprint.pads:
        return []
    found: list[Finding | None] = []
    left: dict[str, list[Pad]] = {}
    for pad in part.footprint.pads:
        left.setdefault(pad.number, []).append(pad)
    for meant in wanted.footprint.pads:
        same = left.get(meant.number)
        if same:
            # Of several pads with one number, each is held against the nearest.
            pad = min(same, key=lambda p: (p.at.distance(meant.at), p.at))
            same.remove(pad)
            found.append(_differs(part, pad, meant))
        else:
            name = _name(part, meant)
            at = part.placement.place(meant.at)
            message = f"{name} of its footprint is not on the board"
            found.append(finding("footprint", message, at, "", (name,)))
    for pad in (pad for same in left.values() for pad in same):
        name = _name(part, pad)
        at = part.placement.place(pad.at)
        found.append(finding("footprint", f"{name} is not in its footprint", at, "", (name,)))
    return [item for item in found if item is not None]


def against_netlist(survey: Survey) -> tuple[list[Finding], list[Finding], int, int]:
    """Return what differs from the netlist in nets, then in land patterns; pins and pads compared."""
    if survey.netlist is None:
        return [], [], 0, 0
    nets: list[Finding] = []
    patterns: list[Finding] = []
    pins = pads = 0
    parts = {part.ref: part for part in survey.board.parts}
    for wanted in survey.netlist.parts:
        part = parts.pop(wanted.ref, None)
        if part is None:
            message = f"{wanted.ref} of the netlist is not on the board"
            nets.append(finding("unconnected", message, None, "", (wanted.ref,)))
            continue
        some, count = _pins(part, wanted)
        nets += some
        pins += count
        patterns += _pattern(part, wanted)
        pads += len(wanted.footprint.pads)
    for part in parts.values():
        # Wire links stand for copper, holes join nothing: neither is in a netlist.
        if part.nets and part.kind is not PartKind.LINK:
            message = f"{part.ref} is not in the netlist"
            nets.append(finding("unconnected", message, part.placement.at, "", (part.ref,)))
    return nets, patterns, pins, pads


def without_copper(board: Board) -> list[Finding]:
    """Return contacts that are on a net but have no copper to solder to."""
    found = []
    for part in board.parts:
        for number, net in part.nets:
            pads = part.footprint.numbered(number)
            if pads and not any(sides_of(part, pad, board.copper) for pad in pads):
                name = f"{part.ref} pad {number}"
                message = f"{name} is on {net} but has no copper"
                found.append(finding("unconnected", message, _place(part, number), "", (name,)))
    return found
