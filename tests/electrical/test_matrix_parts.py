"""Parts of the matrix analysis alone: least covers against brute force, limits, words, re-wiring."""

import itertools
import random
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from matrix_oracle import matrix

from boardgen.electrical.matrix.cover import least_cover
from boardgen.electrical.matrix.groups import group_ways, judge_group
from boardgen.electrical.matrix.mending import mending
from boardgen.electrical.matrix.model import Wiring
from boardgen.electrical.matrix.phantoms import phantoms
from boardgen.electrical.matrix.rewiring import _faults, rewirings
from boardgen.electrical.matrix.rollover import rollover
from boardgen.electrical.matrix.ways import longer_sets
from boardgen.electrical.matrix.wiring import fitting_drive, wiring_of
from boardgen.electrical.matrix.words import listing


@settings(deadline=None, max_examples=150)
@given(st.lists(st.frozensets(st.integers(0, 7), min_size=1, max_size=4), max_size=10))
def test_the_least_cover_is_as_small_as_brute_force_finds(demands):
    chosen, bound = least_cover(demands)
    assert all(set(chosen) & demand for demand in demands)
    smallest = next(
        size
        for size in range(9)
        if any(all(set(c) & d for d in demands) for c in itertools.combinations(range(8), size))
    )
    assert len(chosen) == bound == smallest


def test_a_large_cover_stops_with_a_bound_that_holds():
    rng = random.Random(7)
    demands = [frozenset(rng.sample(range(60), 6)) for _ in range(200)]
    chosen, bound = least_cover(demands)
    assert all(set(chosen) & demand for demand in demands)
    assert 0 < bound <= len(chosen)
    assert least_cover(demands) == (chosen, bound)


def test_a_demand_that_nothing_meets_is_refused():
    with pytest.raises(ValueError, match="nothing meets"):
        least_cover([frozenset({1}), frozenset()])


def test_counting_stops_where_too_many_ways_grow_and_says_so():
    wiring = wiring_of(matrix(12, 12, share=0.4))
    whole = longer_sets(wiring, 5)
    assert whole.exact_to is None
    cut = longer_sets(wiring, 5, most=2000)
    assert cut.exact_to is not None
    assert cut.sizes == tuple((size, n) for size, n in whole.sizes if size <= cut.exact_to)
    assert cut.sizes != whole.sizes


def test_a_lattice_without_rectangles_has_larger_sets_only():
    # a ring of six keys over three rows and columns, and the key across it
    ring = {(0, 0), (1, 0), (1, 1), (2, 1), (2, 2), (0, 2)}
    item = matrix(3, 3)
    keys = tuple(k for k in item.keys if (int(k[0][1]), int(k[1][1])) in ring)
    wiring = wiring_of(replace(item, keys=keys))
    found = phantoms(wiring)
    assert found.sizes == ((5, 6),)
    assert rollover(wiring, found).guaranteed == 4
    assert {frozenset(one.keys) | {one.phantom} for one in found.listed} == {frozenset(k[2] for k in keys)}


def test_no_keys_or_one_line_is_safe():
    for wiring in (Wiring((), (), ()), wiring_of(matrix(1, 6)), wiring_of(matrix(6, 1, drive="rows"))):
        found = phantoms(wiring)
        assert found.sizes == ()
        assert rollover(wiring, found).guaranteed is None


@settings(deadline=None, max_examples=40)
@given(st.integers(0, 10**6), st.sampled_from([0.5, 0.8, 1.0]), st.sampled_from([0.0, 0.3]))
def test_what_is_offered_as_a_rewiring_mends_every_group(seed, share, diodes):
    rng = random.Random(seed)
    kind = "cathode-to-column" if diodes else "none"
    item = matrix(4, 4, share=share, diodes=kind, diode_share=diodes, seed=seed)
    names = [k[2] for k in item.keys]
    if len(names) < 5:
        return
    wiring = wiring_of(item)
    groups = tuple(tuple(wiring.place(n) for n in rng.sample(names, 4)) for _ in range(2))
    assert _faults(wiring, groups) == sum(len(group_ways(wiring, g)) for g in groups)
    for chain in rewirings(wiring, groups):
        at = {key.name: (key.read, key.driven, key.diode) for key in wiring.keys}
        for change in chain:
            read, driven, diode = at[change.key]
            if change.other:
                other = at[change.other]
                at[change.key], at[change.other] = (*other[:2], diode), (read, driven, other[2])
            else:
                place = (wiring.read.index(change.read), wiring.driven.index(change.driven))
                at[change.key] = (*place, diode)
        assert len({place[:2] for place in at.values()}) == len(at)
        keys = tuple(replace(key, read=at[key.name][0], driven=at[key.name][1]) for key in wiring.keys)
        after = replace(wiring, keys=keys)
        for group in groups:
            assert judge_group(after, wiring.names(group)).right


def test_no_mending_where_the_diodes_are_against_the_scan():
    wiring = wiring_of(matrix(3, 3, diodes="cathode-to-row"))
    groups = (judge_group(wiring, ("R0C0", "R1C1")),)
    assert mending(wiring, groups).diodes_for_three == ()
    assert mending(wiring, groups).rewirings == ()


def test_words():
    assert fitting_drive("none") == ""
    assert [listing("abc"[:n]) for n in range(4)] == ["", "a", "a and b", "a, b and c"]
    assert listing("abcdefgh", 3) == "a, b, c and 5 more"
