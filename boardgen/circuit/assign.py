"""Pin assignment: which module pin each signal gets, so that the board routes easily."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from itertools import islice
from types import MappingProxyType

import numpy as np

from boardgen.catalog.model import Module
from boardgen.circuit.assign_improve import CROSSING_NM, improve
from boardgen.circuit.assign_kept import with_kept, with_spared
from boardgen.circuit.assign_one_side import (
    BLOCKED_NM,
    CROSSING_ONE_SIDE_NM,
    blocked,
    pad_radii,
    pad_radius,
    unfolded,
)
from boardgen.circuit.assign_problem import Floats, Problem, build_problem
from boardgen.circuit.assign_shortage import shortage
from boardgen.circuit.assign_solve import bound as least_length
from boardgen.circuit.assign_solve import solutions, solve
from boardgen.circuit.assign_usable import exclusions, usable_pins
from boardgen.circuit.model import PinChoice, PinMap
from boardgen.design.model import BoundDesign, Design
from boardgen.electrical.model import ElectricalPlan, PinRequest
from boardgen.errors import InputError
from boardgen.floorplan.model import Floorplan
from boardgen.floorplan.wires import (
    BOTH,
    crossings,
    pad_faces,
    pad_positions,
    place_rows,
    rail_hits,
    rail_pads,
    rail_wires,
    share,
    track_gaps,
)
from boardgen.footprint.model import Footprint
from boardgen.units import NM_PER_MM, Point, format_mm

WAYS = 24  # ways to stand the groups that are looked at, the shortest first
FOLLOWED = 3  # of them improved to the end, those with the fewest crossings for their length

NOWHERE: Mapping[str, Point] = MappingProxyType({})

__all__ = ["assign_pins", "misfit", "usable_pins"]


def assign_pins(
    bound: BoundDesign,
    plan: ElectricalPlan,
    floorplan: Floorplan,
    catalog_footprint: Callable[[str], Footprint],
    ends_at: Mapping[str, Point] = NOWHERE,
    crossing_nm: int = CROSSING_NM,
) -> PinMap:
    """Return the pin map for *floorplan*: shortest tracks, then fewest crossings.

    A pin that only a waiver allows is taken where no free one will do, as few of them as can be.
    Tracks run in 45-degree steps on two copper sides unless the design lets them run at any angle.
    The lengths told are straight, between pad centres; a request without an anchor costs nothing
    anywhere. *ends_at* says for nets that end at a small part where that end
    stands on the board, once it is placed; it counts in the contact's stead.
    *crossing_nm* is the length (nm) a crossing is worth on two copper sides.
    Raises InputError, with what is short, where no choice keeps the rules.
    """
    module = bound.module
    module_print = catalog_footprint(module.footprint)
    ends = _placed(module_print, [pin.number for pin in module.pins], floorplan, "module")
    connector_print = catalog_footprint(bound.connector.footprint)
    starts = _placed(connector_print, [r.anchor for r in plan.requests], floorplan, "connector")
    for row, request in enumerate(plan.requests):
        if request.net in ends_at:
            starts[row] = ends_at[request.net]
    distance = np.hypot(*(starts[:, None, :] - ends[None, :, :]).transpose(2, 0, 1))
    problem = build_problem(module, plan, bound.design, np.nan_to_num(distance))
    column_of = {pin.number: k for k, pin in enumerate(module.pins)}
    columns = [column_of[pin.number] for pin in problem.pins]
    steered, price, seen = problem, crossing_nm, starts
    faces = None
    if bound.fab.copper_layers == 1:
        # One copper side: no way under a track, and none between pads that stand too close.
        reach = int(bound.fab.gap) + int(bound.fab.track) / 2
        contacts = _placed(connector_print, list(connector_print.numbers()), floorplan, "connector")
        seen = unfolded(starts, contacts, ends, 2 * reach, pad_radius(connector_print))
        detour = blocked(seen, ends, pad_radii(module_print, module), reach)
        way = np.hypot(*(seen[:, None, :] - ends[None, :, :]).transpose(2, 0, 1))
        steered = replace(problem, cost=np.nan_to_num(way + BLOCKED_NM * detour)[:, columns])
        price = CROSSING_ONE_SIDE_NM
    elif not bound.design.any_angle:
        steered = replace(problem, cost=np.nan_to_num(track_gaps(starts, ends))[:, columns])
    if bound.fab.copper_layers > 1:
        faces = pad_faces(connector_print, [r.anchor for r in plan.requests])
        faces[[r.net in ends_at for r in plan.requests]] = BOTH
        faces = faces if (faces != BOTH).any() else None
    if faces is not None:
        # Contacts with copper on one side: wires on different sides do not meet, and a rail is a wire too.
        rails = rail_pads(plan, set(connector_print.numbers()))
        placed = [
            (
                _placed(module_print, a, floorplan, "module"),
                _placed(connector_print, b, floorplan, "connector"),
            )
            for a, b in rails
        ]
        if placed:
            wires = rail_wires(placed, tuple(pad_faces(connector_print, b) for _, b in rails))
            over = rail_hits(starts, ends[columns], faces, *wires)
            steered = replace(steered, cost=steered.cost + price * over)
    spared = with_spared(steered.cost, problem.waived, price)
    steered = replace(steered, cost=with_kept(spared, problem.kept, price))
    ends = ends[columns]
    chosen = _best(steered, seen, ends, price, faces)
    if chosen is None:
        line = bound.design.line_of("module")
        raise InputError(shortage(module, problem), bound.design.origin, "module", line, found=module.id)
    lengths = problem.cost[np.arange(len(chosen)), chosen]
    known = ~np.isnan(starts[:, 0])
    return PinMap(
        choices=_choices(problem, chosen, lengths, known, ends_at),
        exclusions=exclusions(module, plan, bound.design.waivers),
        length_nm=float(lengths.sum()),
        bound_nm=least_length(problem),
        crossings=crossings(starts[known], ends[chosen][known], None if faces is None else faces[known]),
    )


def _best(
    problem: Problem, starts: Floats, ends: Floats, price: int, faces: np.ndarray | None
) -> list[int] | None:
    """Return the choice with the least length and crossings among the cheapest few ways to keep the ties."""
    few = list(islice(solutions(problem), WAYS if problem.groups or problem.buses else 1))
    if not few:
        return None

    def worth(chosen: list[int]) -> float:
        length = float(problem.cost[np.arange(len(chosen)), chosen].sum())
        return length + price * crossings(starts, ends[chosen], faces)

    meet = None if faces is None else share(faces, faces)
    ways = [
        improve(problem, chosen, starts, ends, price, meet) for chosen in sorted(few, key=worth)[:FOLLOWED]
    ]
    return min(ways, key=lambda way: (round(way[0]), way[1]))[1]


def misfit(module: Module, plan: ElectricalPlan, design: Design) -> str:
    """Return why *module* cannot carry the requests of *plan* (a sentence), "" where it can."""
    try:
        problem = build_problem(module, plan, design, None)
    except InputError as error:
        return error.message
    return "" if solve(problem) is not None else shortage(module, problem)


def _placed(footprint: Footprint, numbers: list[str], floorplan: Floorplan, which: str) -> Floats:
    """Return pad positions on the board, nm, shape (n, 2); NaN where there is no such pad."""
    placement = floorplan.module if which == "module" else floorplan.connector
    return np.asarray(place_rows(pad_positions(footprint, numbers), placement) * NM_PER_MM)


def _choices(
    problem: Problem,
    chosen: list[int],
    lengths: Floats,
    known: np.ndarray,
    ends_at: Mapping[str, Point],
) -> tuple[PinChoice, ...]:
    group_of = {row: group for group in problem.groups for row in group.rows}
    kept = dict(problem.kept)
    found = []
    for row, request in enumerate(problem.requests):
        pin = problem.pins[chosen[row]]
        if row in problem.fixed:
            why = f"fixed to {pin.name} by the design"
        elif kept.get(row) == chosen[row]:
            why = f"{pin.name} as in the revision before"
        elif row in group_of:
            group = group_of[row]
            names = sorted((problem.pins[chosen[r]].name for r in group.rows), key=lambda n: (len(n), n))
            why = f"group {group.name} on {names[0]} to {names[-1]}"
        else:
            why = _need_words(request, pin.name)
        if known[row]:
            end = "its driver" if request.net in ends_at else f"contact {request.anchor}"
            why += f"; {format_mm(round(lengths[row]), 1)} mm from {end}"
        found.append(PinChoice(request, pin.number, pin.name, row in problem.fixed, f"{why}."))
    return tuple(found)


def _need_words(request: PinRequest, name: str) -> str:
    needs = []
    if request.analog:
        needs.append("an ADC input")
    if request.function:
        needs.append(request.function)
    if request.pull:
        needs.append(f"an internal pull-{request.pull}")
    if request.drives:
        needs.append("an output")
    if not needs:
        needs.append("an input")
    return f"{name} offers {' and '.join(needs)} and makes the whole map short"
