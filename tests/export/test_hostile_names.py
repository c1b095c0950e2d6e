"""Names that mean something to a file's reader are text in every output; judged by readers of the trade."""

from __future__ import annotations

import ast
import csv
import io
import json
import shutil
import subprocess
import warnings
from dataclasses import replace
from html.parser import HTMLParser
from xml.etree import ElementTree

import pytest
from gerbonara import ExcellonFile, GerberFile

from boardgen.catalog.load import load_catalog
from boardgen.catalog.tomlfile import parse_toml
from boardgen.design.load import design_from
from boardgen.export.bom import csv_text
from boardgen.export.bringup import bringup_files
from boardgen.export.cad_files import cad_files
from boardgen.export.drill import drill_files
from boardgen.export.firmware import firmware_files
from boardgen.export.firmware_guard import python_guard
from boardgen.export.gerber import gerber_files
from boardgen.export.ipc356 import ipc356_files
from boardgen.footprint.sexpr import parse
from boardgen.pipeline import build, choose_module
from boardgen.pipeline.files import make_files

EVIL = (
    "</title><script>alert(1)</script>",
    "\"><img src=x onerror=alert(1)>'",
    "*/ int x; /* ??/",
    "'''\"\"\"; import os #",
    "=HYPERLINK(1)",
    "+1+cmd|' /C calc'!A0",
    "@SUM(1)",
    "%TO.N,GND*% G04 *M02*",
    ') (net 99 "x") (',
    "a\\",
    "{{ 7*7 }}{% raw %}",
    "<![CDATA[ ]]> &amp; &#0;",
    "\u0416\u00b5\u6f22 \u202fx",
    "999 317 P  UNITS",
)


def design_text() -> bytes:
    """A design whose every free text is hostile."""
    quoted = [json.dumps(text, ensure_ascii=False) for text in EVIL]
    keys = [text[:40] for text in EVIL]
    rows = [keys[0:2], keys[2:4]]
    lines = [
        'name = "desk"',
        f"title = {quoted[0]}",
        f"device = {quoted[1]}",
        f"description = {json.dumps(' '.join(EVIL), ensure_ascii=False)}",
        'module = "pico-2"',
        'connector = "dsub-9-socket-right-angle"',
        f"cautions = [{', '.join(quoted)}]",
    ]
    contacts = [
        ("R1", "row"),
        ("R2", "row"),
        ("C1", "column"),
        ("C2", "column"),
        ("S1", "switch"),
        ("S2", "switch"),
    ]
    for number, (signal, kind) in enumerate(contacts, 1):
        wire = json.dumps(EVIL[number + 3][:40], ensure_ascii=False)
        note = quoted[(number + 7) % len(quoted)]
        lines += ["[[contacts]]", f"number = {number}", f'signal = "{signal}"', f'kind = "{kind}"']
        lines += [f"wire = {wire}", f"note = {note}"]
    lines += ["[[contacts]]", "number = 9", 'kind = "ground"', f"wire = {quoted[4][:40]}"]
    lines += ["[[matrices]]", f"keys = {json.dumps(rows, ensure_ascii=False)}", 'diodes = "cathode-to-row"']
    lines += ["[[errata]]", 'revision = "A"', f"symptom = {quoted[2]}", f"cause = {quoted[3]}"]
    return "\n".join(lines).encode()


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """Every file of a run of that design, by path."""
    catalog = load_catalog()
    design = design_from(parse_toml(design_text(), "design.toml"), tmp_path_factory.mktemp("none"))
    built = build(choose_module(design, catalog), catalog)
    return built, {file.path: file.data for file in make_files(built).files}


class Page(HTMLParser):
    """Counts elements that act, and attributes that do."""

    def __init__(self) -> None:
        super().__init__()
        self.acts: list[str] = []
        self.text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in ("script", "iframe", "object", "embed", "img", "link", "base", "form"):
            self.acts.append(tag)
        self.acts += [name for name, _ in attrs if name.startswith("on")]

    def handle_data(self, data: str) -> None:
        self.text.append(data)


def pages(files: dict[str, bytes]) -> None:
    for path, data in files.items():
        if path.endswith(".html"):
            page = Page()
            page.feed(data.decode("utf-8"))
            assert page.acts == [], path


def test_pages_hold_the_words_and_nothing_that_acts(made):
    _, files = made
    pages(files)
    page = Page()
    page.feed(files["report.html"].decode("utf-8"))
    text = "".join(page.text)
    assert EVIL[0] in text
    assert "{{ 7*7 }}" in text


def test_drawings_are_well_formed_and_have_no_script(made):
    _, files = made
    drawings = {path: data for path, data in files.items() if path.endswith(".svg")}
    assert drawings
    for path, data in drawings.items():
        tags = {item.tag.rsplit("}", 1)[-1] for item in ElementTree.fromstring(data.decode("utf-8")).iter()}
        assert not tags & {"script", "foreignObject", "image", "a"}, path


