"""The small readers of the CAD board and of the test netlist, held to others' readings of the same files."""

from __future__ import annotations

import pytest
from runkit import bundle_of, files_of, path_of
from skip import PCB

from boardgen.board.model import Side
from boardgen.readback.cad_trees import tree_by_skip
from boardgen.readback.from_board import wanted_by_board
from boardgen.readback.from_cad import origin_of, plain_net, tree_of, wanted_by_cad
from boardgen.readback.from_ipc import wanted_by_ipc

BOTH = (Side.TOP, Side.BOTTOM)


def plain(node):
    """Return a tree with numbers as floats, so that "1.50" and "1.5" are the same."""
    if isinstance(node, list):
        return [plain(item) for item in node]
    try:
        return float(node)
    except ValueError:
        return str(node)


@pytest.mark.parametrize("demo", ["lecture-keypad", "slide-remote"])
def test_both_readers_of_the_cad_board_see_the_same(demo):
    files = files_of(demo)
    path = path_of(files, ".kicad_pcb")
    ours, theirs = tree_of(files[path], path), tree_by_skip(files[path])
    assert plain(ours) == plain(theirs)
    assert wanted_by_cad(ours, path, 0.0, 0.0, BOTH) == wanted_by_cad(theirs, path, 0.0, 0.0, BOTH)


def test_pads_stand_where_the_cad_library_sees_them(tmp_path):
    files = files_of("lecture-keypad")
    path = path_of(files, ".kicad_pcb")
    (tmp_path / "board.kicad_pcb").write_bytes(files[path])
    tree = tree_of(files[path], path)
    x, y = origin_of(tree)
    seen = {}
    for footprint in PCB(str(tmp_path / "board.kicad_pcb")).footprint:
        ref = next(text.children[1] for text in footprint.fp_text if str(text.children[0]) == "reference")
        seen[str(ref)] = footprint
    ours = wanted_by_cad(tree, path, x, y, BOTH)
    assert ours.pads
    for pad in ours.pads:
        place = seen[pad.ref].at.value
        same = [p for p in seen[pad.ref].pad if str(p.value[0]) == pad.number]
        assert same
        turn = place[2] if len(place) > 2 else 0
        assert turn in (0, 90, 180, 270)
        spots = []
        for other in same:
            dx, dy = other.at.value[0], other.at.value[1]
            for _ in range(int(turn // 90)):
                dx, dy = dy, -dx
            spots.append((round((place[0] + dx) * 1e6), round((place[1] + dy) * 1e6)))
        assert (round(pad.at[0]), round(pad.at[1])) in spots


def test_a_cad_board_says_what_the_model_says():
    bundle = bundle_of("slide-remote")
    first = wanted_by_board(bundle.board, bundle.netlist, bundle.bound.fab)
    files = files_of("slide-remote")
    path = path_of(files, ".kicad_pcb")
    left, _, _, bottom = first.outline.bounds
    other = wanted_by_cad(tree_of(files[path], path), path, left, bottom, BOTH)
    key = lambda pad: (pad.ref, pad.number, pad.at)  # noqa: E731
    for ours, theirs in zip(sorted(first.pads, key=key), sorted(other.pads, key=key), strict=True):
        assert key(ours) == key(theirs)
        assert ours.shape.skeleton.equals_exact(theirs.shape.skeleton, 1.0, normalize=True)
        assert ours.shape.radius == theirs.shape.radius
        assert ours.hole.skeleton.equals_exact(theirs.hole.skeleton, 1.0, normalize=True)
        assert (ours.hole.radius, ours.plated, ours.sides) == (
            theirs.hole.radius,
            theirs.plated,
            theirs.sides,
        )
    assert other.mask_margin == first.mask_margin
    assert len(other.tracks) == len(first.tracks)


def test_the_test_netlist_tells_places_holes_and_aliases():
    text = "\n".join(
        [
            "P  UNITS CUST 1",
            "P  NNAME1 a long name",
            "317NNAME1           J1    -14   D1100PA00X+049199Y-014160X1800Y1800R000 S0",
            "327N/C              R1    -1          A01X+001000Y+002000X1200Y1200R090 S0",
            "317GND              VIA        MD0300PA00X+001000Y+000000X0600Y0000R000 S3",
            "999",
        ]
    )
    wanted = wanted_by_ipc(text.encode(), "x.IPC", 0.0, 0.0)
    first, second = wanted.pads
    assert (first.ref, first.number, first.net) == ("J1", "14", "a long name")
    assert first.at == (49_199_000.0, 14_160_000.0)
    assert first.hole is not None
    assert (first.hole.radius, first.plated) == (550_000.0, True)
    assert (second.net, second.sides, second.hole) == (None, (Side.TOP,), None)
    (via,) = wanted.vias
    assert (via.net, via.diameter, via.hole) == ("GND", 600_000.0, 300_000.0)


BAD_RECORDS = {
    "317GND              J1    -14   D1100PA00X+04919 Y-014160X1800Y1800R000 S0": "line 2: no place in",
    "317GND              J1    -14   D11x0PA00X+049199Y-014160X1800Y1800R000 S0": "line 2: hole 'D11x0P'",
    "317GND              J1    -14   D1100PA07X+049199Y-014160X1800Y1800R000 S0": "line 2: access 'A07'",
    "378GND": "line 2: a record of an unknown kind",
    "999\n317": "line 3: a record after the end",
    "": "the end (999) is missing",
}


@pytest.mark.parametrize("row", sorted(BAD_RECORDS))
def test_a_damaged_test_netlist_is_said_with_its_line(row):
    with pytest.raises(ValueError, match=r"^" + BAD_RECORDS[row].replace("(", r"\(").replace(")", r"\)")):
        wanted_by_ipc(f"P  UNITS CUST 1\n{row}\n".encode(), "x.IPC", 0.0, 0.0)


def test_a_record_before_the_units_is_refused():
    row = "317GND              J1    -14   D1100PA00X+049199Y-014160X1800Y1800R000 S0"
    with pytest.raises(ValueError, match="line 1: a record before the units"):
        wanted_by_ipc(row.encode(), "x.IPC", 0.0, 0.0)


@pytest.mark.parametrize(
    ("text", "net"),
    [
        ("/ROW0", "ROW0"),
        ("GND", "GND"),
        ("A{slash}B", "A/B"),
        ("", None),
        ("unconnected-(U1-GP3-Pad5)", None),
    ],
)
def test_nets_are_spelled_as_the_design_does(text, net):
    assert plain_net(text) == net
