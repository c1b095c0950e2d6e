"""Known faults of a module's chip that a design can run into, as data.

A fault names one *condition* of a short list; ``circuit/chip_errata`` evaluates it on a plan:

``pull-down``
    a logic input whose low level reaches it through more than *most_ohms*, as that of a pull-down does
    (one inside the chip always counts where *most_ohms* is below it);
``input``
    any logic input on one of *pins* (on any pin where the list is empty).
"""

from __future__ import annotations

from dataclasses import dataclass

CONDITIONS = ("pull-down", "input")


@dataclass(frozen=True, slots=True)
class ChipErratum:
    """One known fault: *id* as its maker counts it, what happens, what to do, and where that is written.

    *harm* is "error" where the design does not work, "warning" where firmware can
    live with it. *pins* are numbers of the module's pins, *most_ohms* in ohm.
    """

    id: str
    condition: str
    text: str
    remedy: str
    source: str
    most_ohms: float | None = None
    pins: tuple[str, ...] = ()
    harm: str = "error"
