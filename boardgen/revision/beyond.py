"""What a person did in a CAD board that a design has no place for: told, each with what to do about it."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from boardgen.board.model import Board, Track, Via
from boardgen.errors import Finding
from boardgen.export.standing_data import pads_digest, track_digest, via_digest
from boardgen.footprint.sexpr import Node, child, head, words
from boardgen.readback.cad_board.layers import EDGE, LEGEND, is_copper, layers_of
from boardgen.revision.locked import Locked
from boardgen.revision.remark import Remark
from boardgen.units import Point

_AGAIN = "a design has no place for it: draw it again in the next revision's CAD file"
# Lists of a board file that hold what is carried, told elsewhere, or nothing a person draws.
_HEADS = (
    "version",
    "generator",
    "generator_version",
    "host",
    "general",
    "page",
    "paper",
    "title_block",
    "layers",
)
_REST = ("setup", "property", "net", "net_class", "no_connects", "links", "uuid", "tstamp", "embedded_fonts")
_KNOWN = frozenset((*_HEADS, *_REST, "footprint", "segment", "arc", "via", "zone"))
_WORDS = {
    "group": "group",
    "image": "picture",
    "dimension": "dimension",
    "target": "alignment target",
    "generated": "tuned track",
    "table": "table",
    "barcode": "barcode",
    "gr_text": "text",
    "gr_text_box": "text",
    "gr_line": "line",
    "gr_arc": "arc",
    "gr_rect": "rectangle",
    "gr_circle": "circle",
    "gr_poly": "polygon",
    "gr_curve": "curve",
}
_READ = frozenset(("gr_text", "gr_line", "gr_arc", "gr_rect", "gr_circle", "gr_poly"))
_MOST_NETS = 6


def _why(kind: str, layers: Sequence[str]) -> str:
    if kind == "group":
        return "its things are carried one by one: group them again in the next revision's CAD file"
    if any(is_copper(layer) for layer in layers):
        return "copper that is no track: draw it as locked tracks of a net, which are carried"
    if any(layer.endswith(".Mask") for layer in layers):
        return "the mask follows pads alone: draw it again in the next revision's CAD file"
    if any(layer in LEGEND for layer in layers):
        return "it is not read from the legend: draw it as lines, arcs or polygons, which are carried"
    return _AGAIN


def tell_drawings(tree: Node, remarks: list[Remark]) -> None:
    """Tell of drawings outside legend and outline, and of whatever else stands in the file."""
    counts: Counter[tuple[str, tuple[str, ...]]] = Counter()
    for item in tree:
        if not isinstance(item, list) or not head(item) or head(item) in _KNOWN:
            continue
        kind = head(item)
        layers = tuple(sorted(layers_of(item)))
        if kind in _READ and (set(layers) & set(LEGEND) or (layers == (EDGE,) and kind != "gr_text")):
            continue
        counts[kind, layers] += 1
    for (kind, layers), count in sorted(counts.items()):
        name = _WORDS.get(kind, f"list {kind[:40]!r}")
        many = f"{count} {name}s" if count > 1 else name
        where = f" on {' and '.join(layers)}" if layers else ""
        remarks.append(Remark(f"{many}{where}", _why(kind, layers)))


def tell_sheet(tree: Node, data: Mapping[str, Any], remarks: list[Remark]) -> None:
    """Tell of a changed title, revision, board thickness."""
    block = child(tree, "title_block") or []
    for name, key, todo in (
        ("title", "title", "give it as title in the design"),
        ("rev", "revision", "revisions are counted by `revise`"),
    ):
        given = " ".join(words(child(block, name)))
        if given != str(data[key]):
            remarks.append(Remark(f"{key} of the drawing sheet, now {given[:60]!r}", todo))
    thick = words(child(child(tree, "general") or [], "thickness"))
    was = float(data["board"]["thickness_mm"])
    if thick and abs(float(thick[0]) - was) > 1e-6:
        why = "the fab class has the thickness: choose another one in the design"
        remarks.append(Remark(f"thickness of the board, now {float(thick[0]):g} mm", why))


def tell_unread(findings: Sequence[Finding], remarks: list[Remark]) -> None:
    """Tell of what the reader of the CAD board could not read."""
    for finding in findings:
        if finding.rule in ("cad-unread", "cad-layer"):
            remarks.append(Remark(finding.message, "it is not read, so not carried: draw it otherwise"))


def tell_parts(board: Board, data: Mapping[str, Any], remarks: list[Remark]) -> None:
    """Tell of parts with other pads or another value than the run gave them."""
    standing = data.get("standing", {})
    pads, values = standing.get("pads", {}), standing.get("values", {})
    for part in board.parts:
        if part.ref in pads and part.nets and pads_digest(part.footprint) != pads[part.ref]:
            why = "footprints come from the catalogue: put one of your own into its footprints folder"
            remarks.append(Remark(f"pads of {part.ref}, changed", why))
        if part.ref in values and part.nets and part.value != values[part.ref]:
            why = "values follow from the design: change them there"
            remarks.append(Remark(f"value of {part.ref}, now {part.value[:40]!r}", why))


def tell_unlocked(
    board: Board,
    way: Point,
    corner: Point,
    locked: tuple[Sequence[Locked], Sequence[Via]],
    data: Mapping[str, Any],
    remarks: list[Remark],
) -> None:
    """Tell of tracks and vias that a person drew, moved or took off, and did not lock.

    *locked* are those that are carried. They and *way* lead to the axes of the next board, whose top left is
    *corner* in those of the record.
    """
    rows = data.get("standing", {}).get("copper")
    if rows is None:
        return
    fixed = {
        track_digest(Track(t.net, t.side, a.plus(corner), b.plus(corner), t.width))
        for t in locked[0]
        for a, b in itertools.pairwise(t.points)
    } | {via_digest(replace(via, at=via.at.plus(corner))) for via in locked[1]}
    way = way.plus(corner)
    there: dict[str, Counter[str]] = {}
    for track in board.tracks:
        moved = replace(track, start=track.start.plus(way), end=track.end.plus(way))
        there.setdefault(track.net, Counter())[track_digest(moved)] += 1
    for via in board.vias:
        there.setdefault(via.net, Counter())[via_digest(replace(via, at=via.at.plus(way)))] += 1
    drawn, gone = [], []
    for net in sorted({*there, *rows}):
        was, now = Counter(str(rows.get(net, "")).split()), there.get(net, Counter())
        if any(digest not in fixed for digest in now - was):
            drawn.append(net)
        elif (was - now) and not any(digest in fixed for digest in now):
            gone.append(net)
    for nets, thing, why in (
        (
            drawn,
            "tracks drawn or moved, not locked",
            "they are led anew: lock them in A's CAD file, then revise",
        ),
        (gone, "tracks taken off", "they are led anew: take the connection out of the design"),
    ):
        if nets:
            more = f" and {len(nets) - _MOST_NETS} more nets" if len(nets) > _MOST_NETS else ""
            remarks.append(Remark(f"{thing}: {', '.join(nets[:_MOST_NETS])}{more}", why))
