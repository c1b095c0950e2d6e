"""Hand-made boards for the tests of pour, legend and rules."""

from __future__ import annotations

import math
import random
from dataclasses import replace

from boardgen.board.geometry import copper_items, hole_shape, track_shape
from boardgen.board.model import (
    Board,
    Net,
    NetKind,
    Outline,
    Part,
    PartKind,
    Placement,
    Side,
    Track,
    Via,
    rectangle_outline,
)
from boardgen.catalog.model import FabClass
from boardgen.footprint.model import (
    Circle,
    Face,
    Footprint,
    Line,
    Pad,
    PadKind,
    PadShape,
    PartLayer,
    Polygon,
)
from boardgen.units import ZERO, Box, Nm, Point, Size, mm, point_mm

FAB = FabClass(
    id="test-pool",
    name="Test pool",
    description="figures for tests alone",
    copper_layers=2,
    plated=True,
    track=mm("0.25"),
    track_min=mm("0.15"),
    gap=mm("0.25"),
    gap_min=mm("0.15"),
    supply_track=mm("0.5"),
    ring_min=mm("0.15"),
    hole_min=mm("0.3"),
    hole_max=mm("6.3"),
    drills=(),
    hole_gap_min=mm("0.45"),
    via_diameter=mm("0.6"),
    via_hole=mm("0.3"),
    via_diameter_min=mm("0.6"),
    edge_copper_min=mm("0.3"),
    npth_copper_min=mm("0.25"),
    mask_web_min=mm("0.1"),
    mask_margin=mm("0.05"),
    legend=True,
    legend_stroke_min=mm("0.15"),
    legend_height_min=mm("0.8"),
    legend_pad_gap_min=mm("0.15"),
    courtyard_gap_min=ZERO,
    thermal_gap=mm("0.4"),
    thermal_spoke=mm("0.5"),
    pour_gap=mm("0.25"),
    pour_min_width=mm("0.25"),
    hole_tolerance=mm("0.08"),
    rout_tolerance=mm("0.2"),
    thickness=mm("1.6"),
    copper_um=35,
    board_min=Size(mm(5), mm(5)),
    board_max=Size(mm(400), mm(400)),
    mask_colour="green",
    legend_colour="white",
    finish="HASL",
    sources=(),
)
ETCH = replace(
    FAB,
    id="test-etch",
    copper_layers=1,
    plated=False,
    legend=False,
    gap=mm("0.5"),
    gap_min=mm("0.4"),
    pour_gap=mm("0.5"),
    mask_web_min=ZERO,
)


def outline(w: float = 20, h: float = 20, corner: float = 0) -> Outline:
    """A rectangle from the origin."""
    return rectangle_outline(Box(ZERO, ZERO, mm(w), mm(h)), mm(corner))


def tht_pad(
    number: str,
    x: float | str,
    y: float | str,
    size: float | str = "1.7",
    hole: float | str = "1.0",
    shape: PadShape = PadShape.CIRCLE,
) -> Pad:
    return Pad(
        number, PadKind.PLATED, shape, point_mm(x, y), Size(mm(size), mm(size)), Size(mm(hole), mm(hole))
    )


def smd_pad(
    number: str,
    x: float | str,
    y: float | str,
    w: float | str = "1.0",
    h: float | str = "1.2",
    rotation: float = 0.0,
) -> Pad:
    return Pad(number, PadKind.SURFACE, PadShape.RECT, point_mm(x, y), Size(mm(w), mm(h)), None, rotation)


def bare_hole(x: float | str, y: float | str, d: float | str = "3.2") -> Pad:
    return Pad("", PadKind.UNPLATED, PadShape.CIRCLE, point_mm(x, y), Size(mm(d), mm(d)), Size(mm(d), mm(d)))


def box_graphic(
    layer: PartLayer, left: float, top: float, right: float, bottom: float, width: float = 0.15
) -> Polygon:
    return Polygon(layer, Box(mm(left), mm(top), mm(right), mm(bottom)).corners(), mm(width))


def footprint(name: str, *pads: Pad, graphics: tuple = (), through_hole: bool = True) -> Footprint:
    return Footprint(name, pads, graphics, through_hole=through_hole)


def part(
    ref: str,
    print_: Footprint,
    x: float | str,
    y: float | str,
    rotation: float = 0.0,
    side: Side = Side.TOP,
    kind: PartKind = PartKind.COMPONENT,
    **nets: str,
) -> Part:
    """Pads are given as p1="NET"."""
    pairs = tuple(sorted((key[1:], net) for key, net in nets.items()))
    return Part(ref, print_.name, print_, Placement(point_mm(x, y), rotation, side), kind, pairs)


def one_pad(ref: str, x: float | str, y: float | str, net: str | None, **pad: float | str) -> Part:
    """A part of a single plated pad."""
    print_ = footprint("ONE", tht_pad("1", 0, 0, **pad))
    return part(ref, print_, x, y, **({"p1": net} if net else {}))


def track(
    net: str,
    x1: float | str,
    y1: float | str,
    x2: float | str,
    y2: float | str,
    side: Side = Side.TOP,
    width: float | str = "0.25",
) -> Track:
    return Track(net, side, point_mm(x1, y1), point_mm(x2, y2), mm(width))


def via(
    net: str, x: float | str, y: float | str, diameter: float | str = "0.6", hole: float | str = "0.3"
) -> Via:
    return Via(net, point_mm(x, y), mm(diameter), mm(hole))


