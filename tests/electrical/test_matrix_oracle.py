"""Every combination of keys, simulated apart from the program: the same sets, counts and verdicts."""

import math
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from matrix_oracle import Simulated, matrix, smallest_unsafe

from boardgen.electrical.matrix.groups import judge_group
from boardgen.electrical.matrix.mending import group_diodes, three_key_diodes
from boardgen.electrical.matrix.phantoms import phantoms
from boardgen.electrical.matrix.reading import not_read, readings, wrongly_read
from boardgen.electrical.matrix.rollover import rollover
from boardgen.electrical.matrix.wiring import unread_keys, wiring_of, with_diodes, with_turned

ALL = 10**6
KINDS = {
    "bare": {},
    "sparse": {"share": 0.6},
    "diodes": {"diodes": "cathode-to-column"},
    "mixed": {"diodes": "cathode-to-column", "diode_share": 0.5},
    "mixed and sparse": {"diodes": "cathode-to-row", "diode_share": 0.4, "share": 0.7, "drive": "rows"},
    "against the scan": {"diodes": "cathode-to-row", "diode_share": 0.5},
    "both ways": {"diodes": "both-ways"},
    "both ways, some bare": {"diodes": "both-ways", "diode_share": 0.6, "drive": "rows"},
    "both ways, sparse": {"diodes": "both-ways", "diode_share": 0.5, "share": 0.7},
    "against, sparse": {"diodes": "cathode-to-column", "diode_share": 0.3, "share": 0.7, "drive": "rows"},
}
SIZES = [(1, 4), (2, 2), (2, 5), (3, 3), (4, 4), (5, 3), (6, 4)]


def sets_of(wiring):
    return {(frozenset(one.keys), one.phantom) for one in phantoms(wiring, ALL).listed}


def shown(wiring, held):
    """Names that read closed, by the program."""
    at = {(key.read, key.driven): key.name for key in wiring.keys}
    return frozenset(
        name
        for item in readings(wiring, [wiring.place(k) for k in held])
        if (name := at.get((item.read, item.driven)))
    )


