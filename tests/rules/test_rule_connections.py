"""What is joined, what is not, and what leads nowhere; against a plain search as oracle."""

from __future__ import annotations

import random
from dataclasses import replace

from boardkit import ETCH, FAB, board, footprint, one_pad, outline, part, smd_pad, tht_pad, track, via
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgen.board.geometry import copper_items, piece_polygon
from boardgen.board.model import Board, PartKind, Pour, PourPiece, Side
from boardgen.circuit.model import CircuitPart, CircuitPin, Netlist
from boardgen.rules.check import check_board
from boardgen.units import Box, mm, point_mm

TOP, BOTTOM = Side.TOP, Side.BOTTOM


def pour_of(net: str, *boxes: tuple[float, float, float, float], side: Side = TOP) -> Pour:
    pieces = tuple(PourPiece(Box(*(mm(v) for v in box)).corners()) for box in boxes)
    return Pour(net, side, pieces[0].outer, pieces, mm("0.2"), mm("0.2"), mm("0.3"), mm("0.3"))


def two_pads(*tracks, **more) -> Board:
    return board(one_pad("J1", 4, 10, "A"), one_pad("J2", 16, 10, "A"), tracks=tracks, **more)


def test_open_net_names_both_bodies_and_the_gap():
    found = check_board(two_pads(track("A", 4, 10, 10, 10)), None, FAB).of("unconnected")
    assert len(found) == 1
    assert found[0].message == (
        "net A is in 2 parts: J2 pad 1 not joined to the rest; nearest is track of A, 5.025 mm away"
    )
    assert found[0].items == ("J2 pad 1", "track of A")
    assert found[0].measured == mm("5.025")


def test_a_track_joins_pads_and_a_missing_micrometre_does_not():
    assert check_board(two_pads(track("A", 4, 10, 16, 10)), None, FAB).of("unconnected") == ()
    edge = 16 - 0.85 - 0.125
    touching = two_pads(track("A", 4, 10, edge, 10))
    assert check_board(touching, None, FAB).of("unconnected") == ()
    short = two_pads(track("A", 4, 10, edge - 0.001, 10))
    assert len(check_board(short, None, FAB).of("unconnected")) == 1


def test_sides_are_joined_by_plated_holes_and_vias_alone():
    top, bottom = track("A", 4, 10, 10, 10), track("A", 10, 10, 16, 10, BOTTOM)
    assert len(check_board(two_pads(top, bottom), None, FAB).of("unconnected")) == 1
    assert check_board(two_pads(top, bottom, vias=(via("A", 10, 10),)), None, FAB).of("unconnected") == ()


def test_a_wire_link_joins_its_ends_on_one_layer():
    print_ = footprint("LINK", tht_pad("1", -3, 0), tht_pad("2", 3, 0))
    link = part("W1", print_, 10, 10, kind=PartKind.LINK, p1="A", p2="A")
    ends = (track("A", 4, 10, 7, 10, BOTTOM), track("A", 13, 10, 16, 10, BOTTOM))
    pads = (one_pad("J1", 4, 10, "A"), one_pad("J2", 16, 10, "A"))
    made = board(*pads, link, tracks=ends, copper=(BOTTOM,), plated=False)
    assert check_board(made, None, ETCH).of("unconnected") == ()
    plain = board(*pads, replace(link, kind=PartKind.COMPONENT), tracks=ends, copper=(BOTTOM,), plated=False)
    assert len(check_board(plain, None, ETCH).of("unconnected")) == 1


def test_pour_pieces_join_by_geometry_not_by_name():
    one = two_pads(pours=(pour_of("A", (2, 5, 18, 15)),))
    assert check_board(one, None, FAB).of("unconnected") == ()
    split = two_pads(pours=(pour_of("A", (2, 5, 9, 15), (11, 5, 18, 15)),))
    found = check_board(split, None, FAB).of("unconnected")
    assert [(f.items, f.measured) for f in found] == [(("pour of A", "pour of A"), mm(2))]


