"""The page says what the run says, all of it, and needs nothing but itself."""

from __future__ import annotations

import csv
import itertools
import json
import re
import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from publish_kit import Page

from boardgen.publish.compat import CODE, REBUILD, RUNS, fits
from boardgen.publish.model import Edition
from boardgen.publish.page import page_html, steps_of
from boardgen.publish.publish import publish
from boardgen.publish.source import open_subject
from boardgen.revision.firmware import _code_reasons, firmware_verdict
from boardgen.revision.model import Firmware
from boardgen.revision.runs import open_run

EVIL = (
    "</title><script>alert(1)</script>",
    "\"><img src=x onerror=alert(1)>'",
    "</style><link rel=stylesheet href=//x>",
    "{{ 7*7 }}{% raw %}",
    "<![CDATA[ ]]> &amp; &#0;",
    "</svg><iframe src='http://x'>",
    "Ж µ 漢 \u202fx",
)


@pytest.fixture(scope="module")
def subject_b(history):
    return open_subject(history / "slide-remote-B", history / "design")


@pytest.fixture(scope="module")
def page_b(subject_b):
    return page_html(subject_b).decode("utf-8")


def test_every_contact_signal_and_pin_stands_in_the_pinout(subject_b, page_b, history):
    record = json.loads((history / "slide-remote-B" / "summary.json").read_text("utf-8"))
    table = next(t for t in Page(page_b).tables if t[0][0] == "Contact")
    rows = {row[0]: row for row in table[1:]}
    assert set(rows) == set(subject_b.connector.numbers()) == {str(n) for n in range(1, 27)}
    for row in record["signals"]:
        shown = rows[row["contact"]]
        assert shown[1] == (row["signal"] or "not used")
        assert shown[4] == (f"{row['pin']} (pin {row['module_pin']})" if row["pin"] else "")
        assert shown[6] == row["why"]


def test_every_view_names_each_signal_at_its_contact(subject_b, page_b):
    views = re.findall(r'<svg [^>]*aria-label="Box header 2x13: [^"]*".*?</svg>', page_b, re.DOTALL)
    assert len(views) == 3
    for view in views:
        texts = re.findall(r"<text x=\"([\d.]+)\" y=\"([\d.]+)\"[^>]*>([^<]*)</text>", view)
        discs = {text: (float(x), float(y)) for x, y, text in texts if text.isdigit()}
        named = [(float(x), float(y), text) for x, y, text in texts if not text.isdigit()]
        for row in subject_b.data["signals"]:
            if not row["signal"]:
                continue
            x, y = discs[row["contact"]]
            near = min((abs(nx - x), abs(ny - y), text) for nx, ny, text in named if text == row["signal"])
            assert near[0] < 1  # contacts stand 7 mm apart on paper
            assert near[1] < 20


def test_mating_face_and_solder_side_are_mirror_images_of_a_straight_plug(page_b):
    def order(words):
        view = re.search(rf'aria-label="Box header 2x13: {words}".*?</svg>', page_b, re.DOTALL)[0]
        found = re.findall(r'<text x="([\d.]+)"[^>]*>(\d+)</text>', view)
        return [number for _x, number in sorted((float(x), number) for x, number in found if int(number) % 2)]

    assert order("mating face") == order("component side") == order("solder side")[::-1]


def test_every_part_is_in_the_list_and_in_one_step(subject_b, page_b, history):
    page = Page(page_b)
    table = next(t for t in page.tables if t[0][0] == "Qty")
    with (history / "slide-remote-B" / "assembly" / "bom.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [(row[0], row[1], row[2]) for row in table[1:]] == [
        (f"{row['Qty']} x", row["Designator"], row["Value"]) for row in rows
    ]
    for shown, row in zip(table[1:], rows, strict=True):
        assert row["Manufacturer"] in shown[3]
        assert row["MPN"] in shown[3]
    fitted = [ref for step in steps_of(subject_b) if not step.sockets for ref in step.refs]
    placed = [row["ref"] for row in subject_b.data["places"] if not row["ref"].startswith("H")]
    assert sorted(fitted) == sorted(placed)


def test_steps_go_from_low_to_high_and_the_module_comes_last(subject_b):
    steps = steps_of(subject_b)
    assert [step.title for step in steps] == [
        "Low parts",
        "The module's sockets",
        "Tall parts",
        "The connector",
        "Look and measure, still without module and device",
        "The module",
    ]
    assert ("C2", "1") in steps[2].marks  # the plus of the electrolytic
    assert "Which way round: C2: plus at the marked pad." in steps[2].words


