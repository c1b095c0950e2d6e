"""Fixed faults as checks: each kind of condition passes where it holds and is told where it does not."""

from dataclasses import replace

import pytest
import revision_kit as kit

from boardgen.catalog.load import load_catalog
from boardgen.design.load import load_design
from boardgen.errors import InputError, InputErrors
from boardgen.export.history_data import rework_steps
from boardgen.export.rework_view import rework_svg
from boardgen.pipeline import build, choose_module
from boardgen.rules.errata import check_errata

HEAD = '[[errata]]\nrevision = "A"\nsymptom = "a fault"\nfixed_in = "B"\n'


@pytest.fixture(scope="module")
def built():
    catalog = load_catalog(())
    return build(choose_module(load_design(kit.DESIGN), catalog), catalog).bundle


def _design(tmp_path, tables, revision="B"):
    text = kit.DESIGN.read_text("utf-8").replace('revision = "A"', f'revision = "{revision}"')
    return load_design(kit.write_design(tmp_path, f"{text}\n{tables}"))


def _check(built, tmp_path, condition, revision="B", fixed="B"):
    head = HEAD.replace('fixed_in = "B"', f'fixed_in = "{fixed}"')
    design = _design(tmp_path, f"{head}[[errata.check]]\n{condition}\n", revision)
    return check_errata(design, built.board, built.plan, built.pinmap)


HOLDS = [
    'net = "CUT"\njoins = ["J1.12", "U1.28"]',
    'joins = ["J1.2", "J1.19", "J1.26"]',
    'apart = ["J1.12", "J1.13"]',
    'apart = ["J1.20", "J1.25"]',
    'signal = "CUT"\npins = ["D6", "D7"]',
    'signal = "CUT"\npins = ["#28"]',
    'signal = "CUT"\nnot_pins = ["D7"]',
    'signal = "CUT"\nway = "direct"',
    'signal = "CUT"\nmargin_v = 0.5',
    'part = "R4"\ninside = true',
    'part = "R4"\nedge_mm = 0.5',
    'part = "R1"\nother = "R4"\ndistance_mm = 5.0',
    "hole_mm = 3.2\nat_mm = [4.04, 3.54]",
]
BREAKS = [
    ('net = "CUT"\njoins = ["J1.13"]', "J1.13 is not on net CUT"),
    ('joins = ["J1.12", "J1.13"]', "J1.13 is not on net CUT"),
    ('joins = ["J1.20", "J1.25"]', "J1.20, J1.25 are not on one net"),
    ('apart = ["J1.2", "J1.12", "J1.19"]', "J1.2, J1.19 are joined by net GND"),
    ('signal = "CUT"\npins = ["D7"]', "CUT is on D6, not on D7"),
    ('signal = "CUT"\nnot_pins = ["D6"]', "CUT is on D6"),
    ('signal = "CUT"\nway = "series"', "CUT is carried as 'direct', not as 'series'"),
    ('signal = "CUT"\nmargin_v = 0.6', "CUT has a margin of 0.562 V, 0.6 V are asked"),
    ('part = "R4"\nedge_mm = 20.0', "R4 is "),
    ('part = "R1"\nother = "R4"\ndistance_mm = 45.0', "R1 is "),
    ("hole_mm = 3.2\nat_mm = [4.1, 3.54]", "there is no 3.2 mm hole at 4.1, 3.54 mm"),
    ("hole_mm = 3.0\nat_mm = [4.04, 3.54]", "there is no 3 mm hole at 4.04, 3.54 mm"),
]


@pytest.mark.parametrize("condition", HOLDS)
def test_a_condition_that_holds_is_quiet(built, tmp_path, condition):
    assert _check(built, tmp_path, condition) == ((), 1)


@pytest.mark.parametrize(("condition", "words"), BREAKS)
def test_a_condition_that_breaks_is_an_error(built, tmp_path, condition, words):
    findings, looked = _check(built, tmp_path, condition)
    assert looked == 1
    assert len(findings) == 1
    assert findings[0].rule == "erratum-returned"
    assert findings[0].severity == "error"
    assert findings[0].message.startswith(words)
    assert findings[0].message.endswith("; a fault of revision A fixed in B is back: a fault")


