"""Which conductors stand close enough for a bridge, measured on the finished copper."""

from __future__ import annotations

import numpy as np

from boardgen.board.geometry import Copper
from boardgen.board.model import NetKind
from boardgen.catalog.model import PinKind
from boardgen.export.bringup_model import Close
from boardgen.export.bundle import Bundle
from boardgen.rules.survey import Layer, array_of, between, cross_pairs, near_pairs, take_survey

PAD_GAP = 1_600_000.0  # nm; solder bridges pads a 2.54 mm grid apart, seldom more
COPPER_GAP = 600_000.0  # nm; a whisker, an etching fault or a burr crosses no more between tracks
MODULE = "U1"
_IDLE = (PinKind.GPIO, PinKind.UNUSED)
MOST_PLACES = 4  # kept for each pair of nets, nearest first


def close_pairs(bundle: Bundle) -> tuple[Close, ...]:
    """Return pairs of different nets that stand close in copper, nearest first; at most MOST_PLACES a pair.

    A contact that is left open counts as a net of its own, named as its spot; two such contacts are no pair.
    """
    idle = {f"{MODULE}.{pin.number}" for pin in bundle.bound.module.pins if pin.kind in _IDLE}
    grounds = {net.name for net in bundle.board.nets if net.kind is NetKind.GROUND}
    survey = take_survey(bundle.board, bundle.netlist, bundle.bound.fab)
    found: list[Close] = []
    for layer in survey.layers:
        found += _on_layer(layer)
    found.sort(key=lambda c: (c.gap_mm, c.a, c.b, c.layer, c.at_mm, c.items))
    known = {pin.net or f"{part.ref}.{pin.number}" for part in bundle.netlist.parts for pin in part.pins}
    found = [c for c in found if {c.a, c.b} <= known and not _harmless(c, grounds, idle)]
    kept: dict[tuple[str, str], list[Close]] = {}
    for item in found:
        places = kept.setdefault((item.a, item.b), [])
        if len(places) < MOST_PLACES and all(item.items != other.items for other in places):
            places.append(item)
    return tuple(
        sorted((c for row in kept.values() for c in row), key=lambda c: (c.gap_mm, c.a, c.b, c.items))
    )


def _harmless(close: Close, grounds: set[str], idle: set[str]) -> bool:
    """Whether a bridge would join ground to a contact that nothing uses: a leg or pin left open."""
    pairs = ((close.a, close.b), (close.b, close.a))
    return any(
        one in grounds and "." in other and (other in idle or not other.startswith((f"{MODULE}.", "J1.")))
        for one, other in pairs
    )


def _on_layer(layer: Layer) -> list[Close]:
    found = []
    pairs = near_pairs(layer.skeletons, layer.radii, PAD_GAP)
    for i, j, gap in zip(*(part.tolist() for part in pairs), strict=True):
        found.append((layer.items[i], layer.items[j], gap))
    pieces = (array_of([piece.shape.skeleton for piece in layer.pieces]), np.zeros(len(layer.pieces)))
    crossed = cross_pairs((layer.skeletons, layer.radii), pieces, COPPER_GAP)
    for i, j, gap in zip(*(part.tolist() for part in crossed), strict=True):
        found.append((layer.items[i], layer.pieces[j], gap))
    rows = []
    for one, other, gap in found:
        close = _close(one, other, gap, layer.word)
        if close is not None:
            rows.append(close)
    return rows


def _net(item: Copper) -> str:
    """The item's net; the spot's own name for a contact left open, nothing for loose copper."""
    return item.net or (f"{item.ref}.{item.pad}" if item.ref and item.pad else "")


def _close(one: Copper, other: Copper, gap: float, layer: str) -> Close | None:
    a, b = _net(one), _net(other)
    if not a or not b or a == b or (one.net is None and other.net is None):
        return None
    if gap > COPPER_GAP and not (one.pad and other.pad):
        return None
    at = between(one.shape, other.shape)
    names = (one.name, other.name)
    if b < a:
        a, b, names = b, a, (names[1], names[0])
    return Close(a, b, round(gap / 1e6, 3), (round(at.x.mm, 2), round(at.y.mm, 2)), layer, names)
