"""Findings for machines: one list of findings in the form a caller asks for."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any
from xml.etree import ElementTree

from boardgen import __version__
from boardgen.errors import Finding, InputError, Severity
from boardgen.ruleids import RULES

FORMATS = ("text", "json", "junit", "sarif")


@dataclass(frozen=True, slots=True)
class Subject:
    """What was checked: its name (design and revision) and the file it came from, as the user named it."""

    name: str
    path: str


def checked_format(text: str | None, as_json: bool) -> str:
    """Return the form asked for, "text" by default; raises InputError for an unknown one."""
    if text is None:
        return "json" if as_json else "text"
    if text not in FORMATS:
        raise InputError(
            "the value is not allowed", key="--format", found=repr(text[:40]), allowed=", ".join(FORMATS)
        )
    if as_json and text != "json":
        raise InputError("goes with --format json alone", key="--json", found=f"--format {text}")
    return text


def junit(findings: Sequence[Finding], subject: Subject) -> str:
    """Return *findings* as JUnit XML: one case a rule, failed where it has an error.

    Warnings and notes stand in the case's output; a rule with nothing but
    waived findings is skipped with their reasons.
    """
    by_rule: dict[str, list[Finding]] = {rule: [] for rule in RULES}
    for finding in findings:
        by_rule.setdefault(finding.rule, []).append(finding)
    failed = [r for r, found in by_rule.items() if any(f.severity is Severity.ERROR for f in found)]
    skipped = [r for r, found in by_rule.items() if found and all(f.waived for f in found)]
    suite = ElementTree.Element(
        "testsuite",
        name=_xml(subject.name),
        tests=str(len(by_rule)),
        failures=str(len(failed)),
        errors="0",
        skipped=str(len(skipped)),
    )
    for rule, found in by_rule.items():
        case = ElementTree.SubElement(suite, "testcase", classname="boardgen", name=rule)
        errors = [f for f in found if f.severity is Severity.ERROR]
        if errors:
            first = _xml(errors[0].message)
            failure = ElementTree.SubElement(case, "failure", type=rule, message=first)
            failure.text = _xml("\n".join(_line(f) for f in errors))
        elif rule in skipped:
            ElementTree.SubElement(case, "skipped", message=_xml("; ".join(f.waived for f in found)))
        rest = [f for f in found if f.severity is not Severity.ERROR]
        if rest:
            ElementTree.SubElement(case, "system-out").text = _xml("\n".join(_line(f) for f in rest))
    ElementTree.indent(suite)
    text = ElementTree.tostring(suite, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{text}\n'


def _xml(text: str) -> str:
    """Return *text* without the characters XML 1.0 has no way to hold."""
    return "".join(
        c if c in "\t\n" or " " <= c <= "\ud7ff" or "\ue000" <= c <= "\ufffd" else "?" for c in text
    )


def _line(finding: Finding) -> str:
    from boardgen.cli.out import finding_line

    return finding_line(finding)


def sarif(findings: Sequence[Finding], subject: Subject) -> str:
    """Return *findings* as SARIF 2.1.0 (OASIS): one run, a result a finding.

    A place on the board has no line in a file, so it stands in the result's
    properties; waived findings carry a suppression with the reason.
    """
    rules = sorted({*RULES, *(f.rule for f in findings)})
    index = {rule: n for n, rule in enumerate(rules)}
    results = [_result(f, index, subject) for f in findings]
    record = {
        "$schema": "https://docs.oasis-open.org/sarif/sarif/v2.1.0/os/schemas/sarif-schema-2.1.0.json",
        "version": "2.1.0",
        "runs": [
            {
                "tool": {
                    "driver": {
                        "name": "boardgen",
                        "version": __version__,
                        "rules": [
                            {"id": rule, "shortDescription": {"text": RULES.get(rule, rule)}}
                            for rule in rules
                        ],
                    }
                },
                "results": results,
            }
        ],
    }
    return json.dumps(record, indent=2) + "\n"


def _result(finding: Finding, index: dict[str, int], subject: Subject) -> dict[str, Any]:
    properties: dict[str, Any] = {}
    if finding.at is not None:
        properties["at_mm"] = [finding.at.x.mm, finding.at.y.mm]
    for key, value in (("measured_mm", finding.measured), ("limit_mm", finding.limit)):
        if value is not None:
            properties[key] = value.mm
    if finding.layer:
        properties["layer"] = finding.layer
    location: dict[str, Any] = {"physicalLocation": {"artifactLocation": {"uri": subject.path}}}
    if finding.items:
        location["logicalLocations"] = [{"name": item} for item in finding.items]
    result: dict[str, Any] = {
        "ruleId": finding.rule,
        "ruleIndex": index[finding.rule],
        "level": str(finding.severity),
        "message": {"text": finding.message},
        "locations": [location],
    }
    if properties:
        result["properties"] = properties
    if finding.waived:
        result["suppressions"] = [{"kind": "inSource", "justification": finding.waived}]
    return result


WRITERS: dict[str, Callable[[Sequence[Finding], Subject], str]] = {"junit": junit, "sarif": sarif}
