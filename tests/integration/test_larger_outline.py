"""A given outline on which a net stays open: the run says on what size every net is routed."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from boardgen.catalog.load import load_catalog
from boardgen.design.bind import bind
from boardgen.design.load import load_design
from boardgen.design.model import BoundDesign, Enclosure, OutlineKind, OutlineWish
from boardgen.errors import Severity
from boardgen.pipeline import build
from boardgen.pipeline.larger import size_that_routes
from boardgen.pipeline.stages import Built
from boardgen.units import mm

DESIGNS = Path(__file__).parents[2] / "designs"
CATALOG = load_catalog()
SAID = re.compile(r"on an outline of ([\d.]+) x ([\d.]+) mm every net of this design is routed")


def keypad(width: str, height: str, enclosure: Enclosure | None = None) -> BoundDesign:
    design = load_design(DESIGNS / "lecture-keypad")
    wish = OutlineWish(OutlineKind.SIZE, mm(width), mm(height))
    changed = replace(design, fab="home-etch-1l", outline=wish, enclosure=enclosure or design.enclosure)
    return bind(changed, CATALOG)


def told(built: Built) -> list[tuple[str, str]]:
    notes = [f.message for f in built.bundle.findings if f.severity is Severity.NOTE]
    return [found.groups() for text in notes if (found := SAID.match(text))]  # type: ignore[misc]


def test_the_size_that_is_told_does():
    short = build(keypad("63.5", "51"), CATALOG)
    assert not short.complete
    ((width, height),) = told(short)
    enough = build(keypad(width, height), CATALOG)
    assert enough.complete
    assert [f for f in enough.bundle.findings if f.severity is Severity.ERROR] == []
    assert told(enough) == []


@pytest.mark.parametrize(
    ("wish", "enclosure"),
    [
        (OutlineWish(), None),  # nothing was asked for: wider ones were tried already
        (OutlineWish(OutlineKind.SIZE, mm(64), mm(54)), Enclosure(max_width=mm(64), max_height=mm(54))),
    ],
)
def test_no_size_is_told_where_none_may_be_taken(wish, enclosure):
    bound = keypad("64", "54", enclosure)
    bound = replace(bound, design=replace(bound.design, outline=wish))
    plan = build(keypad("60", "60"), CATALOG).bundle.plan
    assert size_that_routes(bound, CATALOG.drilled(bound.fab), plan) is None
