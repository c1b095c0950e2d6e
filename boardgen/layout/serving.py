"""Which capacitor stands by which chip's supply pin."""

from __future__ import annotations

from boardgen.board.model import Serving
from boardgen.circuit.model import CircuitPart, Netlist


def serving_of(netlist: Netlist, part: CircuitPart) -> Serving | None:
    """Return what the capacitor *part* serves; None for every other part."""
    if not part.beside or not part.ref.startswith("C"):
        return None
    chip = next((item for item in netlist.parts if item.ref == part.beside), None)
    if chip is None:
        return None
    rails = {pin.net for pin in chip.pins if pin.name == "supply" and pin.net is not None}
    own = tuple(pin.number for pin in part.pins if pin.net in rails)
    nets = {pin.net for pin in part.pins} & rails
    fed = tuple(pin.number for pin in chip.pins if pin.name == "supply" and pin.net in nets)
    return Serving(chip.ref, own, fed) if own else None