def compare(item):
    simulated, wiring = Simulated(item), wiring_of(item)
    found = phantoms(wiring, ALL)
    every = list(simulated.combinations(4))
    assert {one for one in sets_of(wiring) if len(one[0]) <= 4} == smallest_unsafe(every)
    assert found.count(3) == sum(len(one.keys) == 3 for one in found.listed)
    with_diode = {key for key, ways in simulated.wires.items() if len(ways) == 1}
    faint = sum(len(one.keys) == 3 and len(with_diode & {*one.keys}) > 1 for one in found.listed)
    assert found.faint == faint
    result = rollover(wiring, found)
    right = dict.fromkeys((1, 2, 3, 4), 0)
    for held, seen in every:
        right[len(held)] += held == seen
    count = len(item.keys)
    for share in result.shares:
        assert (share.right, share.of) == (right[share.keys], math.comb(count, share.keys))
    whole = next((n for n in (1, 2, 3, 4) if right[n] < math.comb(count, n)), None)
    if whole is not None:
        assert result.guaranteed == whole - 1 if not unread_keys(wiring) else result.guaranteed == 0
    else:
        assert result.guaranteed is None or result.guaranteed >= 4
    for name, part, seen in zip((k.name for k in wiring.keys), found.parts, found.shown, strict=True):
        triples = [one for one in found.listed if len(one.keys) == 3]
        assert part == sum(name in one.keys for one in triples)
        assert seen == sum(name == one.phantom for one in triples)
    return wiring, every


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("size", SIZES, ids=lambda s: f"{s[0]}x{s[1]}")
def test_every_combination_of_up_to_four_keys(size, kind):
    wiring, every = compare(matrix(*size, **KINDS[kind]))
    for held, seen in every[:: max(1, len(every) // 300)]:
        assert shown(wiring, held) == seen
        places = [wiring.place(k) for k in held]
        assert {wiring.keys[p].name for p, _ in wrongly_read(wiring, places)} == seen - held
        assert {wiring.keys[p].name for p in not_read(wiring, places)} == held - seen


@pytest.mark.parametrize("kind", ["bare", "mixed", "against the scan", "both ways, some bare"])
def test_every_combination_of_up_to_four_keys_of_six_by_six(kind):
    compare(matrix(6, 6, **KINDS[kind]))


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("seed", range(6))
def test_every_combination_of_whatever_size_of_small_matrices(kind, seed):
    share = {"share": 0.6} if seed else {}
    item = matrix(4, 4, **{**KINDS[kind], **share}, seed=seed)
    simulated = Simulated(item)
    most = min(12, len(item.keys))
    every = smallest_unsafe(simulated.combinations(most))
    assert {one for one in sets_of(wiring_of(item)) if len(one[0]) <= most} == every


@st.composite
def matrices(draw, least=2, most=5):
    size = st.integers(least, most)
    return matrix(
        draw(size), draw(size),
        share=draw(st.sampled_from([0.4, 0.6, 0.8, 1.0])),
        diodes=draw(st.sampled_from(["none", "cathode-to-row", "cathode-to-column", "both-ways"])),
        diode_share=draw(st.sampled_from([0.2, 0.5, 1.0])),
        drive=draw(st.sampled_from(["rows", "columns"])),
        seed=draw(st.integers(0, 10**6)),
    )  # fmt: skip


@settings(deadline=None, max_examples=60)
@given(matrices(), st.data())
def test_any_keys_held_read_as_simulated(item, data):
    names = [name for _, _, name in item.keys]
    held = frozenset(data.draw(st.lists(st.sampled_from(names), unique=True, max_size=9))) if names else ()
    wiring = wiring_of(item)
    assert shown(wiring, held) == Simulated(item).shows(held)
    for reading in readings(wiring, [wiring.place(k) for k in held]):
        line = reading.read
        for step, place in enumerate(reading.path):  # the way given is one the current can take
            key = wiring.keys[place]
            assert (key.read if step % 2 == 0 else key.driven) == line
            assert not key.diode or (step % 2 == 0) == key.ahead
            line = key.driven if step % 2 == 0 else key.read
        assert line == reading.driven
        assert reading.diodes == sum(wiring.keys[p].diode for p in reading.path)


@settings(deadline=None, max_examples=60)
@given(matrices(), st.data())
def test_a_group_is_right_when_every_part_of_it_is(item, data):
    names = [name for _, _, name in item.keys]
    if len(names) < 2:
        return
    group = tuple(data.draw(st.lists(st.sampled_from(names), unique=True, min_size=2, max_size=6)))
    simulated = Simulated(item)
    parts = [frozenset(k for n, k in enumerate(group) if bits >> n & 1) for bits in range(1, 1 << len(group))]
    wiring = wiring_of(item)
    verdict = judge_group(wiring, group)
    wrong = {name for part in parts for name in simulated.shows(part) - part}
    assert {fault.key for fault in verdict.faults} == wrong
    assert verdict.right == (not wrong and not any(wiring.place(k) in unread_keys(wiring) for k in group))


@settings(deadline=None, max_examples=40)
@given(matrices(most=4), st.data())
def test_the_fewest_diodes_mend_a_group_and_no_fewer_do(item, data):
    names = [name for _, _, name in item.keys]
    wiring = wiring_of(item)
    wiring = with_turned(wiring, unread_keys(wiring))
    if len(names) < 3:
        return
    group = tuple(data.draw(st.lists(st.sampled_from(names), unique=True, min_size=3, max_size=6)))
    places = tuple(wiring.place(name) for name in group)
    chosen, bound = group_diodes(wiring, (places,))
    assert len(chosen) == bound
    assert judge_group(with_diodes(wiring, frozenset(chosen)), group).right
    bare = [p for p in places if not wiring.keys[p].diode]
    if chosen:
        assert not any(
            judge_group(with_diodes(wiring, frozenset(some)), group).right
            for some in combinations(bare, len(chosen) - 1)
        )


@settings(deadline=None, max_examples=30)
@given(matrices(most=4))
def test_diodes_for_three_keys_mend_every_triple_and_none_is_spare(item):
    wiring = wiring_of(item)
    wiring = with_turned(wiring, unread_keys(wiring))
    needed = three_key_diodes(wiring)
    assert phantoms(with_diodes(wiring, frozenset(needed))).count(3) == 0
    for left_out in needed:
        assert phantoms(with_diodes(wiring, frozenset(needed) - {left_out})).count(3) > 0
