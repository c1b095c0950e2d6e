"""Pin assignment: refusals in words, fixed pins, groups and buses of a realistic size."""

import math

import assign_inputs as made
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgen.catalog.model import ModulePin, PinKind
from boardgen.circuit.assign import assign_pins, misfit, usable_pins
from boardgen.circuit.assign_problem import build_problem, keeps_ties
from boardgen.circuit.assign_solve import solve
from boardgen.circuit.assign_usable import pin_index, serving
from boardgen.design.model import FixedPin, Group, Waiver
from boardgen.errors import InputError


@pytest.mark.parametrize(
    ("name", "found"),
    [
        ("GP5", ("GP", 5)),
        ("IO34", ("IO", 34)),
        ("PA5", ("PA", 5)),
        ("A0", ("A", 0)),
        ("GP26/A0", ("GP", 26)),
        ("7", ("", 7)),
        ("RUN", None),
    ],
)
def test_pin_index(name, found):
    assert pin_index(name) == found


def test_serving_takes_any_instance_unless_one_is_named():
    pin = made.gpio(1, "GP1", functions=("i2c0.sda", "spi1.mosi", "pwm", "adc0.2"))
    assert serving(pin, "i2c.sda") == ("i2c0.sda",)
    assert serving(pin, "i2c1.sda") == ()
    assert serving(pin, "i2c.scl") == ()
    assert serving(pin, "pwm") == ("pwm",)
    assert serving(pin, "adc") == ("adc0.2",)


def one_row(count, **more):
    return [made.gpio(k + 1, f"GP{k}", **more) for k in range(count)]


def places(count):
    return [(k + 1, 2.54 * k, 0) for k in range(count)]


def assign(pins, requests, connector=None, **settings):
    whole = made.bound_of(made.module_of(pins), **settings)
    contacts = connector or places(max(4, len(requests)))
    prints = made.prints(places(len(pins)), contacts)
    return assign_pins(whole, made.plan_of(requests), made.floor_of(), prints)


def test_straight_across_when_nothing_forbids_it():
    pinmap = assign(one_row(8), [made.request(f"S{i}", str(i + 1)) for i in range(8)])
    assert [c.pin_name for c in pinmap.choices] == [f"GP{i}" for i in range(8)]
    assert pinmap.crossings == 0
    assert pinmap.length_nm == pytest.approx(8 * 20e6)
    assert pinmap.bound_nm == pytest.approx(pinmap.length_nm)


def test_the_shorter_45_degree_track_wins_over_the_shorter_straight_line():
    # From the contact at (0, 20) both pins are free: straight, the second is nearer by 23 um;
    # as a 45-degree track the first is nearer by 0.8 mm.
    pins = one_row(2)
    whole = made.bound_of(made.module_of(pins))
    prints = made.prints([(1, 0, 9.8), (2, 3.9, 10.6)], [(1, 0, 0)])
    pinmap = assign_pins(whole, made.plan_of([made.request("S0", "1")]), made.floor_of(), prints)
    assert pinmap.choices[0].pin_name == "GP0"
    assert pinmap.length_nm == pytest.approx(10.2e6)
    assert pinmap.bound_nm == pytest.approx(math.hypot(3.9, 9.4) * 1e6)
    assert pinmap.bound_nm < pinmap.length_nm


def test_straps_and_shared_pins_are_left_out_unless_waived():
    pins = one_row(4)
    pins[1] = made.gpio(2, "GP1", strap="flash voltage")
    pins[2] = made.gpio(3, "GP2", shared="LED")
    requests = [made.request("S0", "2"), made.request("S1", "3")]
    pinmap = assign(pins, requests)
    assert {c.pin_name for c in pinmap.choices} == {"GP0", "GP3"}
    reasons = {e.pin_name: e.reason for e in pinmap.exclusions}
    assert reasons == {
        "GP1": "GP1 decides at boot: flash voltage.",
        "GP2": "GP2 is also used on the module: LED.",
    }
    waivers = (Waiver("2", "no pull there"), Waiver("3", "LED may glow"))
    assert {c.pin_name for c in assign(pins, requests, waivers=waivers).choices} == {"GP0", "GP3"}
    requests.append(made.request("S2", "3"))
    three = {c.pin_name for c in assign(pins, requests, waivers=waivers).choices}
    assert {"GP0", "GP3"} < three
    requests.append(made.request("S3", "1"))
    assert {c.pin_name for c in assign(pins, requests, waivers=waivers).choices} == {
        f"GP{k}" for k in range(4)
    }


def test_every_exclusion_is_a_sentence():
    pins = [
        ModulePin("1", "RUN", PinKind.CONTROL),
        made.gpio(2, "GP1", can_drive=False, pulls=()),
        made.gpio(3, "GP2"),
        made.gpio(4, "GP3"),
    ]
    pinmap = assign(
        pins, [made.request("S0", "1", drives=True, reads=False), made.request("S1", "2", pull="up")]
    )
    assert [e.pin_name for e in pinmap.exclusions] == ["RUN", "GP1"]
    assert all(e.reason.startswith(e.pin_name) and e.reason.endswith(".") for e in pinmap.exclusions)
    assert "S0" in pinmap.exclusions[1].reason
    assert "S1" in pinmap.exclusions[1].reason


