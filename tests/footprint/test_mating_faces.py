"""Mating faces typed by hand from connector standards, against what the families derive."""

import pytest

from boardgen.errors import InputError
from boardgen.footprint import families
from boardgen.footprint.families import mating
from boardgen.footprint.model import Face
from boardgen.units import mm, point_mm

ANGLE = {"edge_mm": 14.16, "lock_mm": 6.84, "bracket_mm": 2.39, "front_mm": 20.64, "back_mm": 1.48}
EDGE = {"edge_mm": 2.1, "flange_mm": 9.4, "front_mm": 15.97, "pad_mm": [1.85, 3.2]}


def dsub(contacts, gender, mounting):
    extra = {"straight": {}, "right-angle": ANGLE, "straddle": EDGE}[mounting]
    return families.build(
        {"name": "dsub", "contacts": contacts, "gender": gender, "mounting": mounting, **extra}
    )


def face_rows(drawn):
    return [[number for number, _ in row] for row in mating.rows(drawn.face)]


def pad_rows(drawn, face=None):
    """Contact numbers as the pads lie: rows from -y to +y, each from left to right."""
    pads = [p for p in drawn.footprint.pads if p.number.isdigit() and (face is None or p.face is face)]
    heights = sorted({p.at.y for p in pads})
    return [[p.number for p in sorted(pads, key=lambda p: p.at.x) if p.at.y == y] for y in heights]


# seen looking at the mating end, wide row on top
DSUB_FACES = {
    (9, "plug"): ["1 2 3 4 5", "6 7 8 9"],
    (9, "socket"): ["5 4 3 2 1", "9 8 7 6"],
    (15, "plug"): ["1 2 3 4 5 6 7 8", "9 10 11 12 13 14 15"],
    (15, "socket"): ["8 7 6 5 4 3 2 1", "15 14 13 12 11 10 9"],
    (25, "plug"): ["1 2 3 4 5 6 7 8 9 10 11 12 13", "14 15 16 17 18 19 20 21 22 23 24 25"],
    (25, "socket"): ["13 12 11 10 9 8 7 6 5 4 3 2 1", "25 24 23 22 21 20 19 18 17 16 15 14"],
    (37, "plug"): [
        "1 2 3 4 5 6 7 8 9 10 11 12 13 14 15 16 17 18 19",
        "20 21 22 23 24 25 26 27 28 29 30 31 32 33 34 35 36 37",
    ],
    (37, "socket"): [
        "19 18 17 16 15 14 13 12 11 10 9 8 7 6 5 4 3 2 1",
        "37 36 35 34 33 32 31 30 29 28 27 26 25 24 23 22 21 20",
    ],
}


@pytest.mark.parametrize("mounting", ["straight", "right-angle"])
@pytest.mark.parametrize(("contacts", "gender"), DSUB_FACES)
def test_dsub_face_and_board_order(contacts, gender, mounting):
    drawn = dsub(contacts, gender, mounting)
    wanted = [row.split() for row in DSUB_FACES[contacts, gender]]
    assert face_rows(drawn) == wanted
    # straight: pads as on the face; right-angle with the edge toward the reader: the
    # same left-right order, the wide (upper) row inboard
    assert pad_rows(drawn) == wanted


@pytest.mark.parametrize(("contacts", "gender"), DSUB_FACES)
def test_straddle_splits_the_rows_over_the_faces(contacts, gender):
    drawn = dsub(contacts, gender, "straddle")
    upper, lower = (row.split() for row in DSUB_FACES[contacts, gender])
    assert pad_rows(drawn, Face.NEAR) == [upper]
    assert pad_rows(drawn, Face.FAR) == [lower]


