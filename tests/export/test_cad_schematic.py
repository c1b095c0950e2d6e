"""The schematic as a reader sees it: the file is parsed anew, nothing is taken from its writer."""

from __future__ import annotations

import itertools
from collections import defaultdict

import cad_bench
import pytest
import skip

from boardgen.board.model import PartKind
from boardgen.export.bom import bom_rows
from boardgen.export.cad_files import cad_files
from boardgen.export.cad_jobs import natural
from boardgen.footprint.sexpr import child, children, head, parse, words

GRID = 1.27
PAPERS = {"A4": (297, 210), "A3": (420, 297), "A2": (594, 420), "A1": (841, 594), "A0": (1189, 841)}


@pytest.fixture(
    scope="module",
    params=[
        ("keypad", {}),
        ("remote", {"contacts": "remote"}),
        ("other module", {"module": "esp32-s3-devkitc-1", "contacts": "remote"}),
        ("odd parts", {"contacts": "remote", "odd": "yes"}),
        ("plain connector", {"connector": "dsub-37-plug-straight"}),
    ],
    ids=lambda p: p[0],
)
def made(request):
    options = dict(request.param[1])
    if options.pop("contacts", ""):
        options["contacts"] = cad_bench.remote_contacts()
    odd = options.pop("odd", "")
    bundle = cad_bench.bundle(**options)
    return cad_bench.with_odd_parts(bundle) if odd else bundle


@pytest.fixture(scope="module")
def texts(made):
    return {file.path: file.data.decode() for file in cad_files(made)}


@pytest.fixture(scope="module")
def sheet(texts):
    return parse(texts["cad/bench.kicad_sch"])


