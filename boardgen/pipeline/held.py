"""What to try first: the board as an earlier revision, or a person's hand, has it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from boardgen.board.model import Placement
from boardgen.catalog.load import Catalog
from boardgen.circuit.build import CONNECTOR_REF, MODULE_REF
from boardgen.design.model import BoundDesign
from boardgen.electrical.model import ElectricalPlan
from boardgen.errors import BoardgenError, InputError
from boardgen.floorplan.held import held_floorplan
from boardgen.floorplan.model import Floorplan
from boardgen.layout.history import History, Kept, carried, changed_pins, length_mm
from boardgen.layout.labels import with_words
from boardgen.pipeline.attempt import Attempt, attempt
from boardgen.pipeline.candidates import floorplans
from boardgen.pipeline.stopwatch import Stopwatch

Candidate = tuple[BoundDesign, Floorplan]


def candidates(
    bound: BoundDesign, catalog: Catalog, plan: ElectricalPlan, watch: Stopwatch
) -> Iterator[Candidate]:
    """Yield floorplans worth trying, each with the design as it is to be built there.

    First everything stands as it stood; then small parts may move that no hand placed; then locked tracks and
    areas kept free are left out; then the outline may change too, and module and connector stand where a hand
    put them; at last they may move as well.
    """
    module, connector = (_big(bound, ref) for ref in (MODULE_REF, CONNECTOR_REF))
    loose = replace(bound, design=replace(bound.design, stays=None))
    tried = False
    if bound.design.stays is not None:
        held = held_floorplan(bound, catalog.footprint, module, connector)
        if held is None:
            base = _base(loose, catalog, plan, watch)
            held = held_floorplan(bound, catalog.footprint, module, connector, base)
        if held is not None:
            yield bound, held
            tried = True
            if bound.design.stays.parts:
                yield loose, held
            if bound.design.tracks or bound.design.keepouts:
                bare = replace(loose, design=replace(loose.design, tracks=(), keepouts=()))
                yield bare, replace(held, keepouts=held.keepouts[: -len(bound.design.keepouts) or None])
    by_hand = {part.ref: part.placement for part in bound.design.placed}
    put = by_hand.get(MODULE_REF), by_hand.get(CONNECTOR_REF)
    try:
        for floorplan in floorplans(loose, catalog, plan, watch):
            held = held_floorplan(loose, catalog.footprint, *put, floorplan) if any(put) else None
            if held is not None:
                yield loose, held
            yield loose, floorplan
    except InputError:
        if not tried:
            raise


def _big(bound: BoundDesign, ref: str) -> Placement | None:
    """Return where the big part *ref* is asked to stand: by hand, else as it stood."""
    design = bound.design
    stays = design.stays.parts if design.stays is not None else ()
    return next((part.placement for part in (*design.placed, *stays) if part.ref == ref), None)


def _base(loose: BoundDesign, catalog: Catalog, plan: ElectricalPlan, watch: Stopwatch) -> Floorplan | None:
    """Return the best ordinary floorplan, for what is not said; None where there is none."""
    try:
        return next(floorplans(loose, catalog, plan, watch), None)
    except InputError:
        return None


def history_of(
    bound: BoundDesign,
    catalog: Catalog,
    plan: ElectricalPlan,
    best: Attempt,
    watch: Stopwatch,
    trouble: str = "",
) -> History:
    """Return what became of the revision before on the finished board.

    *trouble* is what was wrong where everything stood as asked. What keeping pins costs is told against the
    same floorplan with every pin free: a second run through placement and routing, made only where pins are
    kept.
    """
    done = carried(with_words(bound, best.pinmap), best.board, trouble)
    if not bound.design.keep:
        return History(None, done)
    changed = changed_pins(bound, plan, best.pinmap)
    vias, length = len(best.board.vias), length_mm(best.board)
    kept = Kept(len(bound.design.keep), changed, vias, length)
    free = replace(bound, design=replace(bound.design, keep=()))
    with watch.stage("pins free, for comparison"):
        try:
            other = attempt(free, catalog.drilled(bound.fab), best.plan, best.floorplan, Stopwatch())
        except BoardgenError:
            return History(kept, done)
    if not other.routed.unrouted:
        kept = replace(kept, free_vias=len(other.board.vias), free_length_mm=length_mm(other.board))
    return History(kept, done)