def test_each_step_fills_what_it_fits_and_nothing_else(subject_b, page_b):
    for number, step in enumerate(steps_of(subject_b), 1):
        picture = re.search(rf'aria-label="Step {number}: .*?</svg>', page_b, re.DOTALL)
        assert (picture is not None) == bool(step.refs)
        if picture is not None and not step.sockets:
            assert picture[0].count('fill="#f2c14e"') == len(step.refs)
            assert sorted(re.findall(r'font-weight="bold"[^>]*>([A-Z]+\d+)<', picture[0])) == sorted(
                step.refs
            )


def test_every_erratum_is_told_with_its_rework_at_its_place(subject_b, page_b):
    words = Page(page_b).words("faults")
    for erratum in subject_b.design.errata:
        assert f"Revision {erratum.revision}: {erratum.symptom}" in words
    assert "Cut the track of HOLD on the bottom at 20.00, 30.00 mm." in words
    assert "Solder a wire from J1 pad 20 to U1 pad 22." in words
    assert "not on revision B" in words
    assert "this board has it" in words
    x, y = re.search(r'<text x="([\d.-]+)" y="([\d.-]+)"[^>]*>cut HOLD, bottom<', page_b).groups()
    # by hand: 2 mm on paper a mm, a margin of 6 and a heading of 8; the words stand 3 right and 2 above
    assert (float(x), float(y)) == pytest.approx((20 * 2 + 6 + 3, 30 * 2 + 6 + 8 - 2), abs=0.01)


def test_firmware_table_agrees_with_the_comparison_of_the_runs(subject_b, page_b, history):
    runs = {letter: open_run(history / f"slide-remote-{letter}") for letter in "AB"}
    wanted = {Firmware.SAME: RUNS, Firmware.REBUILD: REBUILD, Firmware.CODE: CODE}
    table = next(t for t in Page(page_b).tables if t[0][0] == "Firmware built for")
    for row, a in zip(table[1:], "AB", strict=True):
        assert row[0] == f"{a}, {runs[a].name.pin_map}"
        assert row[1:] == [wanted[firmware_verdict(runs[a], runs[b]).verdict] for b in "AB"]
    assert "SPARE is new" in Page(page_b).words("firmware")


def _edition(revision, digest, pin="D1", **other):
    row = {"signal": "S", "pin": pin, "reads": True, "drives": False, "pull": "up"} | other
    return Edition(revision, digest, {"module": "m", "pins": [row], "matrices": []})


@pytest.mark.parametrize(
    ("other", "verdict", "reason"),
    [
        (_edition("B", "1"), RUNS, ()),
        (_edition("B", "2", "D2"), REBUILD, ("S moved from D1 to D2",)),
        (_edition("B", "2"), REBUILD, ("another pin map, which the pin file refuses",)),
        (_edition("B", "2", pull=""), CODE, ("S pull: up before, none now",)),
        (_edition("B", "2", signal="T"), CODE, ("S is not on this board", "T is new")),
    ],
)
def test_verdicts_by_hand(other, verdict, reason):
    fit = next(f for f in fits((_edition("A", "1"), other)) if (f.built, f.board) == ("A", "B"))
    assert (fit.verdict, fit.reasons) == (verdict, reason)


def test_a_diode_turned_is_another_matrix_for_both_comparisons():
    pins = {"module": "m", "pins": []}
    keys = {"name": "keys", "rows": ["R"], "columns": ["C", "D"], "drive": "columns", "keys": []}
    one_way = {**keys, "diodes": "cathode-to-column"}
    both = {**keys, "diodes": "both-ways", "cathode_to_row": ["R/C"], "cathode_to_column": ["R/D"]}
    other = {**both, "cathode_to_row": ["R/D"], "cathode_to_column": ["R/C"]}
    for a, b in itertools.product((one_way, both, other), repeat=2):
        data = [{**pins, "matrices": [matrix]} for matrix in (a, b)]
        fit = fits((Edition("A", "1", data[0]), Edition("B", "1", data[1])))[1]
        assert (fit.verdict, fit.reasons) == (
            (RUNS, ()) if a is b else (CODE, ("matrix keys is another one",))
        )
        assert _code_reasons(*data) == list(fit.reasons)


