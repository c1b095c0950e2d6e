"""Boot straps: does the module start whatever the device's keys and chips do at power-up?

The level at a strap is that of a resistor network: the chip's own pull at reset, parts on the module
and on the board, the device's contacts and outputs. It must be on the right side of the pin's input
thresholds in every state the device can be in.
"""

from __future__ import annotations

from collections.abc import Iterator

from boardgen.catalog.logic import LogicPoint
from boardgen.catalog.model import Module, ModulePin
from boardgen.circuit.model import PinChoice
from boardgen.circuit.states import State, states_at
from boardgen.circuit.surroundings import Surroundings
from boardgen.electrical.ends import pin_end
from boardgen.errors import Finding, Severity

RULE = "strap"


def thresholds(module: Module, pin: ModulePin) -> LogicPoint:
    """Return the input thresholds of *pin* at the module's logic supply."""
    end = pin_end(module, pin)
    return end.at(end.supply.volts)


def strap_states(choice: PinChoice, there: Surroundings) -> tuple[State, ...]:
    """Return the states of the device that bear on the strap at *choice*."""
    return states_at(there, choice.request.net)


def strap_findings(module: Module, choice: PinChoice, states: tuple[State, ...]) -> Iterator[Finding]:
    """Yield the finding about a strap, if any: its worst state, the one with the fewest changes.

    An error where the pin may stand at the wrong level, a warning where it
    stands between the thresholds. Where only the loader minds, a held key is
    a warning and a device at rest an error. A note where nothing says which
    level is needed and the device can change it.
    """
    pin = module.pin(choice.pin_number)
    point = thresholds(module, pin)
    if not pin.strap_needs:
        yield from _told(choice, pin, point, states)
        return
    judged = [(state, _harm(pin.strap_needs, point, state)) for state in states]
    for severity in (Severity.ERROR, Severity.WARNING):
        bad = [state for state, harm in judged if harm is severity]
        if not bad:
            continue
        worst = bad[0]
        shown = severity
        if severity is Severity.ERROR and pin.strap_for == "load" and worst.words:
            shown = Severity.WARNING
        yield Finding(
            RULE, shown, _words(choice, pin, point, worst, len(bad)), items=(choice.request.signal, pin.name)
        )
        return


def _harm(needs: str, point: LogicPoint, state: State) -> Severity | None:
    if state.level is None:
        return Severity.WARNING
    least, most = state.level
    if needs == "low":
        if most <= point.vil_v + 1e-9:
            return None
        return Severity.ERROR if most >= point.vih_v - 1e-9 else Severity.WARNING
    if least >= point.vih_v - 1e-9:
        return None
    return Severity.ERROR if least <= point.vil_v + 1e-9 else Severity.WARNING


def _words(choice: PinChoice, pin: ModulePin, point: LogicPoint, state: State, count: int) -> str:
    limit = f"up to {point.vil_v:.2f} V" if pin.strap_needs == "low" else f"{point.vih_v:.2f} V or more"
    others = f" ({count - 1} more states do the same)" if count > 1 else ""
    return (
        f"{state.said()} at power-up, {pin.name} ({choice.request.signal}) {_level(state)}; at reset it has "
        f"to be {pin.strap_needs}, {limit}: {pin.strap}{others}"
    )


def _level(state: State) -> str:
    if state.level is None:
        return "is held by nothing"
    least, most = state.level
    volts = f"{most:.2f} V" if most - least < 0.005 else f"{max(least, 0.0):.2f} to {most:.2f} V"
    by = f" (by {', '.join(state.holders)})" if state.holders else ""
    return f"stands at {volts}{by}"


def _told(
    choice: PinChoice, pin: ModulePin, point: LogicPoint, states: tuple[State, ...]
) -> Iterator[Finding]:
    """Yield a note where the device can move a strap away from where its pull leaves it."""
    for state in states:
        if state.level is None:
            continue
        least, most = state.level
        low, high = least <= point.vil_v, most >= point.vih_v
        moved = low if pin.strap_pull == "up" else high if pin.strap_pull == "down" else bool(state.words)
        if moved:
            where = f"{pin.name} ({choice.request.signal})"
            text = f"{state.said()} at power-up, {where} {_level(state)}: {pin.strap}"
            yield Finding(RULE, Severity.NOTE, text, items=(choice.request.signal, pin.name))
            return
