"""Small boards of every pad shape, right and wrong ones: the files say what the model's check says."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

from hypothesis import assume, given, settings
from hypothesis import strategies as st
from runkit import fab_class

from boardgen.board.model import (
    Board,
    Net,
    Part,
    Placement,
    Pour,
    PourPiece,
    Side,
    Track,
    Via,
    rectangle_outline,
)
from boardgen.errors import Severity
from boardgen.export.drill import drill_files
from boardgen.export.gerber import gerber_files
from boardgen.export.ipc356 import ipc356_files
from boardgen.footprint.model import Face, Footprint, Pad, PadKind, PadShape
from boardgen.readback import Case, compare, read
from boardgen.readback.case import case_of_board
from boardgen.rules.check import check_board
from boardgen.units import ZERO, Box, Nm, Point, Size, mm, point_mm

FAB = fab_class()
HOLE = Size(mm("0.8"), mm("0.8"))
WIDE = Size(mm("1.8"), mm("1.2"))
ROUND = Size(mm("1.6"), mm("1.6"))
SHAPES = (
    Pad("", PadKind.PLATED, PadShape.RECT, point_mm(0, 0), ROUND, HOLE),
    Pad("", PadKind.PLATED, PadShape.CIRCLE, point_mm(0, 0), ROUND, HOLE),
    Pad("", PadKind.PLATED, PadShape.OVAL, point_mm(0, 0), WIDE, HOLE, rotation=30),
    Pad("", PadKind.PLATED, PadShape.OVAL, point_mm(0, 0), WIDE, Size(mm("1.2"), mm("0.6")), rotation=90),
    Pad("", PadKind.PLATED, PadShape.ROUNDRECT, point_mm(0, 0), WIDE, HOLE, corner_radius=mm("0.2")),
    Pad("", PadKind.SURFACE, PadShape.ROUNDRECT, point_mm(0, 0), WIDE, corner_radius=mm("0.3"), rotation=45),
    Pad("", PadKind.SURFACE, PadShape.RECT, point_mm(0, 0), WIDE, rotation=15, face=Face.FAR),
    Pad("", PadKind.SURFACE, PadShape.RECT, point_mm(0, 0), WIDE),
)
NETS = ("A", "B", "GND")
BOX = Box(ZERO, ZERO, mm(30), mm(20))


@st.composite
def places(draw, reach=24):
    return Point(
        mm("3") + Nm(draw(st.integers(0, reach)) * 1_000_000),
        mm("3") + Nm(draw(st.integers(0, 14)) * 1_000_000),
    )


@st.composite
def parts(draw, number):
    chosen = draw(st.lists(st.sampled_from(SHAPES), min_size=1, max_size=4))
    pads = [
        replace(pad, number=str(i + 1), at=Point(mm(2) * i, mm(draw(st.sampled_from((0, 2))))))
        for i, pad in enumerate(chosen)
    ]
    if draw(st.booleans()):
        pads.append(Pad("", PadKind.UNPLATED, PadShape.CIRCLE, point_mm(-2, 0), Size(mm(1), mm(1)), HOLE))
    nets = [(p.number, draw(st.sampled_from((*NETS, None)))) for p in pads if p.number]
    turn = draw(st.sampled_from((0.0, 90.0, 180.0, 270.0, 45.0, 30.0)))
    placement = Placement(draw(places()), turn, draw(st.sampled_from(list(Side))))
    known = tuple((pad, net) for pad, net in nets if net is not None)
    return Part(f"X{number}", "x", Footprint(f"x{number}", tuple(pads)), placement, nets=known)


@st.composite
def boards(draw):
    count = draw(st.integers(1, 3))
    placed = tuple(draw(parts(number)) for number in range(1, count + 1))
    ends = [
        (n, part.placement.place(part.footprint.numbered(p)[0].at)) for part in placed for p, n in part.nets
    ]
    tracks = []
    for _ in range(draw(st.integers(0, 5))):
        if ends:
            net, start = draw(st.sampled_from(ends))
            others = [at for name, at in ends if name == net]
            end = draw(st.sampled_from(others)) if draw(st.booleans()) else draw(places())
            width = mm(draw(st.sampled_from(("0.25", "0.1", "0.6"))))
            tracks.append(Track(net, draw(st.sampled_from(list(Side))), start, end, width))
    vias = tuple(
        Via(draw(st.sampled_from(NETS)), draw(places()), mm(draw(st.sampled_from(("0.6", "0.5")))), mm("0.3"))
        for _ in range(draw(st.integers(0, 2)))
    )
    pours = ()
    if draw(st.booleans()):
        ring = (point_mm(25, 14), point_mm(29, 14), point_mm(29, 19), point_mm(25, 19))
        hole = (point_mm(26, 15), point_mm(28, 15), point_mm(28, 18), point_mm(26, 18))
        sizes = (mm("0.3"), mm("0.25"), mm("0.3"), mm("0.4"))
        pours = (Pour("GND", draw(st.sampled_from(list(Side))), ring, (PourPiece(ring, (hole,)),), *sizes),)
    spots = [part.placement.place(pad.at) for part in placed for pad in part.footprint.pads]
    spots += [via.at for via in vias]
    assume(len(set(spots)) == len(spots))  # two things in one place are one thing in a file
    inner = BOX.grown(-1_000_000)
    assume(all(inner.left <= x <= inner.right and inner.top <= y <= inner.bottom for x, y in spots))
    return Board(
        name="small",
        revision="A",
        title="A small board",
        outline=rectangle_outline(BOX, mm(draw(st.sampled_from((0, 1))))),
        parts=placed,
        nets=tuple(Net(name) for name in NETS),
        tracks=tuple(tracks),
        vias=vias,
        pours=pours,
    )


def case_and_geometry(board):
    bundle = SimpleNamespace(
        board=board, bound=SimpleNamespace(fab=FAB), stem="small-A", pins="", tool="boardgen 0.0", findings=()
    )
    files = (*gerber_files(bundle), *drill_files(bundle), *ipc356_files(bundle))
    model = check_board(board, None, FAB).findings
    ipc = next(file for file in files if file.path.endswith(".IPC"))
    case, found = case_of_board(board, None, FAB, ipc, None, model)
    assert found == []
    return case, read(files)


def words(findings):
    return [f"{f.rule}: {f.message} {f.at}" for f in findings]


@settings(max_examples=80)
@given(boards())
def test_the_files_say_what_the_model_says(board):
    case, geometry = case_and_geometry(board)
    assert geometry.findings == ()
    shorted = {name for f in case.model if f.rule == "short" for name in f.items}
    if any(name.startswith("pour") for name in shorted):
        return  # a pour carries no net in the file: what it should keep off is then unknown
    report = compare(geometry, case)
    found = words(f for f in report.findings if f.severity is Severity.ERROR)
    if shorted:  # between two nets that copper joins elsewhere, the files know no spacing
        found = [text for text in found if not (text.startswith("readback-rule") and "rule spacing" in text)]
    assert found == []


@settings(max_examples=60)
@given(boards())
def test_opens_and_shorts_are_found_without_the_models_help(board):
    case, geometry = case_and_geometry(board)
    alone = Case(case.first, case.others, case.origin, None)
    found = compare(geometry, alone).findings
    shorts = [f for f in case.model if f.rule == "short"]
    opens = {f.message.split()[1] for f in case.model if f.rule == "unconnected"}
    read_opens = {f.message.split()[1].rstrip(":") for f in found if f.rule == "readback-open"}
    assert read_opens <= opens
    joined_pads = {pad.name for pad in case.first.pads}
    if not shorts:
        assert read_opens == opens
        assert not [f for f in found if f.rule == "readback-short"]
    elif any(set(f.items) <= joined_pads for f in shorts):
        assert [f for f in found if f.rule == "readback-short"]
