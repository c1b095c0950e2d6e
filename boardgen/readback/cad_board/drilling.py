"""Whether a part's holes are those of its footprint in the design: sizes, and whether they are plated."""

from __future__ import annotations

from boardgen.board.model import Part
from boardgen.errors import Finding, Severity
from boardgen.footprint.model import Footprint, Pad, PadKind
from boardgen.units import format_mm

Made = tuple[str, int, int]


def _made(pad: Pad) -> Made:
    """Return how a pad is made, whichever way it is turned."""
    if pad.hole is None:
        return ("surface" if pad.kind is PadKind.SURFACE else pad.kind.value, 0, 0)
    kind = "unplated" if pad.kind is PadKind.UNPLATED else "plated"
    return (kind, min(pad.hole), max(pad.hole))


def _words(made: Made) -> str:
    kind, short, long = made
    if long == 0:
        return "no hole"
    size = format_mm(short) if short == long else f"{format_mm(short)} by {format_mm(long)}"
    return f"a hole of {size} mm, {kind}"


def check_holes(part: Part, wanted: Footprint, rule: str) -> list[Finding]:
    """Return pads of *part* that are drilled otherwise than *wanted* has them.

    A number missing on either side, or there another time, is for others to tell.
    """
    found = []
    for number in (*wanted.numbers(), ""):
        want = sorted(_made(pad) for pad in wanted.numbered(number))
        pads = sorted(part.footprint.numbered(number), key=lambda pad: (_made(pad), pad.at))
        if len(want) != len(pads):
            continue
        for pad, meant in zip(pads, want, strict=True):
            have = _made(pad)
            if have != meant:
                name = f"{part.ref} pad {number}" if number else f"hole of {part.ref}"
                message = f"{name} has {_words(have)}; the design {_words(meant)}"
                at = part.placement.place(pad.at)
                found.append(Finding(rule, Severity.ERROR, message, at, "drill", (name,)))
    return found


__all__ = ["check_holes"]
