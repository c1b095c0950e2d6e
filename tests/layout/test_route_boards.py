"""The router on small boards made by hand, judged by geometry it has no part in."""

from __future__ import annotations

import itertools
import os
import subprocess
import sys
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from route_oracle import clearance_faults, crooked, open_nets, sharp_corners, shorted

from boardgen.board.model import (
    Board,
    Keepout,
    Net,
    NetClass,
    NetKind,
    Part,
    PartKind,
    Placement,
    Side,
    rectangle_outline,
)
from boardgen.catalog.load import load_catalog
from boardgen.footprint.model import Footprint, Pad, PadKind, PadShape
from boardgen.layout.route import NetRule, RouteResult, RoutingRules, route, route_report, router, rules_for
from boardgen.layout.route.bounds import octile, spanning_length
from boardgen.units import ORIGIN, Box, Nm, Size, mm, point_mm

SIGNAL = NetRule(mm("0.25"), mm("0.2"))


def plated(number: str, x: float, y: float, size: str = "1.7", hole: str = "1.0") -> Pad:
    return Pad(
        number,
        PadKind.PLATED,
        PadShape.CIRCLE,
        point_mm(x, y),
        Size(mm(size), mm(size)),
        Size(mm(hole), mm(hole)),
    )


def surface(number: str, x: float, y: float, w: str, h: str, rotation: float = 0.0) -> Pad:
    return Pad(number, PadKind.SURFACE, PadShape.RECT, point_mm(x, y), Size(mm(w), mm(h)), rotation=rotation)


def board_of(
    pads: list[tuple[Pad, str | None]],
    width: float = 30.0,
    height: float = 20.0,
    keepouts: tuple[Keepout, ...] = (),
    copper: tuple[Side, ...] = (Side.TOP, Side.BOTTOM),
    corner: str = "0",
) -> Board:
    """One part that holds all *pads*, renumbered from 1, on a rectangle from 0,0."""
    numbered = [
        (
            Pad(
                str(i + 1),
                pad.kind,
                pad.shape,
                pad.at,
                pad.size,
                pad.hole,
                pad.rotation,
                pad.corner_radius,
                pad.face,
            )
            if pad.kind is not PadKind.UNPLATED
            else pad
        )
        for i, (pad, _) in enumerate(pads)
    ]
    nets = tuple(sorted((str(i + 1), net) for i, (_, net) in enumerate(pads) if net is not None))
    names = sorted({net for _, net in nets})
    return Board(
        "small",
        "A",
        "small",
        rectangle_outline(Box(Nm(0), Nm(0), mm(width), mm(height)), mm(corner)),
        (Part("P1", "", Footprint("field", tuple(numbered)), Placement(ORIGIN), nets=nets),),
        tuple(Net(name) for name in names),
        keepouts=keepouts,
        copper=copper,
        plated=len(copper) == 2,
    )


def rules_of(board: Board, **changes: object) -> RoutingRules:
    single = len(board.copper) == 1
    values: dict[str, object] = {
        "nets": tuple((net.name, SIGNAL) for net in board.nets),
        "default": SIGNAL,
        "edge": mm("0.3"),
        "npth": mm("0.3"),
        "hole_gap": mm("0.45"),
        "via_diameter": mm("0.6"),
        "via_hole": mm("0.3"),
        "allow_vias": not single,
        "sides": board.copper,
        "allow_links": single,
    }
    values.update(changes)
    return RoutingRules(**values)  # type: ignore[arg-type]


def judged(board: Board, rules: RoutingRules) -> RouteResult:
    """Route, and hold the result against every oracle that applies whether or not it is complete."""
    result = route_report(board, rules)
    assert clearance_faults(result.board, rules) == []
    assert shorted(result.board) == []
    assert crooked(result.board) == []
    assert set(open_nets(result.board, rules.skip)) == {item.net for item in result.unrouted}
    assert result.board.outline == board.outline
    assert result.board.parts[: len(board.parts)] == board.parts
    return result


