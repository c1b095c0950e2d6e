"""What becomes of a person's work on the next board: kept, adapted or impossible, each for a real reason."""

from __future__ import annotations

import pytest
import revision_kit as kit

from boardgen.catalog.load import load_catalog
from boardgen.design.load import load_design
from boardgen.pipeline import build, choose_module

# A places its parts as it likes; B is asked for this. Places in mm.
WISHES = """
[[placed]]
ref = "R4"
x_mm = 9.398
y_mm = 28.448
nets = ["GND", "LAMP_FAULT_G"]

[[placed]]
ref = "R3"
x_mm = 51.0
y_mm = 32.0
nets = ["GND", "LAMP_DARK_G"]

[[placed]]
ref = "R1"
x_mm = 27.5
y_mm = 16.0
nets = ["GND", "LAMP_READY_G"]

[[placed]]
ref = "D7"
x_mm = 20.0
y_mm = 30.0
nets = ["LASER"]

[[tracks]]
net = "LASER"
side = "top"
width_mm = 0.25
points_mm = [[10.0, 30.0], [14.0, 30.0]]

[[tracks]]
net = "CUT"
side = "top"
width_mm = 0.05
points_mm = [[20.0, 30.0], [24.0, 30.0]]

[[tracks]]
net = "CUT"
side = "bottom"
width_mm = 0.25
points_mm = [[45.0, 30.0], [60.0, 30.0]]

[[tracks]]
net = "CUT"
side = "top"
width_mm = 0.25
points_mm = [[13.0, 28.448], [16.0, 28.448]]

[[vias]]
net = "CUT"
x_mm = 20.0
y_mm = 30.0
diameter_mm = 0.6
hole_mm = 0.3

[[vias]]
net = "CUT"
x_mm = 20.0
y_mm = 32.0
diameter_mm = 0.3
hole_mm = 0.25

[[legend]]
text = "ASK FOR THE KEY"
x_mm = 51.0
y_mm = 30.0

[[legend]]
text = "HALL"
x_mm = 27.94
y_mm = 43.942

[[strokes]]
width_mm = 0.2
points_mm = [[23.0, 13.0], [29.0, 13.0]]

[[strokes]]
width_mm = 0.2
points_mm = [[45.0, 20.0], [70.0, 20.0]]

[[strokes]]
width_mm = 0.2
filled = true
points_mm = [[70.0, 20.0], [75.0, 20.0], [75.0, 25.0]]

[[strokes]]
width_mm = 0.05
points_mm = [[23.0, 14.0], [29.0, 14.0]]
"""


def _built(folder, text):
    catalog = load_catalog(())
    return build(choose_module(load_design(kit.write_design(folder, text)), catalog), catalog)


@pytest.fixture(scope="module")
def asked(tmp_path_factory):
    text = kit.DESIGN.read_text("utf-8")
    return _built(tmp_path_factory.mktemp("asked"), text + WISHES)


def _told(built):
    return {(row.kind, row.thing): (row.verdict, row.reason) for row in built.history.carried}


def test_every_wish_gets_one_verdict(asked):
    assert len(asked.history.carried) == WISHES.count("\n[[")
    assert {row.verdict for row in asked.history.carried} == {"kept", "adapted", "impossible"}
    assert all(bool(row.reason) == (row.verdict != "kept") for row in asked.history.carried)
    assert asked.complete
    assert not [f for f in asked.bundle.findings if f.severity == "error"]


def test_parts_are_kept_adapted_or_gone_with_the_reason(asked):
    told = _told(asked)
    names = {key[1].partition(" ")[0]: key for key in told if key[0] == "part"}
    assert told[names["R4"]] == ("kept", "")
    verdict, reason = told[names["R3"]]
    assert verdict == "adapted"
    assert reason.startswith("it stands at ")
    assert reason.endswith("there it would reach over the edge of the board")
    verdict, reason = told[names["R1"]]
    assert verdict == "adapted"
    assert reason.endswith(" stands there")
    assert told[names["D7"]] == ("impossible", "the board has no such part any more")


@pytest.mark.parametrize(
    ("thing", "reason"),
    [
        ("track of LASER at 10.000, 30.000 mm", "there is no net LASER any more"),
        ("track of CUT at 20.000, 30.000 mm", "the fab class makes no track of 0.05 mm"),
        ("track of CUT at 45.000, 30.000 mm", "the edge of the board is too near"),
        ("via of CUT at 20.000, 30.000 mm", "no locked tracks meet it on both sides"),
        (
            "via of CUT at 20.000, 32.000 mm",
            "the fab class makes no via of 0.3 mm with a hole of 0.25 mm",
        ),
    ],
)
def test_copper_that_cannot_lie_there_says_why(asked, thing, reason):
    assert _told(asked)[thing.partition(" ")[0], thing] == ("impossible", reason)


def test_a_locked_track_in_a_part_s_way_names_its_pad(asked):
    verdict, reason = _told(asked)["track", "track of CUT at 13.000, 28.448 mm"]
    assert verdict == "impossible"
    assert reason.endswith(" is in its way")
    ref = reason.split()[0]
    part = next(part for part in asked.bundle.board.parts if part.ref == ref)
    assert "LAMP_FAULT_G" in {net for _, net in part.nets}


def test_texts_that_cannot_be_printed_say_why(asked):
    told = _told(asked)
    assert told["legend", "ASK FOR THE KEY"] == (
        "impossible",
        "it would reach over the edge of the board",
    )
    verdict, reason = told["legend", "HALL"]
    assert verdict == "impossible"
    assert reason.startswith("J1 pad ")


@pytest.mark.parametrize(
    ("thing", "verdict", "reason"),
    [
        ("line at 23.000, 13.000 mm", "kept", ""),
        ("line at 45.000, 20.000 mm", "adapted", "it would reach over the edge of the board"),
        ("area at 70.000, 20.000 mm", "impossible", "it would reach over the edge of the board"),
        ("line at 23.000, 14.000 mm", "adapted", "mm wide, the least that the fab prints"),
    ],
)
def test_strokes_are_kept_clipped_widened_or_left_out(asked, thing, verdict, reason):
    told = _told(asked)["stroke", thing]
    assert told[0] == verdict
    assert told[1].endswith(reason)
