"""Gates of a chip are alike: signals take those that keep their lines short and apart."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations

import pytest

from boardgen.board.geometry import pad_centre
from boardgen.board.model import Board, Outline, Part, PartKind, Placement
from boardgen.catalog.load import load_catalog
from boardgen.electrical.model import ElectricalPlan, PlannedPart
from boardgen.layout.regate import has_gates, regated
from boardgen.units import point_mm

CATALOG = load_catalog()
CHIP = CATALOG.component("buffer-74ahct125-dip")


def planned(order: list[int | None]) -> PlannedPart:
    """A chip whose gates carry the signals *order* (None: spare), outputs towards the contacts."""
    nets = {"supply": "5V", "ground": "GND"}
    for gate, signal in zip(CHIP.gates, order, strict=True):
        ((enable, _),) = gate.ties
        nets[gate.input] = "GND" if signal is None else f"S{signal}_M"
        nets[enable] = "5V" if signal is None else "GND"
        if signal is not None:
            nets[gate.output] = f"S{signal}"
    pads = tuple(sorted((CHIP.pad(name), net) for name, net in nets.items()))
    return PlannedPart("U2", CHIP, "74AHCT125", pads)


def board_of(chip: PlannedPart, contacts: list[int]) -> Board:
    """The chip lying down over a row of contacts, which carry the signals *contacts* left to right."""
    row = CATALOG.footprint("pin-row-1x4")
    nets = tuple((str(n), f"S{signal}") for n, signal in enumerate(contacts, 1))
    plug = Part("J1", "", row, Placement(point_mm(10, 30), 90), PartKind.CONNECTOR, nets)
    land = CATALOG.footprint(CHIP.footprint)
    body = Part("U2", "", land, Placement(point_mm(15, 10), 90), PartKind.COMPONENT, chip.nets)
    return Board("t", "A", "t", Outline(()), (plug, body))


def empty(parts: tuple[PlannedPart, ...]) -> ElectricalPlan:
    return ElectricalPlan((), (), parts, (), (), (), ())


def carried(part: PlannedPart) -> list[str | None]:
    nets = dict(part.nets)
    return [nets.get(CHIP.pad(gate.output)) for gate in CHIP.gates]


@pytest.mark.parametrize("contacts", [[1, 2, 3], [3, 2, 1], [2, 3, 1]])
def test_lines_to_the_contacts_are_the_shortest_there_are(contacts: list[int]) -> None:
    chip = planned([1, 2, 3, None])
    board = board_of(chip, contacts)
    (found,) = regated(empty((chip,)), board).parts

    def length(part: PlannedPart) -> float:
        body, plug = board.parts[1], board.parts[0]
        nets = dict(part.nets)
        total = 0.0
        for gate in CHIP.gates:
            net = nets.get(CHIP.pad(gate.output))
            if net is None:
                continue
            at = pad_centre(body, body.footprint.numbered(CHIP.pad(gate.output))[0])
            end = next(p for p in plug.footprint.pads if plug.net_of(p.number) == net)
            total += at.distance(pad_centre(plug, end))
        return total

    best = min(length(planned(list(order))) for order in permutations([1, 2, 3, None]))
    assert length(found) == pytest.approx(best)


def test_each_signal_keeps_both_its_ends_and_its_enable() -> None:
    chip = planned([1, 2, 3, None])
    (found,) = regated(empty((chip,)), board_of(chip, [3, 2, 1])).parts
    nets = dict(found.nets)
    assert sorted(found.nets, key=str) != sorted(chip.nets, key=str)
    assert sorted(n for n in carried(found) if n) == ["S1", "S2", "S3"]
    for gate in CHIP.gates:
        out = nets.get(CHIP.pad(gate.output))
        ((enable, _),) = gate.ties
        assert nets[CHIP.pad(gate.input)] == ("GND" if out is None else f"{out}_M")
        assert nets[CHIP.pad(enable)] == ("5V" if out is None else "GND")
    assert (nets[CHIP.pad("supply")], nets[CHIP.pad("ground")]) == ("5V", "GND")


def test_a_plan_without_chips_is_left_alone() -> None:
    resistor = PlannedPart("R1", CATALOG.component("resistor-axial-quarter"), "1k", (("1", "A"), ("2", "B")))
    plan = empty((resistor,))
    assert not has_gates(plan)
    assert has_gates(replace(plan, parts=(planned([1, None, None, None]),)))
    board = board_of(planned([1, 2, 3, None]), [1, 2, 3])
    assert regated(plan, board) == plan


def test_a_pin_that_the_design_holds_has_its_say() -> None:
    """Contacts that do not care (all on one spot): the held module pins decide."""
    chip = planned([1, 2, 3, None])
    board = board_of(chip, [9, 9, 9])
    row = CATALOG.footprint("pin-row-1x4")
    order = ["S3_M", "S1_M", "S2_M", "X"]
    nets = tuple((str(n), net) for n, net in enumerate(order, 1))
    module = Part("U1", "", row, Placement(point_mm(10, -10), 90), PartKind.MODULE, nets)
    board = replace(board, parts=(*board.parts, module))
    free = regated(empty((chip,)), board).parts[0]
    held = regated(empty((chip,)), board, frozenset({"S1_M", "S2_M", "S3_M"})).parts[0]
    body = board.parts[1]

    def places(part: PlannedPart) -> list[str]:
        on = {pad: net for pad, net in part.nets if net.endswith("_M")}
        spots = sorted((pad_centre(body, body.footprint.numbered(pad)[0]).x, net) for pad, net in on.items())
        return [net for _, net in spots]

    assert sorted(places(free)) == sorted(places(held)) == ["S1_M", "S2_M", "S3_M"]
    assert places(held) == ["S3_M", "S1_M", "S2_M"]