def complete(board: Board, rules: RoutingRules) -> RouteResult:
    result = judged(board, rules)
    assert result.unrouted == ()
    return result


@pytest.mark.parametrize(("dx", "dy"), [(10.16, 0), (0, 10.16), (7.62, 7.62), (12.7, 5.08), (3.1, 11.3)])
def test_two_pads_get_the_shortest_octilinear_way(dx: float, dy: float) -> None:
    a, b = plated("1", 5.08, 5.08), plated("2", 5.08 + dx, 5.08 + dy)
    board = board_of([(a, "A"), (b, "A")])
    result = complete(board, rules_of(board))
    assert result.stats.length == pytest.approx(octile(a.at, b.at), abs=1_000)
    assert result.stats.vias == 0
    assert len(result.board.tracks) <= 2
    ends = [p for t in result.board.tracks for p in (t.start, t.end)]
    assert a.at in ends
    assert b.at in ends


def test_width_and_spacing_follow_the_net() -> None:
    pads = [
        (plated("1", 3, 5.08), "WIDE"),
        (plated("2", 25, 5.08), "WIDE"),
        (plated("3", 3, 10.16), "THIN"),
        (plated("4", 25, 10.16), "THIN"),
    ]
    board = board_of(pads)
    wide = NetRule(mm("1.2"), mm("0.5"))
    rules = rules_of(board, nets=(("THIN", SIGNAL), ("WIDE", wide)))
    result = complete(board, rules)
    assert {(t.net, t.width) for t in result.board.tracks} == {("WIDE", mm("1.2")), ("THIN", mm("0.25"))}


def test_two_nets_that_cross_use_both_sides_without_vias() -> None:
    pads = [
        (plated("1", 5.08, 5.08), "A"),
        (plated("2", 20.32, 15.24), "A"),
        (plated("3", 20.32, 5.08), "B"),
        (plated("4", 5.08, 15.24), "B"),
    ]
    board = board_of(pads)
    result = complete(board, rules_of(board))
    assert result.stats.vias == 0
    assert {t.side for t in result.board.tracks} == {Side.TOP, Side.BOTTOM}


def maze(walls: list[tuple[float, float, float, float]]) -> tuple[Keepout, ...]:
    return tuple(
        Keepout((point_mm(a, b), point_mm(c, b), point_mm(c, d), point_mm(a, d)), "wall")
        for a, b, c, d in walls
    )


def test_surface_pads_that_cross_need_vias_and_get_them() -> None:
    pads = [
        (surface("1", 1.5, 10, "1.0", "1.0"), "A"),
        (surface("2", 28.5, 10, "1.0", "1.0"), "A"),
        (surface("3", 15, 5, "1.0", "1.0"), "B"),
        (surface("4", 15, 15, "1.0", "1.0"), "B"),
    ]
    # walls from the edges to the pads leave no way round on the top
    walls = maze([(14, 0, 16, 4.2), (14, 15.8, 16, 20), (0, 9, 0.9, 11), (29.1, 9, 30, 11)])
    board = board_of(pads, keepouts=walls)
    assert complete(board, rules_of(board)).stats.vias == 2
    assert judged(board, rules_of(board, allow_vias=False)).unrouted != ()


def test_a_serpentine_has_one_way_and_it_is_found() -> None:
    walls = [(4.0 + 4 * i, 0.0 if i % 2 else 2.0, 5.0 + 4 * i, 18.0 if i % 2 else 20.0) for i in range(6)]
    board = board_of([(plated("1", 2, 10), "A"), (plated("2", 28, 10), "A")], keepouts=maze(walls))
    result = complete(board, rules_of(board))
    # down and up between six walls, each leg at least 16 mm
    assert result.stats.length > mm("90")


def test_a_gap_only_the_fine_grid_sees_is_found() -> None:
    # walls leave 0.36 mm for a 0.25 mm track, off the coarse grid's lines
    board = board_of(
        [(plated("1", 5.08, 10.16), "A"), (plated("2", 25.4, 10.16), "A")],
        keepouts=maze([(14.0, 0.0, 16.0, 7.067), (14.0, 7.427, 16.0, 20.0)]),
    )
    result = complete(board, rules_of(board))
    assert result.stats.grid == mm("0.127")


