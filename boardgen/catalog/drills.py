"""Holes for the drills there are: where a fab class has a list of them, the next larger one is taken."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from boardgen.catalog.model import FabClass
from boardgen.footprint.model import Footprint, Pad, PadKind
from boardgen.units import Nm, Size, format_mm, mm

# How much wider than asked a hole may be drilled: solder still bridges 0.2 mm all round a lead,
# and a peg without copper holds by the contacts beside it.
WIDER = mm("0.4")
WIDER_PEG = mm(1)


def fit_drills(footprint: Footprint, fab: FabClass) -> Footprint:
    """Return *footprint* with each hole as *fab* drills it; itself where nothing changes.

    A hole that is not on the fab's list is drilled with the next larger drill of it, and
    its pad grows where the ring would fall below the fab's least. A hole stays as it is
    where no drill is near enough, or where rings, gaps or walls do not allow it.
    """
    if not fab.drills:
        return footprint
    pads = tuple(_fitted(pad, fab) for pad in footprint.pads)
    kept = list(pads)
    for i, (old, new) in enumerate(zip(footprint.pads, pads, strict=True)):
        if new != old and not all(_apart(new, other, fab) for j, other in enumerate(pads) if j != i):
            kept[i] = old
    return footprint if tuple(kept) == footprint.pads else replace(footprint, pads=tuple(kept))


def undrillable(footprint: Footprint, fab: FabClass) -> tuple[Nm, ...]:
    """Return the hole widths of *footprint* that *fab* has no drill for, the least first; nm."""
    if not fab.drills:
        return ()
    holes = (pad.hole for pad in fit_drills(footprint, fab).pads if pad.hole is not None)
    return tuple(sorted({min(hole.w, hole.h) for hole in holes} - set(fab.drills)))


def drill_changes(old: Footprint, new: Footprint) -> Iterator[str]:
    """Yield in words how the holes of *new* differ from those of *old*, each kind once."""
    seen: dict[str, int] = {}
    for before, after in zip(old.pads, new.pads, strict=True):
        if before.hole is not None and after.hole is not None and before.hole != after.hole:
            one, two = (min(hole.w, hole.h) for hole in (before.hole, after.hole))
            words = f"drilled {format_mm(two)} mm in place of {format_mm(one)} mm"
            if after.kind is PadKind.PLATED and after.size != before.size:
                words += (
                    f", the pad {format_mm(min(after.size))} mm in place of {format_mm(min(before.size))} mm"
                )
            seen[words] = seen.get(words, 0) + 1
    for words, count in seen.items():
        yield f"{count} hole{'' if count == 1 else 's'} {words}"


def _fitted(pad: Pad, fab: FabClass) -> Pad:
    hole = pad.hole
    if hole is None or min(hole.w, hole.h) in fab.drills:
        return pad
    width = min(hole.w, hole.h)
    most = width + (WIDER if pad.kind is PadKind.PLATED else WIDER_PEG)
    drill = min((d for d in fab.drills if width < d <= most), default=None)
    if drill is None:
        return pad
    more = drill - width
    wide = Size(Nm(hole.w + more), Nm(hole.h + more))
    ring = fab.ring_min if pad.kind is PadKind.PLATED else 0
    size = Size(Nm(max(pad.size.w, wide.w + 2 * ring)), Nm(max(pad.size.h, wide.h + 2 * ring)))
    return replace(pad, hole=wide, size=size)


def _apart(pad: Pad, other: Pad, fab: FabClass) -> bool:
    """Whether a wider hole and its pad keep off another of the part; measured on circles round them."""
    away = math.hypot(pad.at.x - other.at.x, pad.at.y - other.at.y)
    if pad.hole is not None and other.hole is not None:
        walls = away - (max(pad.hole.w, pad.hole.h) + max(other.hole.w, other.hole.h)) / 2
        if walls < fab.hole_gap_min:
            return False
    if pad.number and pad.number == other.number:
        return True
    return away - (_reach(pad) + _reach(other)) >= max(fab.gap_min, fab.npth_copper_min * (not pad.number))


def _reach(pad: Pad) -> float:
    return math.hypot(pad.size.w, pad.size.h) / 2 if pad.shape.value != "circle" else pad.size.w / 2
