"""Which words the board itself should carry, and where they belong."""

from __future__ import annotations

from dataclasses import dataclass, replace

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


REVISION, PINS = "{revision}", "{pins}"  # what stands for them in a person's texts


def title_of(name: str, revision: str) -> str:
    """Return the board's title as it is printed."""
    return f"{name.upper()} REV {revision}"


def pins_of(digest: str) -> str:
    """Return the words that tell the pin map."""
    return f"PINS {digest}"


def with_words(bound: BoundDesign, pinmap: PinMap) -> BoundDesign:
    """Return the design with revision and pin map put into the texts that a person placed."""

    def said(text: str) -> str:
        return text.replace(REVISION, bound.design.revision).replace(PINS, pinmap.digest())

    legend = tuple(
        replace(wish, text=said(wish.text), instead_of=said(wish.instead_of)) for wish in bound.design.legend
    )
    return replace(bound, design=replace(bound.design, legend=legend))


def board_labels(bound: BoundDesign, plan: ElectricalPlan, pinmap: PinMap) -> tuple[Label, ...]:
    """Return the title with revision, then the pin map's digest, then signal names at contacts."""
    design = bound.design
    labels = [
        Label(title_of(design.name, design.revision), rank=0),
        Label(pins_of(pinmap.digest()), rank=1),
    ]
    nets = dict(plan.contact_nets)
    for contact in design.contacts:
        if nets.get(contact.number):
            labels.append(Label(contact.signal, "J1", contact.number, 2))
    return tuple(labels)
