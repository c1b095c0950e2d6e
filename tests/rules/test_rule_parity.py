"""A board's parts held against the netlist: nets, land patterns, and contacts without copper."""

from __future__ import annotations

from dataclasses import replace

import pytest
from boardkit import ETCH, FAB, bare_hole, board, footprint, one_pad, outline, part, smd_pad, tht_pad, track

from boardgen.board.model import Board, PartKind, Side, outline_from_ring
from boardgen.circuit.model import CircuitPart, CircuitPin, Netlist
from boardgen.footprint.model import Pad, PadKind
from boardgen.rules.check import check_board
from boardgen.units import Box, Nm, Point, Size, mm, point_mm

PATTERN = footprint("P", tht_pad("1", -2, 0), tht_pad("2", 2, 0), bare_hole(0, 3, "2.0"))


def netlist_of(made: Board) -> Netlist:
    parts = tuple(
        CircuitPart(
            p.ref,
            "",
            p.kind,
            "",
            p.footprint,
            tuple(CircuitPin(n, n, "passive", p.net_of(n)) for n in p.footprint.numbers()),
        )
        for p in made.parts
    )
    return Netlist(parts, (), (), "")


def two_pads(**changes: Pad) -> Board:
    pads = {"1": PATTERN.pads[0], "2": PATTERN.pads[1], "": PATTERN.pads[2]}
    pads.update(changes)
    print_ = replace(PATTERN, pads=tuple(pads.values()))
    return board(part("J1", print_, 10, 10, 90.0, p1="A", p2="B"))


MEANT = netlist_of(two_pads())
ONE = PATTERN.pads[0]


def test_the_same_pattern_gives_no_finding():
    report = check_board(two_pads(), MEANT, FAB)
    assert report.findings == ()
    assert dict(report.counts)["footprint items"] == 3


@pytest.mark.parametrize(
    ("pad", "message"),
    [
        (replace(ONE, at=Point(ONE.at.x, Nm(1_000))), "J1 pad 1 is 0.001 mm from where its footprint has it"),
        (
            replace(ONE, hole=Size(mm("0.9"), mm("0.9"))),
            "J1 pad 1 has a hole of 0.9 mm, its footprint a hole of 1 mm",
        ),
        (
            replace(ONE, hole=Size(mm("0.9"), mm("1.2"))),
            "J1 pad 1 has a hole of 0.9 by 1.2 mm, its footprint a hole of 1 mm",
        ),
        (
            replace(ONE, kind=PadKind.UNPLATED),
            "J1 pad 1 is a hole without plating, its footprint has it plated through",
        ),
    ],
)  # fmt: skip
def test_a_pad_that_is_not_its_footprints_is_told_at_its_place(pad, message):
    found = check_board(two_pads(**{"1": pad}), MEANT, FAB).of("footprint")
    assert [f.message for f in found] == [message]
    assert found[0].at == Point(Nm(10_000_000 + pad.at.y), mm(12))


def test_two_nm_are_rounding():
    off = replace(ONE, at=Point(Nm(ONE.at.x + 2), ONE.at.y))
    assert check_board(two_pads(**{"1": off}), MEANT, FAB).of("footprint") == ()


def test_missing_and_strange_pads():
    third = replace(ONE, number="3", at=point_mm(0, -3))
    made = two_pads(**{"3": third})
    report = check_board(
        replace(made, parts=(replace(made.parts[0], nets=(("1", "A"), ("2", "B"), ("3", "C"))),)), MEANT, FAB
    )
    assert [f.message for f in report.of("footprint")] == ["J1 pad 3 is not in its footprint"]
    assert [f.message for f in report.of("unconnected")] == ["J1 pad 3 is on C, the netlist does not know it"]
    less = check_board(two_pads(), netlist_of(made), FAB)
    assert [f.message for f in less.of("footprint")] == ["J1 pad 3 of its footprint is not on the board"]


def test_a_wrong_net_is_told_at_its_pad():
    made = two_pads()
    swapped = replace(made, parts=(replace(made.parts[0], nets=(("1", "B"), ("2", "A"))),))
    found = check_board(swapped, MEANT, FAB).of("unconnected")
    assert [(f.message, f.at) for f in found] == [
        ("J1 pad 2 is on A, the netlist says B", point_mm(10, 8)),
        ("J1 pad 1 is on B, the netlist says A", point_mm(10, 12)),
    ]


def test_a_part_without_the_netlists_knowing():
    made = two_pads()
    found = check_board(board(*made.parts, one_pad("X1", 3, 3, "A")), MEANT, FAB).of("unconnected")
    assert "X1 is not in the netlist" in [f.message for f in found]
    loose = replace(one_pad("X1", 3, 3, None), kind=PartKind.HOLE)
    assert check_board(board(*made.parts, loose), MEANT, FAB).of("unconnected") == ()


def test_a_contact_without_copper_is_open():
    bare = replace(ONE, kind=PadKind.UNPLATED)
    found = check_board(two_pads(**{"1": bare}), None, FAB).of("unconnected")
    assert [f.message for f in found] == ["J1 pad 1 is on A but has no copper"]
    # A surface pad on the side that has no copper.
    top = part("R1", footprint("S", smd_pad("1", 0, 0)), 10, 10, p1="A")
    made = board(top, copper=(Side.BOTTOM,), plated=False)
    assert [f.message for f in check_board(made, None, ETCH).of("unconnected")] == [
        "R1 pad 1 is on A but has no copper"
    ]


def test_a_hole_that_is_missing_is_told_once():
    for number, words in (("1", "J1 pad 1 has no hole"), ("", "hole of J1 has no hole")):
        pad = replace(PATTERN.numbered(number)[0], hole=None)
        report = check_board(two_pads(**{number: pad}), None, FAB)
        assert [(f.rule, f.message) for f in report.findings] == [("drill-size", words)]


@pytest.mark.parametrize(
    ("gap", "told"),
    [("0.001", []), ("0", ["cut-out 1 meets cut-out 2"]), ("-0.001", ["cut-out 1 meets cut-out 2"])],
)
def test_cut_outs_must_not_meet(gap, told):
    first = outline_from_ring(Box(mm(5), mm(5), mm(8), mm(8)).corners()).outer
    left = mm(8) + mm(gap)
    second = outline_from_ring(Box(left, mm(6), mm(10), mm(7)).corners()).outer
    made = board(shape=replace(outline(20, 20), cutouts=(first, second)))
    assert [f.message for f in check_board(made, None, FAB).of("profile")] == told


def test_a_track_to_a_missing_pad_is_named():
    made = two_pads()
    lost = replace(made.parts[0].footprint, pads=made.parts[0].footprint.pads[1:])
    shown = replace(
        made, parts=(replace(made.parts[0], footprint=lost),), tracks=(track("A", 10, 12, 15, 12),)
    )
    report = check_board(shown, MEANT, FAB)
    assert [f.message for f in report.of("unconnected")] == [
        "J1 pad 1 of the netlist has no pad on the board"
    ]
    assert [f.message for f in report.of("footprint")] == ["J1 pad 1 of its footprint is not on the board"]