def turned(x, y, degrees):
    for _ in range(int(degrees) // 90 % 4):
        x, y = y, -x
    return x, y


def numbers(node):
    return [float(v) for v in words(node)]


def width_of(text, size):
    """Wide letters of the program's stroke font are as wide as high; most are narrower."""
    return sum(0.5 if c in "iljI.,:;'|! " else 0.9 for c in text) * size


def prop(symbol, name):
    return next(p for p in children(symbol, "property") if p[1] == name)


class Drawn:
    """Symbols of the sheet with their pins and boxes in sheet coordinates."""

    def __init__(self, sheet):
        library = {str(s[1]): s for s in children(child(sheet, "lib_symbols"), "symbol")}
        self.pins = {}  # (ref, number) -> end
        self.roots = {}  # (ref, number) -> other end, at the body
        self.bodies = {}
        self.fields = []  # (owner, text, box)
        self.power = {}  # ref -> value
        for symbol in children(sheet, "symbol"):
            entry = library[words(child(symbol, "lib_id"))[0]]
            x, y, angle = numbers(child(symbol, "at"))
            ref = str(prop(symbol, "Reference")[2])
            corners = []
            if child(entry, "power") is not None:
                self.power[ref] = str(prop(symbol, "Value")[2])
            for unit in children(entry, "symbol"):
                for pin in children(unit, "pin"):
                    px, py, pa = numbers(child(pin, "at"))
                    length = numbers(child(pin, "length"))[0]
                    dx, dy = turned(px, -py, angle)
                    vx, vy = turned(length, 0, pa)
                    rx, ry = turned(px + vx, -py + vy, angle)
                    number = words(child(pin, "number"))[0]
                    self.pins[ref, number] = (round(x + dx, 4), round(y + dy, 4))
                    self.roots[ref, number] = (round(x + rx, 4), round(y + ry, 4))
                for shape in unit:
                    if head(shape) in ("polyline", "arc", "circle"):
                        corners += self.corners(shape, x, y, angle)
            xs, ys = zip(*corners, strict=True)
            self.bodies[ref] = (min(xs), min(ys), max(xs), max(ys))
            for field in children(symbol, "property"):
                effects = child(field, "effects")
                if "hide" in words(effects) or not str(field[2]):
                    continue
                fx, fy, fa = numbers(child(field, "at"))
                assert (fa + angle) % 180 == 0, "texts are read level"
                half = width_of(str(field[2]), 1.27) / 2
                self.fields.append((ref, str(field[2]), (fx - half, fy - 0.65, fx + half, fy + 0.65)))

    @staticmethod
    def corners(shape, x, y, angle):
        found = []
        if head(shape) == "circle":
            cx, cy = numbers(child(shape, "center"))
            r = numbers(child(shape, "radius"))[0]
            found = [(cx - r, cy - r), (cx + r, cy + r)]
        elif head(shape) == "arc":
            found = [tuple(numbers(child(shape, key))) for key in ("start", "mid", "end")]
        else:
            found = [tuple(numbers(p)) for p in children(child(shape, "pts"), "xy")]
        return [(x + dx, y + dy) for dx, dy in (turned(px, -py, angle) for px, py in found)]


@pytest.fixture(scope="module")
def drawn(sheet):
    return Drawn(sheet)


def wires_of(sheet):
    return [
        tuple(tuple(round(v, 4) for v in numbers(p)) for p in children(child(wire, "pts"), "xy"))
        for wire in children(sheet, "wire")
    ]


def label_boxes(sheet):
    made = []
    for label in children(sheet, "global_label"):
        x, y, angle = numbers(child(label, "at"))
        reach = width_of(str(label[1]), 1.27) + (0.8 if words(child(label, "shape")) == ["passive"] else 1.8)
        ax, ay = turned(reach, 0, angle)
        sx, sy = turned(0, 1.0, angle)
        xs, ys = (x + sx, x - sx, x + ax + sx, x + ax - sx), (y + sy, y - sy, y + ay + sy, y + ay - sy)
        made.append((f"label {label[1]}", (min(xs), min(ys), max(xs), max(ys))))
    for label in children(sheet, "label"):
        x, y, _ = numbers(child(label, "at"))
        made.append((f"name {label[1]}", (x, y - 1.6, x + width_of(str(label[1]), 1.27), y - 0.15)))
    return made


def text_boxes(sheet):
    made = []
    for text in children(sheet, "text"):
        x, y = numbers(child(text, "at"))[:2]
        size = numbers(child(child(child(text, "effects"), "font"), "size"))[0]
        lines = str(text[1]).split("\n")
        height = size * (1 + 1.62 * (len(lines) - 1))
        made.append((f"text {lines[0][:20]}", (x, y - height, x + max(width_of(t, size) for t in lines), y)))
    return made


def overlap(a, b, slack=0.05):
    return a[0] < b[2] - slack and b[0] < a[2] - slack and a[1] < b[3] - slack and b[1] < a[3] - slack


def thin(start, end, by=0.04):
    (x0, y0), (x1, y1) = sorted([start, end])
    return (min(x0, x1) - by, min(y0, y1) - by, max(x0, x1) + by, max(y0, y1) + by)


def shortened(start, end, by=0.3):
    """A wire less its ends, which touch what they join."""
    (x0, y0), (x1, y1) = start, end
    length = abs(x1 - x0) + abs(y1 - y0)
    ux, uy = (x1 - x0) / length, (y1 - y0) / length
    return thin((x0 + ux * by, y0 + uy * by), (x1 - ux * by, y1 - uy * by))


def test_no_two_things_lie_on_each_other(sheet, drawn):
    solid = [(f"body {ref}", box) for ref, box in drawn.bodies.items()]
    solid += [(f"{ref} field {text}", box) for ref, text, box in drawn.fields]
    solid += label_boxes(sheet) + text_boxes(sheet)
    lines = [(f"wire {a}", shortened(a, b)) for a, b in wires_of(sheet)]
    for pin, end in drawn.pins.items():
        if end != drawn.roots[pin]:
            lines.append((f"pin {pin}", shortened(end, drawn.roots[pin])))
    clashes = [(a[0], b[0]) for a, b in itertools.combinations(solid, 2) if overlap(a[1], b[1])]
    clashes += [
        (line[0], thing[0])
        for line in lines
        for thing in solid
        if overlap(line[1], thing[1]) and not _own(line[0], thing[0])
    ]
    clashes += [(a[0], b[0]) for a, b in itertools.combinations(lines, 2) if overlap(a[1], b[1], 0)]
    assert clashes == []


def _own(line, thing):
    """A pin meets its own body: a lead inside a module's outline or a drawn circle."""
    return line.startswith("pin") and thing.startswith("body") and thing.split()[1] in line


def test_everything_lies_on_the_paper_and_off_the_title_block(sheet, drawn):
    wide, high = PAPERS[words(child(sheet, "paper"))[0]]
    boxes = [*drawn.bodies.values(), *(box for _, _, box in drawn.fields)]
    boxes += [box for _, box in label_boxes(sheet) + text_boxes(sheet)]
    title = (wide - 10 - 110, high - 10 - 34, wide, high)
    for box in boxes:
        assert box[0] >= 12
        assert box[1] >= 12
        assert box[2] <= wide - 12
        assert box[3] <= high - 12
        assert not overlap(box, title)


def test_all_ends_are_on_the_grid(sheet, drawn):
    points = [*drawn.pins.values(), *(p for wire in wires_of(sheet) for p in wire)]
    for kind in ("global_label", "label", "no_connect", "junction"):
        points += [tuple(numbers(child(item, "at"))[:2]) for item in children(sheet, kind)]
    assert len(points) > 80
    for x, y in points:
        assert abs(x / GRID - round(x / GRID)) < 1e-6
        assert abs(y / GRID - round(y / GRID)) < 1e-6


def on_wire(point, wire):
    (x0, y0), (x1, y1) = wire
    x, y = point
    return min(x0, x1) <= x <= max(x0, x1) and min(y0, y1) <= y <= max(y0, y1)


def test_wires_and_labels_say_what_the_netlist_says(made, sheet, drawn):
    """Build the nets from the drawing alone and compare them, pin by pin, with the netlist."""
    parent = {}

    def find(a):
        parent.setdefault(a, a)
        while parent[a] != a:
            a = parent[a]
        return a

    def join(a, b):
        parent[find(a)] = find(b)

    wires = wires_of(sheet)
    for wire in wires:
        join(wire[0], wire[1])
    marks = [tuple(round(v, 4) for v in numbers(child(j, "at"))) for j in children(sheet, "junction")]
    ends = [p for wire in wires for p in wire]
    labels = [(item, tuple(round(v, 4) for v in numbers(child(item, "at"))[:2])) for item in
              (*children(sheet, "global_label"), *children(sheet, "label"))]  # fmt: skip
    for point in [*marks, *(at for _, at in labels)]:
        for wire in wires:
            if on_wire(point, wire):
                join(point, wire[0])
    # an end that meets the middle of a wire joins it only at a junction
    for point in ends:
        for wire in wires:
            inner = on_wire(point, wire) and point not in wire
            assert not inner or point in marks
    for item, at in labels:
        join(at, f"net {item[1]}")
    for (ref, _), at in drawn.pins.items():
        if ref in drawn.power and not ref.startswith("#FLG"):
            join(at, f"net {drawn.power[ref]}")
    crosses = {tuple(round(v, 4) for v in numbers(child(c, "at"))) for c in children(sheet, "no_connect")}
    nets = defaultdict(set)
    for part in made.netlist.parts:
        for pin in part.pins:
            if pin.net is not None:
                nets[pin.net].add((part.ref, pin.number))
    where = {pin: find(at) for pin, at in drawn.pins.items() if not pin[0].startswith("#")}
    for net, pins in nets.items():
        if len(pins) > 1:
            assert {where[pin] for pin in pins} == {find(f"net {net}")}
    joined = {pin for pins in nets.values() if len(pins) > 1 for pin in pins}
    for pin in where:
        assert (pin in joined) != (drawn.pins[pin] in crosses)
    names = [find(f"net {net}") for net, pins in nets.items() if len(pins) > 1]
    assert len(set(names)) == len(names)


def test_independent_reader_counts_the_same_pins(made, texts, tmp_path):
    path = tmp_path / "bench.kicad_sch"
    path.write_text(texts["cad/bench.kicad_sch"])
    read = skip.Schematic(str(path))
    found = {s.property.Reference.value: s for s in read.symbol}
    for part in made.netlist.parts:
        assert found[part.ref].property.Value.value == part.value
        assert {str(pin.number) for pin in found[part.ref].pin} == {
            *(pin.number for pin in part.pins),
            *part.footprint.numbers(),
        }


def test_embedded_symbols_equal_the_librarys(texts, sheet):
    library = parse(texts["cad/bench.kicad_sym"])
    there = {str(s[1]): s[2:] for s in children(library, "symbol")}
    here = {str(s[1]): s[2:] for s in children(child(sheet, "lib_symbols"), "symbol")}
    assert {f"bench:{name}": body for name, body in there.items()} == here


def test_module_pins_stand_in_physical_order(made, drawn):
    part = next(p for p in made.netlist.parts if p.kind is PartKind.MODULE)
    pads = {pad.number: pad.at for pad in part.footprint.pads if pad.number}
    for a, b in itertools.combinations(sorted(pads), 2):
        (ax, ay), (bx, by) = drawn.pins[part.ref, a], drawn.pins[part.ref, b]
        if ax == bx:
            assert (ay < by) == (pads[a].y < pads[b].y)
        elif abs(pads[a].x - pads[b].x) > 5_000_000:
            assert (ax < bx) == (pads[a].x < pads[b].x)


def test_title_block_is_filled_and_has_no_date(sheet):
    title = child(sheet, "title_block")
    assert words(child(title, "title")) == ["Bench board"]
    assert words(child(title, "rev")) == ["A"]
    assert child(title, "date") is None
    assert any("boardgen" in " ".join(words(c)) for c in children(title, "comment"))


def test_symbols_and_footprints_say_what_a_part_is_bought_by(made, texts):
    listed = {
        ref: tuple((label, row[column]) for label, column in (("Manufacturer", 4), ("MPN", 5)) if row[column])
        for row in bom_rows(made)[1:]
        for ref in row[0].split()
    }
    said = {}
    for path, kind in (("cad/bench.kicad_sch", "symbol"), ("cad/bench.kicad_pcb", "footprint")):
        for item in children(parse(texts[path]), kind):
            fields = {str(p[1]): str(p[2]) for p in children(item, "property")}
            ref = fields.get("Reference") or next(
                str(t[2]) for t in children(item, "fp_text") if str(t[1]) == "reference"
            )
            bought = tuple((label, fields[label]) for label in ("Manufacturer", "MPN") if label in fields)
            said.setdefault(ref, []).append(bought)
    parts = [part for part in made.netlist.parts if part.kind is not PartKind.HOLE]
    assert any("MPN" in dict(listed[part.ref]) for part in parts)
    for part in parts:
        assert said[part.ref] == [listed[part.ref]] * 2, part.ref


def test_references_sort_as_people_count():
    assert sorted(["R10", "C1", "R2"], key=natural) == ["C1", "R2", "R10"]
