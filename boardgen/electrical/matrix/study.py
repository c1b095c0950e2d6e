"""A design's matrices with the module's levels: each one computed to the end."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from boardgen.catalog.model import Component, ModulePin
from boardgen.design.model import BoundDesign, Matrix
from boardgen.electrical.matrix import figures
from boardgen.electrical.matrix.groups import judge_group
from boardgen.electrical.matrix.level import high_level, low_level
from boardgen.electrical.matrix.mending import mending
from boardgen.electrical.matrix.model import MatrixStudy, Rollover
from boardgen.electrical.matrix.phantoms import phantoms
from boardgen.electrical.matrix.rollover import rollover
from boardgen.electrical.matrix.settling import settling
from boardgen.electrical.matrix.wiring import fitting_drive, unread_keys, wiring_of
from boardgen.electrical.model import PinRequest

HELD_LEAST, HELD_ANY = 2, 6  # keys reckoned held; six are what a keyboard's boot report carries


def study_matrices(
    bound: BoundDesign,
    requests: Sequence[PinRequest],
    component: Callable[[str], Component],
    pins: Mapping[str, ModulePin] | None = None,
) -> tuple[MatrixStudy, ...]:
    """Return all that is computed of each matrix of *bound*; *requests* say how its lines are pulled up.

    *component* looks a catalogue part up by id, for the diode's figures. *pins*
    are the module's pins by signal once chosen; before, the worst that may be.
    """
    by_signal = {request.signal: request for request in requests}
    return tuple(
        _study(figures.Source(bound, matrix, wiring_of(matrix), by_signal, component, pins or {}))
        for matrix in bound.design.matrices
        if all(line in by_signal for line in (*matrix.rows, *matrix.columns))
    )


def _study(source: figures.Source) -> MatrixStudy:
    matrix, wiring = source.matrix, source.wiring
    found = phantoms(wiring)
    safe = rollover(wiring, found)
    groups = tuple(judge_group(wiring, names) for names in matrix.together)
    held = _held(matrix, safe)
    pull = figures.pulls(source)
    unread = unread_keys(wiring)
    levels = figures.levels(source, pull, held)
    level = low_level(levels, int(any(key.diode for key in wiring.keys)))
    loads = figures.loads(source, pull)
    source.assume(f"up to {held} keys held at once on one line")
    debounce = figures.CONTACTS[matrix.key_kind][1]
    return MatrixStudy(
        name=matrix.name,
        drive=matrix.drive,
        diodes=matrix.diode_ways(),
        key_kind=matrix.key_kind,
        wiring=wiring,
        phantoms=found,
        rollover=safe,
        groups=groups,
        mending=mending(wiring, groups),
        levels=levels,
        level=level,
        loads=loads,
        timing=settling(wiring, loads, levels, level, held, debounce),
        high=high_level(levels, held),
        fitting_drive=fitting_drive(matrix.diode_ways()) if unread else "",
        unread=wiring.names(unread),
        assumed=tuple(source.assumed),
    )


def _held(matrix: Matrix, safe: Rollover) -> int:
    """As many keys as the matrix or the design promises to read, six where that is any number."""
    promised = HELD_ANY if safe.guaranteed is None else min(safe.guaranteed, HELD_ANY)
    return max(HELD_LEAST, promised, *(len(group) for group in matrix.together))
