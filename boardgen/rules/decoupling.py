"""Rule ``decoupling``: a chip's capacitor stands at the supply pin it serves."""

from __future__ import annotations

from boardgen.board.geometry import pad_centre
from boardgen.board.model import Part
from boardgen.errors import Finding, Severity
from boardgen.rules.survey import ROUNDING, Outcome, Survey, below, finding
from boardgen.units import Point, format_mm, mm, nm

# Data sheets say "as near as possible". A track over ground has some 0.7 nH/mm (0.25 mm wide, 1.5 mm above
# it, mu0 / 2 pi ln(8 h / w)), there and back 1.4: at 10 mm an edge of 30 mA in 4 ns, two outputs of a fast
# CMOS chip, moves its supply by 0.1 V, a quarter of the 0.4 V between TTL levels; at 20 mm by half of them.
NEAR = mm(10)
FAR = mm(20)


def _pads(part: Part, numbers: tuple[str, ...]) -> list[Point]:
    return [pad_centre(part, pad) for pad in part.footprint.pads if pad.number in numbers]


def check_decoupling(survey: Survey) -> tuple[Outcome, ...]:
    """Check rule ``decoupling``: a note beyond 10 mm from pad to supply pin, a warning beyond 20 mm.

    Measured straight, centre to centre. Which capacitor serves which chip is the circuit's to say.
    """
    found: list[Finding] = []
    count = 0
    parts = {part.ref: part for part in survey.board.parts}
    for part in survey.board.parts:
        serves = part.serves
        if serves is None or serves.ref not in parts:
            continue
        fed, own = _pads(parts[serves.ref], serves.fed), _pads(part, serves.own)
        if not fed or not own:
            continue
        count += 1
        gap, at = min((a.distance(b), a) for a in own for b in fed)
        if gap <= NEAR + ROUNDING:
            continue
        severity, limit = (Severity.WARNING, FAR) if gap > FAR + ROUNDING else (Severity.NOTE, NEAR)
        message = f"{part.ref} is {below(gap, limit)} mm from the supply pin of {serves.ref} that it serves, "
        message += f"more than {format_mm(limit)} mm"
        names = (part.ref, serves.ref)
        found.append(finding("decoupling", message, at, "", names, nm(gap), limit, severity))
    return (Outcome("decoupling", tuple(found), count, 0),)
