"""Kept and spared pins against brute force: fewest changes, fewest waived pins, only then short tracks."""

from dataclasses import replace
from itertools import permutations

import assign_inputs as made
import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from test_assign_oracle import distance, lawful, small_cases

from boardgen.circuit.assign import assign_pins
from boardgen.circuit.assign_kept import with_kept, with_spared
from boardgen.circuit.assign_problem import build_problem
from boardgen.circuit.assign_solve import solve
from boardgen.design.model import FixedPin, KeptPin, Waiver


@settings(max_examples=200, deadline=None)
@given(small_cases(), st.data())
def test_fewest_changed_pins_then_least_length_against_brute_force(case, data):
    pins, requests, groups, waivers, fixed, places, contacts = case
    wires = [r.function for r in requests if r.bus]
    assume(len(set(wires)) == len(wires))
    options = [
        choice
        for choice in permutations(range(len(pins)), len(requests))
        if lawful(pins, requests, groups, waivers, fixed, choice)
    ]
    assume(options)
    before = data.draw(st.permutations(range(len(pins))))[: len(requests)]
    kept_rows = data.draw(st.sets(st.integers(0, len(requests) - 1), min_size=1))
    keep = tuple(KeptPin(requests[i].signal, pins[before[i]].name) for i in sorted(kept_rows))

    def changed(choice):
        return sum(choice[i] != before[i] for i in kept_rows)

    best = min((changed(c), distance(places, contacts, requests, c, 20)) for c in options)
    module = made.module_of(pins)
    design = made.design_of(groups=groups, waivers=waivers, fixed=fixed, keep=keep)
    table = np.array(
        [[distance(places, contacts, [r], [c], 20) * 1e6 for c in range(len(pins))] for r in requests]
    )
    problem = build_problem(module, made.plan_of(requests), design, table)
    chosen = solve(replace(problem, cost=with_kept(problem.cost, problem.kept, 4_000_000)))
    choice = [pins.index(problem.pins[c]) for c in chosen]
    assert changed(choice) == best[0]
    length = sum(table[i, c] for i, c in enumerate(choice))
    assert length == pytest.approx(best[1] * 1e6, abs=50)
    whole = made.bound_of(module, groups=groups, waivers=waivers, fixed=fixed, keep=keep)
    pinmap = assign_pins(whole, made.plan_of(requests), made.floor_of(), made.prints(places, contacts))
    numbers = [[p.number for p in pins].index(c.pin_number) for c in pinmap.choices]
    assert changed(numbers) == best[0]
    assert lawful(pins, requests, groups, waivers, fixed, numbers)


@settings(max_examples=200, deadline=None)
@given(small_cases())
def test_fewest_waived_pins_then_least_length_against_brute_force(case):
    pins, requests, groups, _, fixed, places, contacts = case
    wires = [r.function for r in requests if r.bus]
    assume(len(set(wires)) == len(wires))
    waivers = tuple(Waiver(p.number, "tested") for p in pins if p.strap)
    assume(waivers)
    options = [
        choice
        for choice in permutations(range(len(pins)), len(requests))
        if lawful(pins, requests, groups, waivers, fixed, choice)
    ]
    assume(options)
    named = {f.pin for f in fixed}

    def waived(choice):
        return sum(bool(pins[c].strap) and pins[c].name not in named for c in choice)

    best = min((waived(c), distance(places, contacts, requests, c, 20)) for c in options)
    module = made.module_of(pins)
    design = made.design_of(groups=groups, waivers=waivers, fixed=fixed)
    table = np.array(
        [[distance(places, contacts, [r], [c], 20) * 1e6 for c in range(len(pins))] for r in requests]
    )
    problem = build_problem(module, made.plan_of(requests), design, table)
    chosen = solve(replace(problem, cost=with_spared(problem.cost, problem.waived, 4_000_000)))
    choice = [pins.index(problem.pins[c]) for c in chosen]
    assert waived(choice) == best[0]
    assert sum(table[i, c] for i, c in enumerate(choice)) == pytest.approx(best[1] * 1e6, abs=50)
    whole = made.bound_of(module, groups=groups, waivers=waivers, fixed=fixed)
    pinmap = assign_pins(whole, made.plan_of(requests), made.floor_of(), made.prints(places, contacts))
    numbers = [[p.number for p in pins].index(c.pin_number) for c in pinmap.choices]
    assert waived(numbers) == best[0]
    assert lawful(pins, requests, groups, waivers, fixed, numbers)


def _two(**more):
    pins = [made.gpio(k + 1, f"GP{k}") for k in range(4)]
    places = [(k + 1, 5.0 * k, 0.0) for k in range(4)]
    requests = [made.request("A", "1"), made.request("B", "2")]
    bound = made.bound_of(made.module_of(pins), **more)
    prints = made.prints(places, [(1, 0.0, 0.0), (2, 5.0, 0.0)])
    found = assign_pins(bound, made.plan_of(requests), made.floor_of(), prints)
    return {c.request.signal: c for c in found.choices}


def test_a_kept_pin_goes_before_length():
    free = _two()
    assert {s: c.pin_name for s, c in free.items()} == {"A": "GP0", "B": "GP1"}
    kept = _two(keep=(KeptPin("A", "GP3"),))
    assert {s: c.pin_name for s, c in kept.items()} == {"A": "GP3", "B": "GP1"}
    assert kept["A"].why.startswith("GP3 as in the revision before")
    assert not kept["A"].fixed


def test_a_kept_pin_may_be_named_by_number():
    assert _two(keep=(KeptPin("A", "#3"),))["A"].pin_name == "GP2"


def test_a_fixed_pin_asks_otherwise_and_wins():
    found = _two(keep=(KeptPin("A", "GP3"), KeptPin("B", "GP2")), fixed=(FixedPin("A", "GP1"),))
    assert {s: c.pin_name for s, c in found.items()} == {"A": "GP1", "B": "GP2"}


def test_keeps_of_signals_that_are_gone_ask_nothing():
    assert _two(keep=(KeptPin("GONE", "GP0"),))["A"].pin_name == "GP0"
