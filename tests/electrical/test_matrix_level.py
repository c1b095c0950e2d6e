"""Low level, settling and the scan that follows: figures worked by hand, a stepped simulation."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from matrix_oracle import matrix

from boardgen.electrical.matrix.level import diode_drop, high_level, low_level, output_low
from boardgen.electrical.matrix.model import Levels, LineLoad
from boardgen.electrical.matrix.settling import fall_us, rise_us, settling
from boardgen.electrical.matrix.wiring import wiring_of

LIGHT, FULL = (1e-4, 0.6), (1e-2, 1.0)


def levels(**more):
    given = {
        "supply_v": 3.3, "vih_v": 2.0, "vil_v": 0.8, "vol_v": 0.0, "pull_least": 10e3, "pull_most": 80e3,
        "contact_ohms": 100.0, "drop_v": 0.6,
    }  # fmt: skip
    return Levels(**{**given, **more})


@pytest.mark.parametrize(("pull", "worst"), [(10e3, 3200), (80e3, 25600)])
def test_worst_contact_of_a_bare_key(pull, worst):
    assert low_level(levels(pull_least=pull), 0).worst_ohms == pytest.approx(worst)


def test_the_worst_contact_is_the_one_that_just_reads():
    for diodes in (0, 1):
        worst = low_level(levels(vol_v=0.1), diodes).worst_ohms
        assert low_level(levels(vol_v=0.1, contact_ohms=worst * 0.999), diodes).margin_v > 0
        assert low_level(levels(vol_v=0.1, contact_ohms=worst * 1.001), diodes).margin_v < 0


def test_one_diode_reads_two_in_series_do_not():
    found = low_level(levels(), 1)
    assert found.series_most == 1
    assert found.low_v == pytest.approx(0.6 + 2.7 / 10_100 * 100)
    assert low_level(levels(), 2).margin_v < 0
    assert low_level(levels(drop_v=0.25), 1).series_most == 3
    assert low_level(levels(vol_v=0.9), 0).series_most == -1
    assert low_level(levels(vol_v=0.9), 0).worst_ohms == 0.0


def test_a_line_at_rest_and_the_leak_it_bears():
    item = levels(leak_a=1e-6)
    found = high_level(item, 2)
    assert found.high_v == pytest.approx(3.3 - 80e3 * 3e-6)
    assert found.margin_v == pytest.approx(found.high_v - 2.0)
    # a resistor of that much to the strobe, with the leaks, leaves the line at its limit
    volts = (3.3 / 80e3 - 3e-6) / (1 / 80e3 + 1 / found.open_ohms)
    assert volts == pytest.approx(2.0)
    assert high_level(levels(leak_a=2e-5), 2).open_ohms == math.inf


@given(st.floats(1e-6, 0.01), st.floats(1e-6, 0.01))
def test_a_diode_drops_more_at_more_current(a, b):
    low, high = sorted((a, b))
    assert diode_drop(low, LIGHT, FULL) <= diode_drop(high, LIGHT, FULL) + 1e-12
    assert 0.6 <= diode_drop(high, LIGHT, FULL) <= 1.0 + 1e-12


def test_the_drop_between_two_stated_points():
    assert diode_drop(1e-5, LIGHT, FULL) == 0.6
    assert diode_drop(1e-3, LIGHT, FULL) == pytest.approx(0.6 + 1.8 * 0.026 * math.log(10))
    assert diode_drop(1e-2, LIGHT, FULL) == pytest.approx(1.0)
    assert diode_drop(5e-4, (1e-4, 0.6), (2e-4, 0.65)) == 0.65


def test_an_output_that_sinks_little_is_lower():
    points = ((0.002, 0.2), (0.008, 0.5))
    assert output_low(points, 0.0005) == pytest.approx(0.05)
    assert output_low(points, 0.005) == pytest.approx(0.35)
    assert output_low(points, 0.02) is None


@pytest.mark.parametrize(
    ("ohms", "pf", "vih", "us"),
    [(80e3, 170, 2.0, 12.7), (10e3, 170, 2.0, 1.584), (10e3, 100, 2.48, 1.39)],
)
def test_rise_of_a_line_worked_by_hand(ohms, pf, vih, us):
    assert rise_us(ohms, pf, vih, 3.3) == pytest.approx(us, rel=0.01)


def test_a_threshold_over_the_supply_is_refused():
    with pytest.raises(ValueError, match=r"3\.5 V is not reached from 3\.3 V"):
        rise_us(10e3, 100, 3.5, 3.3)


def stepped(source_v, ohms, pf, start_v, end_v):
    """Time in us for a capacitor to get from *start_v* to *end_v*, in small steps."""
    volts, time, step = start_v, 0.0, ohms * pf * 1e-6 / 20_000
    while (volts - end_v) * (start_v - end_v) > 0:
        volts += (source_v - volts) * step / (ohms * pf * 1e-6)
        time += step
    return time


def test_rise_and_fall_against_a_stepped_capacitor():
    item = levels(vol_v=0.1, contact_ohms=1000.0)
    assert rise_us(50e3, 220, 2.0, 3.3) == pytest.approx(stepped(3.3, 50e3, 220, 0.0, 2.0), rel=0.005)
    expected = stepped(0.4, 1000.0, 220, 3.3, 0.8)
    assert fall_us(1000.0, 220, item, 0.4) == pytest.approx(expected, rel=0.005)
    assert fall_us(1000.0, 220, item, 0.9) == 0.0


def timing(item, held, pf=100.0, **more):
    wiring = wiring_of(item)
    loads = tuple(
        LineLoad(line, line, 80e3 if line in wiring.read else None, pf, 15.0, 5.0)
        for line in (*wiring.read, *wiring.driven)
    )
    values = levels(**more)
    return settling(wiring, loads, values, low_level(values, 0), held, 5)


def test_lines_joined_by_held_keys_are_charged_too():
    item = matrix(4, 5)
    alone, two, many = (timing(item, held) for held in (0, 2, 9))
    assert [line.joined_pf for line in alone.lines] == [0.0] * 4
    assert [line.joined_pf for line in two.lines] == [240.0] * 4
    assert [line.joined_pf for line in many.lines] == [480.0] * 4  # not the line that is strobed
    assert two.lines[0].rise_us == pytest.approx(alone.lines[0].rise_us * 3)


def test_the_wait_is_twice_the_slowest_line_and_the_scan_follows():
    found = timing(matrix(8, 5), 2)
    slowest = max(line.rise_us for line in found.lines)
    assert found.wait_us == math.ceil(2 * slowest)
    assert found.scan_hz == pytest.approx(1e6 / (5 * (found.wait_us + 1)))


@given(st.floats(1, 5000), st.floats(1, 5000), st.integers(0, 8))
def test_more_capacitance_or_more_keys_never_settle_sooner(a, b, held):
    low, high = sorted((a, b))
    item = matrix(3, 6, share=0.7)
    assert timing(item, held, low).wait_us <= timing(item, held, high).wait_us
    assert timing(item, held, low).wait_us <= timing(item, held + 1, low).wait_us
    assert timing(item, held, low).wait_us >= 1