def test_no_cell_of_a_list_is_a_formula(made):
    _, files = made
    for path, data in files.items():
        if path.endswith(".csv"):
            rows = list(csv.reader(io.StringIO(data.decode("utf-8")), strict=True))
            if not path.endswith("readings.csv"):  # which begins with statements
                assert len({len(row) for row in rows}) == 1, path
            for cell in (cell for row in rows for cell in row):
                assert cell[:1] not in ("=", "+", "@", "\t", "\r") or cell in ("+", "@"), (path, cell)


@pytest.mark.parametrize("cell", [*EVIL, "-1+1", "\t=1", "\r=1", "=1\r\n=2", "-", "\n=1"])
def test_a_hostile_cell_stays_one_cell_and_no_formula(cell):
    rows = list(csv.reader(io.StringIO(csv_text([("a", cell, "b")])), strict=True))
    assert len(rows) == 1
    assert (rows[0][0], rows[0][2]) == ("a", "b")
    assert not rows[0][1].startswith(("=", "+", "@", "\t", "\r", "-1"))


def test_cad_files_are_one_list_each_that_holds_the_words(made):
    _, files = made
    for path, data in files.items():
        if path.endswith((".kicad_pcb", ".kicad_sch", ".kicad_sym", ".kicad_mod")):
            parse(data.decode("utf-8"), path)
        if path.endswith(".kicad_pro"):
            json.loads(data)
    board = next(data for path, data in files.items() if path.endswith(".kicad_pcb"))
    assert parse(board.decode("utf-8"))[0] == "kicad_pcb"


def fabrication(files: dict[str, bytes]) -> None:
    for path, data in files.items():
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            if path.endswith((".GTL", ".GBL", ".GTS", ".GTO", ".GKO")):
                GerberFile.from_string(data.decode("ascii"))
                assert data.count(b"M02*") == 1, path
            elif path.endswith(".DRL"):
                ExcellonFile.from_string(data.decode("ascii"))
                assert data.count(b"\nM30") == 1, path
        if path.endswith(".IPC"):
            lines = data.decode("utf-8").splitlines()
            assert [line[:3] for line in lines].count("999") == 1
            assert all(line.isprintable() for line in lines)


def test_fabrication_files_are_read_as_ever(made):
    _, files = made
    fabrication(files)


def firmware(files: dict[str, bytes], folder) -> None:
    (header,) = [data for path, data in files.items() if path.endswith("_pins.h")]
    (module,) = [data for path, data in files.items() if path.endswith("_pins.py")]
    (table,) = [data for path, data in files.items() if path.endswith("_pins.json")]
    json.loads(table)
    tree = ast.parse(module.decode("utf-8"))
    # one function of our own, the same in every file; all else must be definitions
    own = ast.unparse(ast.parse("\n".join(python_guard())))
    assert [ast.unparse(node) for node in tree.body if isinstance(node, ast.FunctionDef)] == [own]
    rest = [node for node in tree.body if not isinstance(node, ast.FunctionDef)]
    kinds = {type(inner).__name__ for node in rest for inner in ast.walk(node)}
    assert not kinds & {"Import", "ImportFrom", "Call", "Attribute"}, kinds
    if shutil.which("gcc") is None:
        pytest.skip("no C compiler here")
    (folder / "pins.h").write_bytes(header)
    command = ["gcc", "-std=c99", "-Wall", "-Wextra", "-Wcomment", "-Werror", "-fsyntax-only", "-x", "c"]
    done = subprocess.run([*command, str(folder / "pins.h")], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    macros = subprocess.run(
        ["gcc", "-E", "-P", "-x", "c", str(folder / "pins.h")], capture_output=True, text=True, check=True
    )
    assert macros.stdout.replace("static const", "").find("int x") == -1


def test_pin_files_are_definitions_and_nothing_else(made, tmp_path):
    firmware(made[1], tmp_path)


def test_text_sheets_hold_no_control_characters(made):
    _, files = made
    for path, data in files.items():
        if path.endswith(".txt"):
            unseen = {c for c in data.decode("utf-8") if not c.isprintable()}
            assert unseen <= {"\n", "\u202f"}, path  # a narrow blank is no control character


CONTROL = "a\r\nb\x00\x1b]0;x\x07\u2028*/ =1 \"'%*,\\"


def test_values_that_no_schema_has_seen(made, tmp_path):
    """One floor deeper: control characters straight in the values that exporters are given."""
    built, _ = made
    bundle = built.bundle
    design = replace(
        bundle.bound.design,
        title=CONTROL,
        device=CONTROL,
        description=CONTROL,
        contacts=tuple(replace(c, wire=CONTROL, note=CONTROL) for c in bundle.bound.design.contacts),
    )
    evil = replace(
        bundle, bound=replace(bundle.bound, design=design), board=replace(bundle.board, title=CONTROL)
    )
    makers = (gerber_files, drill_files, ipc356_files, firmware_files, bringup_files, cad_files)
    files = {file.path: file.data for make in makers for file in make(evil)}
    fabrication(files)
    firmware(files, tmp_path)
    for path, data in files.items():
        if path.endswith((".kicad_pcb", ".kicad_sch", ".kicad_sym", ".kicad_mod")):
            parse(data.decode("utf-8"), path)
        if path.endswith(".txt"):
            unseen = {c for c in data.decode("utf-8") if not c.isprintable()}
            assert unseen <= {"\n", "\u202f"}, path
