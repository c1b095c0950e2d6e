"""Compile the router ahead of its first board, where a progress line can say so."""

from __future__ import annotations

from boardgen.board.model import Board, Net, NetClass, Part, Placement, Side, rectangle_outline
from boardgen.compiled import is_cold
from boardgen.footprint.model import Footprint, Pad, PadKind, PadShape
from boardgen.layout.route.kernels import negotiate, taut_way
from boardgen.layout.route.router import route_report
from boardgen.layout.route.rules import NetRule, RoutingRules
from boardgen.layout.route.wireroute import route_net
from boardgen.units import ORIGIN, ZERO, Box, Size, mm, point_mm


def needs_compiling(any_angle: bool = False, one_side: bool = False) -> bool:
    """Whether the router's longest kernels were never compiled here: the first board then waits for them.

    With *any_angle* those that pull tracks straight count too; *one_side* asks for those
    of one copper side in place of two.
    """
    return is_cold(route_net if one_side else negotiate) or (any_angle and is_cold(taut_way))


def warm(any_angle: bool = False, one_side: bool = False) -> None:
    """Compile (or load from the cache) every kernel by routing a board of one net.

    Cold this takes some seconds, with a cache a fraction of one; those for tracks
    at *any_angle* are left out unless asked for, and those of *one_side* stand in
    place of those of two. Needs no files but numba's own cache.
    """
    size, hole = Size(mm("1.7"), mm("1.7")), Size(mm("1.0"), mm("1.0"))
    pads = tuple(
        Pad(str(i), PadKind.PLATED, PadShape.CIRCLE, point_mm(x, y), size, hole)
        for i, (x, y) in enumerate((("2.54", "5.08"), ("7.62", "5.08"), ("5.08", "5.33")))
    )
    part = Part("P1", "", Footprint("pair", pads), Placement(ORIGIN), nets=(("0", "A"), ("1", "A")))
    signal = NetRule(mm("0.25"), mm("0.2"))
    board = Board(
        "warm",
        "A",
        "",
        rectangle_outline(Box(ZERO, ZERO, mm("10.16"), mm("10.16"))),
        (part,),
        (Net("A"),),
        (NetClass("signal", signal.width, signal.spacing),),
        copper=(Side.BOTTOM,) if one_side else (Side.TOP, Side.BOTTOM),
        plated=not one_side,
    )
    rules = RoutingRules(
        nets=(("A", signal),),
        default=signal,
        edge=mm("0.3"),
        npth=mm("0.3"),
        hole_gap=mm("0.45"),
        via_diameter=mm("0.6"),
        via_hole=mm("0.3"),
        allow_vias=not one_side,
        sides=board.copper,
        allow_links=one_side,
        any_angle=any_angle,
    )
    route_report(board, rules)
