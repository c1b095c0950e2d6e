"""The states in which a pin is to read high or low, told from what its contact is for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from boardgen.circuit.model import PinChoice
from boardgen.circuit.network import REFERENCE, Span, source
from boardgen.circuit.states import State, states_at
from boardgen.circuit.surroundings import Surroundings
from boardgen.design.model import BoundDesign, Contact, ContactKind
from boardgen.electrical.ends import pin_end

STROBE_OHMS = (1.0, 100.0)  # of an output that is low


def read_states(bound: BoundDesign, choice: PinChoice, there: Surroundings) -> Iterator[tuple[str, State]]:
    """Yield ("high" or "low", the state) for each level a logic input has to read.

    Nothing for analog inputs, outputs, and signals that no contact carries.
    """
    contact = next((c for c in bound.design.contacts if c.signal == choice.request.signal), None)
    if contact is None or not choice.request.reads or choice.request.analog:
        return
    node = choice.request.net
    if contact.kind in (ContactKind.ROW, ContactKind.COLUMN):
        yield from _matrix(bound, contact, node, there)
        return
    for state in states_at(there, node):
        wants = _wanted(contact, state)
        if wants:
            yield wants, state


def _wanted(contact: Contact, state: State) -> str:
    """The level that *state* means for *contact* alone, "" where it means none."""
    signal = contact.signal
    if contact.kind is ContactKind.SWITCH:
        return {(): "high", (f"{signal} held",): "low"}.get(state.words, "")
    if f"{signal} low" in state.words:
        return "low"
    return "high" if f"{signal} high" in state.words else ""


def _matrix(
    bound: BoundDesign, contact: Contact, node: str, there: Surroundings
) -> Iterator[tuple[str, State]]:
    """A read line with every key up, and with one key held whose strobe is low: bare, and with a diode.

    Keys whose diode lets no current into the strobe are never read, which the matrix's own check tells.
    """
    alone = Surroundings(there.steady, ())
    for state in states_at(alone, node):
        yield "high", state
    seen: set[Span] = set()
    for element in there.elements:
        held = next((o for o in element.options if o.words == f"{element.name} held"), None)
        if held is None or not held.branches:
            continue
        key = held.branches[0]
        if node not in (key.start, key.end) or REFERENCE in (key.start, key.end):
            continue
        if (key.way == "forward" and key.start != node) or key.drop in seen:
            continue
        seen.add(key.drop)
        other = key.end if key.start == node else key.start
        strobe = source(other, (0.0, _strobe_v(bound)), STROBE_OHMS, "the strobe")
        one = Surroundings((*there.steady, key, strobe), ())
        for state in states_at(one, node):
            yield "low", replace(state, words=(held.words,))


def _strobe_v(bound: BoundDesign) -> float:
    """The most an unloaded output leaves when low: that of the first current its levels are stated for."""
    lows = []
    for pin in bound.module.pins:
        if pin.can_drive:
            end = pin_end(bound.module, pin)
            lows += [v for _, v in end.at(end.supply.volts).low[:1]]
    return max(lows, default=0.4)
