"""Names that mean something to a file's reader are text in what comes after a run as well.

Order packages, comparisons, costs, bring-up of a batch, rework drawings, the next revision's design.
"""

from __future__ import annotations

import csv
import io
import json
import re
import tomllib
import warnings
from dataclasses import replace
from decimal import Decimal
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import pytest
from gerbonara import GerberFile
from readers_run import PRICES, plan

from boardgen.batch.log import append, read_log
from boardgen.batch.model import Judgement, Suspect, Verdict
from boardgen.board.model import Placement, Side
from boardgen.catalog.tomlfile import parse_toml
from boardgen.cli.bringup import judgement_lines
from boardgen.cli.out import write_lines, write_table
from boardgen.design.model import Cut, Erratum, LegendWish
from boardgen.export.bringup_out import plan_files
from boardgen.export.files import OutFile
from boardgen.export.history_data import rework_steps
from boardgen.export.rework_view import rework_svg
from boardgen.order.cost import estimate
from boardgen.order.cost_data import estimate_data
from boardgen.order.cost_model import PartNeed, RunFacts
from boardgen.order.cost_plot import cost_plot
from boardgen.order.lists import bom_file, parts_of
from boardgen.order.package import package_files
from boardgen.order.preflight import ordered_run
from boardgen.order.prices import prices_from
from boardgen.order.profilemodel import Profile
from boardgen.order.profiles import load_profile
from boardgen.revision.changelog import changelog
from boardgen.revision.entries import revised_text, tables
from boardgen.revision.hand import HandWork, Stand
from boardgen.revision.model import (
    Change,
    Comparison,
    CopperChange,
    EnclosureVerdict,
    Firmware,
    FirmwareVerdict,
    PinLine,
    RunName,
)
from boardgen.revision.remark import Remark
from boardgen.revision.views import as_data, as_html, as_text
from boardgen.units import Nm, Point

EVIL = (
    "</title></svg></script><script>alert(1)</script>",
    "\"><img src=x onerror=alert(1)>'",
    "=cmd|' /C calc'!A0",
    "+1\n=2\r\n@SUM(1)",
    "%TO.N,GND*% G04 *M02*",
    ') (net 99 "x") (( ',
    'a\\"; b = \'\'\'""" #',
    "{{ 7*7 }}{% raw %}",
    "\u202e\u2066drah\u2069 \u200f\u05d0 \U0001f6f0 \u6f22",
    "x\x1b]0;t\x07\x00\x7f\u2028y",
    "[l](javascript:1) `c` *b* | <b>",
)
ALL = " ".join(EVIL)
# control characters, other line ends, marks that turn words
HIDDEN = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069]")


class Page(HTMLParser):
    """Collects elements and attributes that act."""

    def __init__(self) -> None:
        super().__init__()
        self.acts: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in ("script", "iframe", "object", "embed", "img", "link", "base", "form", "a"):
            self.acts.append(tag)
        self.acts += [name for name, _ in attrs if name.startswith("on")]


def drawing(text: str) -> None:
    """Hold an SVG document to what a drawing may have."""
    tags = {item.tag.rsplit("}", 1)[-1] for item in ElementTree.fromstring(text).iter()}
    assert tags <= {"svg", "title", "rect", "path", "text", "g", "desc"}
    assert not HIDDEN.search(text)


def cells_of(data: bytes, separator: str = ",") -> list[list[str]]:
    rows = list(csv.reader(io.StringIO(data.decode("utf-8")), delimiter=separator, strict=True))
    for cell in (cell for row in rows for cell in row):
        assert not cell.startswith(("=", "+", "@", "\t", "\r")), cell
    return rows


@pytest.fixture(scope="module")
def ordered(run_of):
    design = Path(__file__).parents[2] / "designs/pointer-handset"
    return ordered_run(run_of("pointer-handset").folder, design)


