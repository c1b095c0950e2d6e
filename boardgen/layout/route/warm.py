"""Compile the router ahead of its first board, where a progress line can say so."""

from __future__ import annotations

from boardgen.board.model import Board, Net, NetClass, Part, Placement, Side, rectangle_outline
from boardgen.compiled import is_cold
from boardgen.footprint.model import Footprint, Pad, PadKind, PadShape
from boardgen.layout.route.kernels import negotiate
from boardgen.layout.route.router import route_report
from boardgen.layout.route.rules import NetRule, RoutingRules
from boardgen.units import ORIGIN, ZERO, Box, Size, mm, point_mm


def needs_compiling() -> bool:
    """Whether the router's longest kernel was never compiled here: the first board then waits for it."""
    return is_cold(negotiate)


def warm() -> None:
    """Compile (or load from the cache) every kernel by routing a board of one net.

    Cold this takes some seconds, with a cache a fraction of one. Needs no files
    but numba's own cache.
    """
    size, hole = Size(mm("1.7"), mm("1.7")), Size(mm("1.0"), mm("1.0"))
    pads = tuple(
        Pad(str(i), PadKind.PLATED, PadShape.CIRCLE, point_mm(x, "5.08"), size, hole)
        for i, x in enumerate(("2.54", "7.62"))
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
    )
    rules = RoutingRules(
        nets=(("A", signal),),
        default=signal,
        edge=mm("0.3"),
        npth=mm("0.3"),
        hole_gap=mm("0.45"),
        via_diameter=mm("0.6"),
        via_hole=mm("0.3"),
        allow_vias=True,
        sides=(Side.TOP, Side.BOTTOM),
    )
    route_report(board, rules)
