"""One floorplan through the stages: pins, netlist, placement, routing, pour, legend, rule check."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from boardgen.board.model import Board
from boardgen.catalog.load import Catalog
from boardgen.circuit.assign import NOWHERE, assign_pins
from boardgen.circuit.build import build_netlist
from boardgen.circuit.model import Netlist, PinMap
from boardgen.design.model import BoundDesign
from boardgen.electrical.model import ElectricalPlan
from boardgen.errors import Severity
from boardgen.floorplan.model import Floorplan
from boardgen.layout.history import locked_legs
from boardgen.layout.labels import board_labels, with_words
from boardgen.layout.legend import add_legend
from boardgen.layout.place import PlacementFailed, place_parts, supply_least
from boardgen.layout.pour import pour
from boardgen.layout.regate import has_gates, regated
from boardgen.layout.rewire import driver_ends, with_nets
from boardgen.layout.route import RouteResult, RoutingRules, route_report, rules_for, tree_length
from boardgen.layout.route.locked import usable_tracks, usable_vias
from boardgen.pipeline.stopwatch import Stopwatch
from boardgen.rules.check import CheckReport, check_board
from boardgen.rules.waive import let_pass
from boardgen.units import Point

FAR_OFF = 4  # open connections of an attempt on one copper side that only more ground could close
REGATED = 2  # times the chips may move after their gates were given out anew
LONGER = 1.01  # times its least length that a choice of pins without crossings may take and stay the only one
WORTH = 0.97  # of the track that the pins of a complete board need: others that need more are not routed
VIA_NM = 30_000_000  # nm of track a via is worth where floorplans are compared
CROSSING_STRAIGHT_NM = 500_000  # nm a crossing is worth in the other


@dataclass(frozen=True, slots=True)
class Attempt:
    """One floorplan taken all the way to a checked board."""

    plan: ElectricalPlan
    floorplan: Floorplan
    pinmap: PinMap
    netlist: Netlist
    board: Board
    routed: RouteResult
    report: CheckReport

    @property
    def badness(self) -> tuple[int, int]:
        """Open connections, then findings of severity error; (0, 0) is a board to order."""
        errors = sum(f.severity is Severity.ERROR for f in self.report.findings)
        return len(self.routed.unrouted), errors

    @property
    def effort(self) -> float:
        """Track, with each via as the length it is worth, nm."""
        return self.routed.stats.length + VIA_NM * self.routed.stats.vias

    @property
    def trouble(self) -> str:
        """The first thing wrong with the board, "" where it is one to order."""
        said = [f.message for f in self.report.findings if f.severity is Severity.ERROR]
        said += [f"net {item.net} is not routed: {item.reason}" for item in self.routed.unrouted]
        return said[0] if said else ""


@dataclass(frozen=True, slots=True)
class _Wired:
    """A pin map with its netlist and the parts standing, before any copper; *plan* with its gates chosen."""

    plan: ElectricalPlan
    pinmap: PinMap
    netlist: Netlist
    board: Board


def _wired(
    bound: BoundDesign, catalog: Catalog, plan: ElectricalPlan, floorplan: Floorplan, watch: Stopwatch
) -> tuple[_Wired, ...]:
    """Return the board with its small parts placed, for one choice of pins or more.

    Where drivers stand between module and connector, the pins are chosen again
    with the drivers' pads as their ends. Where tracks run straight and keeping
    the wires from crossing costs length, they are chosen once more with crossings
    cheap: two sides may take them. Any of the maps may route shortest.
    """
    first = _standing(bound, catalog, plan, floorplan, watch)
    if has_gates(plan):
        first = _gated(bound, catalog, first, floorplan, watch)
    plan, pinmap, netlist, board = first.plan, first.pinmap, first.netlist, first.board
    found = {pinmap.digest(): first}
    with watch.stage("pin assignment"):
        ends = driver_ends(plan, board)
        more = [assign_pins(bound, plan, floorplan, catalog.footprint, ends)] if ends else []
        last = more[-1] if more else pinmap
        straight = bound.design.any_angle and bound.fab.copper_layers > 1
        if straight and last.length_nm > LONGER * last.bound_nm:
            more.append(assign_pins(bound, plan, floorplan, catalog.footprint, ends, CROSSING_STRAIGHT_NM))
    for again in more:
        same = found.get(again.digest())
        if same is None:
            with watch.stage("netlist"):
                netlist = build_netlist(bound, plan, again, catalog.footprint)
            found[again.digest()] = _Wired(plan, again, netlist, with_nets(board, netlist))
        else:
            found[again.digest()] = replace(same, pinmap=again)
    return tuple(found.values())


def _standing(
    bound: BoundDesign,
    catalog: Catalog,
    plan: ElectricalPlan,
    floorplan: Floorplan,
    watch: Stopwatch,
    ends: Mapping[str, Point] = NOWHERE,
) -> _Wired:
    """Return the first board of *plan*: pins by the contacts (or *ends*), parts beside them."""
    with watch.stage("pin assignment"):
        pinmap = assign_pins(bound, plan, floorplan, catalog.footprint, ends)
    with watch.stage("netlist"):
        netlist = build_netlist(bound, plan, pinmap, catalog.footprint)
    with watch.stage("placement"):
        board = place_parts(bound, netlist, floorplan)
    return _Wired(plan, pinmap, netlist, board)


def _gated(
    bound: BoundDesign, catalog: Catalog, wired: _Wired, floorplan: Floorplan, watch: Stopwatch
) -> _Wired:
    """Give the signals the gates that suit where the chips stand, and let the chips move once more."""
    held = frozenset(choice.request.net for choice in wired.pinmap.choices if choice.fixed)
    for _ in range(REGATED):
        plan = regated(wired.plan, wired.board, held)
        if plan == wired.plan:
            break
        try:
            wired = _standing(bound, catalog, plan, floorplan, watch, driver_ends(plan, wired.board))
        except PlacementFailed:
            break
    plan = regated(wired.plan, wired.board, held)
    if plan == wired.plan:
        return wired
    with watch.stage("netlist"):
        netlist = build_netlist(bound, plan, wired.pinmap, catalog.footprint)
    return _Wired(plan, wired.pinmap, netlist, with_nets(wired.board, netlist))


def attempt(
    bound: BoundDesign, catalog: Catalog, plan: ElectricalPlan, floorplan: Floorplan, watch: Stopwatch
) -> Attempt:
    """Place, route, pour, print and check *floorplan*; raises PlacementFailed where a part finds no room."""
    fab = bound.fab
    single = fab.copper_layers == 1 or not bound.design.ground_pour
    tried: list[tuple[_Wired, RouteResult]] = []
    choices = _wired(bound, catalog, plan, floorplan, watch)
    with watch.stage("routing"):
        shy: list[tuple[_Wired, RouteResult]] = []
        if fab.copper_layers > 1:
            shy = _routed(choices, bound, single)
            tried = [one for one in shy if not one[1].unrouted and not one[1].stats.vias]
        known = {id(wired): routed.attempt for wired, routed in shy}
        left = {id(wired): len(routed.unrouted) for wired, routed in shy}
        # those that came furthest without vias first
        for wired in sorted(choices, key=lambda w: left.get(id(w), len(w.board.nets))) if not tried else ():
            rules = _rules(bound, wired.board, single)
            routed = route_report(wired.board, rules, known.get(id(wired)))
            tried.append((wired, routed))
            if not routed.unrouted and not routed.stats.vias:
                break  # done
            if fab.copper_layers == 1 and len(routed.unrouted) > FAR_OFF:
                break  # another pin map would not make up for the ground that lacks
    wired, routed = min(tried, key=lambda one: _cost(one[1]))
    board = routed.board
    if bound.design.ground_pour:
        with watch.stage("pour"):
            board = pour(board, fab)
    with watch.stage("legend"):
        said = with_words(bound, wired.pinmap).design
        labels = board_labels(bound, plan, wired.pinmap)
        board = add_legend(board, fab, labels, said.legend, said.strokes)
    with watch.stage("rule check"):
        report = check_board(board, wired.netlist, fab)
        design = bound.design
        report = replace(report, findings=let_pass(report.findings, design.accepted, design.revision))
    return Attempt(wired.plan, floorplan, wired.pinmap, wired.netlist, board, routed, report)


def _rules(bound: BoundDesign, board: Board, ground: bool) -> RoutingRules:
    """Return the rules for *board*, with those locked tracks that can lie on it."""
    rules = rules_for(bound.fab, board, ground, supply_least(bound), bound.design.any_angle)
    wishes = [locked_legs(track) for track in bound.design.tracks]
    if not wishes:
        return rules
    tracks = usable_tracks(board, bound.fab, wishes)
    return replace(rules, locked=tracks, locked_vias=usable_vias(board, bound.fab, bound.design.vias, tracks))


def _routed(
    choices: tuple[_Wired, ...], bound: BoundDesign, ground: bool
) -> list[tuple[_Wired, RouteResult]]:
    """Route those of two *choices* or more without vias, as far as that goes; none of one for [].

    The pins that know most of the board come first; those that need more track
    than what is routed already are left out.
    """
    done: list[tuple[_Wired, RouteResult]] = []
    shortest = math.inf
    for wired in reversed(choices) if len(choices) > 1 else ():
        rules = _rules(bound, wired.board, ground)
        least = tree_length(wired.board, rules.skip, not rules.any_angle)
        if least > WORTH * shortest:
            continue
        routed = route_report(wired.board, replace(rules, shy=True, grids=rules.grids[:1]))
        done.append((wired, routed))
        if not routed.unrouted and not routed.stats.vias:
            shortest = min(shortest, least)
    return done


def _cost(routed: RouteResult) -> tuple[int, int, float]:
    """What a person would mind, worst first: open connections, holes to drill or wire, length."""
    return len(routed.unrouted), routed.stats.vias + routed.links, routed.stats.length
