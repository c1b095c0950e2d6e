"""A matrix in a design: figures from module and design, findings, and what the plan then says."""
# ruff: noqa: E501 - messages are held whole

from dataclasses import replace

import pytest
from electrical_bench import bind, component, contact, gpio, module
from matrix_oracle import matrix

from boardgen.catalog.logic import Logic, LogicPoint
from boardgen.design.model import Cable
from boardgen.electrical.matrix.findings import matrix_findings
from boardgen.electrical.matrix.settling import with_board
from boardgen.electrical.matrix.study import study_matrices
from boardgen.electrical.matrix.words import mending_words
from boardgen.electrical.model import PinRequest
from boardgen.errors import Severity

LOGIC = Logic(
    3.0, 3.6, (LogicPoint(3.3, 2.0, 0.8, ((0.004, 2.6),), ((0.004, 0.4),)),), 3.6, 0.3, input_pf=5.0
)


def stated(**more):
    pins = tuple(gpio(n) for n in range(10, 30))
    return replace(module(*pins), logics=(("", LOGIC),), pull_up_ohms=(50e3, 65e3, 80e3), **more)


def study(item, mod=None, pulls="up", cable=None):
    contacts = [
        contact(n, line, "row" if line in item.rows else "column")
        for n, line in enumerate((*item.rows, *item.columns), 1)
    ]
    bound = bind(contacts, mod or stated(), matrices=[item])
    if cable is not None:
        bound = replace(bound, design=replace(bound.design, cable=cable))
    requests = [
        PinRequest(c.signal, c.signal, reads=True, drives=True, pull=pulls) for c in bound.design.contacts
    ]
    (found,) = study_matrices(bound, requests, component)
    return found


def messages(found, rule):
    return [(f.severity, f.message) for f in matrix_findings(found) if f.rule == rule]


def test_every_figure_stated_leaves_only_the_board_to_guess():
    item = matrix(3, 3, contact_ohms=50.0)
    found = study(item, cable=Cable(1.5, 50.0))
    assert found.assumed == (
        "board: 15 pF a line until it is routed",
        "up to 2 keys held at once on one line",
    )
    assert (found.levels.pull_least, found.levels.pull_most) == (50e3, 80e3)
    assert (found.levels.vih_v, found.levels.vil_v, found.levels.contact_ohms) == (2.0, 0.8, 50.0)
    assert {load.total_pf for load in found.loads} == {75.0 + 15.0 + 5.0}


def test_what_is_not_stated_is_assumed_and_said():
    item = matrix(3, 3, diodes="cathode-to-column", key_kind="worn")
    found = study(item, module(*(gpio(n) for n in range(10, 30))))
    assert found.assumed == (
        "pull-ups inside Test module of 20 to 80 kohm",
        "levels of Test module as shares of its supply, its entry states none",
        "a closed key of at most 1000 ohm (worn)",
        "diodes like the catalogue's 1N4148: 0.62 V at 0.17 mA",
        "a lead of 2 m, the wiring inside the device included",
        "66 pF a metre of lead, the most of common pairs",
        "board: 15 pF a line until it is routed",
        "up to 6 keys held at once on one line",
    )
    assert found.timing.debounce_ms == 20


def test_a_fitted_pull_up_settles_sooner():
    item = matrix(4, 4)
    fitted, inside = study(item, pulls=""), study(item)
    assert fitted.levels.pull_most == pytest.approx(10_500)
    assert inside.timing.wait_us / fitted.timing.wait_us == pytest.approx(80 / 10.5, rel=0.1)


def test_the_board_computed_takes_the_place_of_the_guess():
    found = study(matrix(3, 3))
    nets = {load.net: 4.0 for load in found.loads}
    measured = with_board(found, nets)
    assert measured.timing.measured
    assert not any(text.startswith("board") for text in measured.assumed)
    assert measured.timing.lines[0].own_pf == pytest.approx(found.timing.lines[0].own_pf - 11)
    assert measured.timing.wait_us < found.timing.wait_us
    some = with_board(found, {found.loads[0].net: 4.0})
    assert not some.timing.measured
    assert some.assumed == found.assumed


def test_an_unsafe_matrix_without_groups_is_a_note_with_the_count():
    assert messages(study(matrix(8, 5)), "matrix-phantom") == [
        (
            Severity.NOTE,
            "matrix keys: any 2 keys may be held; 1120 sets of 3 keys show one that is not held.",
        )
    ]
    assert matrix_findings(study(matrix(8, 5, diodes="cathode-to-column"))) == ()
    assert matrix_findings(study(matrix(1, 5))) == ()


