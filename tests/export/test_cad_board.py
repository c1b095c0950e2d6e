"""The CAD board: read back by an independent reader, and by plain geometry."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import cad_bench
import pytest
import shapely
import skip
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgen.board.geometry import pad_centre
from boardgen.board.model import Part, PartKind, Placement, PourPiece, Side
from boardgen.board.move import moved_board
from boardgen.export.cad_board import sheet_place
from boardgen.export.cad_files import cad_files
from boardgen.export.cad_nodes import NetNames, open_pin_net
from boardgen.export.cad_pours import keyhole
from boardgen.export.cad_project import rules
from boardgen.export.cad_trim import barred_areas, trimmed
from boardgen.footprint.model import Face, Line, PartLayer
from boardgen.footprint.sexpr import Sym, child, children, head, parse, words
from boardgen.units import Nm, Point, mm, point_mm


def files_of(bundle):
    return {file.path: file.data.decode() for file in cad_files(bundle)}


@pytest.fixture(scope="module", params=["top", "bottom", "home"])
def made(request):
    if request.param == "home":
        return cad_bench.with_copper(cad_bench.bundle(fab="home-etch-1l"))
    side = Side.BOTTOM if request.param == "bottom" else Side.TOP
    return cad_bench.with_copper(cad_bench.bundle(cad_bench.remote_contacts(), side=side))


@pytest.fixture(scope="module")
def files(made):
    return files_of(made)


@pytest.fixture(scope="module")
def board_node(files):
    return parse(files["cad/bench.kicad_pcb"])


def text_of(node, kind):
    return next(str(item[2]) for item in children(node, "fp_text") if item[1] == kind)


def read_reference(footprint):
    texts = footprint.getElementsByEntityType("fp_text")
    return next(text.value[1] for text in texts if str(text.value[0]) == "reference")


def test_reader_finds_each_footprint_where_the_model_has_it(made, files, tmp_path):
    path = tmp_path / "bench.kicad_pcb"
    path.write_text(files["cad/bench.kicad_pcb"])
    pcb = skip.PCB(str(path))
    found = {read_reference(fp): fp for fp in pcb.footprint}
    assert set(found) == {part.ref for part in made.board.parts}
    _paper, way = sheet_place(made.board)
    for part in moved_board(made.board, way).parts:
        fp = found[part.ref]
        at = fp.at.value
        assert (at[0], at[1]) == pytest.approx((part.placement.at.x.mm, part.placement.at.y.mm), abs=1e-9)
        assert (at[2] if len(at) > 2 else 0) == part.placement.rotation
        assert fp.layer.value[0] == ("F.Cu" if part.placement.side is Side.TOP else "B.Cu")


def test_reader_finds_the_models_net_on_every_pad(made, files, tmp_path):
    path = tmp_path / "bench.kicad_pcb"
    path.write_text(files["cad/bench.kicad_pcb"])
    pcb = skip.PCB(str(path))
    seen = 0
    for fp in pcb.footprint:
        ref = read_reference(fp)
        part = made.board.part(ref)
        for pad in fp.getElementsByEntityType("pad"):
            number = str(pad.value[0])
            if not number:
                continue
            net = pad.net.value[1]
            own = part.net_of(number)
            if own is None:
                assert net.startswith(f"unconnected-({ref}-")
            else:
                assert net.lstrip("/") == own
            seen += 1
    assert seen > 60


def test_pads_land_where_geometry_says(made, board_node):
    """Turn each child coordinate by the footprint's angle alone, as the file's rules have it."""
    shown = moved_board(made.board, sheet_place(made.board)[1])
    for fp in children(board_node, "footprint"):
        part = shown.part(text_of(fp, "reference"))
        x0, y0, *turn = (float(v) for v in words(child(fp, "at")))
        a = math.radians(turn[0] if turn else 0.0)
        spots = []
        for pad in children(fp, "pad"):
            x, y = (float(v) for v in words(child(pad, "at"))[:2])
            spots.append((x0 + x * math.cos(a) + y * math.sin(a), y0 - x * math.sin(a) + y * math.cos(a)))
        wanted = [pad_centre(part, pad) for pad in part.footprint.pads]
        assert len(spots) == len(wanted)
        for (x, y), point in zip(spots, wanted, strict=True):
            assert (x, y) == pytest.approx((point.x.mm, point.y.mm), abs=2e-6)


def test_each_footprint_points_to_its_symbol(files, board_node):
    sheet = parse(files["cad/bench.kicad_sch"])
    symbols = {}
    for symbol in children(sheet, "symbol"):
        ref = next(str(p[2]) for p in children(symbol, "property") if p[1] == "Reference")
        symbols[ref] = words(child(symbol, "uuid"))[0]
    for fp in children(board_node, "footprint"):
        assert words(child(fp, "path")) == [f"/{symbols[text_of(fp, 'reference')]}"]


def test_every_uuid_is_used_once(files):
    for name in ("cad/bench.kicad_pcb", "cad/bench.kicad_sch"):
        found = []

        def walk(node, found=found):
            for item in node:
                if isinstance(item, list):
                    if head(item) in ("uuid", "tstamp"):
                        found.append(str(item[1]))
                    walk(item)

        walk(parse(files[name]))
        assert len(found) > 50
        assert len(found) == len(set(found))


def test_nets_are_numbered_from_nothing_without_a_gap(board_node):
    rows = [words(net) for net in children(board_node, "net")]
    assert rows[0] == ["0", ""]
    assert [int(row[0]) for row in rows] == list(range(len(rows)))
    assert [row[1] for row in rows[1:]] == sorted(row[1] for row in rows[1:])


def test_board_and_library_hold_the_same_pads(made, files, board_node):
    for fp in children(board_node, "footprint"):
        name = str(fp[1]).partition(":")[2]
        entry = parse(files[f"cad/bench.pretty/{name}.kicad_mod"])
        flipped = words(child(fp, "layer")) == ["B.Cu"]
        turn = float([*words(child(fp, "at")), "0"][2])
        here, there = children(fp, "pad"), children(entry, "pad")
        assert [p[1:4] for p in here] == [p[1:4] for p in there]
        for a, b in zip(here, there, strict=True):
            ax, ay, *aa = (float(v) for v in words(child(a, "at")))
            bx, by, *ba = (float(v) for v in words(child(b, "at")))
            own = ba[0] if ba else 0.0
            assert (ax, ay) == (bx, -by if flipped else by)
            assert ((aa[0] if aa else 0.0) - turn - (-own if flipped else own)) % 360 == pytest.approx(0)
            for key in ("size", "drill"):
                assert child(a, key) == child(b, key)


def test_without_plating_pads_have_copper_on_the_bottom_alone(board_node, made):
    layers = {
        tuple(words(child(p, "layers")))
        for f in children(board_node, "footprint")
        for p in children(f, "pad")
    }
    if made.board.plated:
        assert ("*.Cu", "*.Mask") in layers
    else:
        assert all(row in {("B.Cu", "B.Mask"), ("*.Cu", "*.Mask")} for row in layers)
        plated = [
            p
            for f in children(board_node, "footprint")
            for p in children(f, "pad")
            if p[2] == "thru_hole" and words(child(p, "layers")) != ["B.Cu", "B.Mask"]
        ]
        assert plated == []


def test_a_link_is_a_wire_on_the_top_side_and_on_no_schematic():
    bundle = cad_bench.bundle(fab="home-etch-1l")
    from boardgen.catalog.load import load_catalog

    land = load_catalog().footprint("link-10.16")
    part = Part(
        "W1", "link", land, Placement(point_mm(80, 60)), PartKind.LINK, (("1", "ROW0"), ("2", "ROW0"))
    )
    board = replace(bundle.board, parts=(*bundle.board.parts, part))
    made = files_of(replace(bundle, board=board))
    node = parse(made["cad/bench.kicad_pcb"])
    (wire,) = children(node, "segment")
    assert words(child(wire, "layer")) == ["F.Cu"]
    fp = next(f for f in children(node, "footprint") if text_of(f, "reference") == "W1")
    assert "board_only" in words(child(fp, "attr"))
    assert child(fp, "path") is None
    assert '"W1"' not in made["cad/bench.kicad_sch"]


def test_same_bundle_same_bytes(made, files):
    assert files_of(made) == files
    assert all("\r" not in text and "/tmp" not in text for text in files.values())


def test_rules_are_the_fabs_limits():
    fab = cad_bench.bundle().bound.fab
    told = json.loads(files_of(cad_bench.bundle())["cad/bench.kicad_pro"])
    found = told["board"]["design_settings"]["rules"]
    assert found == rules(fab)
    assert found["min_clearance"] == fab.gap_min / 1e6
    assert found["min_track_width"] == fab.track_min / 1e6
    assert found["min_through_hole_diameter"] == fab.hole_min / 1e6
    assert found["min_text_height"] == fab.legend_height_min / 1e6
    classes = {row["name"] for row in told["net_settings"]["classes"]}
    assert {row["netclass"] for row in told["net_settings"]["netclass_patterns"]} <= classes
    assert {"netclass": "ground", "pattern": "GND"} in told["net_settings"]["netclass_patterns"]


def test_open_pins_are_named_as_the_program_names_them():
    assert open_pin_net("U1", "GP0", "1") == "unconnected-(U1-GP0-Pad1)"
    assert open_pin_net("J1", "25", "25") == "unconnected-(J1-Pad25)"
    assert open_pin_net("J1", "", "25") == "unconnected-(J1-Pad25)"
    assert open_pin_net("U1", "A/B C", "3") == "unconnected-(U1-A{slash}B_C-Pad3)"
    assert NetNames().spell("A/B") == "A{slash}B"
    assert NetNames(frozenset({"A"})).spell("A") == "/A"


hole_places = st.lists(
    st.tuples(st.integers(0, 9), st.integers(0, 9), st.integers(1, 8)), max_size=12, unique_by=lambda t: t[:2]
)


@given(hole_places)
@settings(max_examples=60, deadline=None)
def test_a_keyholed_ring_covers_what_the_piece_covers(places):
    """Holes on a 10 by 10 raster, each turned a bit so that corners line up often but edges do not cross."""
    unit = int(mm(1))
    outer = tuple(
        Point(Nm(x), Nm(y)) for x, y in ((0, 0), (11 * unit, 0), (11 * unit, 11 * unit), (0, 11 * unit))
    )
    holes = []
    for column, row, size in places:
        x, y, r = (column + 1) * unit, (row + 1) * unit, size * unit // 20
        holes.append(tuple(Point(Nm(x + dx), Nm(y + dy)) for dx, dy in ((r, 0), (0, r), (-r, 0), (0, -r))))
    ring = keyhole(PourPiece(outer, tuple(holes)))
    wanted = shapely.Polygon(outer, holes)
    twice = sum(a.x * b.y - b.x * a.y for a, b in zip(ring, ring[1:] + ring[:1], strict=True))
    covered = shapely.Polygon(ring).buffer(0)
    assert covered.symmetric_difference(wanted).area < 1e6  # nm2: a millionth of a square micrometre
    assert abs(twice) / 2 == pytest.approx(wanted.area, rel=1e-9)


def test_printing_at_the_edge_is_cut_and_the_rest_stays():
    bundle = cad_bench.bundle()
    board, fab = bundle.board, bundle.bound.fab
    inside = board.part("U1")
    barred = barred_areas(board, fab)
    assert trimmed(inside, barred) == inside.footprint
    left = min(p.x for g in inside.footprint.graphics if isinstance(g, Line) for p in (g.start, g.end))
    flush = replace(inside, placement=Placement(Point(-left, inside.placement.at.y)))
    cut = trimmed(flush, barred)
    assert cut != inside.footprint
    assert cut.pads == inside.footprint.pads
    allowed = mm(0) + fab.legend_pad_gap_min
    for item in cut.graphics:
        if isinstance(item, Line) and item.layer is PartLayer.LEGEND and item.face is Face.NEAR:
            for end in (item.start, item.end):
                assert flush.placement.place(end).x - item.width // 2 >= allowed


def test_fill_is_written_without_a_swelling_stroke(board_node):
    (zone,) = [z for z in children(board_node, "zone") if child(z, "keepout") is None]
    assert words(child(zone, "filled_areas_thickness")) == ["no"]
    (fill,) = children(zone, "filled_polygon")
    points = [tuple(float(v) for v in words(p)) for p in children(child(fill, "pts"), "xy")]
    assert shapely.Polygon(points).buffer(0).area == pytest.approx(156 * 10 - 10 * 5)
    assert isinstance(zone[0], Sym)