def board(*parts: Part, shape: Outline | None = None, nets: tuple[Net, ...] = (), **more: object) -> Board:
    names = sorted({net for p in parts for _, net in p.nets})
    known = {net.name for net in nets}
    found = tuple(Net(n, NetKind.GROUND if n == "GND" else NetKind.SIGNAL) for n in names if n not in known)
    return Board("test", "A", "Test", shape or outline(), parts, (*nets, *found), **more)  # type: ignore[arg-type]


MODULE = footprint(
    "MODULE-40",
    *(tht_pad(str(i + 1), -8.89, -24.13 + 2.54 * i, "1.6", "1.0") for i in range(20)),
    *(tht_pad(str(i + 21), 8.89, 24.13 - 2.54 * i, "1.6", "1.0") for i in range(20)),
    graphics=(
        box_graphic(PartLayer.LEGEND, -10.5, -25.5, 10.5, 25.5),
        box_graphic(PartLayer.COURTYARD, -11, -26, 11, 26, 0.05),
        Circle(PartLayer.LEGEND, point_mm(-11.3, -24.13), mm("0.2"), mm("0.2"), filled=True),
    ),
)
PLUG = footprint(
    "PLUG-25",
    *(tht_pad(str(i + 1), -16.62 + 2.77 * i, 0, "1.7", "1.0") for i in range(13)),
    *(tht_pad(str(i + 14), -15.235 + 2.77 * i, 2.84, "1.7", "1.0") for i in range(12)),
    graphics=(
        box_graphic(PartLayer.LEGEND, -19.5, -2, 19.5, 5),
        box_graphic(PartLayer.COURTYARD, -20, -2.5, 20, 5.5, 0.05),
    ),
)
CHIP = footprint(
    "CHIP-0805",
    smd_pad("1", -1, 0),
    smd_pad("2", 1, 0),
    graphics=(
        Line(PartLayer.LEGEND, point_mm("-0.3", "-0.75"), point_mm("0.3", "-0.75"), mm("0.15")),
        Line(PartLayer.LEGEND, point_mm("-0.3", "0.75"), point_mm("0.3", "0.75"), mm("0.15")),
        box_graphic(PartLayer.COURTYARD, -1.8, -1, 1.8, 1, 0.05),
    ),
    through_hole=False,
)
SCREW = footprint("SCREW", bare_hole(0, 0))


def keypad(seed: int = 1, copper: tuple[Side, ...] = (Side.TOP, Side.BOTTOM), gap: float = 0.3) -> Board:
    """A board like the demo keypad's: 40-pin module, 25 contacts, chips, and random clear tracks."""
    rng = random.Random(seed)
    grounds = {"3", "8", "13", "18", "23", "28", "33", "38"}
    module_nets = {f"p{n}": "GND" if n in grounds else f"S{n}" for n in (str(i) for i in range(1, 41))}
    plug_nets = {f"p{i}": "GND" if i in (1, 13) else f"S{(i * 3) % 41 or 1}" for i in range(1, 26)}
    plug_nets = {k: ("GND" if v[1:] in grounds else v) for k, v in plug_nets.items()}
    parts = [
        part("U1", MODULE, 20, 30, kind=PartKind.MODULE, **module_nets),
        part("J1", PLUG, 40, 58, kind=PartKind.CONNECTOR, **plug_nets),
        *(part(f"R{i + 1}", CHIP, 40 + 6 * (i % 3), 12 + 5 * (i // 3), rotation=(0, 90, 45)[i % 3],
               side=Side.TOP, p1=f"S{i + 1}", p2="GND") for i in range(9)),
        *(part(f"H{i + 1}", SCREW, x, y, kind=PartKind.HOLE) for i, (x, y) in
          enumerate(((4, 4), (61, 4), (4, 61), (61, 61)))),
    ]  # fmt: skip
    result = board(*parts, shape=outline(65, 65, 2), copper=copper, plated=len(copper) > 1)
    fixed = list(copper_items(result))
    tracks: list[Track] = []
    bare = [hole_shape(p, pad) for p in parts for pad in p.footprint.pads if pad.kind is PadKind.UNPLATED]
    for k in range(260):
        net = f"S{1 + k % 40}" if f"{1 + k % 40}" not in grounds else "S1"
        side = copper[k % len(copper)]
        start = Point(Nm(rng.randrange(2, 630) * 100_000), Nm(rng.randrange(2, 630) * 100_000))
        angle, length = math.pi / 4 * rng.randrange(8), rng.randrange(2, 14) * 1_000_000
        end = Point(
            Nm(round(start.x + length * math.cos(angle))), Nm(round(start.y + length * math.sin(angle)))
        )
        if not all(1_000_000 < v < 64_000_000 for v in (*start, *end)):
            continue
        new = Track(net, side, start, end, mm("0.25"))
        shape = track_shape(new)
        clear = all(c.side is not side or c.shape.distance(shape) >= gap * 1e6 for c in fixed)
        clear = clear and all(h.distance(shape) >= 0.3e6 for h in bare)
        if clear and all(t.side is not side or track_shape(t).distance(shape) >= gap * 1e6 for t in tracks):
            tracks.append(new)
    return replace(result, tracks=tuple(tracks))


__all__ = [name for name in globals() if not name.startswith("_")] + ["Face"]
