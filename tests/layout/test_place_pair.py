"""A chip and its capacitor: placed together, moved together."""

import itertools
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from place_bench import DISC, RESISTOR, bound, floorplan, land, netlist, pad

from boardgen.board.geometry import part_courtyard
from boardgen.board.model import Side
from boardgen.circuit.model import CircuitPin
from boardgen.layout.place import place_parts
from boardgen.layout.place_grid import Grid
from boardgen.layout.place_pair import ALONE, REACH, beside, fed_pad, mates_of
from boardgen.layout.place_room import Room
from boardgen.layout.place_search import Search
from boardgen.layout.place_shape import Maker
from boardgen.layout.place_standing import Gaps
from boardgen.rules.decoupling import NEAR
from boardgen.units import mm

DIP = land(
    "dip",
    [pad(str(n + 1), 0, 2.54 * n) for n in range(7)] + [pad(str(14 - n), 7.62, 2.54 * n) for n in range(7)],
    -1.2, -1.6, 8.9, 16.9,
)  # fmt: skip
MM = 1_000_000  # nm
MATES = {"C1": "U2", "C2": "U3"}


def circuit(chips, more=(), module=None, plug=None):
    """A netlist of *chips* (signals by pin) with a capacitor each, and *more* small parts."""
    small = list(more)
    for number, signals in enumerate(chips, 2):
        small.append((f"U{number}", DIP, {"14": "5V", "7": "GND"} | signals, ""))
        small.append((f"C{number - 1}", DISC, {"1": "5V", "2": "GND"}, ""))
    made = netlist(small, {"1": "5V", "2": "GND"} | (module or {}), plug)
    parts = []
    for part in made.parts:
        names = {"14": "supply", "7": "ground"} if part.footprint is DIP else {}
        pins = tuple(CircuitPin(p.number, names.get(p.number, p.name), p.role, p.net) for p in part.pins)
        parts.append(replace(part, pins=pins, beside=MATES.get(part.ref, "")))
    return replace(made, parts=tuple(parts))


def far(board, chip, cap):
    """How far the capacitor's pad is from the chip's supply pin, nm."""

    def at(ref, number):
        part = board.part(ref)
        return part.placement.place(part.footprint.numbered(number)[0].at)

    return at(chip, "14").distance(at(cap, "1"))


def apart(board):
    parts = [p for p in board.parts if p.kind.value == "component"]
    yards = [part_courtyard(p, Side.TOP) for p in parts]
    return all(a.distance(b) > 0 for a, b in itertools.combinations(yards, 2))


LINES = {"1": "A", "2": "A_M", "3": "B", "4": "B_M"}
PINS = {"9": "A_M", "10": "B_M"}
PLUG = {"1": "A", "2": "B", "10": "5V"}


def test_a_chip_stands_where_its_capacitor_has_room():
    """Its lines end at the left, where there is just room for a chip; a capacitor fits at the right alone."""
    walls = ((MM * 12, 0, MM * 40, MM * 40), (0, MM * 21, MM * 40, MM * 40))
    grid = Grid(Room((0, 0, MM * 75, MM * 40), walls, ()), 254_000, ())
    pins = {net: [(0, MM * 5)] for net in ("A", "B", "A_M", "B_M", "5V")}
    chip, mover = movers()
    alone = Search(grid, Gaps(0, 500_000), pins, [chip])
    assert alone.run([0]) is None
    assert alone.rect(0, alone.spots[0])[2] < MM * 12
    both = Search(grid, Gaps(0, 500_000), pins, [chip, mover])
    assert both.run([0, 1]) is None
    assert both.rect(0, both.spots[0])[0] > MM * 40
    assert both.far_off() == 0
    both.stand(0, alone.spots[0])
    assert both.far_off() == 1


@pytest.mark.parametrize("seed", range(6))
def test_two_chips_keep_their_own_capacitors(seed):
    turned = list(LINES.items())
    other = {"1": "C", "2": "C_M", "5": "D", "6": "D_M"}
    module = PINS | {str(3 + seed): "C_M", str(15 - (seed == 5)): "D_M"}
    plug = PLUG | {"4": "C", str(5 + seed % 3): "D"}
    more = [("R1", RESISTOR, {"1": "A", "2": "5V"}, "1"), ("R2", RESISTOR, {"1": "C", "2": "5V"}, "4")]
    made = circuit([dict(turned), other], more, module, plug)
    board = place_parts(bound(), made, floorplan(75, 70))
    assert far(board, "U2", "C1") <= REACH
    assert far(board, "U3", "C2") <= REACH
    assert apart(board)


