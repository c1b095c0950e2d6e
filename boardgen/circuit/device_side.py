"""The device as its contacts show it to the board: what is always there, and what its keys and chips do."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from boardgen.circuit.network import Branch, Span, source
from boardgen.design.model import TO_ROW, Contact, Matrix
from boardgen.electrical.ends import End
from boardgen.electrical.matrix.figures import CONTACTS
from boardgen.electrical.passive import CONTACT_OHMS

CONTACT_LEAST = 0.05  # ohm of a closed switch in good order
DIODE_V: Span = (0.3, 0.75)  # a silicon diode from a few microamperes up, cold to warm
CLAMP_OHMS: Span = (1.0, 1000.0)  # from a pin of a dead chip to its dead supply, which other chips load
IOFF_LEAST_V = 1.0  # inputs and outputs that take this much unpowered have no clamp to their supply
OUTPUT_OHMS = 100.0  # of an output whose levels are stated at one current only
# An open TTL input floats to the drops of its input stage, around 1.4 V; the stated current flows at 0.4 V.
TTL_OPEN_V: Span = (1.0, 2.0)
TTL_LOW_V = 0.4
SENSED_A = 20e-6  # an input that gives more than this when held low counts as a pull-up


@dataclass(frozen=True, slots=True)
class Option:
    """One condition of an element. *words* name it ("KEY held"), empty at rest."""

    words: str
    branches: tuple[Branch, ...] = ()


@dataclass(frozen=True, slots=True)
class Element:
    """A thing of the device that changes; *options* starts with how it is at rest."""

    name: str
    options: tuple[Option, ...]


def switch(contact: Contact, net: str) -> Element:
    """Return the switch at *net*: open, or closed to ground."""
    ohms = (CONTACT_LEAST, CONTACT_OHMS)
    closed = source(net, (0.0, 0.0), ohms, f"{contact.signal}'s contact to ground")
    return Element(contact.signal, (Option(""), Option(f"{contact.signal} held", (closed,))))


def pot(contact: Contact, net: str, top: float) -> Element:
    """Return the pot whose wiper is at *net*, between 0 V and *top*."""
    ohms = (1.0, 10_000.0 if contact.ohms is None else max(contact.ohms / 4, 2.0))
    ends = (("low", 0.0), ("high", top))
    return Element(
        contact.signal,
        tuple(
            Option(
                f"{contact.signal} at its {word} end", (source(net, (v, v), ohms, f"{contact.signal}'s pot"),)
            )
            for word, v in ends
        ),
    )


def matrix_keys(matrix: Matrix, lines: dict[str, str]) -> Iterator[Element]:
    """Yield the keys of *matrix*; *lines* gives the net of each signal."""
    most = matrix.contact_ohms or CONTACTS[matrix.key_kind][0]
    diodes = matrix.key_diodes()
    drop = DIODE_V if matrix.diode_vf_v is None else (min(DIODE_V[0], matrix.diode_vf_v), matrix.diode_vf_v)
    for row, column, name in matrix.key_places():
        a, b = lines.get(row), lines.get(column)
        if a is None or b is None or a == b:
            continue
        diode = name in diodes
        if diodes.get(name) == TO_ROW:
            a, b = b, a
        ohms = (CONTACT_LEAST, max(most, 2 * CONTACT_LEAST))
        way = "forward" if diode else "both"
        held = Branch(a, b, ohms, drop if diode else (0.0, 0.0), way, f"key {name}")
        yield Element(name, (Option(""), Option(f"{name} held", (held,))))


def standing(contact: Contact, net: str, end: End) -> Iterator[Branch]:
    """What the device's side gives by itself: its pull-up, and what a TTL input lets out."""
    supply = (end.supply.low_v, end.supply.high_v)
    if end.supply.own:
        supply = (0.0, end.supply.high_v)  # on or off
    if end.pull_up_ohms is not None:
        ohms = (end.pull_up_ohms * 0.95, end.pull_up_ohms * 1.05)
        yield source(net, supply, ohms, f"the pull-up at {contact.signal}", "both")
    if contact.direction != "in" and end.logic.low_a > SENSED_A:
        ohms_in = (TTL_OPEN_V[1] - TTL_LOW_V) / end.logic.low_a
        name = f"the input at {contact.signal}, which lets {end.logic.low_a * 1000:.2g} mA out"
        least = 0.0 if end.supply.own else TTL_OPEN_V[0]
        yield source(net, (least, TTL_OPEN_V[1]), (ohms_in, 4 * ohms_in), name, "back")


def outputs(contact: Contact, net: str, end: End) -> Iterator[Element]:
    """The device's output at *net*, or what its unpowered input does."""
    signal = contact.signal
    dead = source(net, DIODE_V, CLAMP_OHMS, f"the clamp of the dead chip at {signal}", "forward")
    clamps = end.supply.own and end.logic.idle_max_v < IOFF_LEAST_V
    off = [Option(f"the device at {signal} off", (dead,))] if clamps else []
    if contact.direction == "out":
        if off:
            yield Element(signal, (Option(""), *off))
        return
    point = end.at(end.supply.low_v)
    low = Option(f"{signal} low", (source(net, *low_output(point.low), f"{signal}'s output"),))
    free = Option(f"{signal} unplugged")
    if end.open_drain:
        yield Element(signal, (Option(""), low, *off))
        return
    high = Option(f"{signal} high", (source(net, *high_output(point.high, end), f"{signal}'s output"),))
    first = (low, high, free) if contact.direction == "in" else (free, low, high)
    yield Element(signal, (*first, *off))


def slope(points: tuple[tuple[float, float], ...]) -> float:
    """Return the resistance of an output whose levels are *points*."""
    if len(points) < 2 or points[-1][0] <= points[0][0]:
        return OUTPUT_OHMS
    return max(1.0, abs(points[0][1] - points[-1][1]) / (points[-1][0] - points[0][0]))


def low_output(points: tuple[tuple[float, float], ...]) -> tuple[Span, Span]:
    """Return the span of volts and ohms of an output that is low."""
    most = points[0][1] if points else 0.4
    return (0.0, most), (1.0, slope(points))


def high_output(points: tuple[tuple[float, float], ...], end: End) -> tuple[Span, Span]:
    """Return the span of volts and ohms of an output that is high."""
    top = end.most_out(end.supply.high_v)
    least = points[0][1] if points else end.supply.low_v
    return (min(least, top), top), (1.0, slope(points))
