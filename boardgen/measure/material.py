"""What copper and its plating are taken to be, each with its source. Lengths in nm, resistances in ohm."""

from __future__ import annotations

import math

COPPER_OHM_M = 1.72e-8  # annealed copper at 20 C: IACS, 1/58 ohm mm2/m, as IEC 60028
COPPER_PER_KELVIN = 0.0039  # its rise with temperature about 20 C, IEC 60028
PLATING_UM = 20.0  # least mean thickness of copper in a plated hole: IPC-6012, classes 1 and 2
BOARD_C = 20.0  # C; copper at 60 C has 16 % more


def resistivity(celsius: float = BOARD_C) -> float:
    """Return copper's resistivity in ohm metre: 1.72e-8 (1 + 0.0039 (T - 20))."""
    return COPPER_OHM_M * (1 + COPPER_PER_KELVIN * (celsius - 20.0))


def sheet_ohms(copper_um: float, celsius: float = BOARD_C) -> float:
    """Return the resistance of one square: resistivity over thickness (0.49 mohm for 35 um at 20 C).

    Raises ValueError where there is no copper.
    """
    if copper_um <= 0:
        raise ValueError("copper must have a thickness")
    return resistivity(celsius) / (copper_um * 1e-6)


def barrel_ohms(hole: float, length: float, celsius: float = BOARD_C) -> float:
    """Return the resistance of the plating in a hole from side to side.

    *hole* is the finished width (of a slot the narrower way) and *length* the
    board's thickness, both nm. The plating is a tube of :data:`PLATING_UM`
    about the finished hole; pin and solder in it are left out, so the true
    resistance is lower.
    """
    wall = PLATING_UM * 1e3
    section = math.pi * ((hole / 2 + wall) ** 2 - (hole / 2) ** 2)
    return resistivity(celsius) * length / section * 1e9


def wire_ohms(diameter: float, length: float, celsius: float = BOARD_C) -> float:
    """Return the resistance of a round copper wire; both lengths in nm."""
    return resistivity(celsius) * length / (math.pi * diameter**2 / 4) * 1e9
