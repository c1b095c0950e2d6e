"""A person's work in CAD, all kinds of it at once: carried into B, each told, and B clean."""

from __future__ import annotations

import itertools
import json
import shutil

import pytest
import revision_kit as kit
from cad_hand import Hand

from boardgen.board.model import Side
from boardgen.design.load import load_design
from boardgen.pipeline import check_run, generate
from boardgen.revision.compare import compare_runs
from boardgen.revision.revise import revise

HALL = '(gr_text "QUILLON HILL" (at 150 {y}) (layer "F.SilkS") (effects (font (size 1 1) (thickness 0.15))))'
HOLE = "(gr_circle (center 175 105) (end 176 105) (stroke (width 0.1) (type solid)) (fill none)"


def by_hand(run):
    """Edit the run's CAD board; returns the editor."""
    hand = Hand(run / kit.CAD)
    hand.put("R4", 1.27, 0.0)
    hand.put("R3", 2.54, 0.0, 180.0)
    hand.lock_tracks("CUT")
    hand.lock_tracks("HOLD", 1)
    hand.widen(170.0, 3.0)
    hand.put("H2", 3.0, 0.0)
    hand.put("H3", 3.0, 0.0)
    hand.take("H4")
    hand.text_at("GND", 0.5, 0.0)
    hand.add(HALL.format(y=99))
    hand.add(f'{HOLE} (layer "Edge.Cuts"))')
    hand.save()
    return hand


@pytest.fixture(scope="module")
def edited(demo, tmp_path_factory):
    """The edited run A and what ``revise`` made of it."""
    folder = tmp_path_factory.mktemp("hand")
    run = folder / "edited"
    shutil.copytree(demo[0], run)
    by_hand(run)
    design = kit.write_design(folder / "design")
    return run, revise(run, folder / "b", design)


def test_every_edit_is_told_as_carried(edited):
    told = [remark.thing for remark in edited[1].remarks]
    assert not [remark for remark in edited[1].remarks if remark.reason]
    for words in (
        "part R3, moved from 26.924, 32.512 mm to 29.464, 32.512 mm",
        "part R4, moved from 8.128, 28.448 mm to 9.398, 28.448 mm",
        "outline, now 54.50 x 51.50 mm",
        "cut-outs of the outline, 1 now, 3.12 mm2 in all, round edges within 0.01 mm",
        "mounting hole, now at 50.460, 3.540 mm",
        "mounting hole taken from 4.040, 47.960 mm",
        "text 'GND' on the legend, moved at 46.085, 45.212 mm",
        "text 'QUILLON HILL' on the legend, added at 27.000, 20.000 mm",
    ):
        assert words in told
    assert sum(thing.startswith("locked track of CUT at ") for thing in told) == 5
    assert sum(thing.startswith("locked track of HOLD at ") for thing in told) == 1


def test_every_edit_is_an_entry_of_the_design(edited):
    design = load_design(edited[1].path)
    turned = {part.ref: part.placement.rotation for part in design.placed}
    assert turned == {"R3": 180.0, "R4": 0.0}
    assert {track.net for track in design.tracks} == {"CUT", "HOLD"}
    stays = design.stays
    assert len(stays.holes) == 3
    assert max(piece.end.x for piece in stays.outline.outer).mm == 54.5
    assert len(stays.outline.outer) == 8  # four sides, four round corners: a rectangle still
    assert len(stays.outline.cutouts) == 1
    assert [wish.text for wish in design.legend] == ["GND", "QUILLON HILL"]