def evil_profile(separator: str) -> Profile:
    """A buyer's profile whose every word is hostile."""
    profile = load_profile("plain")
    titles = [f"{EVIL[n % len(EVIL)]}{n}" for n in range(len(profile.bom))]
    bom = tuple(replace(c, title=t, text=EVIL[2]) for c, t in zip(profile.bom, titles, strict=True))
    return replace(profile, bom=bom, separator=separator, joiner="\t", sides=(EVIL[2], EVIL[3]), name=ALL)


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_an_order_package_of_hostile_words(ordered, separator):
    board = replace(ordered.board, title=ALL)
    evil = replace(ordered, board=board, summary={**ordered.summary, "tool": f"boardgen {ALL}"})
    files, values = package_files(evil, evil_profile(separator), 5)
    by_path = {file.path: file.data for file in files}
    assert json.loads(json.dumps(values, allow_nan=False))["title"] == ALL
    for path, data in by_path.items():
        assert ".." not in path
        if path.endswith(".csv"):
            assert len({len(row) for row in cells_of(data, separator)}) == 1, path
        if path.endswith(".txt"):
            assert not HIDDEN.search(data.decode("utf-8")), path
            assert data.decode("utf-8").count("\nFiles\n") == 1


def test_a_panel_of_hostile_words(ordered):
    """The panel's files are drawn anew, so that the title goes through every writer again."""
    from boardgen.export.sheet_svg import sheet_svg
    from boardgen.footprint.sexpr import parse
    from boardgen.order.panel.choose import checked_panel, choose_panel
    from boardgen.order.panel.drawing import panel_sheet
    from boardgen.order.panel.edges import unit_of
    from boardgen.order.panel.files import panel_files

    unit = unit_of(replace(ordered.board, title=ALL), ordered.module, ordered.connector)
    choice = choose_panel(unit, ordered.fab, 2, checked_panel("1x2"), 2, None)
    panel = replace(choice.panel, board=replace(choice.panel.board, title=ALL))
    drawing(sheet_svg(panel_sheet(panel, ordered.fab, 1, ALL)))
    made = panel_files(panel.board, ordered.fab, f"boardgen {ALL}", ALL)
    for file in made.fab:
        if file.path.endswith((".GTL", ".GBL", ".GTS", ".GTO", ".GKO")):
            with warnings.catch_warnings():
                warnings.simplefilter("error")
                GerberFile.from_string(file.data.decode("ascii"))
            assert file.data.count(b"M02*") == 1, file.path
    for file in made.cad:
        if file.path.endswith(".kicad_pcb"):
            assert parse(file.data.decode("utf-8"), file.path)[0] == "kicad_pcb"


def test_a_list_that_comes_with_hostile_cells():
    heads = "Designator,Qty,Value,Footprint,Manufacturer,MPN,Supplier part,DNP,Note"
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerow(["R1", "3", *EVIL[2:6], EVIL[9], "", EVIL[3]])
    file = OutFile("bom.csv", f"{heads}\n{out.getvalue()}".encode())
    for name in ("plain", "assembly-house", "distributor"):
        profile = load_profile(name)
        assert len(cells_of(bom_file("b", parts_of(file), profile, 2).data, profile.separator)) == 2


def compared() -> Comparison:
    name = RunName(ALL, EVIL[0], EVIL[1], EVIL[8])
    changes = tuple(
        Change(section, word, before, after)
        for section in ("contacts", "findings", "nets", "places")
        for word in EVIL
        for before, after in ((None, word), (word, None), (word, ALL))
    )
    verdict = FirmwareVerdict(Firmware.CODE, EVIL, EVIL[0], tuple(PinLine(1, w, 2, w) for w in EVIL))
    return Comparison(
        name,
        name,
        changes,
        (CopperChange(EVIL[0], 1, 2, 3),),
        verdict,
        EnclosureVerdict(False, EVIL),
        "",
        EVIL,
    )


def test_a_comparison_of_hostile_words():
    found = compared()
    text = as_text(found)
    assert not HIDDEN.search(text)
    # a line each: verdicts and reasons, file and its lines, sections with their changes, what is unknown
    assert text.count("\n") == 2 + 2 * len(EVIL) + 1 + 2 * len(EVIL) + 4 + len(found.changes) + len(EVIL) + 1
    assert json.loads(json.dumps(as_data(found), allow_nan=False))["a"]["design"] == ALL
    page = Page()
    page.feed(as_html(found))
    assert page.acts == []


def test_a_changelog_of_hostile_words_has_no_marks_of_its_own():
    text = changelog(compared())
    assert not HIDDEN.search(text)
    lines = text.splitlines()
    assert sum(line.startswith("#") for line in lines) == 1 + 4
    for line in lines[1:]:
        bare = re.sub(r"\\[\\`*_\[\]<>#|]", "", line)  # what is escaped is text
        assert not re.search(r"[<>`|\[\]]", bare), line


