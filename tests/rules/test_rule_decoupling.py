"""Rule ``decoupling``: how far a chip's capacitor may stand from the supply pin it serves."""

from __future__ import annotations

from dataclasses import replace

import pytest
from boardkit import FAB, board, footprint, outline, part, tht_pad

from boardgen.board.model import Board, Part
from boardgen.circuit.model import CircuitPart, CircuitPin, Netlist
from boardgen.errors import Severity
from boardgen.rules.check import check_board
from boardgen.rules.decoupling import FAR, NEAR
from boardgen.units import Nm, mm, point_mm

CHIP = footprint("CHIP", tht_pad("7", 0, "7.62"), tht_pad("14", 0, 0))
CAP = footprint("CAP", tht_pad("1", 0, 0), tht_pad("2", "5.08", 0))
UM = Nm(1000)


def circuit(made: Part, names: dict[str, str], beside: str = "") -> CircuitPart:
    pins = tuple(CircuitPin(n, names.get(n, n), "passive", made.net_of(n)) for n in made.footprint.numbers())
    return CircuitPart(made.ref, "", made.kind, "", made.footprint, pins, beside=beside)


def standing(away: Nm, ref: str = "C1") -> tuple[Board, Netlist]:
    """A capacitor whose supply pad stands *away* to the right of the chip's pin 14."""
    chip = part("U2", CHIP, 10, 10, p7="GND", p14="5V")
    cap = part(ref, CAP, 0, 10, p1="5V", p2="GND")
    at = point_mm(10, 10)
    cap = replace(cap, placement=replace(cap.placement, at=replace_x(at, Nm(at.x + away))))
    made = board(chip, cap, shape=outline(60, 30))
    names = {"7": "ground", "14": "supply"}
    return made, Netlist((circuit(cap, {}, "U2"), circuit(chip, names)), (), (), "")


def replace_x(at, x):
    return type(at)(x, at.y)


@pytest.mark.parametrize(
    ("away", "severity", "limit"),
    [
        (NEAR, None, None),
        (Nm(NEAR + UM), Severity.NOTE, NEAR),
        (FAR, Severity.NOTE, NEAR),
        (Nm(FAR + UM), Severity.WARNING, FAR),
    ],
)
def test_a_capacitor_is_told_from_one_um_beyond_its_limit(away, severity, limit):
    made, netlist = standing(away)
    report = check_board(made, netlist, FAB)
    found = report.of("decoupling")
    assert [(f.severity, f.measured, f.limit) for f in found] == (
        [(severity, away, limit)] if severity else []
    )
    assert dict(report.counts)["decoupling items"] == 1


def test_the_message_names_both_and_says_how_far():
    made, netlist = standing(mm("28.06"))
    (found,) = check_board(made, netlist, FAB).of("decoupling")
    assert found.message == ("C1 is 28.060 mm from the supply pin of U2 that it serves, more than 20 mm")
    assert (found.items, found.at) == (("C1", "U2"), point_mm("38.06", 10))


def test_the_nearest_of_several_supply_pins_counts():
    made, netlist = standing(mm(25))
    wide = footprint("WIDE", *CHIP.pads, tht_pad("20", 20, 0))
    chip = part("U2", wide, 10, 10, p7="GND", p14="5V", p20="5V")
    made = replace(made, parts=(chip, made.part("C1")))
    names = {"7": "ground", "14": "supply", "20": "supply"}
    netlist = replace(netlist, parts=(netlist.part("C1"), circuit(chip, names)))
    assert check_board(made, netlist, FAB).of("decoupling") == ()


def test_what_serves_no_chip_is_no_business_of_the_rule():
    made, netlist = standing(mm(40), "R1")
    assert check_board(made, netlist, FAB).of("decoupling") == ()
    made, netlist = standing(mm(40))
    alone = replace(netlist, parts=(replace(netlist.part("C1"), beside=""), netlist.part("U2")))
    assert check_board(made, alone, FAB).of("decoupling") == ()
    assert check_board(made, None, FAB).of("decoupling") == ()
