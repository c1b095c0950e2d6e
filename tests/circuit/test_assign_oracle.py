"""Pin assignment against brute force over all permutations, and its refusals."""

from itertools import permutations

import assign_inputs as made
import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from boardgen.circuit.assign import assign_pins, misfit
from boardgen.circuit.assign_milp import solve_program
from boardgen.circuit.assign_problem import build_problem, keeps_ties
from boardgen.circuit.assign_solve import bound, solve
from boardgen.design.model import FixedPin, Group, Waiver
from boardgen.errors import InputError

FUNCTIONS = ("i2c0.sda", "i2c0.scl", "i2c1.sda", "i2c1.scl", "pwm", "adc0.1")


@st.composite
def small_cases(draw):
    """A module of at most 7 pins with scattered abilities, requests, groups, fixed pins and waivers."""
    count = draw(st.integers(1, 7))
    pins = []
    for k in range(count):
        extra = draw(st.sampled_from(["", "", "", "input", "strap", "no-pull", "other-port"]))
        pins.append(
            made.gpio(
                k + 1,
                f"{'B' if extra == 'other-port' else 'GP'}{k}",
                can_drive=extra != "input",
                strap="boot mode" if extra == "strap" else "",
                pulls=() if extra == "no-pull" else ("up",),
                functions=tuple(draw(st.sets(st.sampled_from(FUNCTIONS), max_size=3).map(sorted))),
            )
        )
    asked = draw(st.integers(1, count))
    requests = []
    for i in range(asked):
        kind = draw(st.sampled_from(["in", "in", "in", "pull", "out", "adc", "sda", "scl"]))
        requests.append(
            made.request(
                f"S{i}",
                draw(st.sampled_from(["", str(i + 1), str(i + 1)])),
                reads=kind != "out",
                drives=kind in ("out", "sda", "scl"),
                analog=kind == "adc",
                pull="up" if kind == "pull" else "",
                function=f"i2c.{kind}" if kind in ("sda", "scl") else "",
                bus="i2c" if kind in ("sda", "scl") else "",
            )
        )
    groups = ()
    if asked > 1 and draw(st.booleans()):
        size = draw(st.integers(2, asked))
        chosen = draw(st.permutations([f"S{i}" for i in range(asked)]))[:size]
        groups = (Group("lines", tuple(chosen), draw(st.booleans()), draw(st.booleans())),)
    waivers = tuple(Waiver(p.number, "tested") for p in pins if p.strap and draw(st.booleans()))
    fixed = ()
    if draw(st.integers(0, 3)) == 0:
        fixed = (FixedPin("S0", draw(st.sampled_from(pins)).name),)
    places = [(k + 1, draw(st.integers(-20, 20)) / 2, draw(st.integers(-20, 20)) / 2) for k in range(count)]
    contacts = [(i + 1, draw(st.integers(-20, 20)) / 2, draw(st.integers(-20, 20)) / 2) for i in range(asked)]
    return pins, requests, groups, waivers, fixed, places, contacts


def lawful(pins, requests, groups, waivers, fixed, choice):
    """Whether pins[choice[i]] may carry requests[i]; the rules said again, in another way."""
    waived = {w.pin for w in waivers}
    spot = {r.signal: pins[c] for r, c in zip(requests, choice, strict=True)}
    for r in requests:
        pin = spot[r.signal]
        if (pin.strap or pin.shared) and pin.number not in waived:
            return False
        if r.drives and not pin.can_drive:
            return False
        if r.analog and not any(f.startswith("adc") for f in pin.functions):
            return False
        if r.pull and r.pull not in pin.pulls:
            return False
    for f in fixed:
        if f.signal in spot and spot[f.signal].name != f.pin:
            return False
    wires = [r for r in requests if r.bus]
    if wires and not any(
        all(r.function.replace("i2c", i) in spot[r.signal].functions for r in wires) for i in ("i2c0", "i2c1")
    ):
        return False
    if len({r.function for r in wires}) < len(wires):
        # One bus has one data line.
        return False
    for group in groups:
        if not (group.consecutive or group.ordered):
            continue
        names = [spot[s].name for s in group.signals]
        ports = {n.rstrip("0123456789") for n in names}
        numbers = [int(n.lstrip("GPB")) for n in names]
        if len(ports) > 1:
            return False
        if group.ordered and numbers != sorted(numbers):
            return False
        if group.consecutive and sorted(numbers) != list(range(min(numbers), min(numbers) + len(numbers))):
            return False
    return True


def distance(places, contacts, requests, choice, offset):
    total = 0.0
    for r, c in zip(requests, choice, strict=True):
        if r.anchor:
            _, x, y = contacts[int(r.anchor) - 1]
            _, px, py = places[c]
            total += float(np.hypot(x - px, y + offset - py))
    return total


@settings(max_examples=250, deadline=None)
@given(small_cases())
def test_least_cost_and_every_rule_against_brute_force(case):
    pins, requests, groups, waivers, fixed, places, contacts = case
    # Two data lines on one bus are a fault of the design that either side may name differently.
    wires = [r.function for r in requests if r.bus]
    assume(len(set(wires)) == len(wires))
    module = made.module_of(pins)
    design = made.design_of(groups=groups, waivers=waivers, fixed=fixed)
    plan = made.plan_of(requests)
    options = [
        choice
        for choice in permutations(range(len(pins)), len(requests))
        if lawful(pins, requests, groups, waivers, fixed, choice)
    ]
    costs = [distance(places, contacts, requests, choice, 20) for choice in options]
    reason = misfit(module, plan, design)
    if not options and not fixed:
        free = build_problem(module, plan, design, None)
        assert solve_program(free, free.cost) is None
    assert bool(reason) == (not options)
    floor = made.floor_of()
    prints = made.prints(places, contacts)
    whole = made.bound_of(module, groups=groups, waivers=waivers, fixed=fixed)
    if not options:
        with pytest.raises(InputError):
            assign_pins(whole, plan, floor, prints)
        return
    best = min(costs)
    table = np.array(
        [[distance(places, contacts, [r], [c], 20) * 1e6 for c in range(len(pins))] for r in requests]
    )
    problem = build_problem(module, plan, design, table)
    chosen = solve(problem)
    cost = sum(table[i, pins.index(problem.pins[c])] for i, c in enumerate(chosen))
    assert cost == pytest.approx(best * 1e6, abs=5)
    assert bound(problem) <= cost + 1
    other = solve_program(problem, problem.cost)
    assert other is not None
    assert keeps_ties(problem, other)
    assert sum(problem.cost[i, c] for i, c in enumerate(other)) == pytest.approx(cost, abs=100)
    pinmap = assign_pins(whole, plan, floor, prints)
    numbers = [c.pin_number for c in pinmap.choices]
    choice = [[p.number for p in pins].index(n) for n in numbers]
    assert len(set(numbers)) == len(numbers)
    assert lawful(pins, requests, groups, waivers, fixed, choice)
    assert pinmap.length_nm == pytest.approx(distance(places, contacts, requests, choice, 20) * 1e6, abs=5)
    assert pinmap.length_nm >= best * 1e6 - 5
    assert pinmap.bound_nm <= best * 1e6 + 5
    assert pinmap == assign_pins(whole, plan, floor, prints)