@pytest.mark.parametrize(("revision", "looked"), [("A", 0), ("B", 0), ("C", 1), ("AA", 1)])
def test_a_check_holds_from_the_revision_it_is_fixed_in(built, tmp_path, revision, looked):
    found = _check(built, tmp_path, BREAKS[0][0], revision, "C")
    assert found[1] == looked
    assert len(found[0]) == looked


def test_distance_is_told_with_its_limit(built, tmp_path):
    (finding,), _ = _check(built, tmp_path, 'part = "R4"\nedge_mm = 20.0')
    assert finding.limit.mm == 20
    assert 0 < finding.measured.mm < 20


@pytest.mark.parametrize(
    ("condition", "words"),
    [
        ('joins = ["R9.1"]', "there is no pad R9.1 on the board"),
        ('joins = ["J1.27"]', "there is no pad J1.27 on the board"),
        ('net = "CUTS"\njoins = ["J1.12"]', "there is no net 'CUTS' on the board, did you mean 'CUT'?"),
        ('part = "R9"\ninside = true', "there is no part 'R9' on the board"),
    ],
)
def test_unknown_things_are_input_errors_with_their_line(built, tmp_path, condition, words):
    with pytest.raises(InputError) as caught:
        _check(built, tmp_path, condition)
    assert caught.value.message.startswith(words)
    lines = (tmp_path / "design.toml").read_text("utf-8").split("\n")
    assert caught.value.line == lines.index("[[errata.check]]") + 1


@pytest.mark.parametrize(
    ("condition", "words"),
    [
        ("", "a check states one condition"),
        ('net = "CUT"', "a check states one condition"),
        ('joins = ["J1.1"]\nhole_mm = 3.2', "a check states one condition"),
        ('pins = ["D1"]', "pins needs signal beside it"),
        ('signal = "CUTS"\nway = "direct"', "there is no signal 'CUTS' on the contacts"),
        ('part = "R4"\ndistance_mm = 2.0', "distance_mm needs other"),
        ("hole_mm = 3.2", "hole_mm needs at_mm beside it"),
        ('part = "R4"\ninside = false', "a part can only be asked to stand inside"),
        ('joins = ["J1.1"]\npart = "R4"', "part does not go with joins"),
        ('joins = ["J1"]', "the value is not allowed"),
    ],
)
def test_conditions_that_say_nothing_are_refused(tmp_path, condition, words):
    with pytest.raises((InputError, InputErrors)) as caught:
        _design(tmp_path, f"{HEAD}[[errata.check]]\n{condition}\n")
    assert words in str(caught.value)


def test_a_fault_cannot_be_fixed_before_it_was_there(tmp_path):
    with pytest.raises(InputErrors, match="cannot be fixed in A"):
        _design(tmp_path, HEAD.replace('"B"', '"A"'))


REWORK = """[[errata]]
revision = "A"
symptom = "CUT and HOLD exchanged"
cut = [{ net = "CUT", at_mm = [20.0, 30.0], side = "top" }]
wire = [{ between = ["J1.12", "U1.25"] }]
"""


def test_rework_is_drawn_on_the_board_it_is_for(built, tmp_path):
    design = _design(tmp_path, REWORK, "A")
    assert check_errata(design, built.board, built.plan, built.pinmap) == ((), 0)
    picture = rework_svg(built.board, design.errata[0])
    assert "cut CUT, top" in picture
    assert ">J1.12<" in picture
    assert ">U1.25<" in picture
    assert rework_steps(design.errata[0]) == [
        "Cut the track of CUT on the top at 20.00, 30.00 mm.",
        "Solder a wire from J1 pad 12 to U1 pad 25.",
    ]
    assert rework_svg(built.board, replace(design.errata[0], cuts=(), wires=())) == ""


@pytest.mark.parametrize(("old", "new"), [('"J1.12"', '"J1.99"'), ('net = "CUT"', 'net = "NONE"')])
def test_rework_names_what_is_there(built, tmp_path, old, new):
    design = _design(tmp_path, REWORK.replace(old, new), "A")
    with pytest.raises(InputError, match="there is no"):
        check_errata(design, built.board, built.plan, built.pinmap)
    # A later board has no such net any more, and needs none.
    later = replace(design, revision="B")
    assert check_errata(later, built.board, built.plan, built.pinmap) == ((), 0)