def test_the_25_way_socket_on_the_board_in_figures():
    drawn = dsub(25, "socket", "right-angle")
    (one,), (thirteen,), (fourteen,), (last,) = (drawn.footprint.numbered(n) for n in ("1", "13", "14", "25"))
    assert one.at == point_mm("16.62", "-1.42")
    assert thirteen.at == point_mm("-16.62", "-1.42")
    assert fourteen.at == point_mm("15.235", "1.42")
    assert last.at == point_mm("-15.235", "1.42")
    assert one.at.x - drawn.footprint.numbered("2")[0].at.x == mm("2.77")
    left, right = drawn.footprint.numbered("SH")
    assert right.at.x - left.at.x == mm("47.1")
    assert drawn.edge == mm("15.58")


@pytest.mark.parametrize(
    ("gender", "rows"),
    [
        ("plug", ["1 2 3 4 5", "6 7 8 9 10", "11 12 13 14 15"]),
        ("socket", ["5 4 3 2 1", "10 9 8 7 6", "15 14 13 12 11"]),
    ],
)
def test_three_row_15_way(gender, rows):
    params = {"name": "dsub-hd15", "gender": gender, "mounting": "right-angle", **ANGLE}
    drawn = families.build({**params, "row_gap_mm": 1.98})
    assert face_rows(drawn) == pad_rows(drawn) == [row.split() for row in rows]
    place = dict(drawn.face)
    outward = 1 if gender == "socket" else -1
    assert (place["6"].x - place["1"].x) * outward == mm("1.145")
    assert place["11"].x == place["1"].x


@pytest.mark.parametrize(
    ("kind", "left_to_right", "rows"),
    [
        ("5-180", "3 5 2 4 1", ["3 1", "5 4", "2"]),
        ("6", None, ["5 1", "6", "4 2", "3"]),
        ("8-262", None, ["8 7", "3 6 1", "5 4", "2"]),
    ],
)
def test_din_sockets_key_up(kind, left_to_right, rows):
    drawn = families.build({"name": "din", "kind": kind})
    assert face_rows(drawn) == [row.split() for row in rows]
    if left_to_right:
        numbers = [number for number, _ in sorted(drawn.face, key=lambda c: c[1].x)]
        assert numbers == left_to_right.split()
        on_board = sorted((p for p in drawn.footprint.pads if p.number.isdigit()), key=lambda p: p.at.x)
        assert [p.number for p in on_board] == left_to_right.split()
    for number, at in drawn.face:
        radius = at.distance(point_mm(0, 0))
        assert radius == 0 if number == "6" else abs(radius - 3.5e6) < 2e4


# Hirschmann drawings seen from the component side, turned so that the front looks to +y
DIN_PADS = {
    "5-180": {"1": ("7.5", -5), "2": (0, -5), "3": ("-7.5", -5), "4": (5, "-7.5"), "5": (-5, "-7.5")},
    "6": {
        "1": ("7.5", -5),
        "2": (5, "-7.5"),
        "3": (0, -5),
        "4": (-5, "-7.5"),
        "5": ("-7.5", -5),
        "6": (0, -10),
    },
    "8-262": {
        "1": (5, -5),
        "2": (0, -5),
        "3": (-5, -5),
        "4": ("2.5", "-7.5"),
        "5": ("-2.5", "-7.5"),
        "6": (0, -10),
        "7": ("7.5", "-7.5"),
        "8": ("-7.5", "-7.5"),
    },
}


@pytest.mark.parametrize("kind", DIN_PADS)
def test_din_pads_come_out_where_the_drawing_has_them(kind):
    drawn = families.build({"name": "din", "kind": kind})
    pads = {p.number: p.at for p in drawn.footprint.pads if p.number.isdigit()}
    assert pads == {number: point_mm(x, y) for number, (x, y) in DIN_PADS[kind].items()}


def test_mini_din_runs_from_the_bottom_right_leftward_and_up():
    drawn = families.build({"name": "mini-din-6"})
    assert face_rows(drawn) == [["6", "5"], ["4", "3"], ["2", "1"]]
    assert drawn.footprint.numbered("1")[0].at == point_mm("1.3", 0)
    assert drawn.footprint.numbered("6")[0].at == point_mm("-3.4", "-2.5")


