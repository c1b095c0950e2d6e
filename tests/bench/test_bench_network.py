"""Resistors found behind the readings, against networks made up and solved by numpy."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from boardgen.bench.network import networks


def effective(count: int, parts: dict[tuple[int, int], float]) -> dict[tuple[str, str], float]:
    laplacian = np.zeros((count, count))
    for (i, j), ohms in parts.items():
        laplacian[[i, j], [i, j]] += 1 / ohms
        laplacian[[i, j], [j, i]] -= 1 / ohms
    inverse = np.linalg.pinv(laplacian, rcond=1e-13, hermitian=True)
    return {
        (str(i), str(j)): float(inverse[i, i] + inverse[j, j] - 2 * inverse[i, j])
        for i, j in combinations(range(count), 2)
    }


@st.composite
def made_up(draw: st.DrawFn) -> tuple[int, dict[tuple[int, int], float]]:
    count = draw(st.integers(2, 7))
    values = st.sampled_from([100.0, 150.0, 220.0, 330.0, 470.0, 680.0])
    parts = {(draw(st.integers(0, n - 1)), n): draw(values) for n in range(1, count)}
    for pair in combinations(range(count), 2):
        if pair not in parts and draw(st.integers(0, 3)) == 0:
            parts[pair] = draw(values)
    return count, parts


@given(made_up())
def test_networks_give_their_readings(drawn: tuple[int, dict[tuple[int, int], float]]) -> None:
    """What is found gives each reading within the meter's share, and never with more parts than there are."""
    count, parts = drawn
    readings = effective(count, parts)
    [found] = networks(readings)
    assert found.unmet == ()
    assert found.missing == ()
    again = effective(count, {(int(r.a), int(r.b)): r.ohms for r in found.resistors})
    for pair, ohms in readings.items():
        assert again[pair] == pytest.approx(ohms, rel=0.016, abs=1.1)
        assert found.effective[pair] == pytest.approx(again[pair], rel=1e-3)
    assert len(found.resistors) <= max(len(parts), count - 1)


def test_a_star_is_found_as_it_is() -> None:
    parts = {(0, n): 100.0 * n for n in range(1, 6)}
    [found] = networks(effective(6, parts))
    assert {(r.a, r.b): round(r.ohms) for r in found.resistors} == {
        ("0", str(n)): 100 * n for n in range(1, 6)
    }


def test_separate_parts_stay_apart() -> None:
    found = networks({("1", "2"): 100.0, ("3", "10"): 50.0})
    assert [n.nodes for n in found] == [("1", "2"), ("3", "10")]


def test_a_reading_too_high_for_any_network_is_unmet() -> None:
    [found] = networks({("1", "2"): 100.0, ("2", "3"): 100.0, ("1", "3"): 500.0})
    assert found.unmet == (("1", "3"),)
