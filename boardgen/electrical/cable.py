"""The lead between board and device: its capacitance, assumed where the design does not state it."""

from __future__ import annotations

from boardgen.design.model import Cable

CABLE_M, CABLE_PF_PER_M = 2.0, 66.0  # a desk's lead; the most of common pairs (33 to 66 pF/m)


def cable_pf(cable: Cable) -> float:
    """Return the capacitance of one line of *cable*, pF."""
    length = CABLE_M if cable.length_m is None else cable.length_m
    return length * (CABLE_PF_PER_M if cable.pf_per_m is None else cable.pf_per_m)


def cable_assumed(cable: Cable) -> tuple[str, ...]:
    """Return what :func:`cable_pf` took for granted."""
    found = []
    if cable.length_m is None:
        found.append(f"a cable of {CABLE_M:g} m")
    if cable.pf_per_m is None:
        found.append(f"{CABLE_PF_PER_M:g} pF a metre of cable")
    return tuple(found)
