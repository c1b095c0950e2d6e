"""Findings that the design lets pass: each with its reason, up to a stated revision."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from boardgen.design.model import FindingWaiver
from boardgen.errors import Finding, Severity


def revision_rank(revision: str) -> tuple[int, str]:
    """Return what revisions sort by: A to Z, then AA to ZZ."""
    return (len(revision), revision)


def covers(waiver: FindingWaiver, finding: Finding) -> bool:
    """Return whether *waiver* is about *finding*: same rule, and all its items among the finding's."""
    return waiver.rule == finding.rule and set(waiver.items) <= set(finding.items)


def _alive(waivers: Sequence[FindingWaiver], revision: str) -> list[FindingWaiver]:
    return [w for w in waivers if revision_rank(revision) <= revision_rank(w.until)]


def let_pass(
    findings: Sequence[Finding], waivers: Sequence[FindingWaiver], revision: str
) -> tuple[Finding, ...]:
    """Return *findings* with those that *waivers* cover as notes that say why they pass.

    A waiver whose last revision lies before *revision* lets nothing pass. Notes
    need no waiver, so what was let pass once stays as it is.
    """
    alive = _alive(waivers, revision)
    return tuple(_passed(finding, alive) for finding in findings)


def _passed(finding: Finding, alive: Sequence[FindingWaiver]) -> Finding:
    waiver = next((w for w in alive if covers(w, finding)), None)
    if waiver is None or finding.severity is Severity.NOTE:
        return finding
    was = "an error" if finding.severity is Severity.ERROR else "a warning"
    text = f"{finding.message} ({was} waived until revision {waiver.until}: {waiver.reason})"
    return replace(finding, severity=Severity.NOTE, message=text, waived=waiver.reason)


def idle_waivers(
    findings: Sequence[Finding], waivers: Sequence[FindingWaiver], revision: str
) -> tuple[Finding, ...]:
    """Return a warning for each waiver past its last revision or that let none of *findings* pass."""
    alive = _alive(waivers, revision)
    waived = [f for f in findings if f.waived]
    found = []
    for waiver in waivers:
        if waiver not in alive:
            words = f"its last revision {waiver.until} has passed; renew it with a reason or mend the board"
            found.append(_about(waiver, "waiver-expired", words))
        elif not any(covers(waiver, f) for f in waived):
            found.append(_about(waiver, "waiver-stale", "no finding needs it; take it out"))
    return tuple(found)


def _about(waiver: FindingWaiver, rule: str, words: str) -> Finding:
    line = "" if waiver.line is None else f" (line {waiver.line} of the design)"
    whose = f" for {' and '.join(waiver.items)}" if waiver.items else ""
    return Finding(
        rule, Severity.WARNING, f"the waiver of {waiver.rule}{whose}{line}: {words}", items=waiver.items
    )
