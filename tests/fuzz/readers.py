"""Every reader of foreign bytes, with seeds and words to mutate; for the fuzzer and tests of hostile files.

Those of what comes after a run stand in ``readers_run``, where all of them are gathered.

A reader may return, or raise BoardgenError; those that are said to raise ValueError for damage (their caller
makes a finding of it) are called as their caller does. Anything else is a crash.
"""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from boardgen.board.model import Side

ROOT = Path(__file__).parents[2]
DATA = ROOT / "boardgen/catalog/data"
DESK = (
    "BOARDGEN_FUZZ_DESK"  # the fuzzer's own process cannot make a run: its compiled kernels are instrumented
)
SMALL = """\
name = "desk"
module = "pico-2"
connector = "dsub-9-socket-right-angle"
cautions = ["a", "b"]
outline = { points_mm = [[0, 0], [60, 0], [60, 50], [0, 50]] }

[[contacts]]
number = 1
signal = "A"
kind = "row"

[[contacts]]
number = 2
signal = "B"
kind = "column"

[[matrices]]
keys = [["ONE"]]
diodes = "cathode-to-row"
cathode_to_column = ["ONE"]
"""
GERBER = """\
%FSLAX46Y46*%
%MOMM*%
%TF.FileFunction,Copper,L1,Top*%
%AMROUND*1,1,$1,$2,$3*20,1,$1,0,0,$2,$3,0*4,1,3,0,0,1,0,1,1,0,0,0*5,1,5,0,0,$1,0*%
%ADD10C,0.2*%
%ADD11R,1X2*%
%ADD12O,1X2X0.5*%
%ADD13P,1X6X30*%
%ADD14ROUND,0.3X1X1*%
%TO.N,GND*%
D10*
G01*
X0Y0D02*
X1000000Y0D01*
G75*
G03*
X2000000Y1000000I0J1000000D01*
G01*
G36*
X0Y0D02*
X5000000Y0D01*
X5000000Y5000000D01*
X0Y0D01*
G37*
D11*
X100Y100D03*
D12*
X200Y200D03*
D13*
X300Y300D03*
D14*
X400Y400D03*
%LPC*%
D10*
X10Y10D03*
%SRX2Y2I1J1*%
X1Y1D03*
%SR*%
M02*
"""
DRILL = """\
M48
; #@! TF.FileFunction,Plated,1,2,PTH
FMAT,2
METRIC,TZ
T1C0.8
T2C1.0
%
G90
G05
T1
X10.0Y-5.5
X12.54Y-5.5
R3X2.54
T2
X1.0Y1.0G85X2.0Y1.0
G00X1.0Y1.0
M15
G01X2.0Y2.0
M16
M30
"""


@dataclass(frozen=True, slots=True)
class Reader:
    """One reader: what takes the bytes (and an empty folder to put them in), seeds, words of its language."""

    name: str
    take: Callable[[bytes, Path], object]
    seeds: Callable[[], tuple[bytes, ...]]
    words: tuple[bytes, ...] = ()
    file: str = "file"  # the name that errors must hold
    longest: int = 8192  # of what the fuzzer makes


def _design(data: bytes, folder: Path) -> object:
    from boardgen.catalog.tomlfile import parse_toml
    from boardgen.design.load import design_from

    return design_from(parse_toml(data, "file"), folder)


def _entry(data: bytes, folder: Path) -> object:
    from boardgen.catalog.load import read_entry

    said = re.search(rb'^id *= *"([a-z0-9.-]{1,64})"', data, re.MULTILINE)  # a file is called as its entry
    path = folder / f"{said[1].decode() if said else 'file'}.toml"
    try:
        path.write_bytes(data)
        return read_entry(path, "file")
    finally:
        path.unlink()


def _readings(data: bytes, _folder: Path) -> object:
    from boardgen.bench.csvform import parse_sheet
    from boardgen.bench.gather import connector_of, gather
    from boardgen.bench.infer import infer
    from boardgen.bench.model import Stated
    from boardgen.bench.tomltext import device_toml

    sheets = [parse_sheet(data, "file")]
    connector = catalogue().connector(connector_of(sheets, Stated()))
    return device_toml(infer(gather(sheets, Stated(), connector), connector))


def _dxf(data: bytes, _folder: Path) -> object:
    from boardgen.design.dxf import outline_from_dxf
    from boardgen.design.outline import outline_fault

    return outline_fault(outline_from_dxf(data, "file"))


def _footprint(data: bytes, folder: Path) -> object:
    from boardgen.footprint.library import load

    (folder / "file.kicad_mod").write_bytes(data)
    return load("file", [folder])


def _board(data: bytes, _folder: Path) -> object:
    from boardgen.readback.cad_board import read_cad_board

    return read_cad_board(data, "file", catalogue().fab("economy-2l"))


