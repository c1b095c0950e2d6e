"""Drill files and the bare-board netlist, read back by a reader that shares no code with the writers."""

from __future__ import annotations

import re
from collections import Counter

import pytest
from fabkit import odd_bundle
from gerbonara import ExcellonFile
from gerbonara.graphic_objects import Flash, Line
from gerbonara.ipc356 import Netlist
from gerbonara.utils import MM

from boardgen.board.geometry import pad_centre
from boardgen.board.model import Side
from boardgen.export.drill import drill_files
from boardgen.export.holes import board_holes
from boardgen.export.ipc356 import ipc356_text, net_labels
from boardgen.footprint.model import PadKind

HEIGHT = 30.0


@pytest.fixture(scope="module")
def bundle():
    return odd_bundle()


def read_hits(data):
    drill = ExcellonFile.from_string(data.decode())
    hits = []
    for thing in drill.objects:
        thing.convert_to(MM)
        size = round(thing.tool.diameter if thing.tool.unit == MM else thing.tool.diameter * 25.4, 3)
        if isinstance(thing, Flash):
            hits.append((size, round(thing.x, 6), round(thing.y, 6), round(thing.x, 6), round(thing.y, 6)))
        else:
            assert isinstance(thing, Line)
            ends = sorted(
                [(round(thing.x1, 6), round(thing.y1, 6)), (round(thing.x2, 6), round(thing.y2, 6))]
            )
            hits.append((size, *ends[0], *ends[1]))
    return Counter(hits)


def model_hits(bundle, plated):
    hits = []
    for hole in board_holes(bundle.board):
        if hole.plated is plated:
            ends = sorted((p.x / 1e6, HEIGHT - p.y / 1e6) for p in (hole.start, hole.end))
            hits.append((round(hole.diameter / 1e6, 3), *(round(v, 6) for v in (*ends[0], *ends[1]))))
    return Counter(hits)


@pytest.mark.parametrize(("ending", "plated", "count"), [("-PTH.DRL", True, 13), ("-NPTH.DRL", False, 3)])
def test_each_hole_is_drilled_once_in_the_right_file(bundle, ending, plated, count):
    files = {f.path[len("fab/odd-board-A") :]: f.data for f in drill_files(bundle)}
    read = read_hits(files[ending])
    assert sum(read.values()) == count
    assert read == model_hits(bundle, plated)


def test_slots_are_routed_paths_of_the_right_reach(bundle):
    text = next(f.data.decode() for f in drill_files(bundle) if f.path.endswith("-PTH.DRL"))
    assert text.count("M15") == text.count("M16") == 3
    slots = [hit for hit in read_hits(text.encode()) if hit[1:3] != hit[3:5]]
    for _size, x1, y1, x2, y2 in slots:
        assert ((x2 - x1) ** 2 + (y2 - y1) ** 2) ** 0.5 == pytest.approx(0.6, abs=2e-6)


def test_drill_head_declares_metric_and_explicit_decimals(bundle):
    for file in drill_files(bundle):
        text = file.data.decode("ascii")
        assert text.startswith("M48\n")
        assert "\nMETRIC\n" in text
        assert all("." in n for n in re.findall(r"[XY](-?[\d.]+)", text))
        assert text.endswith("M30\n")


def test_no_hole_is_plated_on_a_board_without_plating():
    bundle = odd_bundle(plated=False, copper=(Side.BOTTOM,), vias=())
    assert [f.path for f in drill_files(bundle)] == ["fab/odd-board-A-NPTH.DRL"]


def test_netlist_records_match_pads_and_vias(bundle):
    board = bundle.board
    read = Netlist.from_string(ipc356_text(bundle), "board.ipc")
    wanted = []
    for part in board.parts:
        for pad in part.footprint.pads:
            if pad.kind is not PadKind.UNPLATED:
                at = pad_centre(part, pad)
                wanted.append(
                    (part.ref, int(pad.number), round(at.x / 1e6, 3), round(HEIGHT - at.y / 1e6, 3))
                )
    found = []
    for record in read.test_records:
        if not record.is_via:
            x, y = (record.unit.convert_to(MM, v) for v in (record.x, record.y))
            found.append((record.ref_des, int(record.pin), round(x, 3), round(y, 3)))
    assert sorted(found) == sorted(wanted)
    assert sum(record.is_via for record in read.test_records) == 1


def test_long_and_lower_case_nets_go_through_aliases(bundle):
    labels = net_labels(bundle.board)
    assert labels["GND"] == "GND"
    assert labels["SIGNAL_WITH_A_LONG_NAME"] == "NNAME1"
    assert labels["lower"] == "NNAME2"
    text = ipc356_text(bundle)
    assert "P  NNAME1 SIGNAL_WITH_A_LONG_NAME\n" in text
    names = Netlist.from_string(text, "board.ipc").net_names()
    assert {"GND", "A"} <= set(names)


def test_records_keep_the_standard_columns(bundle):
    for line in ipc356_text(bundle).splitlines():
        if not line.startswith(("317", "327")):
            continue
        assert line[41] == "X"
        assert line[49] == "Y"
        assert line[57] == "X"
        assert line[62] == "Y"
        assert line[67] == "R"
        assert line[38] == "A"
        assert line[72] == "S"
        assert len(line) <= 80
        if line.startswith("317"):
            assert line[32] == "D"
            assert line[37] in "PU"