def test_costs_of_hostile_words():
    text = PRICES.decode()
    for number, word in enumerate(("a table", "a shop", "post", "duty", "drawing")):
        text = text.replace(f'name = "{word}"', f"name = {json.dumps(EVIL[number][:40])}")
    text = text.replace("\\n", " ").replace("\\r", " ")
    prices = prices_from(parse_toml(text.encode(), "file"))
    parts = tuple(PartNeed(word, 1, word, word, word, word) for word in EVIL)
    facts = RunFacts(
        ALL, EVIL[0], EVIL[1], Decimal(50), Decimal(40), Decimal(36), (("finish", EVIL[2]),), parts
    )
    found = estimate(facts, prices, (5,))
    assert len(found.missing) == len(EVIL)
    assert json.loads(json.dumps(estimate_data(found), allow_nan=False))
    drawing(cost_plot(facts, prices, found, found.quotes[0]))


def test_what_people_are_shown_is_one_line_each(capsys):
    write_lines(EVIL)
    write_table(("a", "b"), [(word, word) for word in EVIL])
    said = capsys.readouterr().out
    assert not HIDDEN.search(said)
    assert said.splitlines()[len(EVIL)].split() == ["a", "b"]


def test_bring_up_of_hostile_words(tmp_path):
    stages = tuple(replace(s, title=ALL, steps=EVIL, stop=ALL) for s in plan().stages)
    tests = tuple(replace(t, label=EVIL[n % len(EVIL)], expected=ALL) for n, t in enumerate(plan().tests))
    evil = replace(plan(), stages=stages, tests=tests, title=ALL, cautions=EVIL)
    for file in plan_files(evil, f"boardgen {ALL}"):
        if file.path.endswith(".html"):
            page = Page()
            page.feed(file.data.decode("utf-8"))
            assert page.acts == []
        if file.path.endswith(".csv"):
            assert len(cells_of(file.data)) == 4 + len(tests)
        if file.path.endswith(".json"):
            assert json.loads(file.data)["title"] == ALL
    suspect = Suspect(EVIL[0], ALL, EVIL, ALL, ("", ""), 0)
    found = Judgement(EVIL[8], Verdict.FAULTY, (), (), (suspect,), 3)
    for number in range(1, 3):
        append(tmp_path / "log", evil, found, again=True)
        assert (tmp_path / "log").read_bytes().count(b"\n") == number
    assert read_log(tmp_path / "log", evil)[1].places == EVIL
    assert judgement_lines(evil, found)


def test_a_rework_of_hostile_words(ordered):
    evil = replace(ordered.board, name=ALL, revision=EVIL[8], title=ALL)
    cuts = tuple(Cut(word, Point(Nm(5_000_000), Nm(5_000_000)), Side.TOP) for word in EVIL)
    wires = tuple(((word, "1"), ("J1", word)) for word in EVIL)
    erratum = Erratum("A", ALL, ALL, ALL, ALL, cuts, (*wires, (("J1", "1"), ("U1", "1"))))
    drawing(rework_svg(evil, erratum))
    assert len(rework_steps(erratum)) == 2 * len(EVIL) + 1


def test_the_next_revisions_design_says_hostile_words_as_they_are():
    place = Placement(Point(Nm(0), Nm(0)), 0.0, Side.TOP)
    work = HandWork(
        parts=tuple(Stand(word, place, EVIL, hand) for word in EVIL for hand in (True, False)),
        frame=None,
        holes=(),
        tracks=(),
        texts=tuple(LegendWish(word, Point(Nm(0), Nm(0)), Nm(1_000_000), 0.0, Side.TOP) for word in EVIL),
        remarks=tuple(Remark(word, word) for word in EVIL),
    )
    block = tables(work, [(word, word) for word in EVIL], "A", None)
    text = revised_text(parse_toml(b'name = "desk"\n', "file"), "B", block)
    said = tomllib.loads(text)
    assert (said["name"], said["revision"]) == ("desk", "B")
    assert [row["signal"] for row in said["keep"]] == list(EVIL)
    assert [row["ref"] for row in said["placed"]] == list(EVIL)
    assert [row["nets"] for row in said["stays"]["parts"]] == [list(EVIL)] * len(EVIL)
    assert [row["text"] for row in said["legend"]] == list(EVIL)
    assert set(said) == {"name", "revision", "keep", "placed", "stays", "legend"}
