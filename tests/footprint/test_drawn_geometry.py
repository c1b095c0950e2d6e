"""Every drawn footprint measured anew with exact geometry: legend, courtyard, holes, edges."""

import math
import tomllib
from pathlib import Path

import pytest
import shapely
from shapely import LineString, Polygon
from shapely import Point as Spot

import boardgen.catalog
from boardgen.board.geometry import arc_points, courtyard_polygon
from boardgen.board.strokes import text_ring
from boardgen.catalog.draw_footprints import drawn_files, main
from boardgen.footprint import families
from boardgen.footprint.families.sketch import text_box
from boardgen.footprint.library import own_folder
from boardgen.footprint.model import Arc, Circle, Face, Line, PadKind, PadShape, PartLayer, Text
from boardgen.footprint.model import Polygon as Area
from boardgen.units import mm

DATA = Path(boardgen.catalog.__file__).parent / "data"


def entries():
    for path in sorted(DATA.rglob("*.toml")):
        table = tomllib.loads(path.read_text(encoding="utf-8"))
        if "family" in table:
            yield table


EXTRA = [
    {"name": "hole", "diameter_mm": 2.2, "head_mm": 4.0},
    {"name": "hole", "diameter_mm": 2.7, "head_mm": 5.0},
    {"name": "hole", "diameter_mm": 3.2, "head_mm": 6.0},
    *({"name": "soic", "pins": pins} for pins in (14, 16, 20)),
    *({"name": "dip", "pins": pins, "row_mm": 7.62} for pins in (14, 16, 20)),
]
ALL = {table["id"]: table["family"] for table in entries() if table["id"]}
ALL |= {f"{p['name']}-{p.get('pins', p.get('diameter_mm'))}": p for p in EXTRA}
FACES = (Face.NEAR, Face.FAR)


@pytest.fixture(params=sorted(ALL), name="drawn")
def drawn_of(request):
    return families.build(ALL[request.param], request.param)


def copper(pad):
    assert pad.rotation == 0
    x, y, w, h = (float(v) for v in (*pad.at, *pad.size))
    if pad.shape is PadShape.RECT:
        return shapely.box(x - w / 2, y - h / 2, x + w / 2, y + h / 2), 0.0
    assert pad.shape in (PadShape.CIRCLE, PadShape.OVAL)
    long = abs(w - h) / 2
    dx, dy = (long, 0) if w > h else (0, long)
    core = LineString([(x - dx, y - dy), (x + dx, y + dy)]) if long else Spot(x, y)
    return core, min(w, h) / 2


def ink(item):
    if isinstance(item, Line):
        return LineString([item.start, item.end]), item.width / 2
    if isinstance(item, Arc):
        return LineString(arc_points(item.start, item.mid, item.end)), item.width / 2
    if isinstance(item, Circle):
        return Spot(item.centre).buffer(item.radius, quad_segs=64).exterior, item.width / 2
    if isinstance(item, Text):
        return Polygon(text_ring(item.text, item.at, item.height, item.stroke, item.rotation)), 0.0
    assert isinstance(item, Area)
    return Polygon(item.points), item.width / 2


def legend(drawn, face):
    return [g for g in drawn.footprint.graphics if g.layer is PartLayer.LEGEND and g.face is face]


def test_legend_keeps_0_2_mm_from_pads_and_holes(drawn):
    for face in FACES:
        for item in legend(drawn, face):
            shape, half = ink(item)
            for pad in drawn.footprint.pads:
                if pad.kind is PadKind.SURFACE and pad.face is not face:
                    continue
                core, radius = copper(pad)
                gap = shape.distance(core) - half - radius
                assert gap >= 0.2e6 - 1, (item, pad)


def test_legend_stays_0_3_mm_behind_the_boards_edge(drawn):
    if drawn.edge is None:
        return
    assert drawn.body.bottom >= drawn.edge
    for face in FACES:
        for item in legend(drawn, face):
            shape, half = ink(item)
            assert shape.bounds[3] + half <= drawn.edge - 0.3e6 + 1


def test_legend_has_printable_sizes_and_does_not_cross_itself(drawn):
    for face in FACES:
        items = legend(drawn, face)
        solid = [g for g in items if isinstance(g, Text | Area)]
        for item in items:
            if isinstance(item, Text):
                assert item.height >= mm(1)
                assert item.stroke >= mm("0.15")
            elif not isinstance(item, Area):
                assert item.width == mm("0.15")
            for other in solid:
                if other is not item:
                    (a, ra), (b, rb) = ink(item), ink(other)
                    assert a.distance(b) - ra - rb > 0.05e6, (item, other)


def test_courtyard_holds_body_pads_and_legend(drawn):
    sides = FACES if any(p.face is Face.FAR for p in drawn.footprint.pads) else (Face.NEAR,)
    for face in sides:
        yard = courtyard_polygon(drawn.footprint, face)
        assert isinstance(yard, Polygon)
        assert yard.is_valid
        assert not yard.interiors
        for pad in drawn.footprint.pads:
            core, radius = copper(pad)
            assert yard.contains(core)
            if pad.kind is not PadKind.UNPLATED or len(drawn.footprint.pads) > 1:
                assert yard.exterior.distance(core) - radius >= 0.25e6 - 1
        for item in legend(drawn, face):
            shape, half = ink(item)
            assert yard.buffer(1).contains(shape), item
            assert yard.exterior.distance(shape) - half >= -1, item


