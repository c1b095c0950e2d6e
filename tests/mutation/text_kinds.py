"""Faults of the written text: Gerber, drill and test netlist changed after they were written."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from random import Random

import shapely
from shapely.geometry.base import BaseGeometry

from boardgen.board.geometry import outline_polygon
from boardgen.export.bundle import Bundle
from boardgen.export.cad_files import cad_files
from boardgen.export.drill import drill_files
from boardgen.export.files import OutFile
from boardgen.export.gerber import gerber_files
from boardgen.export.ipc356 import ipc356_files
from boardgen.readback import ReadbackReport, examine_board
from tests.mutation.kept import kept_readings

Files = dict[str, str]
SIDES = (".GTL", ".GBL")
UM = 1_000


def files_of(bundle: Bundle) -> Files:
    """A run's files as text by ending; the zip left out, so that a fault is planted once."""
    made = (*gerber_files(bundle), *drill_files(bundle), *ipc356_files(bundle), *cad_files(bundle))
    return {f.path: f.data.decode() for f in made if f.path.endswith(KEPT)}


KEPT = (".GTL", ".GBL", ".GTS", ".GBS", ".GTP", ".GBP", ".GTO", ".GBO", ".GKO", ".DRL", ".IPC", ".kicad_pcb")


def examined(files: Files, bundle: Bundle) -> ReadbackReport:
    out = [OutFile(path, text.encode()) for path, text in sorted(files.items())]
    with kept_readings():
        return examine_board(out, bundle.board, bundle.netlist, bundle.bound.fab, bundle.findings)


@dataclass
class Text:
    """The files of one board to plant a fault in; by -1 for the fault, 1 for what must pass."""

    files: Files
    bundle: Bundle
    draw: Random
    by: int

    def path(self, ending: str) -> str | None:
        return next((p for p in sorted(self.files) if p.endswith(ending)), None)

    def pick(self, endings: tuple[str, ...], pattern: str, copper_only: bool = False):
        """One match of *pattern* in one of the files, or None; strokes inside areas are no tracks."""
        found = []
        for ending in endings:
            path = self.path(ending)
            if path is None:
                continue
            text = self.files[path]
            areas = [m.span() for m in re.finditer(r"G36\*.*?G37\*", text, re.DOTALL)] if copper_only else []
            for match in re.finditer(pattern, text, re.MULTILINE):
                if not any(start <= match.start() < end for start, end in areas):
                    found.append((path, match))
        return self.draw.choice(found) if found else None

    def put(self, path: str, match: re.Match[str], new: str) -> None:
        text = self.files[path]
        self.files[path] = text[: match.start()] + new + text[match.end() :]

    def place(self, x: float, y: float) -> BaseGeometry:
        """The place on the board of one in the files (nm)."""
        left, _, _, bottom = outline_polygon(self.bundle.board.outline, 100.0).bounds
        return shapely.Point(left + x, bottom - y)


Where = BaseGeometry | None
Planter = Callable[[Text], "Where | bool"]  # False: no room for it here; None: a fault without a place


@dataclass(frozen=True)
class TextKind:
    name: str
    rule: str
    plant: Planter
    limited: bool


TEXT_KINDS: dict[str, TextKind] = {}


def text_kind(rule: str, limited: bool = False) -> Callable[[Planter], Planter]:
    def register(plant: Planter) -> Planter:
        name = "text-" + plant.__name__.replace("_", "-")
        TEXT_KINDS[name] = TextKind(name, rule, plant, limited)
        return plant

    return register


STROKE = r"^G01\*\nX(-?\d+)Y(-?\d+)D02\*\nX(-?\d+)Y(-?\d+)D01\*\n(?!X)"
FLASH = r"^X(-?\d+)Y(-?\d+)D03\*\n"


def ends_of(text: Text, match: re.Match[str]) -> BaseGeometry:
    a, b = text.place(int(match[1]), int(match[2])), text.place(int(match[3]), int(match[4]))
    return shapely.LineString([a, b])


@text_kind("readback-copper")
def track_removed(text: Text):
    hit = text.pick(SIDES, STROKE, copper_only=True)
    if hit is None:
        return False
    text.put(*hit, "G01*\n")
    return ends_of(text, hit[1])


@text_kind("readback-copper")
def track_end_off(text: Text):
    """A track's end 1 um off; nothing is let pass here, tracks are compared to the nm."""
    hit = text.pick(SIDES, STROKE, copper_only=True)
    if hit is None:
        return False
    off = UM
    m = hit[1]
    text.put(*hit, f"G01*\nX{m[1]}Y{m[2]}D02*\nX{int(m[3]) + off}Y{int(m[4]) + off}D01*\n")
    return ends_of(text, m)


