"""Lengths are exact, and turn into floats rather than wrong lengths."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boardgen.units import Box, Nm, Point, format_mm, mil, mm, point_mm

lengths = st.integers(-(10**12), 10**12)


def test_birth_of_lengths():
    assert mm("2.54") == mil(100) == 2_540_000
    assert mm(0.1) == 100_000
    assert mm("0.0000005") == 0  # ties to even
    assert isinstance(mm(1) + 1, Nm)
    assert isinstance(2 * mm(1), Nm)
    assert isinstance(-mm(1) // 2, Nm)


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf, "nan", "inf"])
def test_a_length_is_finite(bad):
    with pytest.raises(ValueError, match="must be finite"):
        mm(bad)


@given(lengths, st.floats(-100, 100))
def test_floats_are_never_cut_off(length, factor):
    assert Nm(length) * factor == length * factor
    assert factor * Nm(length) == length * factor
    assert Nm(length) + factor == length + factor
    assert factor - Nm(length) == factor - length


@given(lengths)
def test_format_is_exact(length):
    assert mm(format_mm(length)) == length
    assert mm(format_mm(length, 6)) == length


@given(lengths, st.integers(0, 5))
def test_format_rounds_to_the_nearest_digit(length, decimals):
    assert abs(mm(format_mm(length, decimals)) - length) * 2 <= 10 ** (6 - decimals)


def test_format_examples():
    assert format_mm(2_540_000) == "2.54"
    assert format_mm(-500_000) == "-0.5"
    assert format_mm(1_999_999, 2) == "2.00"
    assert format_mm(-4, 3) == "0.000"
    assert format_mm(3_000_000, 0) == "3"


@given(lengths, lengths, st.sampled_from([0, 90, 180, 270, 360, -90, 450]))
def test_quarter_turns_are_exact(x, y, degrees):
    at = Point(Nm(x), Nm(y))
    assert at.turned(degrees).turned(-degrees) == at
    assert at.turned(90) == Point(Nm(y), Nm(-x))  # y down: counter-clockwise as seen


@given(st.integers(-(10**8), 10**8), st.integers(-(10**8), 10**8), st.floats(-360, 360))
def test_any_turn_keeps_the_distance(x, y, degrees):
    at = Point(Nm(x), Nm(y))
    turned = at.turned(degrees)
    assert math.hypot(*turned) == pytest.approx(math.hypot(*at), abs=1.5)


def test_box():
    box = Box.around((point_mm(1, 5), point_mm(-2, 3)))
    assert (box.width, box.height) == (mm(3), mm(2))
    assert box.grown(mm(1)).corners()[0] == point_mm(-3, 2)
    with pytest.raises(ValueError, match="no points"):
        Box.around(())
