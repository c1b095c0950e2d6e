"""The mutated CAD boards before the CAD program: what it says of each kind is what the table says it does.

Run with the variable CAD_CHECK naming the checker program, or with kicad-cli on PATH.
"""

from __future__ import annotations

import functools
import re
from pathlib import Path

import pytest

from boardgen.catalog.load import load_catalog
from tests.mutation.boards import drawn_bundle
from tests.mutation.cad_checker import CHECKER, CLI, told_of, told_of_clean
from tests.mutation.cad_run import NOT_IN_CAD, CadGround, cad_ground
from tests.mutation.kind import UM
from tests.mutation.kinds import KINDS

README = Path(__file__).parents[1] / "mutation" / "README.md"
SEEDS = (35, 31, 24, 29, 27, 40, 48, 10, 3)
EACH = 3
# What comes along where a part is planted bare: it has no room drawn, and lost its nets.
ALONG = {"missing_courtyard", "net_conflict"}

pytestmark = [
    pytest.mark.interop,
    pytest.mark.slow,
    pytest.mark.skipif(not (CHECKER or CLI), reason="neither CAD_CHECK nor kicad-cli"),
]


def table() -> dict[str, tuple[str, str]]:
    """Kind -> what the CAD program says (a type, or "" for nothing), and why where it is not the same."""
    rows = re.findall(
        r"^\| `([a-z-]+)` \| `[a-z-]+` \| (?:`([a-z_]+)`|nothing) \| (.*?) *\|$", README.read_text(), re.M
    )
    return {kind: (told, why) for kind, told, why in rows}


@functools.cache
def bases(bare: bool) -> list[tuple[CadGround, set[str]]]:
    """Boards with what the CAD program says of them as they are, those of which it says nothing first."""
    catalog = load_catalog()
    made = [drawn_bundle(catalog, seed) for seed in SEEDS]
    grounds = [cad_ground(bundle, bare) for bundle in made if bundle is not None]
    return sorted(((g, told_of_clean(g)) for g in grounds), key=lambda pair: len(pair[1]))


def test_the_table_has_every_kind_and_a_reason_for_every_disagreement():
    rows = table()
    assert set(rows) == set(KINDS) - NOT_IN_CAD
    assert [kind for kind, (told, why) in rows.items() if not told and not why] == []


def test_the_boards_are_clean_there_too():
    # Without its pour a board's shield contacts, one number on two pads, have nothing to join them.
    assert all(told == set() for _, told in bases(False))
    assert all(told <= {"unconnected_items"} for _, told in bases(True))


@pytest.mark.parametrize("name", sorted(set(KINDS) - NOT_IN_CAD))
def test_the_cad_program_says_what_the_table_says(name):
    kind = KINDS[name]
    wanted, why = table()[name]
    seen = 0
    for base, clean in bases(kind.bare):
        told = told_of(kind, base, 3)
        if told is None:
            continue
        told -= clean - {wanted}
        assert (wanted in told) if wanted else (told <= ALONG), (base.ground.name, told)
        if kind.limited and wanted:
            inside = told_of(kind, base, 3, UM)
            assert inside is not None
            expected = wanted in clean or "inside our limit too" in why
            assert (wanted in inside) == expected, (base.ground.name, inside)
        seen += 1
        if seen == EACH:
            return
    assert seen >= 1
