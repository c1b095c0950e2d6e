"""The power tree as frozen values: sources, steps between rails, loads, and what was found.

Voltages in V, currents in A, capacitance in uF, temperatures in degrees C.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Source:
    """Where current enters: the USB host, or a supply of the device's own.

    *node* is where it enters the tree. *limit_a* is None where nobody states one.
    """

    name: str
    node: str
    volts: float
    least_v: float
    most_v: float
    limit_a: float | None = None


@dataclass(frozen=True, slots=True)
class Step:
    """A way for current from node *start* to node *end*, through *through*.

    *back* says that current can also flow from *end* to *start*; *drop_v* is
    lost on the way at the load there is. *ratio* is the current taken at *start* for
    each ampere given at *end* (1 but for switching regulators). *holds* is the
    voltage a regulator keeps at *end*.
    """

    start: str
    end: str
    through: str
    back: bool
    drop_v: float = 0.0
    ratio: float = 1.0
    on_board: bool = False
    holds: float | None = None


@dataclass(frozen=True, slots=True)
class Load:
    """Current taken from *node*, and what takes it."""

    node: str
    name: str
    amps: float


@dataclass(frozen=True, slots=True)
class Node:
    """A rail in the tree: what stands on it at full load.

    *least_v*/*most_v* span the rail's voltage with every source in turn at its
    own limits; *amps* flows through it to everything behind it; *budget_a* is
    what the module can spare for the outside there.
    """

    name: str
    volts: float
    least_v: float
    most_v: float
    amps: float
    outside_a: float
    budget_a: float | None


@dataclass(frozen=True, slots=True)
class BackPath:
    """A way current could take from one source into another.

    *steps* are the things passed, in order; *blocked_by* is the one that stops
    it, "" where nothing does.
    """

    source: str
    target: str
    steps: tuple[str, ...]
    blocked_by: str


@dataclass(frozen=True, slots=True)
class Heat:
    """What a regulator turns into heat, and how warm its junction gets (None: not known)."""

    part: str
    watts: float
    junction_c: float | None
    most_c: float


@dataclass(frozen=True, slots=True)
class PowerTree:
    """Everything about supply that the plan computed. *usb_ma* is what the firmware declares.

    *usb_a* is the steady current from the USB host, None where the module's
    own draw is not known, *radio_a* what a radio adds in bursts; *inrush_uf*
    the capacitance USB meets when plugged in, without the module's own where
    *assumed* says so.
    *assumed* says in sentences what was taken for granted, *bulk* why a bulk
    capacitor is smaller than usual.
    """

    sources: tuple[Source, ...] = ()
    steps: tuple[Step, ...] = ()
    loads: tuple[Load, ...] = ()
    nodes: tuple[Node, ...] = ()
    back_paths: tuple[BackPath, ...] = ()
    heats: tuple[Heat, ...] = ()
    usb_a: float | None = None
    usb_ma: int | None = None
    radio_a: float = 0.0
    inrush_uf: float | None = None
    assumed: tuple[str, ...] = ()
    bulk: tuple[str, ...] = ()
