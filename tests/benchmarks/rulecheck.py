"""How the rule check's time grows with the board.

``python -m tests.benchmarks.rulecheck [--items 100 1000 10000] [--turns 3]`` prints one JSON line a size
and one with the growth: CPU time in ms (the least of the turns), ms for 1,000 items, and between sizes the
exponent of a power law beside that of n log n. An item is a pad, track or via; board area grows with their
number; every tenth part carries a ground pad, with a patch of pour on top and one pour over the whole bottom;
every sixth has an area kept free beside it.
"""

from __future__ import annotations

import argparse
import itertools
import json
import math
import random
import time
from dataclasses import replace

import shapely
from shapely import Polygon

from boardgen.board.geometry import copper_items, polygons_of, ring_of
from boardgen.board.model import (
    Board,
    Keepout,
    LegendText,
    Net,
    NetClass,
    NetKind,
    Part,
    Placement,
    Pour,
    PourPiece,
    Side,
    Track,
    Via,
    rectangle_outline,
)
from boardgen.catalog.load import load_catalog
from boardgen.catalog.model import FabClass
from boardgen.footprint.model import Footprint, Pad, PadKind, PadShape, PartLayer
from boardgen.footprint.model import Polygon as PartPolygon
from boardgen.rules.check import check_board
from boardgen.units import ZERO, Box, Nm, Point, Size, mm, nm, point_mm

CELL = 8_000_000  # nm: room of one part with its tracks
PADS = 4


