"""Which words the board itself should carry, and where they belong."""

from __future__ import annotations

from dataclasses import dataclass

from boardgen.circuit.model import PinMap
from boardgen.design.model import BoundDesign
from boardgen.electrical.model import ElectricalPlan


@dataclass(frozen=True, slots=True)
class Label:
    """A word for the legend. *ref* and *pad* name the pad it explains; both "" for the board's title.

    *rank* orders them: smaller is printed first where room is short.
    """

    text: str
    ref: str = ""
    pad: str = ""
    rank: int = 0


def board_labels(bound: BoundDesign, plan: ElectricalPlan, pinmap: PinMap) -> tuple[Label, ...]:
    """Return the title with revision, then the pin map's digest, then signal names at contacts."""
    design = bound.design
    labels = [
        Label(f"{design.name.upper()} REV {design.revision}", rank=0),
        Label(f"PINS {pinmap.digest()}", rank=1),
    ]
    nets = dict(plan.contact_nets)
    for contact in design.contacts:
        if nets.get(contact.number):
            labels.append(Label(contact.signal, "J1", contact.number, 2))
    return tuple(labels)