def _compared(path: str) -> Callable[[bytes, Path], object]:
    def take(data: bytes, _folder: Path) -> object:
        from boardgen.export.files import OutFile
        from boardgen.readback import examine_run

        fab = catalogue().fab("economy-2l")
        return examine_run((OutFile(path, data),), (Side.TOP, Side.BOTTOM), (0.0, 0.0), fab)

    return take


def _netlist(data: bytes, _folder: Path) -> object:
    from boardgen.errors import Finding
    from boardgen.readback.case import read_source
    from boardgen.readback.from_ipc import wanted_by_ipc

    found: list[Finding] = []
    return read_source("file", lambda: wanted_by_ipc(data, "file", 0.0, 0.0), found)


def _record(data: bytes, folder: Path) -> object:
    from boardgen.pipeline import check_run

    (folder / "summary.json").write_bytes(data)
    return check_run(folder)


@cache
def catalogue():  # type: ignore[no-untyped-def]
    """Return our catalogue, read once."""
    from boardgen.catalog.load import load_catalog

    return load_catalog()


@cache
def desk_files() -> dict[str, bytes]:
    """Return the files of a small board: those in the folder DESK where one is named, else made once."""
    import os
    import tempfile

    if os.environ.get(DESK):
        made = Path(os.environ[DESK])
        return {
            p.relative_to(made).as_posix(): p.read_bytes() for p in sorted(made.rglob("*")) if p.is_file()
        }
    from boardgen.pipeline import generate

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "desk"
        folder.mkdir()
        (folder / "design.toml").write_text(SMALL)
        run = generate(folder, Path(name) / "out").folder
        return {p.relative_to(run).as_posix(): p.read_bytes() for p in sorted(run.rglob("*")) if p.is_file()}


def _ending(*endings: str) -> tuple[bytes, ...]:
    return tuple(data for path, data in desk_files().items() if path.endswith(endings))


