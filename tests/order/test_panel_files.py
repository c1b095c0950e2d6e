"""A panel's files judged by others: gerbonara counts, our read-back and rule check find nothing."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest
from gerbonara import GerberFile
from gerbonara.graphic_objects import Flash, Line
from panel_kit import economy, plain_unit

from boardgen.errors import InputError
from boardgen.export.files import OutFile
from boardgen.export.gerber import gerber_files
from boardgen.order.panel.choose import choose_panel
from boardgen.order.panel.edges import Way
from boardgen.order.panel.files import PanelBundle, PanelMade, clean_files, panel_files
from boardgen.readback import examine_board

FAB = economy()
TOOL = "boardgen 0.0"


def made_of(unit, quantity, shape):
    panel = choose_panel(unit, FAB, quantity, shape).panel
    return panel, panel_files(panel.board, FAB, TOOL)


def ending(files, end):
    (file,) = (f for f in files if f.path.endswith(end))
    return file


def flashes(file: OutFile) -> int:
    layer = GerberFile.from_string(file.data.decode())
    return sum(isinstance(item, Flash) for item in layer.objects)


@pytest.fixture(scope="module")
def tabbed():
    unit = plain_unit(40, 30, 1.0, {Way.RIGHT: 3.0})
    return unit, *made_of(unit, 6, (2, 3))


@pytest.fixture(scope="module")
def scored():
    unit = plain_unit(40, 36)
    return unit, *made_of(unit, 6, (2, 3))


@pytest.mark.parametrize("name", ["tabbed", "scored"])
def test_both_checks_are_clean(name, request):
    _unit, _panel, made = request.getfixturevalue(name)
    assert made.findings == ()
    assert all(check.passed for check in made.checks)
    assert clean_files(made) is made
    assert [check.name for check in made.checks] == [
        "rule check",
        "read-back, files",
        "read-back, connections",
        "read-back, rules",
    ]


@pytest.mark.parametrize("name", ["tabbed", "scored"])
def test_another_reader_counts_every_copys_flashes(name, request):
    unit, panel, made = request.getfixturevalue(name)
    single = {
        f.path.rsplit(".", 1)[-1]: f for f in gerber_files(PanelBundle(unit.board, PanelMade(FAB), TOOL))
    }
    count = panel.grid.count
    own = Counter(p.ref.rstrip("0123456789") for p in panel.board.parts if "-" not in p.ref)
    holes = sum(len(p.footprint.pads) for p in panel.board.parts if p.ref.startswith(("MB", "TH")))
    assert own["FID"] == 6
    assert flashes(ending(made.fab, ".GTL")) == count * flashes(single["GTL"]) + 3
    assert flashes(ending(made.fab, ".GBL")) == count * flashes(single["GBL"]) + 3
    assert flashes(ending(made.fab, ".GTS")) == count * flashes(single["GTS"]) + 3 + holes
    assert not any(f.path.endswith((".GTP", ".GBP")) for f in made.fab)  # fiducials get no paste


def test_a_fiducials_opening_is_the_classs(tabbed):
    _unit, _panel, made = tabbed
    mask = GerberFile.from_string(ending(made.fab, ".GTS").data.decode())
    sizes = Counter(round(item.aperture.diameter, 6) for item in mask.objects if isinstance(item, Flash))
    assert sizes[FAB.panel.fiducial_opening.mm] == 3


def test_score_lines_are_a_file_of_their_own(scored, tabbed):
    _unit, panel, made = scored
    file = ending(made.fab, ".GVC")
    layer = GerberFile.from_string(file.data.decode())
    assert b"%TF.FileFunction,Vcut*%" in file.data
    assert b"%TF.Part,Array*%" in file.data
    lines = [item for item in layer.objects if isinstance(item, Line)]
    assert len(lines) == len(panel.board.scores) == len(layer.objects)
    assert not any(f.path.endswith(".GVC") for f in tabbed[2].fab)


def test_a_lost_score_line_is_told(scored):
    _unit, panel, made = scored
    kept = replace(panel.board, scores=panel.board.scores[1:])
    report = examine_board((*made.fab, *made.cad), kept, None, FAB)
    assert [f.message for f in report.findings if f.severity == "error"] == [
        "fab/plain-panel-A.GVC: a score line on the score lines that the board has not"
    ]


def test_a_panel_that_breaks_a_rule_is_not_ordered(scored):
    _unit, panel, _made = scored
    narrow = replace(panel.board, tracks=tuple(replace(t, width=t.width // 4) for t in panel.board.tracks))
    with pytest.raises(InputError, match=r"^--panel: the panel is not for fabrication; found track-width: "):
        clean_files(panel_files(narrow, FAB, TOOL))


def test_copper_at_a_score_line_is_found(scored):
    from boardgen.rules.check import check_board

    _unit, panel, _made = scored
    line = panel.board.scores[0]
    track = panel.board.tracks[0]
    near = replace(track, start=line.start.plus(track.start.minus(track.start)), end=line.end)
    board = replace(panel.board, tracks=(*panel.board.tracks, near))
    found = [f for f in check_board(board, None, FAB).findings if "score line" in f.items]
    assert found
    assert found[0].rule == "edge-distance"
    assert found[0].limit == FAB.panel.score_copper_min


def test_the_same_panel_gives_the_same_bytes(tabbed):
    unit, _panel, made = tabbed
    again = made_of(unit, 6, (2, 3))[1]
    assert (again.fab, again.cad) == (made.fab, made.cad)
