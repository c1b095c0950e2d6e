import dataclasses
import hashlib
import itertools
import os
import subprocess
import sys
from pathlib import Path

import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from place_bench import (
    DISC,
    FAB,
    MODULE,
    RESISTOR,
    SMALL,
    TO92,
    bound,
    floorplan,
    netlist,
    pad,
    square,
)

from boardgen.board.geometry import hole_shape, outline_polygon, pad_shape, part_courtyard
from boardgen.board.model import PartKind, Side
from boardgen.layout.place import PlacementFailed, net_classes, place_parts
from boardgen.layout.place_grid import Grid
from boardgen.layout.place_room import Room, boxes_of
from boardgen.units import mm

NETS = [f"N{n}" for n in range(8)] + ["GND", "5V"]


def illegal(board):
    """Everything wrong with the places, measured anew with shapely."""
    wrong = []
    area = outline_polygon(board.outline)
    edge = shapely.LineString([*area.exterior.coords])
    small = [p for p in board.parts if p.kind is PartKind.COMPONENT]
    for part in small:
        yard = part_courtyard(part, Side.TOP)
        if not area.covers(yard):
            wrong.append((part.ref, "outside"))
        for item in part.footprint.pads:
            shape = pad_shape(part, item)
            if shape.skeleton.distance(edge) - shape.radius < FAB.edge_copper_min - 1:
                wrong.append((part.ref, "edge"))
        for keepout in board.keepouts:
            if yard.intersection(shapely.Polygon(keepout.ring)).area > 0:
                wrong.append((part.ref, "keepout"))
    for a, b in itertools.combinations(board.parts, 2):
        if PartKind.COMPONENT not in {a.kind, b.kind}:
            continue
        if part_courtyard(a, Side.TOP).intersection(part_courtyard(b, Side.TOP)).area > 0:
            wrong.append((a.ref, b.ref))
        for one, other in ((a, b), (b, a)):
            if one.kind is PartKind.HOLE:
                hole = hole_shape(one, one.footprint.pads[0]).polygon()
                if part_courtyard(other, Side.TOP).intersects(hole):
                    wrong.append((one.ref, other.ref))
    return wrong


@st.composite
def circuits(draw):
    small = []
    for n in range(draw(st.integers(0, 9))):
        footprint = draw(st.sampled_from(SMALL))
        nets = {number: draw(st.sampled_from(NETS)) for number in footprint.numbers()}
        small.append((f"X{n + 1}", footprint, nets, draw(st.sampled_from(["", "1", "5", "10"]))))
    pins = draw(st.permutations([str(n) for n in range(3, 17)]))
    module = {"1": "5V", "2": "GND"} | dict(zip(pins, NETS[:8], strict=False))
    return netlist(small, module, {str(n + 1): net for n, net in enumerate(NETS)})


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(circuits(), st.integers(45, 80), st.integers(40, 70), st.sampled_from([0.0, 3.0]), st.booleans())
def test_places_are_legal_or_a_part_is_named(circuit, width, height, corner, guarded):
    plan = floorplan(width, height, [square(width - 12, 3, 8)] if guarded else [], corner)
    try:
        board = place_parts(bound(), circuit, plan)
    except PlacementFailed as error:
        named = error.ref
    else:
        named = ""
    if named:
        assert named in {part.ref for part in circuit.parts}
        return
    assert illegal(board) == []
    assert {part.ref for part in circuit.parts} | {"H1"} == {part.ref for part in board.parts}
    assert place_parts(bound(), circuit, plan) == board


def lamp_board(**more):
    module = {"1": "5V", "2": "GND", "10": "G1", "5": "POT"}
    plug = {"1": "5V", "2": "GND", "6": "LAMP1", "9": "POT"}
    small = [
        ("C1", DISC, {"1": "POT", "2": "GND"}, ""),
        ("Q1", TO92, {"1": "LAMP1", "2": "B1", "3": "GND"}, "6"),
        ("R1", RESISTOR, {"1": "G1", "2": "B1"}, "6"),
    ]
    return place_parts(bound(), netlist(small, module, plug), floorplan(70, 60, **more))


def test_parts_stand_beside_what_they_serve():
    board = lamp_board()

    def at(ref, number):
        part = board.part(ref)
        return part.placement.place(part.footprint.numbered(number)[0].at)

    assert at("C1", "1").distance(at("U1", "5")) < mm(7)
    assert at("Q1", "1").distance(at("J1", "6")) < mm(9)
    assert at("R1", "2").distance(at("Q1", "2")) < mm(12)


def test_first_pads_stand_on_the_grid():
    board = lamp_board()
    for ref in ("C1", "Q1", "R1"):
        part = board.part(ref)
        at = part.placement.place(part.footprint.pads[0].at)
        assert (at.x % mm("0.254"), at.y % mm("0.254")) == (0, 0)


def test_channels_stay_free_where_there_is_room():
    board = lamp_board()
    for ref in ("C1", "Q1", "R1"):
        yard = part_courtyard(board.part(ref), Side.TOP)
        for other in ("U1", "J1"):
            assert yard.distance(part_courtyard(board.part(other), Side.TOP)) >= mm(1)


