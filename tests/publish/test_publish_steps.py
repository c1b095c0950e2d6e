"""The order of assembly on boards made by hand."""

from __future__ import annotations

from boardgen.board.model import Board, Part, PartKind, Placement, Side, rectangle_outline
from boardgen.footprint.model import Footprint, Pad, PadKind, PadShape
from boardgen.publish.drawings import pictures_art, step_picture
from boardgen.publish.steps import assembly_steps
from boardgen.units import Box, Point, Size, mm


def footprint(name: str, pads: int, surface: bool) -> Footprint:
    kind = PadKind.SURFACE if surface else PadKind.PLATED
    hole = None if surface else Size(mm(1), mm(1))
    return Footprint(
        name,
        tuple(
            Pad(str(n + 1), kind, PadShape.CIRCLE, Point(mm(2) * n, mm(0)), Size(mm(1.6), mm(1.6)), hole=hole)
            for n in range(pads)
        ),
        through_hole=not surface,
    )


def part(ref, kind, height, pads=2, surface=False, side=Side.TOP):
    at = Placement(Point(mm(10), mm(10)), 0.0, side)
    return Part(ref, "x", footprint(ref, pads, surface), at, kind, height=mm(height))


def board(*parts: Part) -> Board:
    return Board("b", "A", "t", rectangle_outline(Box(mm(0), mm(0), mm(30), mm(20))), parts)


def test_links_then_surface_then_by_height_then_connector_then_module():
    parts = (
        part("U1", PartKind.MODULE, 10, 4),
        part("J1", PartKind.CONNECTOR, 12, 3),
        part("C10", PartKind.COMPONENT, 11),
        part("C2", PartKind.COMPONENT, 9),
        part("R1", PartKind.COMPONENT, 2.5),
        part("R2", PartKind.COMPONENT, 0.6, surface=True),
        part("R3", PartKind.COMPONENT, 0.6, surface=True, side=Side.BOTTOM),
        part("W1", PartKind.LINK, 1),
        part("H1", PartKind.HOLE, 0, 1),
    )
    steps = assembly_steps(board(*parts), {}, ("2 strips 1x2",), "face")
    assert [(step.title, step.refs) for step in steps] == [
        ("Wire links", ("W1",)),
        ("Surface-mounted parts", ("R2",)),
        ("Surface-mounted parts, on the bottom", ("R3",)),
        ("Low parts", ("R1",)),
        ("The module's sockets", ("U1",)),
        ("Tall parts", ("C2", "C10")),
        ("The connector", ("J1",)),
        ("Look and measure, still without module and device", ()),
        ("The module", ("U1",)),
    ]
    assert steps[2].side is Side.BOTTOM
    assert "seen from below" in step_picture(pictures_art(board(*parts)), steps[2], 3, ())


def test_a_module_without_sockets_is_soldered_last():
    steps = assembly_steps(board(part("U1", PartKind.MODULE, 3, 4)), {}, (), "face")
    assert [step.title for step in steps] == [
        "Look and measure, still without module and device",
        "The module",
    ]
    assert steps[-1].words[0].startswith("Power off. It is soldered down")
