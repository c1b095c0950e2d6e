"""What logic inputs and outputs guarantee: levels by supply, limits, currents, capacitance.

Voltages in V, currents in A (always positive; the name says which way), capacitance in pF.
"""

from __future__ import annotations

from dataclasses import dataclass

Point = tuple[float, float]  # (A, V)


@dataclass(frozen=True, slots=True)
class LogicPoint:
    """Guaranteed levels at one supply voltage, worst case over temperature.

    *vih_v* is the least an input must see for a high, *vil_v* the most for a
    low. *high* lists (A sourced, least V at the output), *low* (A sunk, most V),
    both by rising current; empty where the output cannot drive that way
    (an open drain) or no source states it.
    """

    supply_v: float
    vih_v: float
    vil_v: float
    high: tuple[Point, ...] = ()
    low: tuple[Point, ...] = ()


@dataclass(frozen=True, slots=True)
class Logic:
    """What a logic family, a chip or a class of module pins guarantees.

    *points* stand by rising supply; between them levels are interpolated
    (:func:`at_supply`). *over_supply_v* is how far an input may rise over its
    own supply (None: no such limit), *input_max_v* the most it takes
    whatever the supply, *idle_max_v* the most while its supply is off.
    *high_a* flows into an input held high, *low_a* out of one held low; *inject_a*
    is the steady current its clamps are made to take (0 where no source says).
    *output* is "push-pull" or "open-drain" (open collector as well).
    *threshold_v* is the switching point at the highest point's supply where a
    source gives a typical one, else None.
    """

    supply_min_v: float
    supply_max_v: float
    points: tuple[LogicPoint, ...]
    input_max_v: float
    idle_max_v: float
    over_supply_v: float | None = None
    high_a: float = 1e-6
    low_a: float = 1e-6
    input_pf: float = 10.0
    inject_a: float = 0.0
    output: str = "push-pull"
    note: str = ""

    def most_v(self, supply_v: float) -> float:
        """Return the most volts an input takes while powered from *supply_v*."""
        if self.over_supply_v is None:
            return self.input_max_v
        return min(self.input_max_v, supply_v + self.over_supply_v)


def _between(low: float, high: float, share: float) -> float:
    return low + (high - low) * share


def _points_between(
    low: tuple[Point, ...], high: tuple[Point, ...], share: float, scale: float
) -> tuple[Point, ...]:
    """Interpolate outputs at currents both supplies state.

    What the higher supply alone states stands at *share* of its current, since
    a CMOS output's strength falls faster than its supply, its volts times *scale*.
    """
    both = [(min(a[0], b[0]), _between(a[1], b[1], share)) for a, b in zip(low, high, strict=False)]
    more = [(a * share, v * scale) for a, v in high[len(both) :]]
    return (*both, *low[len(both) :], *(p for p in more if not both or p[0] > both[-1][0]))


def at_supply(logic: Logic, supply_v: float) -> LogicPoint:
    """Return the levels at *supply_v*, linear between the two points around it.

    Beyond the first or last point the levels scale with the supply, as those
    of CMOS do. Raises ValueError where the supply is outside the range of *logic*.
    """
    if not logic.supply_min_v - 1e-9 <= supply_v <= logic.supply_max_v + 1e-9:
        raise ValueError(
            f"a supply of {supply_v:g} V is outside {logic.supply_min_v:g} V to {logic.supply_max_v:g} V"
        )
    points = logic.points
    below = [p for p in points if p.supply_v <= supply_v + 1e-9]
    above = [p for p in points if p.supply_v >= supply_v - 1e-9]
    if below and above:
        low, high = below[-1], above[0]
        if high.supply_v - low.supply_v < 1e-9:
            return low
        share = (supply_v - low.supply_v) / (high.supply_v - low.supply_v)
        return LogicPoint(
            supply_v,
            _between(low.vih_v, high.vih_v, share),
            _between(low.vil_v, high.vil_v, share),
            _points_between(low.high, high.high, share, supply_v / high.supply_v),
            _points_between(low.low, high.low, share, 1.0),
        )
    near = below[-1] if below else above[0]
    scale = supply_v / near.supply_v
    return LogicPoint(
        supply_v,
        near.vih_v * scale,
        near.vil_v * scale,
        tuple((a, v * scale) for a, v in near.high),
        near.low,
    )


@dataclass(frozen=True, slots=True)
class Gate:
    """One way through a chip: functions of its input and output pins.

    *ties* are control pins of this gate alone with the rail they are tied to
    while the gate is in use ("supply" or "ground").
    """

    input: str
    output: str
    ties: tuple[tuple[str, str], ...] = ()
