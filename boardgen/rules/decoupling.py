"""Rule ``decoupling``: a chip's capacitor stands at the supply pin it serves."""

from __future__ import annotations

from boardgen.board.geometry import pad_centre
from boardgen.board.model import Part
from boardgen.circuit.model import CircuitPart, Netlist
from boardgen.errors import Finding, Severity
from boardgen.rules.survey import ROUNDING, Outcome, Survey, below, finding
from boardgen.units import Point, format_mm, mm, nm

# Data sheets say "as near as possible". A track over ground has some 0.7 nH/mm (0.25 mm wide, 1.5 mm above
# it, mu0 / 2 pi ln(8 h / w)), there and back 1.4: at 10 mm an edge of 30 mA in 4 ns, two outputs of a fast
# CMOS chip, moves its supply by 0.1 V, a quarter of the 0.4 V between TTL levels; at 20 mm by half of them.
NEAR = mm(10)
FAR = mm(20)


def served(netlist: Netlist, part: CircuitPart) -> tuple[CircuitPart, str] | None:
    """Return the chip that the capacitor *part* serves, and the net of its supply pins; None for others."""
    if not part.beside or not part.ref.startswith("C"):
        return None
    for chip in netlist.parts:
        if chip.ref == part.beside:
            own = {pin.net for pin in part.pins}
            nets = [pin.net for pin in chip.pins if pin.name == "supply" and pin.net in own]
            return (chip, nets[0]) if nets and nets[0] is not None else None
    return None


def _pads(part: Part, numbers: set[str]) -> list[Point]:
    return [pad_centre(part, pad) for pad in part.footprint.pads if pad.number in numbers]


def check_decoupling(survey: Survey) -> tuple[Outcome, ...]:
    """Check rule ``decoupling``: a note beyond 10 mm from pad to supply pin, a warning beyond 20 mm.

    Measured straight, centre to centre. Which capacitor serves which chip is the netlist's to say.
    """
    found: list[Finding] = []
    count = 0
    parts = {part.ref: part for part in survey.board.parts}
    for item in survey.netlist.parts if survey.netlist is not None else ():
        pair = served(survey.netlist, item) if survey.netlist is not None else None
        if pair is None or item.ref not in parts or pair[0].ref not in parts:
            continue
        chip, net = pair
        fed = _pads(parts[chip.ref], {p.number for p in chip.pins if p.name == "supply" and p.net == net})
        own = _pads(parts[item.ref], {p.number for p in item.pins if p.net == net})
        if not fed or not own:
            continue
        count += 1
        gap, at = min((a.distance(b), a) for a in own for b in fed)
        if gap <= NEAR + ROUNDING:
            continue
        severity, limit = (Severity.WARNING, FAR) if gap > FAR + ROUNDING else (Severity.NOTE, NEAR)
        message = f"{item.ref} is {below(gap, limit)} mm from the supply pin of {chip.ref} that it serves, "
        message += f"more than {format_mm(limit)} mm"
        names = (item.ref, chip.ref)
        found.append(finding("decoupling", message, at, "", names, nm(gap), limit, severity))
    return (Outcome("decoupling", tuple(found), count, 0),)