def _files(folder: Path, pattern: str, count: int = 8) -> tuple[bytes, ...]:
    found = sorted((p.read_bytes() for p in folder.rglob(pattern)), key=len)
    return tuple(found[:: max(1, len(found) // count)])


def drawing() -> bytes:
    """Return a DXF drawing with one of each kind of entity an outline may hold."""
    import ezdxf

    document = ezdxf.new(units=4)
    space = document.modelspace()
    space.add_line((0, 0), (50, 0))
    space.add_lwpolyline([(50, 0, 0.2), (50, 40, 0), (0, 40, 0)], format="xyb")
    space.add_line((0, 40), (0, 0))
    space.add_circle((20, 20), 3)
    space.add_arc((30, 20), 3, 0, 180)
    space.add_line((27, 20), (33, 20))
    text = io.StringIO()
    document.write(text)
    return text.getvalue().encode()


PLAIN_DXF = (
    b"0\nSECTION\n2\nENTITIES\n0\nLINE\n8\n0\n10\n0\n20\n0\n11\n50\n21\n0\n0\nARC\n8\n0\n10\n50\n20\n20\n40\n20\n"
    b"50\n270\n51\n90\n0\nLINE\n8\n0\n10\n50\n20\n40\n11\n0\n21\n40\n0\nLINE\n8\n0\n10\n0\n20\n40\n11\n0\n21\n0\n"
    b"0\nCIRCLE\n8\n0\n10\n20\n20\n20\n40\n3\n0\nENDSEC\n0\nEOF\n"
)
BOARD = """\
(kicad_pcb (version 20240108) (generator "x") (general (thickness 1.6)) (paper "A4")
 (title_block (title "t") (rev "A"))
 (layers (0 "F.Cu" signal) (31 "B.Cu" signal) (44 "Edge.Cuts" user))
 (setup (pad_to_mask_clearance 0.05) (aux_axis_origin 10 60))
 (net 0 "") (net 1 "GND") (net 2 "/A")
 (footprint "lib:p" (layer "F.Cu") (uuid "u1") (at 20 20 90) (attr through_hole)
  (property "Reference" "R1" (at 0 0 0) (layer "F.SilkS") (effects (font (size 1 1) (thickness 0.15))))
  (fp_line (start 0 0) (end 1 0) (stroke (width 0.1) (type solid)) (layer "F.SilkS"))
  (fp_arc (start 0 0) (mid 1 1) (end 2 0) (stroke (width 0.1) (type solid)) (layer "F.CrtYd"))
  (pad "1" thru_hole circle (at 0 0) (size 2 2) (drill 1) (layers "*.Cu" "*.Mask") (net 1 "GND"))
  (pad "2" smd roundrect (at 3 0) (size 2 1) (layers "F.Cu" "F.Mask") (roundrect_rratio 0.25) (net 2 "/A"))
  (pad "3" smd custom (at 6 0) (size 1 1) (layers "F.Cu") (options (clearance outline) (anchor rect))
   (primitives (gr_poly (pts (xy 0 0) (xy 1 0) (xy 1 1)) (width 0.1) (fill yes))))
  (pad "" np_thru_hole oval (at 9 0) (size 2 1) (drill oval 2 1) (layers "*.Cu")))
 (gr_line (start 10 10) (end 60 10) (layer "Edge.Cuts") (stroke (width 0.1) (type solid)))
 (gr_arc (start 60 10) (mid 70 35) (end 60 60) (layer "Edge.Cuts") (stroke (width 0.1) (type solid)))
 (gr_line (start 60 60) (end 10 60) (layer "Edge.Cuts") (stroke (width 0.1) (type solid)))
 (gr_line (start 10 60) (end 10 10) (layer "Edge.Cuts") (stroke (width 0.1) (type solid)))
 (gr_text "hi" (at 30 30 0) (layer "F.SilkS") (effects (font (size 1 1) (thickness 0.15))))
 (segment (start 20 20) (end 30 20) (width 0.3) (layer "F.Cu") (net 1) (uuid "u2"))
 (arc (start 30 20) (mid 31 21) (end 32 20) (width 0.3) (layer "F.Cu") (net 1) (uuid "u3"))
 (via (at 30 20) (size 0.8) (drill 0.4) (layers "F.Cu" "B.Cu") (net 1) (uuid "u4") (locked yes))
 (zone (net 1) (net_name "GND") (layer "B.Cu") (uuid "u5") (hatch edge 0.5) (connect_pads (clearance 0.3))
  (min_thickness 0.25) (fill yes (thermal_gap 0.3) (thermal_bridge_width 0.4))
  (polygon (pts (xy 11 11) (xy 59 11) (xy 59 59) (xy 11 59)))
  (filled_polygon (layer "B.Cu") (pts (xy 11 11) (xy 59 11) (xy 59 59) (xy 11 59)))))
"""


def _no_arcs(board: str) -> str:
    return "\n".join(line for line in board.splitlines() if not line.startswith(" (arc"))


_LISTS = (
    b"(pad",
    b"(at ",
    b"(layers",
    b"(drill oval",
    b"(size",
    b"(net",
    b"(pts",
    b"(xy",
    b"(arc",
    b"e99",
    b"nan",
)
_TOML = (b"[[contacts]]", b"= 1e999", b"nan", b"inf", b'"""', b"[[", b"{a=", b"\\U0010FFFF", b"\\u0000")

READERS = {
    reader.name: reader
    for reader in (
        Reader(
            "design",
            _design,
            lambda: (SMALL.encode(), *_files(ROOT / "designs", "*.toml")),
            (*_TOML, b"[[matrices]]", b"dxf = ", b"points_mm = "),
        ),
        Reader(
            "entry", _entry, lambda: _files(DATA, "*.toml", 16), (*_TOML, b"[family]", b"kind = ", b"pins = ")
        ),
        Reader(
            "readings",
            _readings,
            lambda: _files(ROOT / "designs", "*.csv"),
            (
                b"view, solder-side\n",
                b"half, plug\n",
                b"numbers, position\n",
                b"key, plus, minus, reading\n",
                b"4k7",
            ),
        ),
        Reader(
            "dxf", _dxf, lambda: (PLAIN_DXF, drawing()), (b"0\nLINE\n", b"0\nARC\n", b"42\n1e308\n", b"40\n")
        ),
        Reader("footprint", _footprint, lambda: _files(ROOT / "footprints", "*.kicad_mod"), _LISTS),
        Reader(
            "board",
            _board,
            lambda: (BOARD.encode(),),
            (*_LISTS, b"(zone", b"(segment", b"(via", b"(gr_arc"),
            longest=8192,
        ),
        Reader("cad", _compared("cad/file.kicad_pcb"), lambda: (_no_arcs(BOARD).encode(),), _LISTS),
        Reader(
            "gerber",
            _compared("fab/file.GTL"),
            lambda: (GERBER.encode(), *_ending(".GTS", ".GKO", ".GTO")),
            (
                b"%AM",
                b"%ADD",
                b"G36*",
                b"G37*",
                b"D01*",
                b"D03*",
                b"%LPC*%",
                b"%SRX",
                b"G75*",
                b"G03*",
                b"%AB",
            ),
        ),
        Reader(
            "drill",
            _compared("fab/file-PTH.DRL"),
            lambda: (DRILL.encode(), *_ending(".DRL")),
            (b"G85", b"M15", b"M16", b"R9", b"G00", b"G02", b"INCH,LZ", b"METRIC", b"T1", b"A1.5"),
        ),
        Reader(
            "netlist", _netlist, lambda: _ending(".IPC"), (b"317", b"327", b"999", b"P  UNITS CUST 0", b"A00")
        ),
        Reader(
            "record",
            _record,
            lambda: _ending("summary.json"),
            (b"1e999", b"NaN", b"../", b"\\ud800", b"[[[[", b"-1"),
            file="summary.json",
            longest=32_768,
        ),
    )
}
