"""Drawings, texts and areas that a person changed in CAD: carried into B, or told; then on to C."""

from __future__ import annotations

import json
import shutil

import pytest
import revision_kit as kit
from cad_hand import Hand, blocks

from boardgen.design.load import load_design
from boardgen.pipeline import generate
from boardgen.revision.revise import revise

STROKE = "(stroke (width 0.2) (type solid))"
SILK = '(layer "F.SilkS")'
ZONE = (
    '(zone (net {net}) (net_name "{name}") (layer{s} {layers}) (name "{title}") (hatch edge 0.5)'
    " (connect_pads (clearance 0.3)) (min_thickness 0.25) {more}"
    " (fill (thermal_gap 0.5) (thermal_bridge_width 0.5))"
    " (polygon (pts (xy {x} {y}) (xy {x2} {y}) (xy {x2} {y2}) (xy {x} {y2}))))"
)
BARRED = (
    "(keepout (tracks not_allowed) (vias not_allowed) (pads allowed) (copperpour not_allowed)"
    " (footprints allowed))"
)


def zone(hand, title, layers, more="", net="", at=(150.0, 99.0)):
    number = hand.nets().get(net, 0)
    x, y = at
    plural = "s" if " " in layers else ""
    hand.add(
        ZONE.format(
            net=number,
            name=net,
            title=title,
            layers=layers,
            s=plural,
            more=more,
            x=x,
            y=y,
            x2=x + 2,
            y2=y + 1,
        )
    )


def by_hand(run):
    """Draw one of each kind that is carried, and one of each that is not."""
    hand = Hand(run / kit.CAD)
    hand.add(f"(gr_line (start 146 92) (end 152 92) {STROKE} {SILK})")
    hand.add(f"(gr_rect (start 146 93) (end 149 95) {STROKE} (fill none) {SILK})")
    hand.add(f"(gr_circle (center 151 94) (end 152 94) {STROKE} (fill solid) {SILK})")
    hand.add(f"(gr_arc (start 146 96) (mid 147 97) (end 148 96) {STROKE} {SILK})")
    hand.add(f"(gr_poly (pts (xy 150 96) (xy 152 96) (xy 151 97)) {STROKE} (fill solid) {SILK})")
    zone(hand, "antenna wire", '"F.Cu" "B.Cu"', BARRED)
    zone(hand, "half", '"F.Cu"', BARRED, at=(150, 92))
    zone(hand, "", '"F.Cu"', net="CUT", at=(150, 94))
    hand.add('(gr_text "note" (at 150 80) (layer "Cmts.User") (effects (font (size 1 1) (thickness 0.15))))')
    hand.add(f'(gr_line (start 146 99) (end 152 99) {STROKE} (layer "Dwgs.User"))')
    hand.add(f'(gr_line (start 146 99) (end 152 99) {STROKE} (layer "F.Mask"))')
    hand.add('(dimension (type aligned) (layer "Dwgs.User") (pts (xy 146 99) (xy 152 99)))')
    hand.add('(group "mine" (id 11111111-1111-1111-1111-111111111111) (members))')
    hand.add('(image (at 150 80) (layer "F.SilkS") (data))')
    start, end = hand.part("H1")
    hole = hand.text[start:end].replace("(size 3.2 3.2)", "(size 3 3)").replace("(drill 3.2)", "(drill 3)")
    hand.text = hand.text[:start] + hole + hand.text[end:]
    start, end = hand.part("R2")
    pads = hand.text[start:end].replace("(size 1.6 1.6)", "(size 1.8 1.8)")
    assert pads != hand.text[start:end]
    hand.text = hand.text[:start] + pads + hand.text[end:]
    hand.save()


def without(hand, words):
    """Take a text of the board off."""
    for start, end in blocks(hand.text, "gr_text"):
        if hand.text[start:end].startswith(f'  (gr_text "{words}"'):
            hand.text = hand.text[:start] + hand.text[end:]
            return
    raise KeyError(words)


@pytest.fixture(scope="module")
def opened(demo, tmp_path_factory):
    """What ``revise`` made of a run with all of it, and what the run has printed."""
    folder = tmp_path_factory.mktemp("drawn")
    run = folder / "edited"
    shutil.copytree(demo[0], run)
    printed = [row["text"] for row in json.loads((run / "summary.json").read_text("utf-8"))["legend"]]
    hand = Hand(run / kit.CAD)
    title = next(text for text in printed if " REV A" in text)
    hand.text_at(title, 0.2, 0.0)
    without(hand, "CUT")
    hand.text = hand.text.replace('(gr_text "HOLD"', '(gr_text "HALT"')
    hand.save()
    by_hand(run)
    return revise(run, folder / "b", kit.write_design(folder / "design"))


