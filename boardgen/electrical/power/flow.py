"""How much flows where: loads summed toward the source, voltages worked out from it."""

from __future__ import annotations

from collections.abc import Sequence

from boardgen.electrical.power.model import Load, Source, Step


def feeding(steps: Sequence[Step], root: str) -> tuple[Step, ...]:
    """Return the steps that carry current away from *root*, each node fed once, nearest first."""
    seen, order, frontier = {root}, [], [root]
    while frontier:
        reached = []
        for node in frontier:
            for step in steps:
                if step.start == node and step.end not in seen:
                    seen.add(step.end)
                    order.append(step)
                    reached.append(step.end)
        frontier = reached
    return tuple(order)


def currents(order: Sequence[Step], loads: Sequence[Load]) -> dict[str, float]:
    """Return what flows through each node, A; *order* as :func:`feeding` gives it."""
    amps: dict[str, float] = {}
    for load in loads:
        amps[load.node] = amps.get(load.node, 0.0) + load.amps
    for step in reversed(order):
        amps[step.start] = amps.get(step.start, 0.0) + amps.get(step.end, 0.0) * step.ratio
    return amps


def spans(order: Sequence[Step], source: Source) -> dict[str, tuple[float, float]]:
    """Return (least, most) V at each node fed by *source*."""
    found = {source.node: (source.least_v, source.most_v)}
    for step in order:
        least, most = found[step.start]
        least -= step.drop_v
        held = step.holds
        found[step.end] = (min(least, held), held) if held is not None else (least, most)
    return found
