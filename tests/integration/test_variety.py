"""Designs unlike each other, each through the whole house: complete, sound, the same twice."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import replace
from pathlib import Path

import ezdxf
import pytest
from board_checks import assert_sound, copper_area, hole_places, one_sided, part_of, reach
from design_kit import bound_of, contacts
from shapely import box

from boardgen.board.geometry import outline_polygon
from boardgen.board.model import PartKind
from boardgen.catalog.load import load_catalog
from boardgen.errors import InputError, Severity
from boardgen.footprint.model import Face
from boardgen.layout.place import PlacementFailed
from boardgen.layout.route.router import Unrouted
from boardgen.pipeline import Built, build, generate, stages
from boardgen.pipeline import attempt as one_attempt
from boardgen.units import Point

CATALOG = load_catalog()


def head(connector: str, module: str = "pico-2", fab: str = "economy-2l") -> str:
    return f'name = "trial"\nmodule = "{module}"\nconnector = "{connector}"\nfab = "{fab}"\n'


def fixed(**pins: str) -> str:
    return "".join(f'[[fixed]]\nsignal = "{signal}"\npin = "{pin}"\n' for signal, pin in pins.items())


def group(name: str, signals: str, *, ordered: bool = True) -> str:
    listed = ", ".join(f'"{word}"' for word in signals.split())
    return f'[[groups]]\nname = "{name}"\nsignals = [{listed}]\nordered = {str(ordered).lower()}\n'


def digital(number: int, signal: str, direction: str, function: str = "") -> str:
    return (
        f'[[contacts]]\nnumber = {number}\nkind = "digital"\nsignal = "{signal}"\n'
        f'direction = "{direction}"\nfunction = "{function}"\nrail = "3V3"\n'
    )


SWITCHES = head("dsub-9-socket-right-angle") + contacts("switch", range(1, 9)) + contacts("ground", [9])
ETCHED = head("dsub-9-socket-straight", fab="home-etch-1l")
SUPPLIED = contacts("supply", [8], rail="3V3") + contacts("ground", [9])

DESIGNS = {
    "one side, nine contacts": ETCHED + contacts("switch", range(1, 9)) + contacts("ground", [9]),
    "one side, a pot": (
        ETCHED + contacts("switch", range(1, 5)) + contacts("analog", [5], "A", rail="3V3") + SUPPLIED
    ),
    "one side, a lamp": (
        ETCHED
        + contacts("switch", range(1, 5))
        + contacts("lamp", [5], "L", rail="3V3", current_a=0.02)
        + SUPPLIED
    ),
    "straddle": (
        head("dsub-25-socket-straddle")
        + contacts("row", range(1, 9), "R")
        + contacts("column", range(14, 19), "C")
        + contacts("ground", [25])
    ),
    "three rows": (
        head("dsub-hd15-socket-right-angle", "black-pill-f411")
        + contacts("digital", range(1, 11), "D", direction="in", rail="3V3")
        + contacts("ground", [11, 15])
    ),
    "mini-DIN": (
        head("mini-din-6-socket-right-angle", "xiao-samd21")
        + contacts("digital", [1, 5], "D", direction="both", rail="3V3")
        + contacts("supply", [4], rail="3V3")
        + contacts("ground", [3])
    ),
    "8P8C": (
        head("modular-8p8c-jack-right-angle", "nano-328p")
        + contacts("switch", range(1, 7))
        + contacts("supply", [7], rail="5V")
        + contacts("ground", [8])
    ),
    "screw terminal": (
        head("screw-terminal-4", "feather-m0")
        + contacts("analog", [1], "A")
        + contacts("switch", [2])
        + contacts("supply", [3], rail="3V3")
        + contacts("ground", [4])
    ),
    "pin row": (
        head("pin-row-1x16", "esp32-devkitc")
        + contacts("row", range(1, 9), "R")
        + contacts("column", range(9, 15), "C")
        + contacts("ground", [16])
    ),
    "fixed pins": (
        head("dsub-15-socket-right-angle")
        + contacts("switch", range(1, 14))
        + contacts("ground", [15])
        + fixed(S1="GP7", S5="GP20", S9="GP2", S13="GP14")
    ),
    "forty signals and more": (
        head("box-header-2x25", "esp32-s3-devkitc-1")
        + contacts("row", range(1, 13), "R")
        + contacts("column", range(13, 25), "C")
        + contacts("ground", range(26, 51, 2))
        + contacts("unused", range(27, 50, 2))
    ),
}

_done: dict[str, Built] = {}


def made(name: str) -> Built:
    if name not in _done:
        _done[name] = build(bound_of(DESIGNS[name], CATALOG), CATALOG)
    return _done[name]


@pytest.mark.parametrize("name", DESIGNS)
def test_it_is_complete_and_sound(name):
    assert_sound(made(name))


@pytest.mark.parametrize("name", DESIGNS)
def test_it_comes_out_the_same_twice(name):
    catalog = load_catalog()
    again = build(bound_of(DESIGNS[name], catalog), catalog)
    assert again.bundle.board == made(name).bundle.board
    assert again.bundle.pinmap == made(name).bundle.pinmap


@pytest.mark.parametrize("name", [name for name in DESIGNS if not name.startswith("one side")])
def test_free_pins_spare_every_via(name):
    assert len(made(name).bundle.board.vias) <= (2 if name == "fixed pins" else 0)


@pytest.mark.parametrize("name", [name for name in DESIGNS if name.startswith("one side")])
def test_on_one_side_every_joint_is_on_bottom_copper(name):
    one_sided(made(name))


def test_a_derived_outline_is_widened_until_every_net_finds_a_way(monkeypatch):
    tried: list[int] = []
    first_good = 5

    def attempt(bound, catalog, plan, floorplan, watch):
        left, _, right, _ = outline_polygon(floorplan.outline).bounds
        tried.append(round(right - left))
        if len(tried) < first_good:
            raise PlacementFailed("R1", "10k")
        return real(bound, catalog, plan, floorplan, watch)

    real = stages.attempt
    monkeypatch.setattr(stages, "attempt", attempt)
    done = build(bound_of(SWITCHES, CATALOG), CATALOG)
    assert_sound(done)
    assert len(tried) == 5
    assert tried[4] > tried[0]
    assert "4 mm wider all round than the parts need" in done.bundle.floorplan.words
    first_good = 99
    with pytest.raises(InputError, match="the parts do not fit on the outline: there is no room for R1"):
        build(bound_of(SWITCHES, CATALOG), CATALOG)


def test_a_net_without_a_way_is_an_error_and_says_why(monkeypatch):
    def broken(board, rules, known=None):
        routed = pipeline_route(board, rules, known)
        lost = Unrouted("S1", "J1 pad 1", "U1 pad 4", "no way left past the tracks of other nets")
        return replace(routed, unrouted=(lost,))

    pipeline_route = one_attempt.route_report
    monkeypatch.setattr(one_attempt, "route_report", broken)
    done = build(bound_of(SWITCHES + "[outline]\nwidth_mm = 70\nheight_mm = 60\n", CATALOG), CATALOG)
    assert not done.complete
    assert [(f.rule, f.severity, f.message) for f in done.bundle.findings] == [
        (
            "unconnected",
            Severity.ERROR,
            "net S1 is not routed from J1 pad 1 to U1 pad 4: no way left past the tracks of other nets",
        )
    ]


def test_wire_links_are_in_the_parts_list(tmp_path):
    (tmp_path / "design.toml").write_text(DESIGNS["one side, a pot"])
    result = generate(tmp_path, tmp_path / "out")
    links = result.summary["routing"]["links"]
    assert links == made("one side, a pot").routing.links > 0
    rows = list(csv.DictReader(io.StringIO((result.folder / "assembly/bom.csv").read_text())))
    listed = [name for row in rows for name in row["Designator"].replace(",", " ").split()]
    assert sorted(name for name in listed if re.fullmatch(r"W\d+", name)) == [
        f"W{i + 1}" for i in range(links)
    ]


def test_the_board_edge_runs_between_the_rows_of_a_straddling_connector():
    done = made("straddle")
    connector = part_of(done.bundle.board, PartKind.CONNECTOR)
    faces = {pad.number: pad.face for pad in connector.footprint.pads if pad.number.isdecimal()}
    assert {faces[str(n)] for n in range(1, 14)} == {Face.NEAR}
    assert {faces[str(n)] for n in range(14, 26)} == {Face.FAR}


def test_the_antenna_stands_free_of_copper():
    done = made("forty signals and more")
    module = part_of(done.bundle.board, PartKind.MODULE)
    (antenna,) = done.bundle.bound.module.antenna
    corners = [module.placement.place(Point(c.x, c.y)) for c in antenna.box.corners()]
    xs, ys = [c.x for c in corners], [c.y for c in corners]
    area = box(min(xs), min(ys), max(xs), max(ys))
    assert copper_area(done.bundle.board).intersection(area).area == 0
    on_board = outline_polygon(done.bundle.board.outline).intersection(area).area
    covered = any("antenna" in keepout.reason.lower() for keepout in done.bundle.board.keepouts)
    assert on_board == 0 or covered


def test_auto_takes_the_smallest_module_that_carries_it():
    text = head("din-6-socket-right-angle", "auto") + contacts("analog", [1, 2], "A")
    text += contacts("switch", [3]) + contacts("supply", [4], rail="3V3") + contacts("ground", [5])
    done = build(bound_of(text, CATALOG), CATALOG)
    assert_sound(done)
    assert done.bundle.bound.module.id == "xiao-samd21"
    many = head("dsub-37-socket-right-angle", "auto") + contacts("switch", range(1, 26))
    many += contacts("ground", [37])
    done = build(bound_of(many, CATALOG), CATALOG)
    assert_sound(done)
    smaller = [m for m in CATALOG.modules.values() if len(m.pins) < len(done.bundle.bound.module.pins)]
    for module in smaller:
        with pytest.raises(InputError):
            build(bound_of(many.replace('"auto"', f'"{module.id}"'), CATALOG), CATALOG)


def test_groups_get_neighbouring_pins_in_order():
    text = head("box-header-2x10") + contacts("switch", range(1, 19)) + contacts("ground", [19, 20])
    text += group("port", "S1 S3 S5 S7") + group("rest", "S6 S2 S4", ordered=False)
    done = build(bound_of(text, CATALOG), CATALOG)
    assert_sound(done)
    at = {c.request.signal: int(c.pin_name.removeprefix("GP")) for c in done.bundle.pinmap.choices}
    assert [at[s] - at["S1"] for s in ("S1", "S3", "S5", "S7")] == [0, 1, 2, 3]
    rest = sorted(at[s] for s in ("S2", "S4", "S6"))
    assert rest == list(range(rest[0], rest[0] + 3))


def test_buses_and_adc_get_the_pins_that_can():
    text = (
        head("box-header-2x5") + digital(1, "SDA", "both", "i2c.sda") + digital(2, "SCL", "both", "i2c.scl")
    )
    text += digital(3, "TX", "out", "uart.tx") + digital(4, "RX", "in", "uart.rx")
    text += contacts("analog", [5, 6], "POT") + contacts("supply", [7], rail="3V3")
    text += contacts("ground", [9, 10])
    done = build(bound_of(text, CATALOG), CATALOG)
    assert_sound(done)
    module = done.bundle.bound.module
    pin = {c.request.signal: module.pin(c.pin_number) for c in done.bundle.pinmap.choices}

    def instances(signal: str, name: str, role: str) -> set[str]:
        pattern = re.compile(rf"{name}(\d)\.{role}")
        return {m.group(1) for f in pin[signal].functions if (m := pattern.fullmatch(f))}

    assert instances("SDA", "i2c", "sda") & instances("SCL", "i2c", "scl")
    assert instances("TX", "uart", "tx") & instances("RX", "uart", "rx")
    assert pin["POT5"].analog
    assert pin["POT6"].analog


def size_of(done: Built) -> tuple[float, float]:
    left, top, right, bottom = outline_polygon(done.bundle.board.outline).bounds
    return (right - left) / 1e6, (bottom - top) / 1e6


def test_the_case_limits_the_board():
    free = size_of(build(bound_of(SWITCHES, CATALOG), CATALOG))
    limits = (free[0] + 20, free[1] - 3)
    case = f"[enclosure]\nmax_width_mm = {limits[0]}\nmax_height_mm = {limits[1]}\n"
    done = build(bound_of(SWITCHES + case, CATALOG), CATALOG)
    assert_sound(done)
    assert size_of(done)[0] <= limits[0]
    assert size_of(done)[1] <= limits[1]


def test_the_case_chooses_the_edges():
    for usb, mating in (("top", "left"), ("left", "bottom"), ("right", "right")):
        case = f'[enclosure]\nusb_edge = "{usb}"\nconnector_edge = "{mating}"\n'
        done = build(bound_of(SWITCHES + case, CATALOG), CATALOG)
        assert_sound(done)
        assert (done.bundle.floorplan.module_edge, done.bundle.floorplan.connector_edge) == (usb, mating)


def refusal(text: str) -> InputError:
    with pytest.raises(InputError) as caught:
        build(bound_of(text, CATALOG), CATALOG)
    return caught.value


def test_a_case_too_small_is_refused_with_the_numbers_that_then_work():
    error = refusal(SWITCHES + "[enclosure]\nmax_width_mm = 30\nmax_height_mm = 30\n")
    assert "max_width_mm" in str(error) or "enclosure" in error.key
    width, height = re.search(r"([\d.]+) x ([\d.]+) mm", str(error)).groups()
    case = f"[enclosure]\nmax_width_mm = {width}\nmax_height_mm = {height}\n"
    done = build(bound_of(SWITCHES + case, CATALOG), CATALOG)
    assert_sound(done)


def test_parts_too_high_for_the_case_are_refused_with_their_height():
    tall = CATALOG.connector("dsub-9-socket-right-angle").height.mm
    error = refusal(SWITCHES + "[enclosure]\nmax_component_height_mm = 4\n")
    assert "stands" in error.message or "high" in error.message
    assert error.line is not None
    least = float(re.search(r"([\d.]+) mm", f"{error.found} {error.message}").group(1))
    assert least >= tall
    done = build(bound_of(SWITCHES + f"[enclosure]\nmax_component_height_mm = {least}\n", CATALOG), CATALOG)
    assert_sound(done)


@pytest.mark.parametrize("asked", [(20, 20), (200, 15), (15, 120), (52, 20)])
def test_an_outline_too_small_says_the_least_that_then_works(asked):
    outline = "[outline]\nwidth_mm = {}\nheight_mm = {}\n"
    error = refusal(SWITCHES + outline.format(*map(float, asked)))
    assert error.where == "d.toml"
    assert error.line is not None
    width, height = re.search(r"least board that works is ([\d.]+) x ([\d.]+) mm", error.message).groups()
    done = build(bound_of(SWITCHES + outline.format(width, height), CATALOG), CATALOG)
    assert_sound(done)
    assert size_of(done) == (float(width), float(height))


HOLES = "[holes]\nat_mm = [[5, 5], [85, 5], [5, 65], [85, 65]]\ndiameter_mm = 3.2\n"


def test_a_rectangle_with_holes_where_they_are_wanted():
    text = SWITCHES + "[outline]\nwidth_mm = 90.0\nheight_mm = 70.0\ncorner_radius_mm = 3\n" + HOLES
    done = build(bound_of(text, CATALOG), CATALOG)
    assert_sound(done)
    assert size_of(done) == (90.0, 70.0)
    assert hole_places(done.bundle.board) == {(5, 5), (85, 5), (5, 65), (85, 65)}


def test_a_hole_under_the_parts_is_refused():
    holes = "[holes]\nat_mm = [[30, 26], [30, 40], [15, 20], [45, 20]]\n"
    error = refusal(SWITCHES + "[outline]\nwidth_mm = 60.0\nheight_mm = 52.0\n" + holes)
    assert error.key in ("holes.at_mm", "holes", "outline")
    assert "hole" in str(error)


def test_a_polygon_with_a_step():
    ring = "[[0, 0], [95, 0], [95, 45], [70, 45], [70, 75], [0, 75]]"
    done = build(bound_of(SWITCHES + f"[outline]\npoints_mm = {ring}\n", CATALOG), CATALOG)
    assert_sound(done)
    assert outline_polygon(done.bundle.board.outline).area / 1e12 == pytest.approx(95 * 75 - 25 * 30)


def drawing(path: Path) -> None:
    """A plate of 90 x 70 mm, one corner round by 10 mm, drawn far from the origin, y up."""
    document = ezdxf.new(units=4)
    space = document.modelspace()
    at = (1000.0, 2000.0)
    for a, b in (((0, 0), (80, 0)), ((90, 10), (90, 70)), ((90, 70), (0, 70)), ((0, 70), (0, 0))):
        space.add_line((at[0] + a[0], at[1] + a[1]), (at[0] + b[0], at[1] + b[1]))
    space.add_arc((at[0] + 80, at[1] + 10), 10, 270, 360)
    document.saveas(path)


def test_an_outline_from_a_drawing(tmp_path):
    drawing(tmp_path / "plate.dxf")
    (tmp_path / "design.toml").write_text(SWITCHES + '[outline]\ndxf = "plate.dxf"\n')
    result = generate(tmp_path, tmp_path / "out")
    assert result.summary["board"]["width_mm"] == 90
    assert result.summary["board"]["height_mm"] == 70
    assert result.summary["for_fabrication"] is True
    done = build(bound_of(SWITCHES + '[outline]\ndxf = "plate.dxf"\n', CATALOG, tmp_path), CATALOG)
    assert_sound(done)
    shape = outline_polygon(done.bundle.board.outline)
    assert shape.area / 1e12 == pytest.approx(90 * 70 - (1 - 3.14159265 / 4) * 100, abs=0.01)
    right_bottom = Point(90_000_000, 70_000_000)
    assert reach(done.bundle.board, right_bottom)["right"] == 0