def _told(done):
    return {remark.thing: remark.reason for remark in done.remarks}


def test_what_is_drawn_on_the_legend_becomes_strokes(opened):
    design = load_design(opened.path)
    assert sorted((len(s.points) > 2, s.filled) for s in design.strokes) == [
        (False, False),
        (True, False),
        (True, False),
        (True, True),
        (True, True),
    ]
    assert {s.width.mm for s in design.strokes} == {0.2}
    told = _told(opened)
    assert told["line on the top legend at 23.000, 13.000 mm"] == ""
    assert sum(thing.startswith("area on the top legend at ") for thing in told) == 2


def test_areas_and_holes_become_entries(opened):
    design = load_design(opened.path)
    (area,) = design.keepouts
    assert (area.reason, len(area.ring)) == ("antenna wire", 4)
    assert sorted({width.mm for width in design.stays.hole_diameters}) == [3.0, 3.2]
    assert any(" now 3 mm wide" in thing for thing in _told(opened))


def test_texts_of_the_board_moved_changed_and_taken_off(opened):
    wishes = {(w.text, w.instead_of) for w in load_design(opened.path).legend}
    assert wishes == {("SLIDE-REMOTE REV {revision}", ""), ("", "CUT"), ("HALT", "HOLD")}
    assert "text 'HOLD' on the legend, now 'HALT'" in _told(opened)
    assert _told(opened)["text 'CUT' on the legend, taken off"] == ""


def test_what_is_not_carried_says_why_and_stands_in_the_design(opened):
    told = _told(opened)
    assert told["pour of CUT on the top, added"].startswith("boards are poured with ground alone")
    assert told["pads of R2, changed"].startswith("footprints come from the catalogue")
    assert told["text on Cmts.User"].startswith("a design has no place for it")
    assert told["line on Dwgs.User"].startswith("a design has no place for it")
    assert told["line on F.Mask"].startswith("the mask follows pads alone")
    assert told["dimension on Dwgs.User"].startswith("a design has no place for it")
    assert told["group"].startswith("its things are carried one by one")
    assert told["picture on F.SilkS"].startswith("it is not read from the legend")
    assert any("'half'" in thing and reason for thing, reason in told.items())
    text = opened.path.read_text("utf-8")
    for thing, reason in told.items():
        assert (f"# impossible: {thing}: {reason}" in text) == bool(reason)


@pytest.mark.slow
def test_all_of_it_is_on_b_and_goes_on_to_c_untouched(opened, tmp_path):
    run = generate(opened.path, tmp_path / "b").folder
    data = json.loads((run / "summary.json").read_text("utf-8"))
    assert not [f for f in data["findings"] if f["severity"] != "note"]
    assert not [row for row in data["carried"] if row["verdict"] != "kept"]
    printed = [row["text"] for row in data["legend"]]
    assert {"SLIDE-REMOTE REV B", "HALT"} < set(printed)
    assert not {"CUT", "HOLD", "SLIDE-REMOTE REV A"} & set(printed)
    before = load_design(opened.path)
    done = revise(run, tmp_path / "c", opened.path)
    after = load_design(done.path)
    assert not done.remarks
    assert [(s.points, s.filled) for s in after.strokes] == [(s.points, s.filled) for s in before.strokes]
    assert (after.keepouts, after.stays.hole_diameters) == (before.keepouts, before.stays.hole_diameters)
    assert {(w.text, w.instead_of) for w in after.legend} == {(w.text, w.instead_of) for w in before.legend}


def test_a_hole_added_to_a_design_without_holes_is_carried(demo, tmp_path):
    text = kit.DESIGN.read_text("utf-8")
    start = text.index("\n[holes]\n")
    end = text.find("\n[", start + 2)
    design = kit.write_design(tmp_path / "design", text[:start] + (text[end:] if end > 0 else "\n"))
    done = revise(demo[0], tmp_path / "b", design)
    stays = load_design(done.path).stays
    assert len(stays.holes) == len(stays.hole_diameters) == 4
    assert {width.mm for width in stays.hole_diameters} == {3.2}