def _part(number: int, at: Point, turn: float) -> Part:
    pads = tuple(
        Pad(
            str(i + 1),
            PadKind.PLATED,
            PadShape.CIRCLE,
            point_mm(-1.27 + 2.54 * (i % 2), -1.27 + 2.54 * (i // 2)),
            Size(mm("1.7"), mm("1.7")),
            Size(mm("1.0"), mm("1.0")),
        )
        for i in range(PADS)
    )
    room = PartPolygon(PartLayer.COURTYARD, Box(mm(-3), mm(-3), mm(3), mm(3)).corners(), mm("0.05"))
    nets = [(str(i + 1), f"N{number}-{i}") for i in range(PADS)]
    if number % 10 == 0:
        nets[3] = ("4", "GND")
    return Part(f"R{number}", "", Footprint("four", pads, (room,)), Placement(at, turn), nets=tuple(nets))


def grown_board(items: int, fab: FabClass, seed: int = 1) -> Board:
    """A clean board of about *items* pads, tracks and vias: two sides, one pour, a text a part."""
    draw = random.Random(seed)
    # A part brings 4 pads, 3 tracks out from each of 3 pads over a via, and so 4 + 9 + 3 items.
    count = max(1, round(items / 16))
    columns = math.ceil(math.sqrt(count))
    parts: list[Part] = []
    tracks: list[Track] = []
    vias: list[Via] = []
    legend: list[LegendText] = []
    for number in range(count):
        at = Point(
            Nm(CELL * (number % columns) + CELL // 2 + mm(2)),
            Nm(CELL * (number // columns) + CELL // 2 + mm(2)),
        )
        part = _part(number, at, draw.choice((0.0, 90.0, 180.0, 270.0)))
        parts.append(part)
        for pad in part.footprint.pads[:3]:
            net = part.net_of(pad.number)
            assert net is not None
            start = part.placement.place(pad.at)
            away = Point(start.x - at.x, start.y - at.y)
            corner = Point(nm(at.x + away.x * 1.8), nm(at.y + away.y * 1.8))
            end = Point(corner.x, nm(at.y + away.y * 2.4))
            tracks += [
                Track(net, Side.TOP, start, corner, fab.track),
                Track(net, Side.TOP, corner, end, fab.track),
                Track(net, Side.BOTTOM, end, start, fab.track),
            ]
            vias.append(Via(net, end, fab.via_diameter, fab.via_hole))
        text_at = Point(at.x, at.y)
        legend.append(LegendText(Side.TOP, str(number % 10), text_at, mm("0.8"), mm("0.15")))
    rows = math.ceil(count / columns)
    box = Box(ZERO, ZERO, Nm(CELL * columns + mm(4)), Nm(CELL * rows + mm(4)))
    nets = sorted({net for part in parts for _, net in part.nets} | {"GND"})
    board = Board(
        "grown",
        "A",
        "",
        rectangle_outline(box),
        tuple(parts),
        tuple(Net(n, NetKind.GROUND if n == "GND" else NetKind.SIGNAL) for n in nets),
        (NetClass("signal", fab.track, fab.gap),),
        tuple(tracks),
        tuple(vias),
        legend=tuple(legend),
    )
    # An area kept free for every sixth part, between the parts; a pour in as many pieces beside it on top.
    between = [Point(part.placement.at.x, part.placement.at.y + CELL // 2) for part in parts[::6]]
    keepouts = tuple(
        Keepout(Box(p.x, p.y, p.x, p.y).grown(150_000).corners(), "screw head", True) for p in between
    )
    board = replace(board, keepouts=keepouts)
    return board.with_copper(pours=(_pour(board, box, fab), *_patches(board, fab)))


def _patches(board: Board, fab: FabClass) -> tuple[Pour, ...]:
    """Small pieces of pour on top, one on each ground pad."""
    rings = [
        Box(at.x, at.y, at.x, at.y).grown(900_000).corners()
        for part in board.parts
        for pad in part.footprint.pads
        if part.net_of(pad.number) == "GND"
        for at in (part.placement.place(pad.at),)
    ]
    if not rings:
        return ()
    pieces = tuple(PourPiece(ring) for ring in rings)
    area = rings[0]
    return (
        Pour(
            "GND",
            Side.TOP,
            area,
            pieces,
            fab.pour_gap,
            fab.pour_min_width,
            fab.thermal_gap,
            fab.thermal_spoke,
        ),
    )


def _pour(board: Board, box: Box, fab: FabClass) -> Pour:
    foreign = [
        c.shape.polygon(fab.pour_gap) for c in copper_items(board) if c.side is Side.BOTTOM and c.net != "GND"
    ]
    foreign += [Polygon(keepout.ring).buffer(10_000) for keepout in board.keepouts]
    area = shapely.box(*box.grown(-500_000)).difference(shapely.union_all(foreign))
    pieces = tuple(
        PourPiece(ring_of(p), tuple(ring_of(Polygon(hole)) for hole in p.interiors))
        for p in polygons_of(area)
    )
    biggest = max(pieces, key=lambda piece: Polygon(piece.outer).area)
    ring = box.grown(-500_000).corners()
    return Pour(
        "GND",
        Side.BOTTOM,
        ring,
        (biggest,),
        fab.pour_gap,
        fab.pour_min_width,
        fab.thermal_gap,
        fab.thermal_spoke,
    )


def items_of(board: Board) -> int:
    """Pads, tracks and vias, each once."""
    pads = sum(len(part.footprint.pads) for part in board.parts)
    return pads + len(board.tracks) + len(board.vias)


def measured(items: int, fab: FabClass, turns: int) -> dict[str, float]:
    board = grown_board(items, fab)
    best = math.inf
    found = 0
    for _ in range(turns):
        start = time.process_time()
        found = len(check_board(board, None, fab).findings)
        best = min(best, time.process_time() - start)
    count = items_of(board)
    return {
        "items": count,
        "ms": round(best * 1e3, 1),
        "ms_per_1000": round(best * 1e6 / count, 1),
        "findings": found,
    }


def growth(rows: list[dict[str, float]]) -> list[dict[str, float]]:
    """The exponents between one size and the next; n log n of the same sizes beside them."""
    found = []
    for a, b in itertools.pairwise(rows):
        ratio = math.log(b["items"] / a["items"])
        grown = math.log(b["ms"] / a["ms"]) / ratio
        ideal = 1 + math.log(math.log(b["items"]) / math.log(a["items"])) / ratio
        found.append(
            {"from": a["items"], "to": b["items"], "exponent": round(grown, 2), "n log n": round(ideal, 2)}
        )
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--items", type=int, nargs="+", default=[100, 1_000, 10_000])
    parser.add_argument("--turns", type=int, default=3)
    told = parser.parse_args()
    fab = load_catalog().fab("economy-2l")
    rows = []
    for items in told.items:
        rows.append(measured(items, fab, told.turns))
        print(json.dumps(rows[-1]), flush=True)
    for row in growth(rows):
        print(json.dumps(row), flush=True)


if __name__ == "__main__":
    main()
