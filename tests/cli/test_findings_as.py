"""Findings as JUnit XML and SARIF: every finding is there once, and hostile words stay words."""

from __future__ import annotations

import json
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boardgen.cli.findings_as import Subject, checked_format, junit, sarif
from boardgen.errors import Finding, InputError, Severity
from boardgen.ruleids import RULES
from boardgen.units import Point, mm

SUBJECT = Subject("demo-A", "designs/demo")
FOUND = (
    Finding("short", Severity.ERROR, "A meets B", Point(mm(1), mm(2)), "top copper", ("A", "B")),
    Finding("mask-web", Severity.WARNING, "thin", None, "", ("J1",), mm("0.05"), mm("0.1")),
    Finding("spacing", Severity.NOTE, "near (waived)", items=("X",), waived="tested"),
)


def test_junit_has_a_case_a_rule_and_fails_for_errors_alone() -> None:
    suite = ElementTree.fromstring(junit(FOUND, SUBJECT))
    cases = {case.get("name"): case for case in suite}
    assert set(cases) == set(RULES)
    assert (suite.get("tests"), suite.get("failures"), suite.get("skipped")) == (str(len(RULES)), "1", "1")
    failure = cases["short"].find("failure")
    assert failure is not None
    assert failure.get("message") == "A meets B"
    assert failure.text == "error: short: A meets B (A and B) at 1.00, 2.00 mm, top copper"
    skipped = cases["spacing"].find("skipped")
    assert skipped is not None
    assert skipped.get("message") == "tested"
    output = cases["mask-web"].find("system-out")
    assert output is not None
    assert output.text == "warning: mask-web: thin (J1): 0.050 mm, limit 0.100 mm"
    assert cases["stub"].find("failure") is None


def test_sarif_has_a_result_a_finding() -> None:
    run = json.loads(sarif(FOUND, SUBJECT))["runs"][0]
    rules = run["tool"]["driver"]["rules"]
    assert [r["level"] for r in run["results"]] == ["error", "warning", "note"]
    for result, finding in zip(run["results"], FOUND, strict=True):
        assert rules[result["ruleIndex"]]["id"] == result["ruleId"] == finding.rule
        place = result["locations"][0]
        assert place["physicalLocation"]["artifactLocation"]["uri"] == "designs/demo"
        assert [item["name"] for item in place["logicalLocations"]] == list(finding.items)
    assert run["results"][0]["properties"] == {"at_mm": [1.0, 2.0], "layer": "top copper"}
    assert run["results"][1]["properties"] == {"measured_mm": 0.05, "limit_mm": 0.1}
    assert run["results"][2]["suppressions"] == [{"kind": "inSource", "justification": "tested"}]


@given(st.text(), st.text())
def test_any_words_come_back_from_both_forms(message: str, item: str) -> None:
    found = (Finding("short", Severity.ERROR, message, items=(item,)),)
    run = json.loads(sarif(found, SUBJECT))["runs"][0]
    assert run["results"][0]["message"]["text"] == message
    failures = ElementTree.fromstring(junit(found, SUBJECT)).findall(".//failure")
    assert len(failures) == 1


@pytest.mark.parametrize(
    ("form", "as_json", "message"),
    [
        (
            "xml",
            False,
            "--format: the value is not allowed; found 'xml'; allowed: text, json, junit, sarif",
        ),
        ("sarif", True, "--json: goes with --format json alone; found --format sarif"),
    ],
)
def test_an_unknown_form_is_refused(form: str, as_json: bool, message: str) -> None:
    with pytest.raises(InputError) as caught:
        checked_format(form, as_json)
    assert str(caught.value) == message