def test_a_closed_door_is_named_with_its_reason() -> None:
    board = board_of(
        [
            (plated("1", 5.08, 10.16), "SHUT"),
            (plated("2", 25.4, 10.16), "SHUT"),
            (plated("3", 5.08, 5.08), "OPEN"),
            (plated("4", 5.08, 15.24), "OPEN"),
        ],
        keepouts=maze([(14.0, 0.0, 16.0, 20.0)]),
    )
    result = judged(board, rules_of(board))
    (item,) = result.unrouted
    assert item.net == "SHUT"
    assert {item.start, item.end} == {"P1 pad 1", "P1 pad 2"}
    assert "no way" in item.reason


def test_nets_lost_to_others_say_so() -> None:
    # one lane, two nets, one side, and no wire links
    pads = [
        (plated("1", 4, 9), "A"),
        (plated("2", 26, 9), "A"),
        (plated("3", 4, 11.5), "B"),
        (plated("4", 26, 11.5), "B"),
    ]
    lane = maze([(10.0, 0.0, 20.0, 9.9), (10.0, 10.6, 20.0, 20.0)])
    board = board_of(pads, keepouts=lane, copper=(Side.BOTTOM,))
    result = judged(board, rules_of(board, allow_links=False))
    assert len(result.unrouted) == 1
    assert "other nets" in result.unrouted[0].reason


def test_a_pad_without_copper_on_a_used_side_is_named() -> None:
    board = board_of([(surface("1", 5, 5, "1", "1"), "A"), (plated("2", 15, 5), "A")], copper=(Side.BOTTOM,))
    result = route_report(board, rules_of(board))
    assert any("P1 pad 1" in item.start and "no copper" in item.reason for item in result.unrouted)


def test_skipped_nets_are_left_and_still_in_the_way() -> None:
    pads = [
        (plated("1", 5.08, 5.08), "GND"),
        (plated("2", 15.24, 5.08), "GND"),
        (plated("3", 10.16, 5.08), "A"),
        (plated("4", 20.32, 5.08), "A"),
    ]
    board = board_of(pads)
    rules = rules_of(board, skip=("GND",))
    result = judged_skip(board, rules)
    assert {t.net for t in result.board.tracks} == {"A"}


def judged_skip(board: Board, rules: RoutingRules) -> RouteResult:
    result = route_report(board, rules)
    assert clearance_faults(result.board, rules) == []
    assert open_nets(result.board, rules.skip) == []
    assert result.unrouted == ()
    return result


def test_a_net_of_many_pads_is_a_tree_with_blunt_corners() -> None:
    spots = [(5.08, 5.08), (25.4, 5.08), (15.24, 15.24), (5.08, 15.24), (25.4, 12.7), (12.7, 7.62)]
    pads = [(plated(str(i), x, y), "A") for i, (x, y) in enumerate(spots)]
    board = board_of(pads)
    result = complete(board, rules_of(board))
    tree = spanning_length(tuple(pad.at for pad, _ in pads), octilinear=True)
    assert result.stats.length <= tree * 1.001
    assert sharp_corners(result.board) == []


def test_keepouts_holes_and_slots_are_kept_clear_of() -> None:
    hole = Pad(
        "",
        PadKind.UNPLATED,
        PadShape.CIRCLE,
        point_mm(15.24, 10.16),
        Size(mm("3.2"), mm("3.2")),
        Size(mm("3.2"), mm("3.2")),
    )
    slot = Pad(
        "9",
        PadKind.PLATED,
        PadShape.OVAL,
        point_mm(20, 10.16),
        Size(mm("1.6"), mm("4")),
        Size(mm("0.8"), mm("3.2")),
        rotation=30.0,
    )
    board = board_of(
        [(plated("1", 5.08, 10.16), "A"), (plated("2", 25.4, 10.16), "A"), (slot, None), (hole, None)],
        keepouts=maze([(9.0, 6.0, 11.0, 14.0)]),
        corner="3",
    )
    complete(board, rules_of(board))


