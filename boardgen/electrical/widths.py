"""Track width for a current."""

from __future__ import annotations

from boardgen.units import ZERO, Nm, nm

_K_OUTER = 0.048  # IPC-2221, outer layers
_MIL_PER_UM = 1 / 25.4


def ipc2221_width(current_a: float, rise_c: float = 10.0, copper_um: float = 35.0) -> Nm:
    """Return the width of an outer track that *current_a* warms by *rise_c* kelvin.

    IPC-2221: I = k * dT^0.44 * A^0.725 with A the cross-section in square mil
    and k = 0.048 on outer layers. Gives 0.12 mm for 0.5 A and 0.30 mm for 1 A
    at 10 K on 35 um. Raises ValueError for a negative current or no copper.
    """
    if current_a < 0 or rise_c <= 0 or copper_um <= 0:
        raise ValueError("current must not be negative, rise and copper must be positive")
    if current_a == 0:
        return ZERO
    area_mil2 = (current_a / (_K_OUTER * rise_c**0.44)) ** (1 / 0.725)
    width_mil = area_mil2 / (copper_um * _MIL_PER_UM)
    return nm(width_mil * 25_400)
