"""Waivers of findings: what they let pass, what they do not, and when they say so themselves."""

from __future__ import annotations

from boardgen.design.model import FindingWaiver
from boardgen.errors import Finding, Severity
from boardgen.rules.waive import idle_waivers, let_pass, revision_rank

NEAR = Finding("spacing", Severity.ERROR, "too near", items=("track of A", "R1 pad 2"))
WEB = Finding("mask-web", Severity.WARNING, "too thin", items=("J1 pad 1", "J1 pad 2"))


def waiver(rule: str, *items: str, until: str = "B") -> FindingWaiver:
    return FindingWaiver(rule, items, until, "measured on the bench", 7)


def test_a_covered_finding_becomes_a_note_with_the_reason() -> None:
    passed, web = let_pass((NEAR, WEB), (waiver("spacing", "R1 pad 2"),), "A")
    assert (passed.severity, passed.waived) == (Severity.NOTE, "measured on the bench")
    assert passed.message == "too near (an error waived until revision B: measured on the bench)"
    assert web == WEB


def test_another_item_or_rule_is_not_covered() -> None:
    waivers = (waiver("spacing", "R2 pad 1"), waiver("short"))
    assert let_pass((NEAR,), waivers, "A") == (NEAR,)
    assert [f.rule for f in idle_waivers((NEAR,), waivers, "A")] == ["waiver-stale", "waiver-stale"]


def test_every_item_named_must_be_there() -> None:
    both = waiver("spacing", "R1 pad 2", "track of A")
    assert let_pass((NEAR,), (both,), "A")[0].waived
    assert not let_pass((NEAR,), (waiver("spacing", "R1 pad 2", "track of B"),), "A")[0].waived


def test_the_last_revision_still_counts_and_the_next_does_not() -> None:
    kept = waiver("spacing")
    assert let_pass((NEAR,), (kept,), "B")[0].severity is Severity.NOTE
    assert let_pass((NEAR,), (kept,), "C") == (NEAR,)
    expired = idle_waivers((NEAR,), (kept,), "C")
    assert [(f.rule, f.severity) for f in expired] == [("waiver-expired", Severity.WARNING)]
    assert expired[0].message == (
        "the waiver of spacing (line 7 of the design): its last revision B has passed; "
        "renew it with a reason or mend the board"
    )


def test_a_waiver_in_use_says_nothing_and_passing_twice_changes_nothing() -> None:
    waivers = (waiver("spacing"),)
    once = let_pass((NEAR, WEB), waivers, "A")
    assert idle_waivers(once, waivers, "A") == ()
    assert let_pass(once, waivers, "A") == once


def test_revisions_run_from_a_to_z_and_then_from_aa() -> None:
    names = ["AA", "B", "Z", "A", "AB"]
    assert sorted(names, key=revision_rank) == ["A", "B", "Z", "AA", "AB"]