def test_one_side_with_a_wire_link() -> None:
    pads = [
        (plated("1", 2.54, 10.16), "A"),
        (plated("2", 27.94, 10.16), "A"),
        (plated("3", 15.24, 2.54), "B"),
        (plated("4", 15.24, 17.78), "B"),
    ]
    # the edges are closed, so the crossing cannot be walked round
    walls = maze(
        [(0.0, 9.0, 1.8, 11.0), (28.7, 9.0, 30.0, 11.0), (14.0, 0.0, 16.0, 1.8), (14.0, 18.6, 16.0, 20.0)]
    )
    board = board_of(pads, keepouts=walls, copper=(Side.BOTTOM,))
    result = complete(board, rules_of(board))
    assert result.links == 1
    (link,) = [part for part in result.board.parts if part.kind is PartKind.LINK]
    first, second = (link.placement.place(pad.at) for pad in link.footprint.pads)
    span = first.distance(second)
    assert span >= mm("5.08")
    assert first.x == second.x or first.y == second.y
    assert {t.side for t in result.board.tracks} == {Side.BOTTOM}
    assert result.board.vias == ()


def test_a_single_sided_board_that_needs_no_link_gets_none() -> None:
    pads = [(plated(str(i), 5.08 + 2.54 * (i % 6), 5.08 if i < 6 else 15.24), f"N{i % 6}") for i in range(12)]
    board = board_of(pads, copper=(Side.BOTTOM,))
    assert complete(board, rules_of(board)).links == 0


COORDS = st.tuples(st.integers(2, 27), st.integers(2, 17))


def test_a_crowded_passage_of_one_side_is_found_on_a_finer_grid(monkeypatch: pytest.MonkeyPatch) -> None:
    # five tracks of 0.4 mm, 0.4 mm apart, need 3.6 mm; on the eighth of the pitch that comes first, 4.2 mm
    pads = [(plated("1", x, 9 + 3 * i), f"N{i}") for x in (5, 85) for i in range(5)]
    walls = tuple(
        Keepout(tuple(point_mm(x, y) for x, y in ((13, a), (77, a), (77, b), (13, b))), "wall")
        for a, b in ((0, 13), (17, 30))
    )
    board = board_of(pads, width=90.0, height=30.0, keepouts=walls, copper=(Side.BOTTOM,))
    slim = NetRule(mm("0.4"), mm("0.4"))
    rules = rules_of(
        board, nets=tuple((net.name, slim) for net in board.nets), default=slim, grids=(mm("0.3175"),)
    )
    assert complete(board, rules).stats.grid < mm("0.3175")
    monkeypatch.setattr(router, "EFFORTS", tuple(one for one in router.EFFORTS if one.grid is None))
    assert len(judged(board, rules).unrouted) == 1


@st.composite
def fields(draw: st.DrawFn) -> Board:
    """Pads of mixed shapes on a coarse lattice, nets of two to four of them."""
    spots = draw(st.lists(COORDS, min_size=4, max_size=14, unique=True))
    kept: list[tuple[float, float]] = []
    for x, y in spots:
        if all(max(abs(x - u), abs(y - v)) >= 3 for u, v in kept):
            kept.append(
                (x + draw(st.sampled_from([0.0, 0.1, 0.05, 0.127])), y + draw(st.sampled_from([0.0, 0.07])))
            )
    pads: list[tuple[Pad, str | None]] = []
    for i, (x, y) in enumerate(kept):
        kind = draw(st.integers(0, 3))
        if kind == 0:
            pad = surface("1", x, y, "1.2", "0.8", draw(st.sampled_from([0.0, 30.0, 90.0])))
        elif kind == 1:
            pad = Pad(
                "1",
                PadKind.PLATED,
                PadShape.ROUNDRECT,
                point_mm(x, y),
                Size(mm("1.6"), mm("1.6")),
                Size(mm("0.9"), mm("0.9")),
                0.0,
                mm("0.3"),
            )
        else:
            pad = plated("1", x, y, draw(st.sampled_from(["1.5", "1.7"])))
        pads.append((pad, draw(st.sampled_from(["A", "B", "C", "D", None])) if i % 5 else "A"))
    return board_of(pads, corner="2")


