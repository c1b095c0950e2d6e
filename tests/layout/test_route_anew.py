"""Detours led anew: on boards laid out by hand, and on drawn ones with every net taken for a detour."""

from __future__ import annotations

from itertools import pairwise
from math import dist

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from route_oracle import clearance_faults, crooked, open_nets, sharp_corners, shorted
from test_route_boards import board_of, fields, plated, rules_of, surface

from boardgen.board.model import Board, Keepout
from boardgen.layout.route import RoutingRules, anew, route_report
from boardgen.layout.route.anew import led_anew
from boardgen.layout.route.exact import faulty_nets
from boardgen.layout.route.problem import Problem, build_problem
from boardgen.layout.route.trace import Wiring
from boardgen.units import point_mm

TOP, BOTTOM = 0, 1
Way = list[tuple[float, float]]
AROUND: Way = [(5, 10), (5, 2), (6, 1), (24, 1), (25, 2), (25, 10)]


def wired(
    problem: Problem, ways: dict[str, tuple[int, Way]], vias: tuple[tuple[str, float, float], ...] = ()
) -> Wiring:
    """One link for each net: its layer and its points in mm."""
    at, rows = [0], []
    for _, way in ways.values():
        rows += [(round(x * 1e6), round(y * 1e6)) for x, y in way] + [(0, 0)] * 60
        at.append(len(rows))
    return Wiring(
        points=np.array(rows, np.int64),
        at=np.array(at, np.int64),
        count=np.array([len(way) for _, way in ways.values()], np.int64),
        nets=np.array([problem.names.index(net) for net in ways], np.int64),
        layers=np.array([layer for layer, _ in ways.values()], np.int64),
        joints=np.full((len(ways), 2), -1, np.int64),
        vias=[(problem.names.index(net), round(x * 1e6), round(y * 1e6)) for net, x, y in vias],
    )


def found(problem: Problem, wiring: Wiring) -> dict[str, tuple[set[int], float]]:
    """The layers and the track length in mm of each net."""
    made: dict[str, tuple[set[int], float]] = {}
    for i in range(len(wiring.count)):
        layers, length = made.get(problem.names[int(wiring.nets[i])], (set(), 0.0))
        length += sum(dist(a, b) for a, b in pairwise(wiring.link(i))) / 1e6
        made[problem.names[int(wiring.nets[i])]] = layers | {int(wiring.layers[i])}, length
    return made


def wall(x: float, top: float, bottom: float, thick: float = 1.0) -> Keepout:
    ring = tuple(point_mm(a, b) for a, b in ((x, top), (x + thick, top), (x + thick, bottom), (x, bottom)))
    return Keepout(ring, "wall")


def gate(*, crossing: bool) -> tuple[Board, RoutingRules, Problem]:
    """Net A from left to right on the top, a wall between with a gate, and net B's pads in the gate."""
    pads = [(surface("1", 5, 10, "1.5", "1.5"), "A"), (surface("2", 25, 10, "1.5", "1.5"), "A")]
    if crossing:
        pads += [(plated("3", 15, 7.5), "B"), (plated("4", 15, 12.5), "B")]
    board = board_of(pads, keepouts=(wall(14.5, 2, 6.6), wall(14.5, 13.4, 20)))
    rules = rules_of(board)
    return board, rules, build_problem(board, rules)


def test_a_detour_with_nothing_in_its_way_is_led_straight() -> None:
    board, rules, problem = gate(crossing=False)
    wiring = wired(problem, {"A": (TOP, AROUND)})
    assert faulty_nets(problem, wiring, rules) == ()
    new = led_anew(board, problem, wiring, rules)
    assert new is not None
    assert found(problem, new) == {"A": ({TOP}, pytest.approx(20.0, abs=1e-6))}
    assert faulty_nets(problem, new, rules) == ()
    assert wiring.link(0)[1] == (5_000_000, 2_000_000)  # what was given stays as it was


def test_what_lies_in_its_way_changes_sides() -> None:
    board, rules, problem = gate(crossing=True)
    wiring = wired(problem, {"A": (TOP, AROUND), "B": (TOP, [(15, 7.5), (15, 12.5)])})
    assert faulty_nets(problem, wiring, rules) == ()
    new = led_anew(board, problem, wiring, rules)
    assert new is not None
    made = found(problem, new)
    assert made["A"] == ({TOP}, pytest.approx(20.0, abs=0.2))
    assert made["B"] == ({BOTTOM}, pytest.approx(5.0, abs=0.2))
    assert faulty_nets(problem, new, rules) == ()


def test_a_net_whose_vias_are_worth_more_than_the_way_round_loses_them() -> None:
    pads = [(plated("1", 5, 10), "A"), (plated("2", 25, 10), "A")]
    board = board_of(pads)
    rules = rules_of(board)
    problem = build_problem(board, rules)
    wiring = wired(problem, {"A": (TOP, [(5, 10), (25, 10)])}, vias=(("A", 12, 10), ("A", 18, 10)))
    new = led_anew(board, problem, wiring, rules)
    assert new is not None
    assert new.vias == []


@pytest.mark.parametrize("way", [[(5, 10), (25, 10)], [(5, 10), (5, 9), (6, 8), (24, 8), (25, 9), (25, 10)]])
def test_short_ways_and_small_detours_are_left_alone(way: Way) -> None:
    board, rules, problem = gate(crossing=False)
    wiring = wired(problem, {"A": (TOP, way)})
    assert led_anew(board, problem, wiring, rules) is None


def test_a_detour_without_another_way_stays() -> None:
    pads = [(surface("1", 5, 10, "1.5", "1.5"), "A"), (surface("2", 25, 10, "1.5", "1.5"), "A")]
    board = board_of(pads, keepouts=(wall(6.5, 2, 20, 17.0),))
    rules = rules_of(board)
    problem = build_problem(board, rules)
    wiring = wired(problem, {"A": (TOP, AROUND)})
    assert led_anew(board, problem, wiring, rules) is None


@given(fields())
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True)
def test_drawn_boards_get_no_worse_where_every_net_is_looked_at(board: Board) -> None:
    rules = rules_of(board)
    plain = route_report(board, rules)
    with pytest.MonkeyPatch.context() as patch:
        for name, value in (("DETOUR", 1.0), ("DETOUR_NM", 0.0), ("GAIN_NM", 1e3), ("MANY", 99)):
            patch.setattr(anew, name, value)
        looked = route_report(board, rules)
    assert looked.unrouted == ()
    assert clearance_faults(looked.board, rules) == []
    assert shorted(looked.board) == []
    assert crooked(looked.board) == []
    assert sharp_corners(looked.board) == []
    assert open_nets(looked.board, rules.skip) == []
    worth = [each.stats.length + anew.VIA_NM * each.stats.vias for each in (plain, looked)]
    assert worth[1] <= worth[0] + 1e5
