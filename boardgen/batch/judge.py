"""What the readings of one board say: good, incomplete, or which fault is likeliest.

A fault is a change to the circuit that the plan describes; what a meter would
read then is computed and held against every reading. The single fault that
leaves the fewest readings unexplained or contradicted is named; a pair of
faults only where no single one explains them all.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

from boardgen.batch.hypotheses import hypotheses
from boardgen.batch.model import Judgement, Miss, Reading, Suspect, Verdict
from boardgen.export.bringup_model import AMPS, LOOK, OHMS, VOLTS, Circuit, Plan, Test
from boardgen.export.bringup_net import DIRECT_MOST, OPEN_LEAST, Meter, fits, span_words

_PAIR_FROM = 30  # single faults that are tried in pairs, best first
_SHOWN = 6  # suspects that are named
_LEFT = 0.5  # share of the readings that are off a suspect may leave unexplained
_MANY = 5  # readings that are off from which on the meter itself is asked
_METER_COST = 2.5
_SLACK = 0.03  # share by which a suspected value may miss: it was taken from one of the readings


def judge(plan: Plan, readings: Sequence[Reading], serial: str) -> Judgement:
    """Return what *readings* say of the board called *serial*; never GOOD while a test is unread or off."""
    tests = {test.id: test for test in plan.tests}
    sound = Meter(plan.circuit)
    misses, off = [], []
    for reading in readings:
        span = _span(tests, sound, reading)
        if not fits(reading.value, span):
            off.append(reading)
            misses.append(_miss(tests, reading, span))
    read = {reading.test for reading in readings}
    missing = tuple(test.id for test in plan.tests if test.id not in read)
    suspects: tuple[Suspect, ...] = ()
    if off:
        verdict = Verdict.FAULTY
        ohms = [reading for reading in readings if reading.kind == OHMS]
        wrong = [reading for reading in off if reading.kind == OHMS]
        suspects = suspects_of(plan.circuit, ohms, wrong) if wrong else ()
        suspects = suspects or _others(tests, off)
    else:
        verdict = Verdict.INCOMPLETE if missing else Verdict.GOOD
    return Judgement(serial, verdict, tuple(misses), missing, suspects, len(readings))


def _span(tests: dict[str, Test], sound: Meter, reading: Reading) -> tuple[float | None, float | None]:
    if reading.test:
        test = tests[reading.test]
        if test.kind == LOOK:
            return 1.0, 1.0
        if test.kind != OHMS or (reading.a, reading.b) == (test.a, test.b):
            return test.least, test.most
    return sound.reads(reading.a, reading.b)


def _miss(tests: dict[str, Test], reading: Reading, span: tuple[float | None, float | None]) -> Miss:
    if reading.test:
        test = tests[reading.test]
        return Miss(test.id, test.label, reading.text, test.expected)
    least, most = span
    words = span_words((least or 0.0, float("inf") if most is None else most))
    return Miss(f"{reading.a} to {reading.b}", "", reading.text, words)


def suspects_of(circuit: Circuit, readings: Sequence[Reading], off: Sequence[Reading]) -> tuple[Suspect, ...]:
    """Return the faults that leave the fewest of *readings* (all of ohms) unexplained, likeliest first.

    *off* are those outside their range. Empty where nothing explains half of them.
    """
    sound = Meter(circuit)
    high = [r for r in off if r.value > sound.reads(r.a, r.b)[1]]
    low = [r for r in off if r not in high]
    # readings that are off come first: a fault that explains none of them is given up soonest
    ordered = [*off, *(r for r in readings if r not in off)]
    singles = [_weighed(circuit, ordered, item, len(off)) for item in hypotheses(circuit, high, low)]
    if len(off) >= _MANY:
        singles += _instrument(readings)
    singles.sort(key=_order)
    if not singles:
        return ()
    best = singles
    if singles[0].unexplained:
        most, few = singles[0].unexplained, [item for item in singles if item.fault != "meter"][:_PAIR_FROM]
        pairs = [_weighed(circuit, ordered, _both(a, b), most) for a, b in combinations(few, 2)]
        pairs.sort(key=_order)
        if pairs and pairs[0].unexplained < singles[0].unexplained:
            best = pairs
    least = best[0].unexplained
    if least > len(off) * _LEFT:
        return ()  # what leaves most of it open would only mislead
    return tuple(item for item in best if item.unexplained == least)[:_SHOWN]


def _instrument(readings: Sequence[Reading]) -> tuple[Suspect, Suspect]:
    """Return the meter as suspect: nothing conducts, or everything does. A fault of the board goes first."""
    check = "hold the leads together: below 1 ohm; apart: open"
    rows = (
        ("nothing conducts: a lead is off", [r.value < OPEN_LEAST for r in readings]),
        ("everything conducts: the leads touch", [r.value > DIRECT_MOST for r in readings]),
    )
    nothing, everything = (
        Suspect(
            "meter",
            f"{words}, or the meter is not set to ohms",
            check=check,
            unexplained=sum(against),
            cost=_METER_COST,
        )
        for words, against in rows
    )
    return nothing, everything


def _order(item: Suspect) -> tuple[int, float, str, str]:
    return item.unexplained, item.cost, item.fault, item.words


def _both(a: Suspect, b: Suspect) -> Suspect:
    return Suspect(
        f"{a.fault} + {b.fault}",
        f"{a.words}, and {b.words}",
        (*a.places, *b.places),
        a.check,
        a.pair,
        a.change.also(b.change),
        cost=a.cost + b.cost,
        count=2,
    )


def _weighed(circuit: Circuit, readings: Sequence[Reading], item: Suspect, most: int) -> Suspect:
    """Return *item* with the readings it leaves unexplained counted; past *most* the count ends."""
    meter = Meter(circuit, item.change)
    share = _SLACK if item.change.ohms else 0.0
    count = 0
    for reading in readings:
        low, high = meter.reads(reading.a, reading.b)
        if not low * (1 - share) <= reading.value <= high * (1 + share):
            count += 1
            if count > most:
                break
    return replace(item, unexplained=count)


def _others(tests: dict[str, Test], off: Sequence[Reading]) -> tuple[Suspect, ...]:
    """What volts, amperes and eyes say where resistances say nothing."""
    found = []
    for reading in off:
        test = tests.get(reading.test)
        if test is None:
            continue
        if reading.kind == LOOK:
            found.append(Suspect("seen by eye", f"seen at {test.id}: not so: {test.label}", cost=1.0))
        elif reading.kind == AMPS:
            words = (
                f"{test.label} reads {reading.text}: a bridge, a part the wrong way round, or a broken one"
            )
            found.append(Suspect("too much current", words, check="feel which part grows warm", cost=1.1))
        elif reading.kind == VOLTS:
            found.append(_volts(test, reading))
    return tuple(sorted(found, key=lambda item: (item.cost, item.words))[:_SHOWN])


def _volts(test: Test, reading: Reading) -> Suspect:
    value = reading.value
    if value < 0:
        return Suspect(
            "supply reversed", f"{test.label} reads {reading.text}: leads or supply reversed", cost=0.9
        )
    if test.most is not None and value > test.most:
        words = f"{test.label} reads {reading.text}: fed from another rail, or the supply is set too high"
        return Suspect("rail too high", words, (test.a,), cost=1.0)
    words = f"{test.label} reads {reading.text}: the way of its supply is open, or something loads it"
    return Suspect("rail too low", words, (test.a,), f"follow the rail back from {test.a}", cost=1.2)