@given(fields())
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True)
def test_random_pad_fields_are_complete_and_clean(board: Board) -> None:
    rules = rules_of(board)
    result = judged(board, rules)
    assert result.unrouted == ()
    assert sharp_corners(result.board) == []


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True)
@given(board=fields())
def test_what_a_shy_attempt_found_need_not_be_found_again(board: Board) -> None:
    rules = rules_of(board)
    shy = route_report(board, replace(rules, shy=True, grids=rules.grids[:1]))
    whole = route_report(board, rules)
    assert shy.attempt is not None
    assert whole.attempt is None
    assert route_report(board, rules, shy.attempt) == whole


def test_the_same_board_comes_out_twice_whatever_the_hash_seed() -> None:
    script = (
        "from tests.benchmarks.synthetic import synthetic\n"
        "from boardgen.layout.route import route\n"
        "c = synthetic(3, 'dsub', 25, (60.0, 55.0), 'matched', fixed=0.3)\n"
        "import hashlib\n"
        "print(hashlib.sha256(repr(route(c.board, c.rules)).encode()).hexdigest())\n"
    )
    outs = []
    for seed in ("0", "4242"):
        done = subprocess.run(
            [sys.executable, "-c", script],
            check=True,
            capture_output=True,
            text=True,
            env={**os.environ, "PYTHONHASHSEED": seed},
        )
        outs.append(done.stdout.strip())
    assert len(outs[0]) == 64
    assert outs[0] == outs[1]


def test_routing_a_routed_board_changes_nothing() -> None:
    pads = [
        (plated(str(i), x, y), n)
        for i, (x, y, n) in enumerate([(5, 5, "A"), (20, 12, "A"), (5, 12, "B"), (20, 5, "B")])
    ]
    board = board_of(pads)
    once = route(board, rules_of(board))
    assert route(once, rules_of(board)) == once


def test_every_pair_of_the_module_family_is_complete() -> None:
    from tests.benchmarks.synthetic import synthetic

    for (kind, pins), fixed in itertools.product([("dsub", 9), ("dsub", 25), ("box", 20)], [0.0, 0.3]):
        case = synthetic(7, kind, pins, (60.0, 55.0), "matched", fixed=fixed)
        result = judged(case.board, case.rules)
        assert result.unrouted == ()
        assert sharp_corners(result.board) == []


def test_a_net_too_wide_for_the_only_gap_falls_back_and_says_so() -> None:
    board = board_of(
        [(plated("1", 5.08, 10.16), "5V"), (plated("2", 25.4, 10.16), "5V")],
        keepouts=maze([(14.0, 0.0, 16.0, 9.8), (14.0, 10.6, 16.0, 20.0)]),
    )
    wide = rules_of(board, nets=(("5V", NetRule(mm("1.2"), mm("0.2"))),))
    assert judged(board, wide).unrouted != ()
    ladder = ((("5V", NetRule(mm("0.6"), mm("0.2"))),), (("5V", SIGNAL),))
    rules = rules_of(board, nets=wide.nets, fallbacks=ladder)
    result = route_report(board, rules)
    assert result.unrouted == ()
    assert result.stats.narrowed == ("5V",)
    # the first fallback that fits is taken, not the least
    assert {t.width for t in result.board.tracks} == {mm("0.6")}


