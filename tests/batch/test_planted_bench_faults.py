"""Single faults planted on the demo boards: each must be named, none may pass for a good board."""

from __future__ import annotations

import math
import random
from collections import Counter
from dataclasses import replace

import pytest
from bench_sim import Bench, Planted, face_mirror, joints, neighbours, sweep

from boardgen.batch.judge import judge
from boardgen.batch.model import Reading, Verdict
from boardgen.export.bringup_plan import plan_of

DEMOS = ("lecture-keypad", "pointer-handset", "slide-remote", "dome-fader", "chart-ball")
KINDS = ("open joint", "bridge", "mirrored plug", "swapped wires")
ROUNDS = 3


@pytest.fixture(scope="module")
def boards(built):
    """Bundle and plan of each demo."""
    return {name: (built(name).bundle, plan_of(built(name).bundle)) for name in DEMOS}


def _fault(kind: str, bundle, near, rng: random.Random) -> Planted:
    if kind == "open joint":
        return Planted(kind, (rng.choice(joints(bundle)),))
    if kind == "bridge":
        return Planted(kind, rng.choice(near))
    if kind == "mirrored plug":
        return Planted(kind, ())
    nets = {n: net for n, net in bundle.plan.contact_nets if net is not None}
    while True:
        a, b = rng.sample(sorted(nets), 2)
        if nets[a] != nets[b]:
            return Planted(kind, (f"J1.{a}", f"J1.{b}"))


def _named(fault: Planted, suspects) -> bool:
    """Whether the suspects, all of which explain as much as the first, name the fault and its place."""
    first = suspects[0] if suspects else None
    if first is None or first.unexplained:
        return False
    if fault.kind == "open joint":
        return any(s.fault == fault.kind and s.places == fault.names for s in suspects)
    if first.fault != fault.kind:
        return False
    if fault.kind == "bridge":
        a, b, one, other = fault.names
        at = [place for place in first.places if one in place and other in place]
        return first.words == f"{a} and {b} are bridged" and bool(at or len(first.places) == 4)
    return fault.kind == "mirrored plug" or set(first.places) == set(fault.names)


def _followed(plan, bench: Bench, readings, found):
    """Do what the judge asks for until one suspect stands alone."""
    extra: list[Reading] = []
    for _ in range(ROUNDS):
        if len(found.suspects) < 2:
            break
        known = {(r.a, r.b) for r in extra}
        pair = next((s.pair for s in found.suspects if s.pair[0] and s.pair not in known), None)
        if pair is None:
            break
        value = bench.ohms(*pair)
        extra.append(Reading("", "ohms", *pair, value, f"{value:g}", 0))
        found = judge(plan, [*readings, *extra], "1")
    return found


