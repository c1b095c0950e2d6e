"""Wire links under a module on sockets: at the limit they pass, one um inside they do not."""

from __future__ import annotations

from dataclasses import replace

import pytest
from boardkit import ETCH, MODULE, board, outline, part

from boardgen.board.model import Board, Part, PartKind, Placement, Side
from boardgen.layout.route.links import link_footprint
from boardgen.rules.check import check_board
from boardgen.units import ZERO, Nm, mm, point_mm

# the module's rows stand at x = 20 - 8.89 and 20 + 8.89, its pads from y = 5.87 to 54.13
STRIP_EDGE = 20 - 8.89 + 1.5


def link(ref: str, x: float, y: float, span: str = "7.62", turn: float = 0.0, under: bool = True) -> Part:
    print_ = link_footprint(mm(span), mm("1.8"), mm("0.8"), courtyard=not under)
    placed = Placement(point_mm(str(round(x, 6)), str(round(y, 6))), turn, Side.TOP)
    return Part(ref, span, print_, placed, PartKind.LINK, (("1", "A"), ("2", "A")))


def desk(*links: Part, standoff: str = "8.5") -> Board:
    module = replace(part("U1", MODULE, 20, 30, kind=PartKind.MODULE), standoff=mm(standoff))
    return board(module, *links, shape=outline(40, 60), copper=(Side.BOTTOM,), plated=False)


def clashes(*links: Part, gap: Nm = ZERO, standoff: str = "8.5") -> list[tuple[tuple[str, ...], Nm | None]]:
    found = check_board(desk(*links, standoff=standoff), None, replace(ETCH, courtyard_gap_min=gap))
    return [(f.items, f.measured) for f in found.of("courtyard")]


@pytest.mark.parametrize("gap", ["0", "0.25"])
def test_the_end_of_a_link_keeps_off_the_strip(gap: str) -> None:
    at = STRIP_EDGE + 0.6 + float(gap)
    assert clashes(link("W1", at, 30), gap=mm(gap)) == []
    (found,) = clashes(link("W1", at - 0.001, 30), gap=mm(gap))
    assert found == (("W1", "socket strip of U1"), mm(gap) - mm("0.001"))


def test_between_two_pads_the_strip_is_as_wide_as_at_them() -> None:
    y = 30 - 24.13 + 2.54 * 9 + 1.27
    assert clashes(link("W1", STRIP_EDGE + 0.6, y)) == []
    assert len(clashes(link("W1", STRIP_EDGE + 0.599, y))) == 1


def test_a_wire_across_a_strip_is_found() -> None:
    (found,) = clashes(link("W1", 4, 30, "15.24"))
    assert found[0] == ("W1", "socket strip of U1")


def test_beyond_the_end_of_the_rows_there_is_no_strip() -> None:
    y = 30 - 24.13 - 1.5 - 0.4 - 0.2
    assert clashes(link("W1", 7.3, y, "7.62")) == []
    assert clashes(link("W1", 4, y + 0.2, "15.24")) == []
    assert len(clashes(link("W1", 4, y + 0.201, "15.24"))) == 1


def test_two_links_side_by_side() -> None:
    # a wire beside another's end: 0.4 and 0.6
    one, two = link("W1", 15, 20), link("W2", 17, 21)
    assert clashes(one, two) == []
    (found,) = clashes(one, link("W2", 17, 20.999))
    assert found[0] == ("W1", "W2")


def test_crossing_wires_are_found() -> None:
    (found,) = clashes(link("W1", 15, 20), link("W2", 19, 17, turn=270.0))
    assert found[0] == ("W1", "W2")


def test_a_link_with_a_courtyard_answers_for_itself() -> None:
    beside = link("W2", 33, 10, "15.24", 270.0, under=False)
    assert clashes(link("W1", 15, 20), beside) == []