def test_what_can_be_joined_of_a_divided_net_is_joined() -> None:
    pads = [
        (plated("1", 4, 5), "A"),
        (plated("2", 4, 15), "A"),
        (plated("3", 26, 5), "A"),
        (plated("4", 26, 15), "A"),
    ]
    board = board_of(pads, keepouts=maze([(14.0, 0.0, 16.0, 20.0)]))
    result = judged(board, rules_of(board))
    (item,) = result.unrouted
    assert item.start == "P1 pad 1"
    assert item.end in ("P1 pad 3", "P1 pad 4")
    assert result.stats.length == pytest.approx(20_000_000, rel=0.01)


def test_a_wide_net_is_eased_to_pass_between_two_pads_where_that_spares_a_detour() -> None:
    row = [(plated(str(i), 5.08 + 2.54 * i, 10.16), None) for i in range(12)]
    ends = [(plated("a", 19.05, 5.08), "5V"), (plated("b", 19.05, 15.24), "5V")]
    board = board_of([*row, *ends], width=40.0)
    wide = NetRule(mm("0.5"), mm("0.2"))  # 0.9 mm with its gaps; the pads leave 0.84
    full = complete(board, rules_of(board, nets=(("5V", wide),)))
    assert full.stats.narrowed == ()
    rules = rules_of(board, nets=(("5V", wide),), easings=(("5V", NetRule(mm("0.38"), mm("0.2"))),))
    eased = route_report(board, rules)
    slim = rules.eased(frozenset({"5V"}))
    assert clearance_faults(eased.board, slim) == []
    assert eased.unrouted == ()
    assert eased.stats.narrowed == ("5V",)
    assert {track.width for track in eased.board.tracks} == {mm("0.38")}
    assert eased.stats.length < full.stats.length / 2


def test_a_wide_net_without_a_detour_keeps_its_width() -> None:
    board = board_of([(plated("a", 5.08, 5.08), "5V"), (plated("b", 20.32, 12.7), "5V")])
    wide = NetRule(mm("0.5"), mm("0.2"))
    rules = rules_of(board, nets=(("5V", wide),), easings=(("5V", NetRule(mm("0.38"), mm("0.2"))),))
    result = complete(board, rules)
    assert result.stats.narrowed == ()
    assert {track.width for track in result.board.tracks} == {mm("0.5")}


def test_supply_nets_may_be_eased_on_two_sides_and_within_their_current() -> None:
    fab = load_catalog().fabs["economy-2l"]
    board = replace(
        board_of([(plated("a", 5, 5), "5V"), (plated("b", 9, 9), "X")]),
        nets=(Net("5V", NetKind.SUPPLY, "supply"), Net("X")),
        classes=(NetClass("signal", fab.track, fab.gap), NetClass("supply", fab.supply_track, fab.gap)),
    )
    between = (fab.track + fab.supply_track) // 2
    eased = rules_for(fab, board, supply_least=mm("0.3")).easings
    assert eased == (("5V", NetRule(Nm(between), fab.gap)),)
    assert rules_for(fab, board, supply_least=Nm(between + 1)).easings == ()
    assert rules_for(fab, board).easings == ()
    one_side = replace(board, copper=(Side.BOTTOM,), plated=False)
    assert rules_for(fab, one_side, supply_least=mm("0.3")).easings == ()


def test_a_very_long_way_round_is_spared_by_vias() -> None:
    def fenced(count: int) -> Board:
        # pads on the top that no track passes, from the left edge on; round the right end there is a way
        fence = [(surface(str(i), 1.6 + 2.54 * i, 10.16, 2.5, 2.5), None) for i in range(count)]
        ends = [(surface("a", 5.08, 5.08, 1.5, 1.5), "A"), (surface("b", 5.08, 15.24, 1.5, 1.5), "A")]
        return board_of([*fence, *ends], width=62.0)

    long, short = fenced(22), fenced(5)
    drilled = complete(long, rules_of(long))
    assert drilled.stats.vias == 2
    assert drilled.stats.length < mm(14)
    assert complete(short, rules_of(short)).stats.vias == 0
    undrilled = complete(long, rules_of(long, allow_vias=False))
    assert undrilled.stats.length > mm(90)