@text_kind("readback-copper")
def track_width_off(text: Text):
    hit = text.pick(SIDES, r"^(%TA\.AperFunction,Conductor\*%\n%ADD\d+C,)(\d+\.\d+)")
    if hit is None:
        return False
    text.put(*hit, f"{hit[1][1]}{float(hit[1][2]) - 0.001:.6f}")
    return None


@text_kind("readback-pad", limited=True)
def pad_size_off(text: Text):
    hit = text.pick(SIDES, r"^(%TA\.AperFunction,ComponentPad\*%\n(?:%ADD.*\n)*?%ADD\d+C,)(\d+\.\d+)")
    if hit is None:
        return False
    width = round(float(hit[1][2]) * 1e6) - (UM if text.by < 0 else 1)
    text.put(*hit, f"{hit[1][1]}{width / 1e6:.6f}")
    return None


def flash(text: Text, endings: tuple[str, ...], new: Callable[[int, int], str]):
    hit = text.pick(endings, FLASH)
    if hit is None:
        return False
    x, y = int(hit[1][1]), int(hit[1][2])
    text.put(*hit, new(x, y))
    return text.place(x, y)


@text_kind("readback-pad", limited=True)
def pad_moved(text: Text):
    off = UM if text.by < 0 else 1
    return flash(text, SIDES, lambda x, y: f"X{x + off}Y{y}D03*\n")


@text_kind("readback-pad")
def pad_removed(text: Text):
    return flash(text, SIDES, lambda *_: "")


@text_kind("readback-pad")
def pad_too_many(text: Text):
    def twice(x: int, y: int) -> str:
        return f"X{x}Y{y}D03*\nX{x + 700_000}Y{y}D03*\n"

    return flash(text, SIDES, twice)


@text_kind("readback-pad")
def opening_removed(text: Text):
    return flash(text, (".GTS", ".GBS"), lambda *_: "")


@text_kind("readback-pad", limited=True)
def opening_moved(text: Text):
    off = UM if text.by < 0 else 1
    return flash(text, (".GTS", ".GBS"), lambda x, y: f"X{x}Y{y + off}D03*\n")


@text_kind("readback-pad", limited=True)
def opening_size_off(text: Text):
    hit = text.pick((".GTS", ".GBS"), r"^(%ADD\d+C,)(\d+\.\d+)")
    if hit is None:
        return False
    width = round(float(hit[1][2]) * 1e6) + (UM if text.by < 0 else 1)
    text.put(*hit, f"{hit[1][1]}{width / 1e6:.6f}")
    return None


@text_kind("readback-copper")
def pour_removed(text: Text):
    hit = text.pick(SIDES, r"^G36\*\n(?:.*\n)*?G37\*\n")
    if hit is None:
        return False
    text.put(*hit, "")
    return None


@text_kind("readback-copper")
def pour_corner_off(text: Text):
    """One corner of a pour pulled in by 0.1 mm."""
    hit = text.pick(SIDES, r"^G36\*\n(?:.*\n)*?G37\*\n")
    if hit is None:
        return False
    corners = list(re.finditer(r"^X(-?\d+)Y(-?\d+)D01\*", hit[1][0], re.MULTILINE))
    at = text.draw.choice(corners[:-1])
    x, y = int(at[1]), int(at[2])
    inner = hit[1][0][: at.start()] + f"X{x + 100_000}Y{y + 100_000}D01*" + hit[1][0][at.end() :]
    text.put(*hit, inner)
    return text.place(x, y)


@text_kind("readback-short")
def pads_bridged(text: Text):
    """A stroke from one pad to the nearest of another net."""
    path = text.path(text.draw.choice(SIDES)) or text.path(".GBL")
    assert path is not None
    content = text.files[path]
    pads, net = [], ""
    for line in re.finditer(
        r"^%TO\.N,(.*)\*%$|^%TD(?:\.N)?\*%$|^X(-?\d+)Y(-?\d+)D03\*$", content, re.MULTILINE
    ):
        if line[0].startswith("%TO"):
            net = line[1]
        elif line[0].startswith("%TD"):
            net = ""
        elif net:
            pads.append((net, int(line[2]), int(line[3])))
    if not pads:
        return False
    net, x, y = text.draw.choice(pads)
    others = [p for p in pads if p[0] != net]
    width = re.search(r"^%ADD(\d+)C,", content, re.MULTILINE)
    if not others or width is None:
        return False
    _, u, v = min(others, key=lambda p: (p[1] - x) ** 2 + (p[2] - y) ** 2)
    stroke = f"%TD*%\nD{width[1]}*\nG01*\nX{x}Y{y}D02*\nX{u}Y{v}D01*\nM02*"
    text.files[path] = content.replace("M02*", stroke)
    return shapely.LineString([text.place(x, y), text.place(u, v)])