@pytest.mark.slow
def test_all_of_it_is_on_the_next_board(demo, edited, tmp_path):
    run = generate(edited[1].path, tmp_path).folder
    data = json.loads((run / "summary.json").read_text("utf-8"))
    told = {(row["kind"], row["thing"]): row["verdict"] for row in data["carried"]}
    assert set(told.values()) == {"kept"}, data["carried"]
    assert len(told) == 2 + 2 + 2 + 6
    assert not [f for f in data["findings"] if f["severity"] != "note"]
    assert not [f for f in check_run(run).findings if f.severity == "error"]
    found = compare_runs(demo[0], run)
    assert {change.thing for change in found.of("places")} == {"R3", "R4"}
    assert len(found.of("mounting holes")) == 5
    assert found.of("outline")
    assert not found.enclosure.fits
    assert found.firmware.verdict == "same pins"


def _via_pair(hand):
    """Lock a via of CUT under the track of CUT, with a locked track on the bottom."""
    number = next(n for name, n in hand.nets().items() if name == "CUT")
    track = "(segment locked (start {} {}) (end {} {}) (width 0.25) (layer {}) (net {}))"
    hand.add(
        f'(via locked (at 170 {{}}) (size 0.6) (drill 0.3) (layers "F.Cu" "B.Cu") (net {number}))'.format(90)
    )
    hand.add(track.format(170, 90, 170, 94, '"F.Cu"', number))
    hand.add(track.format(170, 90, 166, 90, '"B.Cu"', number))


def test_vias_and_arcs_are_carried_and_what_is_not_says_why(demo, tmp_path):
    run = tmp_path / "run"
    shutil.copytree(demo[0], run)
    hand = Hand(run / kit.CAD)
    _via_pair(hand)
    number = hand.nets()["HOLD"]
    arc = "(arc locked (start 150 90) (mid 152.12132 90.87868) (end 153 93) (width 0.25)"
    hand.add(f'{arc} (layer "F.Cu") (net {number}))')
    hand.add('(segment locked (start 150 100) (end 152 100) (width 0.25) (layer "F.Cu") (net 0))')
    hand.add(f'(via blind locked (at 150 95) (size 0.6) (drill 0.3) (layers "F.Cu" "B.Cu") (net {number}))')
    start, end = hand.part("R2")
    body = hand.text[start:end]
    at = body.index("(at ", body.index('(fp_text reference "R2"'))
    x, y, *turn = body[at + 4 : body.index(")", at)].split()
    body = body[: at + 4] + " ".join([f"{float(x) + 1:g}", y, *turn]) + body[body.index(")", at) :]
    hand.text = hand.text[:start] + body + hand.text[end:]
    hand.take("C2")
    hand.save()
    done = revise(run, tmp_path / "b", kit.write_design(tmp_path / "design"))
    design = load_design(done.path)
    assert [(via.net, via.at.x.mm, via.at.y.mm, via.diameter.mm) for via in design.vias] == [
        ("CUT", 47.0, 11.0, 0.6)
    ]
    sides = sorted((track.net, track.side) for track in design.tracks)
    assert sides == [("CUT", Side.BOTTOM), ("CUT", Side.TOP), ("HOLD", Side.TOP)]
    chords = next(track for track in design.tracks if track.net == "HOLD").points
    assert len(chords) > 10
    centre = (27.0, 14.0)  # of the arc, mm: (150, 93) on the sheet
    for a, b in itertools.pairwise(chords):
        for at in (a, b):
            assert ((at.x.mm - centre[0]) ** 2 + (at.y.mm - centre[1]) ** 2) ** 0.5 == pytest.approx(
                3, abs=1e-4
            )
        middle = ((a.x.mm + b.x.mm) / 2 - centre[0], (a.y.mm + b.y.mm) / 2 - centre[1])
        assert 3 - 0.002 <= (middle[0] ** 2 + middle[1] ** 2) ** 0.5 <= 3
    told = {remark.thing: remark.reason for remark in done.remarks}
    assert told["locked track at 27.000, 21.000 mm"] == "it is on no net or no side of the board"
    assert told["locked via of HOLD at 27.000, 16.000 mm"] == "it does not go through the board"
    assert told["reference text of R2, moved"].startswith("references are printed anew")
    assert told["part C2"] == "it was taken off the board: take it out of the design"