def test_a_broken_group_is_an_error_that_says_what_mends_it():
    found = study(matrix(3, 3, together=(("R0C0", "R0C1", "R1C0"), ("R0C0", "R2C2"))))
    assert [g.right for g in found.groups] == [False, True]
    (error, note) = messages(found, "matrix-phantom")
    assert error == (
        Severity.ERROR,
        "matrix keys: R0C0, R0C1 and R1C0 held together do not read right: R1C1 shows though nobody presses "
        "it, by way of R1C0 - R0C0 - R0C1. A diode in series with R0C0 would mend the groups; or exchange the "
        "wires of R0C0 and R0C2: that would do as well.",
    )
    assert note[0] is Severity.NOTE
    assert mending_words(found)[-1] == (
        "for any three keys to read right, each key needs a diode; its cathode toward the column"
    )
    mended = study(
        matrix(3, 3, together=(("R0C0", "R0C1", "R1C0"),), diodes="cathode-to-column", diode_share=1.0)
    )
    assert mended.groups[0].right


def test_diodes_against_the_scan_name_the_drive_that_fits():
    found = study(matrix(2, 3, diodes="cathode-to-row", together=(("R0C0", "R1C1"),)))
    assert messages(found, "matrix-diodes") == [
        (
            Severity.ERROR,
            "matrix keys: 6 keys with a diode (R0C0, R0C1, R0C2, R1C0, R1C1 and R1C2) cannot be read: the "
            'cathodes are on the rows, but the columns are pulled low, so no current flows. drive = "rows" fits.',
        )
    ]
    assert found.rollover.guaranteed == 0
    assert not found.groups[0].right
    turned = study(matrix(2, 3, diodes="cathode-to-row", drive="rows"))
    assert matrix_findings(turned) == ()
    assert turned.rollover.guaranteed is None


def test_a_level_that_is_too_high_is_an_error_with_its_sum():
    found = study(matrix(3, 3, diodes="cathode-to-column", diode_vf_v=0.9))
    ((severity, text),) = messages(found, "matrix-level")
    assert severity is Severity.ERROR
    assert "diode 0.90 V" in text
    assert text.endswith("not even a perfect contact reads: 0.12 V too high")
    guessed = study(matrix(3, 3, diodes="cathode-to-column", diode_vf_v=0.9), module())
    assert [s for s, _ in messages(guessed, "matrix-level")] == [Severity.WARNING]


def test_a_scan_that_is_too_slow_is_a_warning():
    found = study(matrix(4, 10), cable=Cable(100.0, 75.0))
    ((severity, text),) = messages(found, "matrix-settling")
    assert severity is Severity.WARNING
    assert "200 are wanted" in text
    assert matrix_findings(found)[-1].rule == "matrix-phantom"


def test_chosen_pins_take_the_place_of_the_worst_that_may_be():
    odd = replace(gpio(40), pull_up_ohms=(7e3, 15e3))
    mod = replace(stated(), pins=(*stated().pins, odd))
    item = matrix(3, 3, diodes="cathode-to-column")
    before = study(item, mod)
    assert (before.levels.pull_least, before.levels.pull_most) == (50e3, 80e3)  # the odd pin is left out
    contacts = [
        contact(n, s, "row" if s[0] == "R" else "column") for n, s in enumerate((*item.rows, *item.columns))
    ]
    bound = bind(contacts, mod, matrices=[item])
    requests = [PinRequest(c.signal, c.signal, reads=True, drives=True, pull="up") for c in contacts]
    pins = {c.signal: mod.pins[-2 - n] for n, c in enumerate(contacts)} | {"R0": odd}
    (after,) = study_matrices(bound, requests, component, pins)
    assert after.levels.pull_least == 7e3
    assert {line.line: line.pull_ohms for line in after.timing.lines} == {"R0": 15e3, "R1": 80e3, "R2": 80e3}
    assert after.level.margin_v < before.level.margin_v


def test_a_line_that_leaks_too_much_does_not_rise():
    weak = replace(stated(), pull_up_ohms=(50e3, 200e3, 500e3))
    ((severity, text),) = messages(study(matrix(3, 3), weak), "matrix-level")
    assert severity is Severity.ERROR
    assert text == (
        "matrix keys: a line at rest stands at 1.80 V; the module reads high over 2.00 V: 0.20 V too low. "
        "A stronger pull-up (10 kohm) would help."
    )
