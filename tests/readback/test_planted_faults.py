"""Faults planted by hand in the written text: each is found, under the right rule, with file and place."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from demos import DEMOS
from runkit import Files, bundle_of, examined, files_of, out_files, path_of

from boardgen.errors import Severity
from boardgen.readback import examine_run

NAME = "lecture-keypad"


def edit(ending: str, change: Callable[[str], str]) -> Callable[[Files], None]:
    def apply(files: Files) -> None:
        path = path_of(files, ending)
        text = files[path].decode()
        changed = change(text)
        assert changed != text, "the fault was not planted"
        files[path] = changed.encode()

    return apply


def sub(ending: str, pattern: str, by: str, count: int = 1) -> Callable[[Files], None]:
    return edit(ending, lambda text: re.sub(pattern, by, text, count=count, flags=re.MULTILINE))


def shift_x(by: int) -> Callable[[re.Match[str]], str]:
    return lambda m: f"X{int(m[1]) + by}Y"


def drop(ending: str) -> Callable[[Files], None]:
    def apply(files: Files) -> None:
        del files[path_of(files, ending)]

    return apply


def mirrored(text: str) -> str:
    return re.sub(r"^X(-?\d+)Y", lambda m: f"X{63_500_000 - int(m[1])}Y", text, flags=re.MULTILINE)


def without_track_of(net: str) -> Callable[[str], str]:
    def change(text: str) -> str:
        block = re.search(rf"%TO\.N,{net}\*%\n(?:D10\*\n)?(G01\*\nX\d+Y\d+D02\*\nX\d+Y\d+D01\*\n)", text)
        assert block is not None
        return text.replace(block[1], "", 1)

    return change


def to_other_file(files: Files) -> None:
    plated, bare = path_of(files, "-PTH.DRL"), path_of(files, "-NPTH.DRL")
    lines = files[plated].decode().split("\n")
    head = next(i for i, line in enumerate(lines) if line == "T1")
    hole = next(i for i, line in enumerate(lines[head:], head) if line.startswith("X"))
    moved = lines.pop(hole)
    size = next(line for line in lines if line.startswith("T1C"))
    files[plated] = "\n".join(lines).encode()
    text = files[bare].decode().replace("%\n", f"T9{size[2:]}\n%\n", 1)
    files[bare] = text.replace("M30", f"T9\nG05\n{moved}\nM30").encode()


def draw_across(text: str) -> str:
    """A line between the pads of two contacts that are on different nets."""
    places = {
        m[1]: (m[2], m[3])
        for m in re.finditer(r"%TO\.P,J1,(\d+)\*%\n(?:%TO.*\n)*(?:D\d+\*\n)?X(\d+)Y(\d+)D03", text)
    }
    (x1, y1), (x2, y2) = places["14"], places["15"]
    return text.replace("M02*", f"D10*\nX{x1}Y{y1}D02*\nX{x2}Y{y2}D01*\nM02*")


def swap_ipc(text: str) -> str:
    return text.replace("317COL1             J1", "317COL2             J1", 1)


def swap_cad(text: str) -> str:
    one = re.search(r'\(net (\d+) "/?COL1"\)', text)
    two = re.search(r'\(net (\d+) "/?COL2"\)', text)
    assert one
    assert two
    at = text.index(one[0], text.index("(pad "))
    return text[:at] + two[0] + text[at + len(one[0]) :]


FAULTS: dict[str, tuple[Callable[[Files], None], str, str]] = {
    "track removed": (edit(".GTL", without_track_of("COL1")), "readback-copper", ".GTL"),
    "net cut": (edit(".GTL", without_track_of("COL1")), "readback-open", ".GTL"),
    "pad aperture shrunk": (sub(".GTL", r"^%ADD15C,1\.7", "%ADD15C,1.6"), "readback-pad", ".GTL"),
    "pad aperture 1 um off": (sub(".GBL", r"(ADD\d+C),1\.800000", r"\1,1.801000"), "readback-pad", ".GBL"),
    "track aperture shrunk": (sub(".GTL", r"^%ADD10C,0\.25", "%ADD10C,0.05"), "readback-rule", ".GTL"),
    "pad moved by 0.1 mm": (
        edit(".GTL", lambda t: re.sub(r"^X(\d+)Y(?=\d+D03)", shift_x(100_000), t, count=1, flags=re.M)),
        "readback-pad",
        ".GTL",
    ),
    "pad missing": (sub(".GBL", r"^X\d+Y\d+D03\*\n", ""), "readback-pad", ".GBL"),
    "copper mirrored": (edit(".GTL", mirrored), "readback-layer", ".GTL"),
    "mask mirrored": (edit(".GTS", mirrored), "readback-layer", ".GTS"),
    "legend mirrored": (edit(".GTO", mirrored), "readback-layer", ".GTO"),
    "layers exchanged": (
        lambda files: files.update(
            {
                path_of(files, ".GTL"): files[path_of(files, ".GBL")],
                path_of(files, ".GBL"): files[path_of(files, ".GTL")],
            }
        ),
        "readback-layer",
        ".GTL",
    ),
    "layer missing": (drop(".GBS"), "readback-layer", "bottom mask"),
    "profile missing": (drop(".GKO"), "readback-layer", "profile"),
    "drill file missing": (drop("-PTH.DRL"), "readback-layer", "plated holes"),
    "copper shifted 1 mm": (
        edit(".GBL", lambda t: re.sub(r"^X(\d+)Y", shift_x(1_000_000), t, flags=re.M)),
        "readback-frame",
        ".GBL",
    ),
    "drill shifted 1 mm": (
        edit("-PTH.DRL", lambda t: re.sub(r"^X(\d+)\.", lambda m: f"X{int(m[1]) + 1}.", t, flags=re.M)),
        "readback-frame",
        "-PTH.DRL",
    ),
    "copper in inches": (sub(".GTL", r"%MOMM", "%MOIN"), "readback-frame", ".GTL"),
    "drill in inches": (sub("-PTH.DRL", r"^METRIC", "INCH"), "readback-frame", "-PTH.DRL"),
    "profile in inches": (sub(".GKO", r"%MOMM", "%MOIN"), "readback-frame", ".GKO"),
    "drill size altered": (sub("-PTH.DRL", r"^T2C\d+\.\d+", "T2C0.7"), "readback-drill", "-PTH.DRL"),
    "hole dropped": (sub("-PTH.DRL", r"^X.*\n", ""), "readback-drill", "-PTH.DRL"),
    "hole added": (sub("-PTH.DRL", r"^(X.*\n)", r"\1X31.0Y2.0\n"), "readback-drill", "-PTH.DRL"),
    "hole outside": (sub("-NPTH.DRL", r"^M30", "X70.0Y2.0\nM30"), "readback-profile", "-NPTH.DRL"),
    "plated hole in the other file": (to_other_file, "readback-drill", "-NPTH.DRL"),
    "profile open": (sub(".GKO", r"^X\d+Y\d+D01\*\n", ""), "readback-profile", ".GKO"),
    "profile larger": (
        edit(".GKO", lambda t: t.replace("Y50500000", "Y50700000").replace("Y49500000", "Y49700000")),
        "readback-profile",
        ".GKO",
    ),
    "short by a drawn line": (edit(".GTL", draw_across), "readback-short", ".GTL"),
    "opening shrunk": (sub(".GTS", r"(ADD\d+C),\d\.\d+", r"\1,1.500000"), "readback-pad", ".GTS"),
    "printed line lost": (sub(".GTO", r"^X\d+Y\d+D01\*\n", ""), "readback-layer", ".GTO"),
    "pour cut": (
        edit(
            ".GTL",
            lambda t: t.replace("M02*", "%LPC*%\nD10*\nX2000000Y0D02*\nX2000000Y50000000D01*\n%LPD*%\nM02*"),
        ),
        "readback-copper",
        ".GTL",
    ),
    "track bent": (
        edit(
            ".GTL",
            lambda t: re.sub(
                r"^G01\*\nX(\d+)Y(\d+)D02\*\nX(\d+)Y(\d+)D01\*\n(?!X)",
                lambda m: (
                    f"G75*\nG02*\nX{m[1]}Y{m[2]}D02*\nX{m[3]}Y{m[4]}"
                    f"I{(int(m[3]) - int(m[1])) // 2}J{(int(m[4]) - int(m[2])) // 2}D01*\nG01*\n"
                ),
                t,
                count=1,
                flags=re.MULTILINE,
            ),
        ),
        "readback-copper",
        ".GTL",
    ),
    "area drawn in the mask": (
        sub(
            ".GTS",
            r"^M02",
            "G36*\nG01*\nX20000000Y20000000D02*\nX20000000Y30000000D01*\nX30000000Y30000000D01*\nX20000000Y20000000D01*\nG37*\nM02",
        ),
        "readback-layer",
        ".GTS",
    ),
    "flash in the profile": (sub(".GKO", r"^M02", "X20000000Y20000000D03*\nM02"), "readback-layer", ".GKO"),
    "pad labelled with another net": (sub(".GTL", r"TO\.N,COL1\*", "TO.N,COL2*"), "readback-netlist", ".GTL"),
    "pad labelled as another": (sub(".GBL", r"TO\.P,J1,14", "TO.P,J1,15"), "readback-netlist", ".GBL"),
    "record with another net": (edit(".IPC", swap_ipc), "readback-netlist", ".IPC"),
    "record missing": (sub(".IPC", r"^317COL1.*\n", ""), "readback-pad", ".IPC"),
    "record with another hole": (
        sub(".IPC", r"^(317COL1.{22}...)D1100", r"\1D1200"),
        "readback-drill",
        ".IPC",
    ),
    "record moved": (sub(".IPC", r"^(317COL1.*)X\+049199", r"\1X+049299"), "readback-pad", ".IPC"),
    "netlist without end": (sub(".IPC", r"^999\n", ""), "readback-file", ".IPC"),
    "CAD net swapped": (edit(".kicad_pcb", swap_cad), "readback-netlist", ".kicad_pcb"),
    "CAD hole altered": (sub(".kicad_pcb", r"\(drill 1\.1\)", "(drill 1.2)"), "readback-drill", ".kicad_pcb"),
    "CAD track removed": (
        sub(".kicad_pcb", r"^  \(segment\n(?:    .*\n)*  \)\n", ""),
        "readback-copper",
        ".kicad_pcb",
    ),
    "CAD origin shifted": (
        sub(".kicad_pcb", r"aux_axis_origin (\d+)", r"aux_axis_origin 1\1"),
        "readback-frame",
        ".kicad_pcb",
    ),
    "CAD board damaged": (edit(".kicad_pcb", lambda t: t[: len(t) // 2]), "readback-file", ".kicad_pcb"),
    "layer cut short": (edit(".GTL", lambda t: t[: len(t) // 2]), "readback-file", ".GTL"),
    "layer of noise": (edit(".GBL", lambda _: "G36*\x00D99*%%X"), "readback-file", ".GBL"),
    "aperture unknown": (sub(".GTL", r"^D11\*", "D99*"), "readback-file", ".GTL"),
    "drill damaged": (sub("-PTH.DRL", r"^G05", "G0X"), "readback-file", "-PTH.DRL"),
    "says another layer": (sub(".GTL", r"Copper,L1,Top", "Copper,L2,Bot"), "readback-layer", ".GTL"),
    "says unplated": (
        sub("-PTH.DRL", r"FileFunction,Plated", "FileFunction,NonPlated"),
        "readback-drill",
        "-PTH.DRL",
    ),
    "CAD board missing": (drop(".kicad_pcb"), "readback-layer", "CAD board"),
}


@pytest.mark.parametrize("fault", sorted(FAULTS))
def test_a_planted_fault_is_found_and_named(fault):
    plant, rule, words = FAULTS[fault]
    report = examined(NAME, plant)
    named = [f for f in report.findings if f.rule == rule and f.severity is Severity.ERROR]
    assert any(words in f.message for f in named), [f"{f.rule}: {f.message}" for f in report.findings]
    assert not all(check.passed for check in report.checks)


# Told by the board alone: the CAD board draws its texts itself, and is believed where there is no design.
BOARD_ONLY = {"legend mirrored", "printed line lost"}
OF_THE_CAD_BOARD = {
    "CAD net swapped": "readback-short",
    "CAD hole altered": "readback-drill",
    "CAD track removed": "readback-copper",
    "CAD origin shifted": "readback-frame",
}


@pytest.mark.parametrize("fault", sorted(set(FAULTS) - BOARD_ONLY))
def test_a_planted_fault_is_found_from_the_files_alone(fault):
    plant, rule, _words = FAULTS[fault]
    files = files_of(NAME)
    plant(files)
    bundle = bundle_of(NAME)
    report = examine_run(out_files(files), bundle.board.copper, (0.0, 50_500_000.0), bundle.bound.fab)
    found = [f.rule for f in report.findings if f.severity is Severity.ERROR]
    assert OF_THE_CAD_BOARD.get(fault, rule) in found, [f"{f.rule}: {f.message}" for f in report.findings]


@pytest.mark.parametrize("demo", DEMOS)
def test_a_clean_run_reads_back_clean(demo):
    report = examined(demo)
    assert report.findings == ()
    assert [check.name for check in report.checks if check.passed] == [
        "read-back, files",
        "read-back, connections",
        "read-back, rules",
    ]
    bundle = bundle_of(demo)
    evidence = report.checks[1].evidence
    pads = sum(pad.number != "" for part in bundle.board.parts for pad in part.footprint.pads)
    assert evidence["joints compared"] == pads
    assert [evidence[key] for key in evidence if key.startswith("joints as in")] == [pads] * 3


def test_a_whole_layer_fault_is_told_once():
    report = examined(NAME, FAULTS["copper shifted 1 mm"][0])
    assert [f.rule for f in report.findings] == ["readback-frame"]
    assert "shifted by 1, 0 mm" in report.findings[0].message


def test_a_short_and_an_open_name_their_place():
    short = next(
        f for f in examined(NAME, FAULTS["short by a drawn line"][0]).findings if f.rule == "readback-short"
    )
    assert set(short.items) == {"COL1", "COL2"}
    assert short.layer == "top copper"
    assert short.at is not None
    opened = next(f for f in examined(NAME, FAULTS["net cut"][0]).findings if f.rule == "readback-open")
    assert set(opened.items) == {"J1 pad 14", "U1 pad 21"}
    assert opened.at is not None


def test_the_files_are_not_changed_by_a_look():
    before = files_of(NAME)
    examined(NAME)
    assert files_of(NAME) == before