@pytest.mark.parametrize("count", [200, pytest.param(1000, marks=pytest.mark.slow)])
def test_faults_are_named_and_never_pass(boards, count):
    rng = random.Random(20_261_125)
    near = {name: neighbours(bundle) for name, (bundle, _plan) in boards.items()}
    tally: Counter[tuple[str, str]] = Counter()
    wrong = []
    for number in range(count):
        name, kind = DEMOS[number % len(DEMOS)], KINDS[number // len(DEMOS) % len(KINDS)]
        bundle, plan = boards[name]
        fault = _fault(kind, bundle, near[name], rng)
        bench = Bench(bundle, fault, rng)
        readings = sweep(bench, plan)
        found = judge(plan, readings, "1")
        assert found.verdict is Verdict.FAULTY, (name, fault)
        tally[kind, "planted"] += 1
        if not _named(fault, found.suspects):
            wrong.append((name, fault, [(s.fault, s.words, s.unexplained) for s in found.suspects]))
            continue
        tally[kind, "named"] += 1
        after = _followed(plan, bench, readings, found).suspects
        tally[kind, "settled"] += len(after) == 1 and _named(fault, after)
    for kind in KINDS:
        row = {word: tally[kind, word] for word in ("planted", "named", "settled")}
        print(kind, row)
        assert row["planted"] >= count // len(KINDS)
        assert row["named"] >= 0.95 * row["planted"], wrong[:5]
        assert row["settled"] >= 0.95 * row["planted"], (kind, row)
    print("wrong:", *wrong[:5], sep="\n")


def test_clean_boards_are_good(boards):
    rng = random.Random(5)
    for name in DEMOS * 10:
        bundle, plan = boards[name]
        found = judge(plan, sweep(Bench(bundle, None, rng), plan), "1")
        assert found.verdict is Verdict.GOOD, (name, found.misses)
        assert not found.suspects


def test_one_reading_short_is_not_good(boards):
    rng = random.Random(6)
    for name in DEMOS:
        bundle, plan = boards[name]
        readings = sweep(Bench(bundle, None, rng), plan)
        for left_out in rng.sample(range(len(readings)), 12):
            rest = readings[:left_out] + readings[left_out + 1 :]
            found = judge(plan, rest, "1")
            assert found.verdict is Verdict.INCOMPLETE
            assert found.missing == (readings[left_out].test,)


def test_two_open_joints_look_like_an_exchange_until_that_is_measured(boards):
    bundle, plan = boards["slide-remote"]
    bench = Bench(bundle, Planted("open joint", ("J1.5", "U1.30")), random.Random(7))
    readings = sweep(bench, plan)
    found = judge(plan, readings, "1")
    assert {m.name for m in found.misses} == {"S05", "S08"}
    assert found.faults == ("swapped wires",)
    red, black = found.suspects[0].pair
    assert (red, black) == ("J1.5", "U1.30")
    value = bench.ohms(red, black)
    found = judge(plan, [*readings, Reading("", "ohms", red, black, value, "", 0)], "1")
    assert found.faults == ("open joint", "open joint")
    places = set(found.suspects[0].places)
    assert places & {"J1.5", "U1.31"}
    assert places & {"J1.8", "U1.30"}


@pytest.mark.parametrize(("value", "words"), [(math.inf, "nothing conducts"), (0.0, "everything conducts")])
def test_a_dead_meter_is_no_fault_of_the_board(boards, value, words):
    _bundle, plan = boards["slide-remote"]
    readings = [Reading(t.id, t.kind, t.a, t.b, value, "", 1) for t in plan.tests if t.kind == "ohms"]
    found = judge(plan, readings, "1")
    assert found.verdict is Verdict.FAULTY
    assert found.faults == ("meter",)
    assert found.suspects[0].words.startswith(words)


def test_readings_without_sense_name_no_fault(boards):
    _bundle, plan = boards["slide-remote"]
    rng = random.Random(9)
    readings = [
        Reading(t.id, t.kind, t.a, t.b, rng.choice((0.1, 5e3, math.inf)), "", 1)
        for t in plan.tests
        if t.kind == "ohms"
    ]
    found = judge(plan, readings, "1")
    assert (found.verdict, found.faults) == (Verdict.FAULTY, ("unexplained",))


@pytest.mark.parametrize(
    ("stage", "kind", "value", "fault"),
    [
        ("look", "look", 0.0, "seen by eye"),
        ("power", "amps", 0.5, "too much current"),
        ("power", "volts", 0.0, "rail too low"),
        ("power", "volts", 9.0, "rail too high"),
        ("module", "volts", -5.0, "supply reversed"),
    ],
)
def test_volts_amperes_and_eyes_have_their_say(boards, stage, kind, value, fault):
    bundle, plan = boards["slide-remote"]
    readings = sweep(Bench(bundle, None, random.Random(4)), plan)
    test = next(t for t in plan.tests if (t.stage, t.kind) == (stage, kind))
    changed = [r if r.test != test.id else replace(r, value=value) for r in readings]
    found = judge(plan, changed, "1")
    assert (found.verdict, found.faults) == (Verdict.FAULTY, (fault,))
    assert [miss.name for miss in found.misses] == [test.id]


def test_wrong_and_missing_parts_are_named(boards):
    bundle, plan = boards["pointer-handset"]
    readings = sweep(Bench(bundle, None, random.Random(4)), plan)
    test = next(t for t in plan.tests if {t.a, t.b} == {"U1.5", "Q1.2"})
    through = next(t for t in plan.tests if {t.a, t.b} == {"U1.4", "U1.5"})  # R1 and R2 in series
    values = {test.id: 8200.0, through.id: 18200.0}
    changed = [replace(r, value=values.get(r.test, r.value)) for r in readings]
    found = judge(plan, changed, "1")
    assert found.faults == ("wrong value",)
    assert "R1 has about 8." in found.suspects[0].words
    gone = {test.id, through.id}
    changed = [replace(r, value=math.inf) if r.test in gone else r for r in readings]
    found = judge(plan, changed, "1")
    assert {s.fault for s in found.suspects} == {"open joint", "missing part", "broken track"}
    assert any(s.words == "R1 is missing" for s in found.suspects)


def test_two_bridges_are_both_named(boards):
    bundle, plan = boards["lecture-keypad"]
    rng = random.Random(8)
    one = Bench(bundle, Planted("bridge", ("ROW1", "ROW2", "", "")), rng)
    second = Bench(bundle, Planted("bridge", ("ROW5", "ROW6", "", "")), rng)
    readings = [
        a if a.kind != "ohms" or a.value <= b.value else b
        for a, b in zip(sweep(one, plan), sweep(second, plan), strict=True)
    ]
    found = judge(plan, readings, "1")
    assert found.faults == ("bridge", "bridge")
    assert found.suspects[0].words == "ROW1 and ROW2 are bridged, and ROW5 and ROW6 are bridged"


def test_the_mirror_is_the_one_of_the_trade(boards):
    # 25-way D: 13 contacts above, 12 below; mirrored, 1 falls on 13 and 14 on 25
    mirror = face_mirror(boards["lecture-keypad"][0])
    assert (mirror["1"], mirror["7"], mirror["14"]) == ("13", "7", "25")
    turn = next(t for t in boards["lecture-keypad"][1].circuit.turns if t.ref == "J1")
    assert dict(turn.moves) == {f"J1.{a}": f"J1.{b}" for a, b in mirror.items() if a != b}