def test_modular_jack_with_its_latch_down_runs_from_the_left():
    drawn = families.build({"name": "modular-8p8c"})
    assert face_rows(drawn) == [list("12345678")]
    assert pad_rows(drawn) == [list("2468"), list("1357")]
    xs = [drawn.footprint.numbered(n)[0].at.x for n in "12345678"]
    assert xs == sorted(xs)


def test_box_header_has_the_odd_row_beside_the_slot():
    drawn = families.build({"name": "box-header", "contacts": 26})
    odd = [str(n) for n in range(25, 0, -2)]
    even = [str(n) for n in range(26, 0, -2)]
    assert face_rows(drawn) == pad_rows(drawn) == [odd, even]


def test_pin_rows_and_terminals():
    assert pad_rows(families.build({"name": "pin-row", "contacts": 5})) == [list("12345")]
    two = families.build({"name": "pin-row", "contacts": 6, "rows": 2})
    assert pad_rows(two) == [["5", "3", "1"], ["6", "4", "2"]]
    assert pad_rows(families.build({"name": "screw-terminal", "contacts": 3})) == [["1", "2", "3"]]
    assert pad_rows(families.build({"name": "header-396", "contacts": 4})) == [list("1234")]


@pytest.mark.parametrize("mounting", ["straight", "right-angle", "straddle"])
@pytest.mark.parametrize("contacts", [9, 15, 25, 37])
def test_plug_and_socket_are_mirror_images(contacts, mounting):
    plug, socket = (dsub(contacts, gender, mounting) for gender in ("plug", "socket"))
    assert mating.mirrored(plug.face) == socket.face
    flipped = {(p.number, -p.at.x, p.at.y, p.face) for p in plug.footprint.pads}
    assert flipped == {(p.number, p.at.x, p.at.y, p.face) for p in socket.footprint.pads}


def test_land_refuses_sites_that_do_not_match_the_face():
    face = (("1", point_mm(0, 0)), ("2", point_mm(1, 0)))
    with pytest.raises(ValueError, match="do not match the rows"):
        mating.land(face, ((point_mm(0, 0),),))


@pytest.mark.parametrize(
    ("params", "message"),
    [
        ({}, "family.name: there is no such family; found None"),
        ({"name": "dsubb"}, "family.name: there is no such family, did you mean 'dsub'"),
        ({"name": "pin-row"}, "family.contacts: the family 'pin-row' needs this key; allowed: a whole"),
        ({"name": "pin-row", "contacts": True}, "family.contacts: the number is not possible; found True"),
        ({"name": "pin-row", "contacts": 3, "rows": 2}, "family.contacts: two rows need an even number"),
        (
            {"name": "pin-row", "contacts": 3, "pich_mm": 1},
            "family.pich_mm: the family 'pin-row' has no such",
        ),
        (
            {"name": "axial", "kind": "diode", "pitch_mm": float("nan"), "body_mm": [1, 1]},
            "family.pitch_mm: a num",
        ),
        (
            {"name": "axial", "kind": "diode", "pitch_mm": 5, "body_mm": [9, 1]},
            "family.pitch_mm: the body does",
        ),
        (
            {"name": "disc", "pitch_mm": 2, "body_mm": [4, 2], "hole_mm": 1.5},
            "family: pads 1 and 2 are too close",
        ),
        ({"name": "hole", "diameter_mm": 3, "head_mm": 3}, "family.head_mm: the head must be larger"),
        (
            {"name": "chip", "size": "0806", "kind": "led"},
            "family.size: not one of the words, did you mean '0805'",
        ),
        (
            {"name": "dsub", "contacts": 19, "gender": "plug", "mounting": "straight"},
            "family.contacts: not one of",
        ),
    ],
)
def test_bad_figures_are_input_errors_that_name_the_key(params, message):
    with pytest.raises(InputError) as caught:
        families.build(params)
    assert str(caught.value).startswith(message)
