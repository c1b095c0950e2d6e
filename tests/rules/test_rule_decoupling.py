"""Rule ``decoupling``: how far a chip's capacitor may stand from the supply pin it serves."""

from __future__ import annotations

from dataclasses import replace

import pytest
from boardkit import FAB, board, footprint, outline, part, tht_pad

from boardgen.board.model import Board, PartKind, Serving
from boardgen.circuit.model import CircuitPart, CircuitPin, Netlist
from boardgen.errors import Severity
from boardgen.layout.serving import serving_of
from boardgen.rules.check import check_board
from boardgen.rules.decoupling import FAR, NEAR
from boardgen.units import Nm, Point, mm, point_mm

CHIP = footprint("CHIP", tht_pad("7", 0, "7.62"), tht_pad("14", 0, 0))
CAP = footprint("CAP", tht_pad("1", 0, 0), tht_pad("2", "5.08", 0))
UM = Nm(1000)


def standing(away: Nm, ref: str = "C1", fed: tuple[str, ...] = ("14",)) -> Board:
    """A capacitor whose supply pad stands *away* to the right of the chip's pin 14."""
    chip = part("U2", CHIP, 10, 10, p7="GND", p14="5V")
    cap = part(ref, CAP, 0, 10, p1="5V", p2="GND")
    at = Point(Nm(mm(10) + away), mm(10))
    cap = replace(cap, placement=replace(cap.placement, at=at), serves=Serving("U2", ("1",), fed))
    return board(chip, cap, shape=outline(60, 30))


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
    report = check_board(standing(away), None, FAB)
    found = report.of("decoupling")
    assert [(f.severity, f.measured, f.limit) for f in found] == (
        [(severity, away, limit)] if severity else []
    )
    assert dict(report.counts)["decoupling items"] == 1


def test_the_message_names_both_and_says_how_far():
    (found,) = check_board(standing(mm("28.06")), None, FAB).of("decoupling")
    assert found.message == "C1 is 28.060 mm from the supply pin of U2 that it serves, more than 20 mm"
    assert (found.items, found.at) == (("C1", "U2"), point_mm("38.06", 10))


def test_the_nearest_of_several_supply_pins_counts():
    made = standing(mm(25), fed=("14", "20"))
    wide = footprint("WIDE", *CHIP.pads, tht_pad("20", 20, 0))
    chip = part("U2", wide, 10, 10, p7="GND", p14="5V", p20="5V")
    assert check_board(replace(made, parts=(chip, made.part("C1"))), None, FAB).of("decoupling") == ()


def test_what_serves_no_chip_is_no_business_of_the_rule():
    made = standing(mm(40))
    alone = replace(made, parts=tuple(replace(p, serves=None) for p in made.parts))
    assert check_board(alone, None, FAB).of("decoupling") == ()
    gone = replace(made, parts=(made.part("C1"),))
    assert check_board(gone, None, FAB).of("decoupling") == ()
    strange = standing(mm(40), fed=("99",))
    assert check_board(strange, None, FAB).of("decoupling") == ()


def circuit(ref: str, pins: dict[str, tuple[str, str | None]], beside: str = "") -> CircuitPart:
    found = tuple(CircuitPin(number, name, "passive", net) for number, (name, net) in pins.items())
    return CircuitPart(ref, "", PartKind.COMPONENT, "", CHIP, found, beside=beside)


def test_the_circuit_says_which_pads_belong_together():
    chip = circuit(
        "U2", {"7": ("ground", "GND"), "14": ("supply", "5V"), "2": ("a1", "5V"), "20": ("supply", "5V")}
    )
    cap = circuit("C1", {"1": ("a", "5V"), "2": ("b", "GND")}, "U2")
    other = circuit("C2", {"1": ("a", "3V3"), "2": ("b", "GND")}, "U2")
    resistor = circuit("R1", {"1": ("a", "5V"), "2": ("b", "GND")}, "U2")
    netlist = Netlist((cap, other, resistor, chip), (), (), "")
    assert serving_of(netlist, cap) == Serving("U2", ("1",), ("14", "20"))
    for part_ in (other, resistor, chip, replace(cap, beside=""), replace(cap, beside="U9")):
        assert serving_of(netlist, part_) is None