def test_fixed_pin_is_kept_by_name_or_number():
    requests = [made.request("S0", "1"), made.request("S1", "2")]
    fixed = (FixedPin("S0", "GP5"), FixedPin("S1", "4"))
    pinmap = assign(one_row(6), requests, fixed=fixed)
    assert [c.pin_name for c in pinmap.choices] == ["GP5", "GP3"]
    assert all(c.fixed for c in pinmap.choices)


@pytest.mark.parametrize(
    ("pin", "words"),
    [
        ("GP9", "has no pin GP9"),
        ("GP1", "a waiver with the reason allows it"),
        ("GP2", "cannot be driven"),
        ("RUN", "control pin"),
    ],
)
def test_a_fixed_pin_that_cannot_be_is_refused_with_its_line(pin, words):
    pins = [
        made.gpio(1, "GP0"),
        made.gpio(2, "GP1", strap="boot"),
        made.gpio(3, "GP2", can_drive=False),
        ModulePin("4", "RUN", PinKind.CONTROL),
    ]
    with pytest.raises(InputError, match=words) as caught:
        assign(pins, [made.request("S0", "1", drives=True, reads=False)], fixed=(FixedPin("S0", pin, 17),))
    assert caught.value.line == 17
    assert caught.value.found == pin


def test_two_signals_on_one_fixed_pin_are_refused():
    fixed = (FixedPin("S0", "GP1"), FixedPin("S1", "2"))
    with pytest.raises(InputError, match="both fixed to GP1"):
        assign(one_row(4), [made.request("S0", "1"), made.request("S1", "2")], fixed=fixed)


def test_shortage_counts_the_missing_pins_and_names_the_need():
    pins = [*one_row(6), *(made.gpio(7 + k, f"GP{6 + k}", functions=(f"adc0.{k}",)) for k in range(2))]
    requests = [made.request(f"A{i}", str(i + 1), analog=True) for i in range(5)]
    module = made.module_of(pins)
    reason = misfit(module, made.plan_of(requests), made.design_of())
    assert "3 pins short" in reason
    assert "an ADC input" in reason
    assert "GP6, GP7" in reason
    many = [made.request(f"S{i}", "1") for i in range(9)]
    assert "1 pin short: 9 signals" in misfit(module, made.plan_of(many), made.design_of())


def test_a_group_that_finds_no_run_is_named():
    pins = [made.gpio(k + 1, f"GP{2 * k}") for k in range(6)]
    design = made.design_of(groups=(Group("data", ("S0", "S1")),))
    plan = made.plan_of([made.request("S0"), made.request("S1")])
    assert "group data finds no 2 consecutive GPIO numbers" in misfit(made.module_of(pins), plan, design)


def test_a_bus_keeps_to_one_peripheral():
    pins = [
        made.gpio(1, "GP0", functions=("i2c0.sda",)),
        made.gpio(2, "GP1", functions=("i2c1.scl",)),
        made.gpio(3, "GP2", functions=("i2c1.sda",)),
        made.gpio(4, "GP3"),
    ]
    requests = [
        made.request("SDA", "1", function="i2c.sda", bus="i2c"),
        made.request("SCL", "2", function="i2c.scl", bus="i2c"),
    ]
    pinmap = assign(pins, requests)
    assert [c.pin_name for c in pinmap.choices] == ["GP2", "GP1"]
    reason = misfit(made.module_of([pins[0], pins[1], pins[3]]), made.plan_of(requests), made.design_of())
    assert "bus i2c" in reason


def test_pin_volts_are_honoured():
    pins = [made.gpio(1, "GP0"), made.gpio(2, "GP1", max_volts=5.5)]
    module = made.module_of(pins)
    five = made.request("S0", "1", min_max_volts=5.0)
    assert [p.name for p in usable_pins(module, five)] == ["GP1"]
    assert [p.name for p in usable_pins(module, made.request("S0", "1"))] == ["GP0", "GP1"]


def test_a_signal_lands_only_where_it_proves_safe():
    pins = [made.gpio(n, f"GP{n}") for n in range(4)]
    safe = {"pins": ("2", "3"), "pins_why": "5.25 V reaches it, which takes 3.60 V"}
    requests = [made.request("S0", "1", **safe), made.request("S1", "2")]
    assert [p.name for p in usable_pins(made.module_of(pins), requests[0])] == ["GP2", "GP3"]
    pinmap = assign(pins, requests)
    assert pinmap.pin_of("S0").pin_name == "GP2"
    assert any(
        e.reason == "GP0 does not prove safe (5.25 V reaches it, which takes 3.60 V): not for S0."
        for e in pinmap.exclusions
    )
    three = [made.request(f"S{n}", "1", **safe) for n in range(3)]
    reason = misfit(made.module_of(pins), made.plan_of(three), made.design_of())
    assert "1 pin short: 3 signals (S0, S1, S2) need a pin with levels that prove safe" in reason


