"""A seeded sample of the planted faults; ``python -m tests.mutation`` plants all of them."""

from __future__ import annotations

import functools

import pytest

from boardgen.catalog.load import load_catalog
from boardgen.ruleids import RULES
from tests.mutation.boards import Ground, bare, drawn_bundle, ground_of
from tests.mutation.cad_run import NOT_IN_CAD, cad_ground, many_in_cad
from tests.mutation.kinds import KINDS
from tests.mutation.run import findings_of, many, plant_in_text, written
from tests.mutation.text_kinds import TEXT_KINDS

# Small boards: two layers with and without a pour, one layer, a chip or two.
SEEDS = (48, 40, 10, 35, 29, 27)
EACH = 2


@functools.cache
def sample():
    catalog = load_catalog()
    made = [drawn_bundle(catalog, seed) for seed in SEEDS]
    return [bundle for bundle in made if bundle is not None]


@functools.cache
def grounds() -> list[Ground]:
    return [ground_of(bundle.stem, bundle) for bundle in sample()]


@functools.cache
def files():
    return [written(bundle) for bundle in sample()]


def test_the_clean_boards_are_clean():
    assert len(grounds()) == len(SEEDS)
    for ground in grounds():
        assert findings_of(ground) == ()
        assert findings_of(bare(ground)) == ()


@pytest.mark.parametrize("name", sorted(KINDS))
def test_a_planted_fault_is_found_and_one_inside_its_limit_is_not(name):
    kind = KINDS[name]
    tally = many(kind, grounds(), EACH, seed=7)
    assert tally.planted >= 1
    assert tally.wrong == []
    assert (tally.found, tally.right_rule) == (tally.planted, tally.planted)
    assert tally.inside == (tally.planted if kind.limited else 0)
    assert tally.false_alarms == 0


@pytest.mark.parametrize("name", sorted(TEXT_KINDS))
def test_a_fault_in_a_written_file_is_found(name):
    kind = TEXT_KINDS[name]
    tally = next(
        t for on in files() if (t := plant_in_text(kind, on, f"7/{name}/{on.bundle.stem}")) is not None
    )
    assert tally.wrong == []
    assert (tally.planted, tally.found, tally.right_rule) == (1, 1, 1)
    assert (tally.inside, tally.false_alarms) == (int(kind.limited), 0)


@pytest.mark.parametrize("name", sorted(set(KINDS) - NOT_IN_CAD)[::9])
def test_a_fault_in_a_cad_board_is_found(name):
    kind = KINDS[name]
    tally = many_in_cad(kind, [cad_ground(bundle, kind.bare) for bundle in sample()], 1, seed=7)
    assert tally.wrong == []
    assert (tally.planted, tally.found, tally.right_rule) == (1, 1, 1)
    assert (tally.inside, tally.false_alarms) == (int(kind.limited), 0)


def test_the_kinds_name_rules_there_are():
    kinds = (*KINDS.values(), *TEXT_KINDS.values())
    assert {kind.rule for kind in kinds} <= set(RULES)
    assert len(KINDS) >= 20
    assert len(TEXT_KINDS) >= 20
