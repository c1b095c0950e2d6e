"""Pairings and bodies against brute force and another library's answers."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.optimize import linear_sum_assignment
from scipy.sparse import coo_array, csr_matrix
from scipy.sparse.csgraph import connected_components, maximum_bipartite_matching

from boardgen.matching import cheapest_pairing, connected, largest_pairing

small = st.tuples(st.integers(0, 5), st.integers(1, 6))
costs = small.flatmap(
    lambda shape: arrays(float, shape, elements=st.integers(0, 30).map(float) | st.just(float("inf")))
)
marks = small.flatmap(lambda shape: arrays(bool, shape, elements=st.booleans()))


def least(cost):
    rows, columns = cost.shape
    sums = [sum(cost[r, c] for r, c in enumerate(p)) for p in permutations(range(columns), rows)]
    return min(sums, default=float("inf"))


@given(costs)
def test_cheapest_pairing_is_the_least_of_all(cost):
    chosen = cheapest_pairing(cost)
    best = least(cost)
    if chosen is None:
        assert best == float("inf")
        return
    assert len(set(chosen.tolist())) == cost.shape[0]
    assert sum(cost[r, c] for r, c in enumerate(chosen.tolist())) == best


@pytest.mark.parametrize("seed", range(8))
def test_cheapest_pairing_agrees_on_large_problems(seed):
    random = np.random.default_rng(seed)
    cost = random.uniform(0, 1e8, (40, 60))
    cost[random.random((40, 60)) < 0.4] = np.inf
    rows, columns = linear_sum_assignment(cost)
    chosen = cheapest_pairing(cost)
    assert chosen is not None
    assert cost[np.arange(40), chosen].sum() == pytest.approx(cost[rows, columns].sum(), rel=1e-12)


@given(marks)
def test_largest_pairing_is_valid_and_as_large_as_any(allowed):
    chosen = largest_pairing(allowed)
    taken = [c for c in chosen.tolist() if c >= 0]
    assert len(taken) == len(set(taken))
    assert all(allowed[r, c] for r, c in enumerate(chosen.tolist()) if c >= 0)
    other = maximum_bipartite_matching(csr_matrix(allowed), perm_type="column")
    assert len(taken) == int((other >= 0).sum())


@given(st.integers(1, 12).flatmap(lambda n: st.tuples(
    st.just(n), st.lists(st.tuples(st.integers(0, n - 1), st.integers(0, n - 1)), max_size=20))))  # fmt: skip
def test_bodies_are_connected_components(case):
    count, joins = case
    a = np.array([x for x, _ in joins], dtype=np.int64)
    b = np.array([y for _, y in joins], dtype=np.int64)
    labels = connected(count, a, b)
    graph = coo_array((np.ones(len(joins)), (a, b)), shape=(count, count))
    _number, other = connected_components(graph, directed=False)
    assert [[x == y for y in labels] for x in labels] == [[x == y for y in other] for x in other]