@text_kind("readback-netlist")
def pad_net_relabelled(text: Text):
    """One pad labelled with the net of another."""
    hit = text.pick((".GBL",), r"^%TO\.N,([^*]+)\*%\n(?=%TO\.P)")
    nets = sorted(set(re.findall(r"^%TO\.N,([^*]+)\*%", text.files[hit[0]], re.MULTILINE))) if hit else []
    others = [n for n in nets if hit and n != hit[1][1]]
    if hit is None or not others:
        return False
    text.put(*hit, f"%TO.N,{text.draw.choice(others)}*%\n")
    return None


def whole(text: Text, ending: str, change: Callable[[str], str]) -> bool | None:
    path = text.path(ending)
    if path is None:
        return False
    changed = change(text.files[path])
    if changed == text.files[path]:
        return False
    text.files[path] = changed
    return None


def moved(by: int) -> Callable[[str], str]:
    return lambda t: re.sub(r"^X(-?\d+)Y", lambda m: f"X{int(m[1]) + by}Y", t, flags=re.MULTILINE)


def any_layer(text: Text) -> str:
    return text.draw.choice((".GTL", ".GBL", ".GTS", ".GBS"))


@text_kind("readback-frame")
def layer_shifted(text: Text):
    return whole(text, any_layer(text), moved(text.draw.choice((-1, 1)) * 500_000))


@text_kind("readback-frame")
def layer_in_inches(text: Text):
    return whole(text, any_layer(text), lambda t: t.replace("%MOMM*%", "%MOIN*%"))


@text_kind("readback-layer")
def layer_mirrored(text: Text):
    left, _, right, _ = outline_polygon(text.bundle.board.outline, 100.0).bounds
    width = round(right - left)
    copper = text.draw.choice((".GBL", ".GBS"))
    return whole(
        text,
        copper,
        lambda t: re.sub(r"^X(-?\d+)Y", lambda m: f"X{width - int(m[1])}Y", t, flags=re.MULTILINE),
    )


@text_kind("readback-layer")
def layer_missing(text: Text):
    path = text.path(text.draw.choice((".GBL", ".GBS", ".GKO", "-PTH.DRL", ".GTL"))) or text.path(".GBL")
    assert path is not None
    del text.files[path]


