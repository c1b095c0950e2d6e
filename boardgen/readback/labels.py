"""Rule ``readback-netlist`` on copper layers: the nets and contacts that a file writes beside its copper."""

from __future__ import annotations

import re

from boardgen.board.model import Side
from boardgen.errors import Finding, Severity
from boardgen.readback.match import XY
from boardgen.readback.model import FabLayer, Kind, Thing, Wanted
from boardgen.readback.things import limited, spot

_ESCAPE = re.compile(r"\\u([0-9A-Fa-f]{4})|\\U([0-9A-Fa-f]{8})")


def plain(text: str) -> str:
    """Return an attribute's text with its escapes (a backslash, u and four digits) as what they stand for."""

    def meant(found: re.Match[str]) -> str:
        code = int(found[1] or found[2], 16)
        return chr(code) if code <= 0x10FFFF else found[0]

    return _ESCAPE.sub(meant, text)


def _key(at: XY) -> XY:
    return round(at[0]), round(at[1])


def _told(layer: FabLayer, thing: Thing, item: str, words: str) -> Finding:
    message = f"{layer.path}: {words}"
    at = spot(thing.start)
    return Finding("readback-netlist", Severity.ERROR, message, at, layer.name, (item, layer.path))


def check_labels(layer: FabLayer, side: Side, wanted: Wanted) -> tuple[list[Finding], int]:
    """Compare the net and contact written beside each flash and stroke with what is wanted in its place.

    Returns the findings and how many labels agree. A thing without a label says nothing wrong.
    """
    pads = {_key(pad.at): (pad.net or "", (pad.ref, pad.number)) for pad in wanted.pads if side in pad.sides}
    vias = {_key(via.at): (via.net or "", ("", "")) for via in wanted.vias}
    flashed = {**vias, **pads}
    drawn: dict[frozenset[XY], set[str]] = {}
    for track in wanted.tracks or ():
        if track.side is side:
            drawn.setdefault(frozenset((_key(track.start), _key(track.end))), set()).add(track.net or "")
    found: list[Finding] = []
    agreed = 0
    for thing in layer.things:
        net, contact = plain(thing.net), (plain(thing.pad[0]), plain(thing.pad[1]))
        if thing.kind is Kind.FLASH and _key(thing.start) in flashed:
            known, pad = flashed[_key(thing.start)]
            name = f"{pad[0]} pad {pad[1]}" if pad[0] else f"via of {known}"
            if net and net != known:
                words = f"{name} is labelled {net}, the {wanted.name} says {known or 'no net'}"
                found.append(_told(layer, thing, name, words))
            elif contact[0] and contact != pad:
                words = f"{name} is labelled {contact[0]} pad {contact[1]}"
                found.append(_told(layer, thing, name, words))
            else:
                agreed += bool(net)
        elif thing.kind is Kind.STROKE and net:
            nets = drawn.get(frozenset((_key(thing.start), _key(thing.end))))
            if nets is not None and net not in nets:
                words = f"a track of {min(nets)} is labelled {net}"
                found.append(_told(layer, thing, f"track of {min(nets)}", words))
            else:
                agreed += nets is not None
    return limited(found), agreed
