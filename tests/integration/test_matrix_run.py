"""A matrix from the design file to the run: its lines timed by the copper they were routed with."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from boardgen.catalog.load import load_catalog
from boardgen.catalog.tomlfile import parse_toml
from boardgen.design.bind import bind
from boardgen.design.load import design_from
from boardgen.export.firmware import pin_json
from boardgen.export.matrix_data import matrix_row
from boardgen.pipeline.stages import build

CATALOG = load_catalog()
TEXT = 'name = "pad"\nmodule = "pico-2"\nconnector = "dsub-9-socket-right-angle"\n' + "".join(
    f'[[contacts]]\nnumber = {n}\nkind = "{kind}"\nsignal = "{signal}"\n'
    for n, (signal, kind) in enumerate(
        (("R1", "row"), ("R2", "row"), ("R3", "row"), ("C1", "column"), ("C2", "column"), ("C3", "column")), 1
    )
)


@pytest.fixture(scope="module")
def built():
    text = TEXT + '[cable]\nlength_m = 1.0\npf_per_m = 50.0\n[[matrices]]\ndiodes = "cathode-to-column"\n'
    return build(bind(design_from(parse_toml(text.encode(), "d.toml"), Path()), CATALOG), CATALOG)


def test_the_lines_are_timed_by_their_copper(built):
    (study,) = built.bundle.plan.matrices
    assert study.timing.measured
    assert all(0.1 < load.board_pf < 15 for load in study.loads)
    assert len({load.board_pf for load in study.loads}) > 1  # each its own track
    assert not any(text.startswith("board:") for text in study.assumed)
    for line in study.timing.lines:
        load = next(load for load in study.loads if load.line == line.line)
        assert line.own_pf == pytest.approx(50.0 + load.board_pf + load.pin_pf)


def test_the_firmware_and_the_record_say_the_same(built):
    (study,) = built.bundle.plan.matrices
    (firmware,) = json.loads(pin_json(built.bundle))["matrices"]
    row = matrix_row(study)
    assert firmware["settle_us"] == row["settling"]["wait_us"] == study.timing.wait_us
    assert row["settling"]["board_measured"] is True
    assert "the board's part is computed from its copper" in firmware["rests_on"]


def test_a_diode_a_key_leaves_nothing_to_find(built):
    assert [f for f in built.bundle.findings if f.rule.startswith("matrix")] == []
    assert built.bundle.plan.matrices[0].rollover.guaranteed is None