def test_courtyard_is_drawn_as_closed_outlines(drawn):
    kinds = {type(g) for g in drawn.footprint.graphics if g.layer is PartLayer.COURTYARD}
    assert kinds <= {Area, Circle}
    assert kinds


def test_courtyard_lies_close_to_the_part(drawn):
    yard = courtyard_polygon(drawn.footprint)
    boxes = [drawn.body, *(families.sketch.pad_box(p) for p in drawn.footprint.pads)]
    left, top = min(b.left for b in boxes), min(b.top for b in boxes)
    right, bottom = max(b.right for b in boxes), max(b.bottom for b in boxes)
    x0, y0, x1, y1 = yard.bounds
    for margin in (left - x0, top - y0, x1 - right, y1 - bottom):
        assert 0 <= margin <= 0.85e6


def test_the_body_is_drawn_for_assembly(drawn):
    assert any(g.layer is PartLayer.DRAWING for g in drawn.footprint.graphics)


def test_pad_1_is_square_where_the_order_matters(drawn):
    unordered = ("resistor", "disc", "resettable", "wire", "chip", "mounting", "SOT", "SOIC", "D-sub")
    if any(drawn.footprint.description.startswith(word) for word in unordered):
        return
    ones = drawn.footprint.numbered("1")
    squares = [p.number for p in drawn.footprint.pads if p.shape is PadShape.RECT]
    if ones and "0805" not in drawn.footprint.description and "1206" not in drawn.footprint.description:
        assert squares == ["1"]


def test_a_mark_points_at_contact_1_of_a_connector(drawn):
    if not drawn.face or any(p.kind is PadKind.SURFACE for p in drawn.footprint.pads):
        return
    (one,) = drawn.footprint.numbered("1")
    items = legend(drawn, Face.NEAR)
    tips = [g.points[0] for g in items if isinstance(g, Area)]
    digits = [g.at for g in items if isinstance(g, Text) and g.text == "1"]
    assert len(tips) <= 1
    assert all(one.at.x == tip.x or one.at.y == tip.y for tip in tips)
    assert tips or digits
    for place in (*tips, *digits):
        pads = [p for p in drawn.footprint.pads if p.number.isdigit()]
        assert min(pads, key=lambda p: p.at.distance(place)).number == "1"


# lead sections of the real parts: square pins by side, round leads by diameter (mm)
PINS = {
    "box-header": 0.64 * math.sqrt(2),
    "pin-row": 0.64 * math.sqrt(2),
    "header-396": 1.14 * math.sqrt(2),
    "dsub": 0.64 * math.sqrt(2),
    "module": 0.64 * math.sqrt(2),
    "to92": math.hypot(0.48, 0.45),
    "led-round": 0.5 * math.sqrt(2),
    "dip": math.hypot(0.53, 0.36),
}


@pytest.mark.parametrize("entry", sorted(ALL))
def test_holes_pass_the_pin_with_the_fabs_tolerance(entry):
    family = ALL[entry]["name"]
    if family not in PINS:
        return
    drawn = families.build(ALL[entry])
    for pad in drawn.footprint.pads:
        if pad.kind is PadKind.PLATED and pad.number not in drawn.shell:
            assert min(pad.hole) >= (PINS[family] + 0.08) * 1e6


def test_mounting_holes_are_bare_and_keep_the_screws_head_free():
    drawn = families.build(EXTRA[2])
    (pad,) = drawn.footprint.pads
    assert (pad.kind, pad.number, pad.hole.w) == (PadKind.UNPLATED, "", mm("3.2"))
    for face in FACES:
        area = courtyard_polygon(drawn.footprint, face).area
        assert area == pytest.approx(math.pi * 3e6**2, rel=1e-3)


def test_text_boxes_hold_the_text_of_the_boards_own_font():
    for text in ("1", "25", "USB", "XIAO M0", "Pico 2", "MW"):
        box = text_box(text, families.sketch.Point(mm(0), mm(0)), mm(1))
        for corner in text_ring(text, families.sketch.Point(mm(0), mm(0)), mm(1), mm("0.15")):
            assert box.left <= corner.x <= box.right
            assert box.top <= corner.y <= box.bottom


def test_the_files_are_what_the_families_draw():
    folder = own_folder()
    wanted = drawn_files()
    assert {f.name for f in folder.glob("*.kicad_mod")} >= set(wanted)
    for name, text in wanted.items():
        assert (folder / name).read_text(encoding="utf-8") == text, name


def test_the_command_writes_once_and_then_finds_nothing_to_do(tmp_path, capsys):
    assert main(["--check"], tmp_path) == 1
    assert main([], tmp_path) == 0
    assert main(["--check"], tmp_path) == 0
    assert "0 differ" in capsys.readouterr().out


@pytest.mark.parametrize("table", [t for t in entries() if t["kind"] == "connector"], ids=lambda t: t["id"])
def test_a_connector_entry_agrees_with_its_family(table):
    drawn = families.build(table["family"])
    assert tuple(mm(v) for v in table["body_mm"]) == tuple(drawn.body)
    assert (mm(table["edge_mm"]) if "edge_mm" in table else None) == drawn.edge
    assert tuple(table.get("shell", ())) == drawn.shell
    assert (table["mounting"] == "straight") == (drawn.edge is None)
    assert table["sources"]
