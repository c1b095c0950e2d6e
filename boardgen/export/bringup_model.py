"""What is measured on the bench as frozen values: places, what joins them, tests in stages.

Resistances in ohm, voltages in V, currents in A, lengths in mm.
"""

from __future__ import annotations

from dataclasses import dataclass

OHMS, VOLTS, AMPS, LOOK = "ohms", "volts", "amps", "look"
KINDS = (OHMS, VOLTS, AMPS, LOOK)
FORM = 1  # of plan.json; raised when what it holds changes its meaning


@dataclass(frozen=True, slots=True)
class Spot:
    """A place for a probe: the metal of a part at one contact ("J1.5"), above its joint.

    *net* is the net its joint leads to, the spot's own name where the contact
    is left open. *words* name it for people.
    """

    name: str
    net: str
    words: str

    @property
    def ref(self) -> str:
        """The part's reference."""
        return self.name.split(".", 1)[0]


@dataclass(frozen=True, slots=True)
class Element:
    """A part that carries current both ways between spots *a* and *b*: *least* to *most* ohm."""

    ref: str
    kind: str
    a: str
    b: str
    least: float
    most: float


@dataclass(frozen=True, slots=True)
class Leak:
    """A junction inside part *ref*: a meter may see kilohms with its red lead on *a*, black on *b*."""

    ref: str
    a: str
    b: str


@dataclass(frozen=True, slots=True)
class Turn:
    """A way to fit or count the part *ref* wrongly: a probe meant for a spot meets another one."""

    ref: str
    fault: str
    words: str
    moves: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Close:
    """Two conductors that stand close: nets *a* and *b*, *gap_mm* apart at *at_mm* on *layer*."""

    a: str
    b: str
    gap_mm: float
    at_mm: tuple[float, float]
    layer: str
    items: tuple[str, str]


@dataclass(frozen=True, slots=True)
class Circuit:
    """The board without device and module, as a meter meets it."""

    spots: tuple[Spot, ...]
    elements: tuple[Element, ...] = ()
    leaks: tuple[Leak, ...] = ()
    turns: tuple[Turn, ...] = ()
    near: tuple[Close, ...] = ()

    def spot(self, name: str) -> Spot:
        """Return the spot called *name*; raises KeyError."""
        for spot in self.spots:
            if spot.name == name:
                return spot
        raise KeyError(name)


@dataclass(frozen=True, slots=True)
class Test:
    """One thing to do and what is expected: *least* to *most* (None: without bound) in the kind's unit.

    *a* takes the red lead, *b* the black one; both empty where nothing is
    probed. *label* says what it is for, *expected* the range in words.
    """

    id: str
    stage: str
    kind: str
    label: str
    expected: str
    a: str = ""
    b: str = ""
    least: float | None = None
    most: float | None = None


@dataclass(frozen=True, slots=True)
class Stage:
    """A step at the bench: what to do in sentences, and what ends the work."""

    id: str
    title: str
    steps: tuple[str, ...]
    stop: str


@dataclass(frozen=True, slots=True)
class Plan:
    """All of bring-up for one board revision."""

    design: str
    revision: str
    pin_map: str
    title: str
    stages: tuple[Stage, ...]
    tests: tuple[Test, ...]
    circuit: Circuit
    cautions: tuple[str, ...] = ()

    def of_stage(self, stage: str) -> tuple[Test, ...]:
        """Return the tests of the stage with that id, in order."""
        return tuple(test for test in self.tests if test.stage == stage)