def test_cautions_licence_and_identity_are_told(subject_b, page_b):
    page = Page(page_b)
    told = page.words("cautions")
    for caution in subject_b.plan.cautions:
        assert caution.strip()[1:].rstrip(".") in told
    assert "local codes" in told
    assert "licensed" in told
    assert "Licence of the design: CC-BY-4.0." in page.words("files")
    assert "To be named with it: the planetarium." in page.words("files")
    assert subject_b.edition.digest in page.words()


def test_page_needs_nothing_but_itself(page_b):
    page = Page(page_b)
    ids = [attrs["id"] for _tag, attrs in page.elements if "id" in attrs]
    assert len(ids) == len(set(ids))
    for tag, attrs in page.elements:
        assert tag not in {"script", "link", "img", "iframe", "object", "embed", "base", "form"}
        assert not [
            key for key in attrs if key.startswith("on") or key in ("src", "srcset", "data", "xlink:href")
        ]
        if "href" in attrs:
            assert attrs["href"].removeprefix("#") in ids
    assert "url(" not in page_b
    assert "@import" not in page_b
    assert set(re.findall(r"https?://[^\"' <]*", page_b)) == {
        "http://www.w3.org/2000/svg"
    }  # a name, not a place
    assert "@media print" in page_b
    assert "prefers-color-scheme: dark" in page_b


def test_same_bytes_wherever_the_run_lies(history, tmp_path, monkeypatch):
    first = publish(history / "slide-remote-B", tmp_path / "one.html", history / "design")
    shutil.copytree(history, tmp_path / "else" / "where")
    monkeypatch.chdir(tmp_path / "else" / "where")
    second = publish(Path("slide-remote-B/summary.json"), Path("two.html"), Path("design/design.toml"))
    assert (tmp_path / "one.html").read_bytes() == Path("two.html").read_bytes()
    assert (first.sha256, first.size, first.revisions) == (second.sha256, second.size, ("A", "B"))
    assert str(tmp_path) not in Path("two.html").read_text("utf-8")


def test_hostile_names_stay_text(subject_b, page_b):
    evil = " ".join(EVIL)
    data = json.loads(json.dumps(subject_b.data))
    data["title"] = evil
    for row in data["signals"]:
        row["wire"] = row["why"] = row["kind"] = row["known_by"] = evil
    design = replace(
        subject_b.design,
        device=evil,
        description=evil,
        licence=evil,
        attribution=evil,
        errata=tuple(replace(e, symptom=evil, cause=evil, workaround=evil) for e in subject_b.design.errata),
    )
    pins = {**subject_b.edition.pins, "pins": [{"signal": evil, "pin": evil}]}
    hostile = replace(
        subject_b,
        data=data,
        design=design,
        edition=replace(subject_b.edition, pins=pins, digest=evil),
        plan=replace(subject_b.plan, cautions=EVIL),
        parts_list=tuple(dict.fromkeys(row, evil) | {"Qty": evil} for row in subject_b.parts_list),
        connector=replace(subject_b.connector, name=evil, manufacturer=evil, mpn=evil),
        module=replace(subject_b.module, name=evil),
        board=replace(subject_b.board, parts=tuple(replace(p, value=evil) for p in subject_b.board.parts)),
    )
    plain, page = Page(page_b), Page(page_html(hostile).decode())
    assert {tag for tag, _ in page.elements} <= {tag for tag, _ in plain.elements}
    assert {key for _, attrs in page.elements for key in attrs} <= {
        key for _, attrs in plain.elements for key in attrs
    }
    for section in ("pinout", "parts", "faults", "firmware", "files", "cautions"):
        for text in EVIL[:4]:
            assert text in page.words(section), section


def test_without_the_design_the_page_tells_what_the_record_knows(history, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    done = publish(history / "slide-remote-B", Path("page.html"))
    assert [f.message for f in done.notes] == [
        "the design is not at hand (looked for designs/slide-remote): nothing of earlier revisions, and "
        "rework in words alone; --design PATH names it"
    ]
    words = Page(Path("page.html").read_text("utf-8")).words("faults")
    assert "Cut the track of HOLD on the bottom at 20.00, 30.00 mm." in words
    assert "Rework on revision" not in words


def test_size_is_bounded(subject_b, page_b, monkeypatch):
    from boardgen.errors import InputError
    from boardgen.publish import page

    assert len(page_b) < 2_000_000 < page.MAX_PAGE
    monkeypatch.setattr(page, "MAX_PAGE", 1000)
    with pytest.raises(InputError, match="the page would be too large"):
        page.page_html(subject_b)