def movers():
    maker = Maker(frozenset({"GND"}))
    parts = {part.ref: part for part in circuit([LINES]).parts}
    chip = maker.mover(parts["U2"], Side.TOP, None)
    return chip, replace(maker.mover(parts["C1"], Side.TOP, None), beside=0)


@settings(max_examples=20, deadline=None)
@given(st.sampled_from([254_000, 508_000, 1_270_000]), st.integers(0, 1_500_000), st.integers(0, 3))
def test_places_beside_a_chip_clear_it_and_reach_its_pin(step, gap, turn):
    chip, mover = movers()
    served = chip.turns[turn]
    fed = fed_pad(mover, served)
    found = beside(served, mover, step, gap)
    assert fed is not None
    assert fed[0] == "5V"
    assert len(found.at)
    assert (found.cost[:-1] <= found.cost[1:]).all()
    assert found.none > found.cost[-1]
    left, top, right, bottom = served.box
    for number, column, row in found.at.tolist():
        turned = mover.turns[number]
        box, x, y = turned.box, column * step, row * step
        clear = x + box[0] - right, left - x - box[2], y + box[1] - bottom, top - y - box[3]
        assert max(clear) >= gap
        away = max(abs(x + turned.pads[0][1] - fed[1]), abs(y + turned.pads[0][2] - fed[2]))
        assert away <= REACH + step


def test_the_nearest_free_place_is_among_them():
    """Every place of the grid looked at: none is much cheaper than the first that is listed."""
    chip, mover = movers()
    served = chip.turns[0]
    _, x, y = fed_pad(mover, served)
    gap, step = 500_000, 254_000
    best = float("inf")
    for turned in mover.turns:
        box = turned.box
        for column, row in itertools.product(range(-20, 60), range(-40, 60)):
            dx, dy = column * step, row * step
            clear = dx + box[0] - served.box[2], served.box[0] - dx - box[2]
            clear += dy + box[1] - served.box[3], served.box[1] - dy - box[3]
            if max(clear) >= gap:
                wire = abs(dx + turned.pads[0][1] - x) + abs(dy + turned.pads[0][2] - y)
                best = min(best, wire * (1 + mover.weight))
    listed = float(beside(served, mover, step, gap).cost[0])
    assert best <= listed <= best + 8_000_000  # a stride of 1 mm in each of wire and middle, weighed


def test_the_pad_that_serves_is_drawn_to_the_pin():
    """The rail comes from beyond the capacitor; its pad stands at the chip all the same."""
    grid = Grid(Room((0, 0, MM * 40, MM * 40), (), ()), 254_000, ())
    chip, mover = movers()
    search = Search(grid, Gaps(0, 500_000), {"5V": [(0, 0)]}, [chip, mover])
    assert search.run([0, 1]) is None
    spots = [(turn, *grid.place(column, row)) for turn, column, row in (search.spots[0], search.spots[1])]
    _, x, y = fed_pad(mover, chip.turns[spots[0][0]])
    own = (spots[1][1] - spots[0][1], spots[1][2] - spots[0][2])  # its first pad is the one that serves
    assert max(abs(own[0] - x), abs(own[1] - y)) <= MM * 4
    assert mover.held_by(mover.turns[0]) == (0, 0)
    left, top, right, bottom = chip.turns[0].box
    assert chip.held_by(chip.turns[0]) == ((left + right) // 2, (top + bottom) // 2)


def test_a_capacitor_of_no_common_net_has_no_places():
    chip, mover = movers()
    strange = replace(mover, turns=tuple(replace(t, pads=(("3V3", 0, 0),)) for t in mover.turns))
    assert beside(chip.turns[0], strange, 254_000, 0) is ALONE
    assert mates_of([chip, mover, replace(mover, beside=0)]) == {0: 1}


def test_the_placer_reaches_no_farther_than_the_rule():
    assert REACH <= NEAR
    assert mm(10) == NEAR
