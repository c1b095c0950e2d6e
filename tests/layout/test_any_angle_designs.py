"""Demo designs with tracks at any angle, taken through every stage: shorter, and nothing is flagged."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from boardgen.catalog.load import load_catalog
from boardgen.design.bind import bind
from boardgen.design.load import load_design
from boardgen.errors import Severity
from boardgen.pipeline import build
from tests.benchmarks.corpus import run_one
from tests.layout.route_oracle import crooked, open_nets, shorted

DESIGNS = Path(__file__).parents[2] / "designs"


@pytest.mark.parametrize("name", ["lecture-keypad", "slide-remote"])
def test_a_demo_with_straight_tracks_is_clean_and_shorter(name):
    catalog = load_catalog()
    design = load_design(DESIGNS / name)
    octilinear = build(bind(design, catalog), catalog)
    straight = build(bind(replace(design, any_angle=True), catalog), catalog)
    board = straight.bundle.board
    assert straight.complete
    assert [f for f in straight.bundle.findings if f.severity is Severity.ERROR] == []
    assert straight.routing.length_mm < octilinear.routing.length_mm
    assert crooked(octilinear.bundle.board) == []
    assert crooked(board) != []
    assert shorted(board) == []
    assert open_nets(board, tuple(pour.net for pour in board.pours)) == []
    assert straight.routing.length_mm / straight.routing.bound_mm < 1.05


@pytest.mark.parametrize("seed", [54000397, 54000569, 72000740])
def test_drawn_designs_that_once_broke_off_or_lost_a_joint_are_clean(seed):
    """A detour was joined to another link meanwhile; a track through a wire link's end was pulled off it."""
    row = run_one(seed, any_angle=True)
    assert "crash" not in row
    assert row["clean"]