def test_crossings_are_traded_for_little_length():
    # S0 may only use GP1 or GP3; straight lines of the least sum would cross where GP0/GP1 stay taken.
    pins = one_row(5)
    requests = [made.request(f"S{i}", str(i + 1)) for i in range(4)]
    fixed = (FixedPin("S0", "GP3"),)
    pinmap = assign(pins, requests, fixed=fixed)
    assert pinmap.pin_of("S0").pin_name == "GP3"
    assert pinmap.length_nm >= pinmap.bound_nm - 1


@st.composite
def board_size_cases(draw):
    """A two-row module of 40 pins, up to 30 requests, and up to three disjoint groups."""
    seed_pins = []
    for k in range(40):
        if k % 5 == 2:
            seed_pins.append(ModulePin(str(k + 1), "GND", PinKind.GROUND))
            continue
        kind = draw(st.sampled_from(["", "", "", "", "input", "strap"]))
        seed_pins.append(
            made.gpio(
                k + 1,
                f"GP{k - (k + 2) // 5}",
                can_drive=kind != "input",
                strap="boot" if kind == "strap" else "",
            )
        )
    asked = draw(st.integers(1, 24))
    requests = [
        made.request(f"S{i}", str(i + 1), drives=i % 3 == 0, reads=i % 3 != 0, pull="up" if i % 3 else "")
        for i in range(asked)
    ]
    order = draw(st.permutations(range(asked)))
    groups, at = [], 0
    for number in range(draw(st.integers(0, 3))):
        size = draw(st.integers(2, 5))
        if at + size > asked:
            break
        names = tuple(f"S{i}" for i in order[at : at + size])
        groups.append(Group(f"g{number}", names, draw(st.booleans()), draw(st.booleans())))
        at += size
    return seed_pins, requests, tuple(groups)


@settings(max_examples=40, deadline=None)
@given(board_size_cases())
def test_no_rule_is_ever_broken_on_a_real_size(case):
    pins, requests, groups = case
    module = made.module_of(pins)
    plan = made.plan_of(requests)
    design = made.design_of(groups=groups)
    contacts = [(i + 1, 2.77 * (i % 13), 2.84 * (i // 13)) for i in range(len(requests))]
    whole = made.bound_of(module, groups=groups)
    try:
        pinmap = assign_pins(whole, plan, made.floor_of(), made.prints(made.two_rows(40), contacts))
    except InputError as error:
        refused = error.message
    else:
        refused = ""
    assert misfit(module, plan, design) == refused
    if refused:
        return
    by_number = {pin.number: pin for pin in pins}
    used = [by_number[c.pin_number] for c in pinmap.choices]
    assert len({pin.number for pin in used}) == len(requests)
    for request, pin in zip(requests, used, strict=True):
        assert pin in usable_pins(module, request)
    problem = build_problem(module, plan, design, None)
    column = {pin.number: k for k, pin in enumerate(problem.pins)}
    assert keeps_ties(problem, [column[pin.number] for pin in used])
    assert pinmap.bound_nm <= pinmap.length_nm + 1


def test_past_the_node_limit_the_answer_still_keeps_every_tie():
    pins = one_row(12)
    groups = (Group("a", ("S0", "S4", "S2")), Group("b", ("S1", "S5", "S3")))
    plan = made.plan_of([made.request(f"S{i}", str(i + 1)) for i in range(6)])
    problem = build_problem(made.module_of(pins), plan, made.design_of(groups=groups), None)
    chosen = solve(problem, limit=1)
    assert chosen is not None
    assert keeps_ties(problem, chosen)


def test_many_groups_without_room_are_refused():
    # Seven runs of three fit the first 23 numbers; the eighth would need the pins above, which cannot drive.
    pins = [*one_row(23), *(made.gpio(24 + k, f"GP{26 + k}", can_drive=False) for k in range(3))]
    requests = [made.request(f"S{i}", drives=True) for i in range(24)]
    groups = tuple(
        Group(f"g{k}", tuple(f"S{3 * k + i}" for i in range(3)), True, k % 2 == 0) for k in range(8)
    )
    module = made.module_of(pins)
    assert "pin" in misfit(module, made.plan_of(requests), made.design_of(groups=groups))
    fits = misfit(module, made.plan_of(requests[:21]), made.design_of(groups=groups[:7]))
    assert fits == ""
    spread = [made.gpio(k + 1, f"GP{k + k // 5}") for k in range(13)]
    tight = made.design_of(groups=groups[:4])
    assert "groups" in misfit(made.module_of(spread), made.plan_of(requests[:12]), tight)