def test_isolated_copper_and_stubs():
    made = two_pads(
        track("A", 4, 10, 16, 10),
        track("A", 10, 10, 10, 14),
        track("A", 2, 2, 6, 2),
        vias=(via("A", 10, 12),),
        pours=(pour_of("A", (12, 15, 18, 18)),),
    )
    report = check_board(made, None, FAB)
    assert [f.items for f in report.of("isolated-copper")] == [("track of A",), ("pour of A",)]
    assert [f.at for f in report.of("stub")] == [
        point_mm(2, 2),
        point_mm(6, 2),
        point_mm(10, 12),
        point_mm(10, 14),
    ]
    assert report.of("stub")[2].message == "via of A is joined on top copper only"


def test_the_netlist_is_held_against_the_board():
    print_ = footprint("P", smd_pad("1", 0, 0), smd_pad("2", 2, 0))
    made = board(part("R1", print_, 10, 10, p1="A"))
    pins = (CircuitPin("1", "1", "passive", "B"), CircuitPin("2", "2", "passive", None))
    parts = (
        CircuitPart("R1", "", PartKind.COMPONENT, "", print_, pins),
        CircuitPart("R2", "", PartKind.COMPONENT, "", print_, pins),
    )
    found = check_board(made, Netlist(parts, (), (), ""), FAB).of("unconnected")
    assert sorted(f.message for f in found) == [
        "R1 pad 1 is on A, the netlist says B",
        "R2 of the netlist is not on the board",
    ]


def random_board(seed: int) -> Board:
    rng = random.Random(seed)
    pads = [
        one_pad(f"J{i}", rng.randrange(2, 19), rng.randrange(2, 19), rng.choice("AB"), size="1.0", hole="0.6")
        for i in range(8)
    ]
    places = [p.placement.at for p in pads] + [
        point_mm(rng.randrange(2, 19), rng.randrange(2, 19)) for _ in range(6)
    ]
    tracks = []
    for _ in range(12):
        a, b = rng.choice(places), rng.choice(places)
        tracks.append(replace(track(rng.choice("AB"), 1, 1, 2, 2, rng.choice((TOP, BOTTOM))), start=a, end=b))
    vias = tuple(replace(via(rng.choice("AB"), 1, 1), at=rng.choice(places)) for _ in range(3))
    pours = tuple(
        pour_of(net, (x, y, x + rng.randrange(2, 8), y + rng.randrange(2, 8)), side=side)
        for net, side in (("A", TOP), ("B", BOTTOM))
        for x, y in ((rng.randrange(1, 10), rng.randrange(1, 10)),)
    )
    return board(*pads, shape=outline(21, 21), tracks=tuple(tracks), vias=vias, pours=pours)


def open_parts_by_plain_search(made: Board) -> dict[str, int]:
    """How many bodies with pads each net has: all pairs, flood fill, polygons of fine circles."""
    things: list[tuple[str, str, bool, object]] = []  # net, side, is pad, polygon; one per side
    joins: list[tuple[int, int]] = []
    last = None
    for copper in copper_items(made):
        area = copper.shape.skeleton.buffer(max(copper.shape.radius, 1), quad_segs=64)
        things.append((copper.net or "", copper.side.value, bool(copper.ref), area))
        if last is not None and last is copper.shape:
            joins.append((len(things) - 2, len(things) - 1))
        last = copper.shape
    for pour in made.pours:
        for piece in pour.pieces:
            things.append((pour.net, pour.side.value, False, piece_polygon(piece)))
    near: dict[int, set[int]] = {i: set() for i in range(len(things))}
    for i, a in enumerate(things):
        for j, b in enumerate(things):
            if i < j and a[0] == b[0] and a[1] == b[1] and a[3].intersects(b[3]):
                joins.append((i, j))
    for i, j in joins:
        near[i].add(j)
        near[j].add(i)
    seen: set[int] = set()
    count: dict[str, int] = {}
    for i in range(len(things)):
        if i in seen:
            continue
        body, todo = set(), [i]
        while todo:
            k = todo.pop()
            if k not in body:
                body.add(k)
                todo.extend(near[k])
        seen |= body
        if any(things[k][2] for k in body):
            count[things[i][0]] = count.get(things[i][0], 0) + 1
    return count


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10**6))
def test_open_nets_as_a_plain_search_sees_them(seed):
    made = random_board(seed)
    found = check_board(made, None, FAB).of("unconnected")
    expected = {net: bodies - 1 for net, bodies in open_parts_by_plain_search(made).items()}
    got = {net: sum(f.message.startswith(f"net {net} ") for f in found) for net in expected}
    assert got == expected