def test_the_board_carries_fab_and_design():
    board = lamp_board()
    assert (board.name, board.revision, board.copper, board.plated) == (
        "desk",
        "A",
        (Side.TOP, Side.BOTTOM),
        True,
    )
    assert board.thickness == mm(1.6)
    assert [p.ref for p in board.parts] == ["U1", "J1", "C1", "Q1", "R1", "H1"]
    assert board.part("R1").nets == (("1", "G1"), ("2", "B1"))


def test_one_layer_is_the_bottom():
    fab = dataclasses.replace(FAB, copper_layers=1, plated=False)
    board = place_parts(bound(fab=fab), netlist([("C1", DISC, {"1": "A"}, "")]), floorplan())
    assert (board.copper, board.plated) == ((Side.BOTTOM,), False)
    assert board.part("C1").placement.side is Side.TOP


@pytest.mark.parametrize(("load", "width"), [(0.0, 0.5), (0.5, 0.5), (1.0, 0.5), (2.0, 0.79)])
def test_supply_width_follows_the_load(load, width):
    # IPC-2221 at 10 K on 35 um: 1 A 0.30 mm, 2 A 0.30 * 2^(1 / 0.725) = 0.78 mm, rounded up
    classes = {c.name: c for c in net_classes(bound(load))}
    assert classes["supply"].width.mm == pytest.approx(width, abs=0.011)
    assert classes["ground"].width == classes["supply"].width
    assert (classes["signal"].width, classes["signal"].spacing) == (mm(0.25), mm(0.2))


def test_no_room_is_said_with_the_part():
    small = [(f"R{n}", RESISTOR, {"1": "A", "2": "B"}, "") for n in range(1, 30)]
    with pytest.raises(PlacementFailed, match=r"^there is no room for R\d+ \(axial\) on this outline$"):
        place_parts(bound(), netlist(small), floorplan(42, 36))


def test_a_tight_board_is_filled_at_smaller_distances():
    small = [(f"R{n}", RESISTOR, {"1": "A", "2": "B"}, "") for n in range(1, 15)]
    board = place_parts(bound(), netlist(small), floorplan(60, 40))
    assert illegal(board) == []


def test_a_part_that_turns_into_itself_is_tried_once():
    from boardgen.circuit.model import CircuitPart, CircuitPin
    from boardgen.footprint.model import Footprint
    from boardgen.layout.place_shape import Maker

    peg = Footprint("peg", (pad("1", 0, 0),))
    part = CircuitPart("P1", "", PartKind.COMPONENT, "", peg, (CircuitPin("1", "1", "passive", "A"),))
    assert len(Maker().mover(part, Side.TOP, None).turns) == 1


@settings(deadline=None)
@given(
    st.tuples(st.integers(0, 40), st.integers(0, 40), st.integers(1, 20), st.integers(1, 20)),
    st.tuples(st.integers(-9, 0), st.integers(-9, 0), st.integers(1, 9), st.integers(1, 9)),
    st.integers(0, 5),
    st.integers(1, 7),
)
def test_barred_places_are_those_that_overlap(obstacle, box, gap, step):
    rect = (obstacle[0], obstacle[1], obstacle[0] + obstacle[2], obstacle[1] + obstacle[3])
    grid = Grid(Room((0, 0, 50, 50), (), ()), step, [])
    barred = grid.barred(box, 0)
    barred[:] = False
    grid.bar(barred, box, rect, gap)
    for row, column in itertools.product(range(barred.shape[0]), range(barred.shape[1])):
        x, y = grid.place(column, row)
        apart = (
            x + box[2] <= rect[0] - gap
            or x + box[0] >= rect[2] + gap
            or y + box[3] <= rect[1] - gap
            or y + box[1] >= rect[3] + gap
        )
        assert bool(barred[row, column]) != apart


@settings(deadline=None)
@given(st.lists(st.tuples(st.integers(0, 30), st.integers(0, 30)), min_size=3, max_size=8))
def test_boxes_cover_the_area(points):
    area = shapely.MultiPoint([(x * 1e6, y * 1e6) for x, y in points]).convex_hull
    if area.geom_type != "Polygon":
        return
    cover = shapely.union_all([shapely.box(*rect) for rect in boxes_of(area)])
    assert area.difference(cover).area < 1.0  # nm2
    assert cover.area < area.area + area.length * 1.1e6  # strips of 0.5 mm, one each side


def test_a_bare_footprint_keeps_a_border():
    from boardgen.board.model import Part, Placement
    from boardgen.footprint.model import Footprint
    from boardgen.layout.place_room import part_area
    from boardgen.units import point_mm

    part = Part("P1", "", Footprint("peg", (pad("1", 0, 0),)), Placement(point_mm(5, 5)))
    left, top, right, bottom = part_area(part).bounds
    assert (left, top, right, bottom) == pytest.approx((3.95e6, 3.95e6, 6.05e6, 6.05e6), abs=2e3)
    assert MODULE.numbers()[0] == "1"


SCRIPT = """
import sys
sys.path.insert(0, sys.argv[1])
from test_place import lamp_board
print(hashlib.sha256(repr(lamp_board()).encode()).hexdigest())
"""


@pytest.mark.parametrize("seed", ["1", "77"])
def test_the_hash_seed_changes_nothing(seed):
    env = dict(os.environ) | {"PYTHONHASHSEED": seed}
    command = [sys.executable, "-c", "import hashlib" + SCRIPT, str(Path(__file__).parent)]
    done = subprocess.run(command, env=env, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == hashlib.sha256(repr(lamp_board()).encode()).hexdigest()