@text_kind("readback-file")
def layer_cut_short(text: Text):
    return whole(text, any_layer(text), lambda t: t[: len(t) * text.draw.randrange(55, 90) // 100])


@text_kind("readback-layer")
def printed_stroke_lost(text: Text):
    hit = text.pick((".GTO", ".GBO"), r"^X-?\d+Y-?\d+D01\*\n(?!X)")
    if hit is None:
        return False
    text.put(*hit, "")
    return None


@text_kind("readback-profile")
def profile_open(text: Text):
    hit = text.pick((".GKO",), r"^(X-?\d+Y-?\d+(?:I-?\d+J-?\d+)?D01\*\n)")
    if hit is None:
        return False
    text.put(*hit, "")
    return None


@text_kind("readback-profile")
def profile_moved(text: Text):
    """One straight piece of the profile and what joins it drawn 0.1 mm off."""
    hit = text.pick((".GKO",), r"^G01\*\nX(-?\d+)Y(-?\d+)D02\*\nX(-?\d+)Y(-?\d+)D01\*\n")
    if hit is None:
        return False
    m = hit[1]
    axis = 0 if m[1] == m[3] else 1
    old = f"{'XY'[axis]}{m[1 + axis]}"
    new = f"{'XY'[axis]}{int(m[1 + axis]) + 100_000}"
    content = text.files[hit[0]]
    text.files[hit[0]] = re.sub(rf"{old}(?=[YID])", new, content)
    return None


@text_kind("readback-profile")
def profile_doubled(text: Text):
    """The profile drawn once more, 1 mm to the right."""
    path = text.path(".GKO")
    assert path is not None
    content = text.files[path]
    drawn = content[content.index("D10*\n") + 5 : content.index("M02*")]
    again = re.sub(r"^X(-?\d+)Y", lambda m: f"X{int(m[1]) + 1_000_000}Y", drawn, flags=re.MULTILINE)
    text.files[path] = content.replace("M02*", again + "M02*")


HOLE = r"^X(-?\d+\.\d+)Y(-?\d+\.\d+)\n"
DRILLS = ("-PTH.DRL", "-NPTH.DRL")


def hole(text: Text, new: Callable[[float, float], str], endings: tuple[str, ...] = DRILLS):
    hit = text.pick(endings, HOLE)
    if hit is None:
        return False
    x, y = float(hit[1][1]), float(hit[1][2])
    text.put(*hit, new(x, y))
    return text.place(x * 1e6, y * 1e6)


@text_kind("readback-drill")
def hole_removed(text: Text):
    return hole(text, lambda *_: "")


@text_kind("readback-drill")
def hole_too_many(text: Text):
    return hole(text, lambda x, y: f"X{x:.6f}Y{y:.6f}\nX{x + 0.9:.6f}Y{y:.6f}\n")


@text_kind("readback-drill", limited=True)
def hole_moved(text: Text):
    off = 0.001 if text.by < 0 else 0.000001
    return hole(text, lambda x, y: f"X{x + off:.6f}Y{y:.6f}\n")


@text_kind("readback-drill")
def drill_size_off(text: Text):
    hit = text.pick(DRILLS, r"^(T\d+C)(\d+\.\d+)$")
    if hit is None:
        return False
    text.put(*hit, f"{hit[1][1]}{float(hit[1][2]) + 0.001:.3f}")
    return None


@text_kind("readback-drill")
def plating_wrong(text: Text):
    """A plated hole in the file of those without plating."""
    plated, bare = text.path("-PTH.DRL"), text.path("-NPTH.DRL")
    hit = text.pick(("-PTH.DRL",), HOLE)
    if plated is None or bare is None or hit is None:
        return False
    before = text.files[plated][: hit[1].start()]
    tool = re.findall(r"^T(\d+)$", before, re.MULTILINE)[-1]
    size = re.search(rf"^T{tool}C(\d+\.\d+)$", before, re.MULTILINE)
    assert size is not None
    text.put(*hit, "")
    other = text.files[bare].replace("%\n", f"T98C{size[1]}\n%\n", 1)
    text.files[bare] = other.replace("M30", f"T98\nG05\n{hit[1][0]}M30")
    return text.place(float(hit[1][1]) * 1e6, float(hit[1][2]) * 1e6)


@text_kind("readback-profile")
def hole_outside(text: Text):
    return None if hole(text, lambda x, y: f"X{x:.6f}Y{y:.6f}\nX-5.000000Y{y:.6f}\n") is not False else False


@text_kind("readback-frame")
def drills_shifted(text: Text):
    def shifted(t: str) -> str:
        return re.sub(
            r"^X(-?\d+\.\d+)(Y-?\d+\.\d+)(G85X(-?\d+\.\d+))?",
            lambda m: f"X{float(m[1]) + 0.5:.6f}{m[2]}" + (f"G85X{float(m[4]) + 0.5:.6f}" if m[3] else ""),
            t,
            flags=re.MULTILINE,
        )

    return whole(text, "-PTH.DRL", shifted)


@text_kind("readback-frame")
def drills_in_inches(text: Text):
    return whole(text, "-PTH.DRL", lambda t: re.sub(r"^METRIC", "INCH", t, flags=re.MULTILINE))


RECORD = r"^(3[12]7)(.{14})(.*)\n"


@text_kind("readback-pad")
def record_removed(text: Text):
    hit = text.pick((".IPC",), RECORD)
    if hit is None:
        return False
    text.put(*hit, "")
    return None


@text_kind("readback-netlist")
def record_of_another_net(text: Text):
    hit = text.pick((".IPC",), RECORD)
    assert hit is not None
    nets = {m[1] for m in re.findall(RECORD, text.files[hit[0]], re.MULTILINE)}
    others = sorted(nets - {hit[1][2]})
    if not others:
        return False
    text.put(*hit, f"{hit[1][1]}{text.draw.choice(others)}{hit[1][3]}\n")
    return None


@text_kind("readback-pad")
def record_moved(text: Text):
    hit = text.pick((".IPC",), r"^(3[12]7.*X)([+-]\d{6})(Y[+-]\d{6}.*)$")
    if hit is None:
        return False
    text.put(*hit, f"{hit[1][1]}{int(hit[1][2]) + 100:+07d}{hit[1][3]}")
    return None


@text_kind("readback-drill")
def record_of_another_hole(text: Text):
    hit = text.pick((".IPC",), r"^(3[12]7.*D)(\d{4})([PU]A.*)$")
    if hit is None:
        return False
    text.put(*hit, f"{hit[1][1]}{int(hit[1][2]) + 100:04d}{hit[1][3]}")
    return None


@text_kind("readback-file")
def record_without_end(text: Text):
    return whole(text, ".IPC", lambda t: t.replace("999\n", ""))
