"""The floorplan: where module and connector stand, searched and scored, best first."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from boardgen.board.model import Side
from boardgen.design.model import BoundDesign, OutlineKind
from boardgen.electrical.model import ElectricalPlan
from boardgen.floorplan import refusal
from boardgen.floorplan.holes import hole_footprint
from boardgen.floorplan.job import Job, derived_boards, given_boards
from boardgen.floorplan.model import Floorplan
from boardgen.floorplan.packing import small_parts
from boardgen.floorplan.result import floorplan_of
from boardgen.floorplan.score import Scored
from boardgen.floorplan.search import Pair
from boardgen.floorplan.wires import wire_model
from boardgen.footprint.model import Footprint
from boardgen.units import Size

KEPT = 12  # candidates handed on
KEPT_ALIKE = 2  # of one way to stand the parts on one size of board

_Found = tuple[Scored, Pair]


def plan_floor(
    bound: BoundDesign,
    plan: ElectricalPlan,
    catalog_footprint: Callable[[str], Footprint],
    sides: tuple[Side, ...] = (Side.TOP,),
) -> tuple[Floorplan, ...]:
    """Return the best floorplans, best first; the order is the same on every run.

    *catalog_footprint* gives a footprint by its name. *sides* are the sides the
    module may be fitted on. The board's top left is at (0, 0).

    Raises InputError, with the numbers, where no floorplan keeps the rules.
    """
    refusal.check_heights(bound, plan)
    derived = bound.design.outline.kind is OutlineKind.DERIVED
    if not derived:
        wrong = refusal.over_limits(bound, refusal.given_size(bound))
        if wrong is not None:
            raise wrong
    module_print = catalog_footprint(bound.module.footprint)
    connector_print = catalog_footprint(bound.connector.footprint)
    parts = small_parts(plan, catalog_footprint, one_side=bound.fab.copper_layers == 1)
    wires = wire_model(bound, plan, module_print, connector_print)
    jobs = []
    found: list[_Found] = []
    for side in sides:
        pair = Pair(bound.module, bound.connector, bound.fab, module_print, connector_print, side)
        named = f"module {bound.module.id}", f"connector {bound.connector.id}"
        refusal.check_edges(
            bound, (("module", named[0], pair.module_room), ("connector", named[1], pair.connector_room))
        )
        one_side = len(plan.requests) if bound.fab.copper_layers == 1 else 0
        job = Job(bound, pair, wires, parts, tight=not derived, one_side=one_side)
        jobs.append(job)
        found.extend((item, pair) for item in (derived_boards(job) if derived else given_boards(job)))
    if not found:
        raise _refused(jobs[0], derived)
    ranked = _ranked(found)
    best = ranked[0][0]
    other = next((item for item, _ in ranked if _kind(item) != _kind(best)), None)
    wish = bound.design.holes
    hole = None if wish is None else hole_footprint(wish, catalog_footprint)
    return tuple(
        floorplan_of(item, pair, bound, jobs[0].radius, hole, other if item is best else None)
        for item, pair in ranked
    )


def _refused(job: Job, derived: bool) -> Exception:
    if derived:
        return refusal.too_large(job.bound, job.too_large, job.faults)
    bound = job.bound
    holes = bound.design.holes
    if holes is not None and holes.at is not None:
        # Holes at given places fit some sizes by chance: the least board is told without them.
        bound = replace(bound, design=replace(bound.design, holes=None))
    free = Job(bound, job.pair, job.wires, job.parts, tight=True)
    sizes: list[Size] = [item.made.turn.board_size for item in derived_boards(free, limited=False)]
    return refusal.too_small(job.bound, sizes, job.faults)


def _kind(item: Scored) -> tuple[str, bool]:
    return item.made.front, item.made.beside


def _ranked(found: list[_Found]) -> list[_Found]:
    """Return the best, in order, with no more than a few of one kind and size."""

    def key(entry: _Found) -> tuple[float, int, str, tuple[int, ...]]:
        made = entry[0].made
        places = (*made.module.at, *made.connector.at, int(made.module.rotation))
        return entry[0].score, made.turn.quarters, made.front, tuple(int(v) for v in places)

    kept: list[_Found] = []
    alike: dict[object, int] = {}
    for entry in sorted(found, key=key):
        made = entry[0].made
        kind = (*_kind(entry[0]), made.turn.quarters, made.region.size, entry[1].side)
        if alike.get(kind, 0) < KEPT_ALIKE:
            alike[kind] = alike.get(kind, 0) + 1
            kept.append(entry)
        if len(kept) == KEPT:
            break
    return kept
