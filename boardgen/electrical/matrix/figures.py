"""The figures a matrix is computed with: from module, catalogue and design, else assumed and said so."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from boardgen.catalog.model import Component, ModulePin
from boardgen.design.model import BoundDesign, Matrix
from boardgen.electrical.cable import CABLE_M, CABLE_PF_PER_M
from boardgen.electrical.ends import End, logic_supply, pin_end
from boardgen.electrical.levels import candidate_pins, free_pins
from boardgen.electrical.matrix.level import diode_drop, output_low
from boardgen.electrical.matrix.model import Levels, LineLoad, Wiring
from boardgen.electrical.matrix.settling import BOARD_WORDS
from boardgen.electrical.model import PinRequest
from boardgen.electrical.signals import PULL_UP_OHMS
from boardgen.errors import InputError

INTERNAL_PULL_OHMS = (20_000.0, 80_000.0)  # of common chips, where the module's entry gives none
FITTED_TOLERANCE = 0.05  # carbon film, as the catalogue's axial range
BOARD_PF = 15.0
PIN_LEAK_A = 1e-6  # of a CMOS pin between ground and its supply; entries may state more for 5 V on it
BEYOND_V = 0.4  # an output low under more current than its levels are stated for
DIODE = "diode-1n4148"
DIODE_LIGHT, DIODE_FULL = (1e-4, 0.6), (1e-2, 1.0)  # A, V, where the catalogue lacks the part

# A closed key in ohm at its worst, and how long to debounce in ms: a survey of bounce gives 1.6 ms on average
# and 6.2 ms at most for sound metal contacts; worn ones, membranes and carbon want 10 to 20 ms, and carbon
# reaches 1 kohm.
CONTACTS = {
    "metal": (100.0, 5),
    "worn": (1_000.0, 20),
    "membrane": (1_000.0, 10),
    "elastomer": (1_000.0, 20),
}

Pull = tuple[float, float]  # least, most ohm


@dataclass(frozen=True, slots=True)
class Source:
    """Where figures are looked up, for one matrix. *assumed* gathers what none was found for."""

    bound: BoundDesign
    matrix: Matrix
    wiring: Wiring
    requests: Mapping[str, PinRequest]
    component: Callable[[str], Component]
    pins: Mapping[str, ModulePin] = field(default_factory=dict)  # by signal, once they are chosen
    assumed: list[str] = field(default_factory=list)

    def assume(self, text: str) -> None:
        """Say once that *text* was assumed."""
        if text not in self.assumed:
            self.assumed.append(text)


def line_pins(source: Source, line: str) -> tuple[ModulePin, ...]:
    """Return the pins *line* may land on: its own once that is chosen.

    Before, pins whose pull-up differs from the module's common one are left
    out where others are free: whether one is used shows later.
    """
    chosen = source.pins.get(line)
    if chosen is not None:
        return (chosen,)
    if line in source.wiring.read:
        pins = candidate_pins(source.bound, source.bound.design.contact(line))
    else:
        pins = tuple(pin for pin in free_pins(source.bound) if pin.can_drive)
    return tuple(pin for pin in pins if pin.pull_up_ohms is None) or pins


def pulls(source: Source) -> dict[str, Pull]:
    """Return the limits of the pull-up of each read line: fitted, or inside any pin it may land on."""
    return {line: _pull(source, line) for line in source.wiring.read}


def _pull(source: Source, line: str) -> Pull:
    if source.requests[line].pull != "up":
        return PULL_UP_OHMS * (1 - FITTED_TOLERANCE), PULL_UP_OHMS * (1 + FITTED_TOLERANCE)
    module = source.bound.module
    pins = [pin for pin in line_pins(source, line) if "up" in pin.pulls]
    stated = [ohms for pin in pins if (ohms := module.pull_ohms(pin, "up")) is not None]
    if not stated:
        stated = [INTERNAL_PULL_OHMS]
        least, most = (ohms / 1000 for ohms in INTERNAL_PULL_OHMS)
        source.assume(f"pull-ups inside {module.name} of {least:g} to {most:g} kohm")
    return min(least for least, _ in stated), max(most for _, most in stated)


def levels(source: Source, pull: Mapping[str, Pull], held: int) -> Levels:
    """Return the worst levels of the pins the lines may land on; an output sinks what *held* keys send."""
    bound, wiring = source.bound, source.wiring
    supply = logic_supply(bound.module)
    readers = [pin_end(bound.module, pin) for line in wiring.read for pin in line_pins(source, line)]
    points = [end.at(supply.volts) for end in dict.fromkeys(readers)]
    if not bound.module.logics:
        source.assume(f"levels of {bound.module.name} as shares of its supply, its entry states none")
    strongest = min((least for least, _ in pull.values()), default=INTERNAL_PULL_OHMS[0])
    amps = supply.volts / strongest
    ohms = source.matrix.contact_ohms
    if ohms is None:
        ohms = CONTACTS[source.matrix.key_kind][0]
        source.assume(f"a closed key of at most {ohms:g} ohm ({source.matrix.key_kind})")
    return Levels(
        supply_v=supply.volts,
        vih_v=max((point.vih_v for point in points), default=supply.volts * 0.75),
        vil_v=min((point.vil_v for point in points), default=supply.volts * 0.24),
        vol_v=_output(source, amps * min(held, len(wiring.read))),
        pull_least=strongest,
        pull_most=max((most for _, most in pull.values()), default=INTERNAL_PULL_OHMS[1]),
        contact_ohms=ohms,
        drop_v=_drop(source, amps),
        stated=bool(bound.module.logics),
        leak_a=min(PIN_LEAK_A, max((end.logic.high_a for end in readers), default=PIN_LEAK_A)),
    )


def _output(source: Source, amps: float) -> float:
    """The most a strobe rises to while it sinks *amps*."""
    module = source.bound.module
    ends: dict[End, None] = dict.fromkeys(
        pin_end(module, pin) for line in source.wiring.driven for pin in line_pins(source, line)
    )
    lows = [output_low(end.at(end.supply.volts).low, amps) for end in ends]
    stated = [low for low in lows if low is not None]
    if len(stated) < len(lows) or not lows:
        source.assume(f"an output low of {BEYOND_V} V at {amps * 1000:.1f} mA, more than its levels cover")
        stated.append(BEYOND_V)
    return max(stated)


def _drop(source: Source, amps: float) -> float:
    if source.matrix.diode_vf_v is not None:
        return source.matrix.diode_vf_v
    light, full = DIODE_LIGHT, DIODE_FULL
    try:
        part = source.component(DIODE)
        light = (part.figure("vf_light_at_a"), part.figure("vf_light_v"))
        full = (part.figure("vf_at_a"), part.figure("vf_v"))
    except (KeyError, InputError):
        pass
    drop = diode_drop(amps, light, full)
    if any(key.diode for key in source.wiring.keys):
        source.assume(f"diodes like the catalogue's 1N4148: {drop:.2f} V at {amps * 1000:.2f} mA")
    return drop


def loads(source: Source, pull: Mapping[str, Pull]) -> tuple[LineLoad, ...]:
    """Return what hangs on each line, read lines first; the board's part is a guess until it is routed."""
    bound, cable = source.bound, source.bound.design.cable
    metres = CABLE_M if cable.length_m is None else cable.length_m
    per_metre = CABLE_PF_PER_M if cable.pf_per_m is None else cable.pf_per_m
    if cable.length_m is None:
        source.assume(f"a lead of {metres:g} m, the wiring inside the device included")
    if cable.pf_per_m is None:
        source.assume(f"{per_metre:g} pF a metre of lead, the most of common pairs")
    source.assume(f"{BOARD_WORDS}{BOARD_PF:g} pF a line until it is routed")
    pin_pf = max((pin_end(bound.module, pin).logic.input_pf for pin in free_pins(bound)), default=10.0)
    return tuple(
        LineLoad(
            line,
            source.requests[line].net,
            pull[line][1] if line in pull else None,
            metres * per_metre,
            BOARD_PF,
            pin_pf,
        )
        for line in (*source.wiring.read, *source.wiring.driven)
    )
