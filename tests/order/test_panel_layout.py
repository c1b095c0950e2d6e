"""Panels as geometry: no overlaps, enough boards, all inside, mating sides free, score lines straight."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace
from decimal import Decimal

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from panel_kit import copies_of, economy, plain_unit, with_panel
from shapely.affinity import rotate, translate

from boardgen.board.geometry import hole_shape, outline_polygon, pad_shape
from boardgen.board.model import OutlineArc
from boardgen.errors import InputError
from boardgen.footprint.model import PadKind
from boardgen.order.panel.choose import MOST, checked_panel, choose_panel
from boardgen.order.panel.edges import Way
from boardgen.order.panel.files import most_copies
from boardgen.order.panel.layout import SLENDER, Joint
from boardgen.order.panel.tabs import APART, bite_offset, bite_places, tab_places
from boardgen.rules.check import check_board
from boardgen.units import Size, mm

FAB = economy()

boards = st.fixed_dictionaries(
    {
        "width_mm": st.integers(24, 90),
        "height_mm": st.integers(24, 90),
        "radius_mm": st.sampled_from([0.0, 1.0]),
        "over": st.dictionaries(st.sampled_from(list(Way)), st.sampled_from([0.5, 3.0, 7.0]), max_size=3),
    }
)


@settings(max_examples=25)
@given(given_board=boards, quantity=st.integers(1, 12))
def test_a_panel_holds_its_boards_apart_and_whole(given_board, quantity):
    unit = plain_unit(**given_board)
    choice = choose_panel(unit, FAB, quantity, None)
    grid, board = choice.panel.grid, choice.panel.board
    assert choice.boards >= quantity > choice.boards - grid.count
    assert board.copies == grid.count == len(choice.panel.places)
    areas = copies_of(unit, grid)
    union = shapely.union_all(areas)
    assert abs(union.area - sum(area.area for area in areas)) < 1e6  # no two overlap
    solid = outline_polygon(board.outline)
    assert union.difference(solid.buffer(2000)).area == 0
    assert solid.bounds == (0, 0, grid.width, grid.height)
    for part in board.parts:
        for pad in part.footprint.pads:
            shape = hole_shape(part, pad) if pad.hole is not None else pad_shape(part, pad)
            assert solid.contains(shape.polygon()), part.ref
    assert [f for f in check_board(board, None, FAB).findings if f.severity == "error"] == []
    long, short = max(grid.width, grid.height), min(grid.width, grid.height)
    assert long <= max(FAB.panel.largest)
    assert short <= min(FAB.panel.largest)


@settings(max_examples=25)
@given(given_board=boards, quantity=st.integers(2, 9))
def test_nothing_stands_where_a_body_hangs_over(given_board, quantity):
    unit = plain_unit(**given_board)
    panel = choose_panel(unit, FAB, quantity, None).panel
    areas = copies_of(unit, panel.grid)
    solid = outline_polygon(panel.board.outline)
    for own, (row, column, turn) in zip(areas, panel.grid.cells(), strict=True):
        body = rotate(unit.bodies, turn, origin=(unit.width / 2, unit.height / 2))
        over = translate(body, *panel.grid.place(row, column)).difference(own.buffer(2000))
        assert solid.intersection(over).area == 0
        for way in Way:
            lines, at = (panel.grid.columns, column) if way.upright else (panel.grid.rows, row)
            line = lines[at + 1 if way in (Way.RIGHT, Way.BOTTOM) else at]
            if not unit.edge(way, turn).plain:
                assert line.kind is not Joint.DIRECT
                edge = {
                    Way.LEFT: own.bounds[0],
                    Way.TOP: own.bounds[1],
                    Way.RIGHT: own.bounds[2],
                    Way.BOTTOM: own.bounds[3],
                }[way]
                assert edge not in line.cuts


def test_square_corners_are_scored_straight_through():
    unit = plain_unit(40, 36)
    choice = choose_panel(unit, FAB, 6, (2, 3))
    board, grid = choice.panel.board, choice.panel.grid
    assert grid.scored
    assert choice.panel.tabs == 0
    assert board.scores
    for line in board.scores:
        upright = line.start.x == line.end.x
        assert upright or line.start.y == line.end.y
        ends = (line.start.y, line.end.y) if upright else (line.start.x, line.end.x)
        assert ends == (0, grid.height if upright else grid.width)
    cuts = {line.start.x for line in board.scores if line.start.x == line.end.x}
    for row, column, _turn in grid.cells():
        x, _y = grid.place(row, column)
        assert {x, x + unit.width} <= cuts | {0, int(grid.width)}, (row, column)


def test_copper_near_the_edge_is_not_scored():
    unit = replace(plain_unit(40, 36), copper=int(mm("0.4")))
    assert not choose_panel(unit, FAB, 6, (2, 3)).panel.grid.scored


def test_rounded_corners_stay_arcs_and_hang_on_tabs():
    unit = plain_unit(40, 30, 2.0)
    panel = choose_panel(unit, FAB, 4, (2, 2)).panel
    loops = (panel.board.outline.outer, *panel.board.outline.cutouts)
    arcs = [piece for loop in loops for piece in loop if isinstance(piece, OutlineArc)]
    assert len(arcs) == 4 * 4
    for loop in loops:
        for piece, following in zip(loop, loop[1:] + loop[:1], strict=True):
            assert piece.end == following.start
    assert panel.tabs >= 8
    bites = [p for p in panel.board.parts if p.ref.startswith("MB")]
    assert all(len(p.footprint.pads) == 4 for p in bites)
    assert all(pad.kind is PadKind.UNPLATED for p in bites for pad in p.footprint.pads)


def test_boards_that_mate_at_one_end_are_turned_back_to_back():
    unit = plain_unit(50, 40, 1.0, {Way.RIGHT: 3.0})
    grid = choose_panel(unit, FAB, 2, (1, 2)).panel.grid
    assert grid.turns == ((180, 0),)
    assert grid.columns[1].kind is Joint.DIRECT


def test_references_and_nets_say_their_place_and_the_printing_stays():
    unit = plain_unit(40, 30)
    board = choose_panel(unit, FAB, 4, (2, 2)).panel.board
    assert {"R1-A1", "R1-A2", "R1-B1", "R1-B2"} <= {part.ref for part in board.parts}
    assert sorted(net.name for net in board.nets) == ["A-A1", "A-A2", "A-B1", "A-B2"]
    assert board.part("R1-B2").nets == (("1", "A-B2"), ("2", "A-B2"))
    assert [item.text for item in board.legend] == ["R1"] * 4
    assert {"TH1", "TH2", "TH3", "TH4", "FID1", "FID6"} <= {part.ref for part in board.parts}


def test_the_best_panel_takes_the_least_laminate():
    unit = plain_unit(40, 30)
    best = choose_panel(unit, FAB, 12, None)
    cost = best.panels * best.panel.grid.width * best.panel.grid.height
    for rows in range(1, 5):
        for columns in range(1, 5):
            other = choose_panel(unit, FAB, 12, (rows, columns))
            long, short = sorted((other.panel.grid.width, other.panel.grid.height), reverse=True)
            if long > SLENDER * short or rows * columns > 12:
                continue  # only where asked for
            assert cost <= other.panels * other.panel.grid.width * other.panel.grid.height


def test_with_prices_the_best_panel_is_the_cheapest():
    unit = plain_unit(40, 30)

    def price(grid):
        # up to 100 x 100 mm for little, above that by area: the way pools sell
        panels = -(-12 // grid.count)
        small = max(grid.width, grid.height) <= mm(100)
        return Decimal(panels) * (2 if small else Decimal(grid.width * grid.height).scaleb(-15))

    best = choose_panel(unit, FAB, 12, None, price=price)
    plain = choose_panel(unit, FAB, 12, None)
    assert price(best.panel.grid) < price(plain.panel.grid)
    assert best.boards >= 12
    for rows, columns in itertools.product(range(1, 5), range(1, 5)):
        other = choose_panel(unit, FAB, 12, (rows, columns)).panel.grid
        long, short = sorted((other.width, other.height), reverse=True)
        if long <= SLENDER * short and rows * columns <= 12:
            assert price(best.panel.grid) <= price(other)
    # what has no price comes last; without any price the laminate decides
    assert choose_panel(unit, FAB, 12, None, price=lambda grid: None) == plain
    only = choose_panel(unit, FAB, 12, None, price=lambda g: Decimal(9) if g.count == 2 else None)
    assert only.panel.grid.count == 2


def test_a_panel_larger_than_the_fabs_is_refused():
    fab = with_panel(FAB, largest=Size(mm(100), mm(80)))
    with pytest.raises(
        InputError,
        match=r"^--panel: no panel of 3 x 3 holds boards of 40\.00 x 30\.00 mm; "
        r"allowed: a panel of at most 100 x 80 mm$",
    ):
        choose_panel(plain_unit(40, 30), fab, 9, (3, 3))


def test_no_panel_has_more_boards_than_can_be_read_back():
    unit = plain_unit(40, 30)
    assert choose_panel(unit, FAB, 30, None, most=4).panel.grid.count <= 4
    with pytest.raises(
        InputError,
        match=r"^--panel: more boards on a panel than can be read back; found 6; "
        r"allowed: at most 4 of this board$",
    ):
        choose_panel(unit, FAB, 6, (2, 3), most=4)
    assert most_copies(unit.board) == MOST


def test_a_class_without_panels_is_refused():
    with pytest.raises(InputError, match=r"the fab class economy-2l makes no panels; allowed: --panel none$"):
        choose_panel(plain_unit(40, 30), replace(FAB, panel=None), 9, None)


@pytest.mark.parametrize("text", ["3", "0x2", "2x", "axb", "2X3", "100x1", ""])
def test_a_panel_is_asked_for_in_rows_and_columns(text):
    message = f"^{re.escape(f'--panel: no such panel; found {text!r}; allowed: auto, none, or rows')}"
    with pytest.raises(InputError, match=message):
        checked_panel(text)


def test_rows_and_columns_are_read():
    assert checked_panel("2x13") == (2, 13)
    assert checked_panel("auto") is None
    assert checked_panel("none") is None


@given(
    st.lists(st.tuples(st.integers(0, 90_000_000), st.integers(0, 30_000_000)), max_size=4),
    st.integers(10_000_000, 120_000_000),
)
def test_tabs_keep_to_their_room_and_apart(spans, length):
    rooms = [(a, a + b) for a, b in spans]
    places = tab_places(rooms, length, int(mm(5)))
    assert all(any(a <= at <= b for a, b in rooms) for at in places)
    assert all(b - a >= mm(5) + APART for a, b in itertools.pairwise(places))


def test_bites_leave_a_web_beside_the_slot_and_copper_its_distance():
    places = bite_places(FAB.panel, FAB)
    half, hole = FAB.panel.tab // 2, FAB.panel.bite_hole // 2
    assert half - max(places) - hole >= FAB.hole_gap_min
    assert places == tuple(-p for p in reversed(places))
    assert all(b - a == FAB.panel.bite_pitch for a, b in itertools.pairwise(places))
    offset = bite_offset(FAB.panel, FAB, FAB.edge_copper_min, FAB.legend_pad_gap_min)
    assert offset + FAB.edge_copper_min - hole >= FAB.npth_copper_min
    assert bite_offset(FAB.panel, FAB, int(mm(5)), int(mm(5))) == 0
