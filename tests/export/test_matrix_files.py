"""What a matrix leaves behind: firmware that compiles, a record, a picture, a part of the report."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from shutil import which
from xml.etree import ElementTree

import pytest

from boardgen.catalog.load import load_catalog
from boardgen.catalog.tomlfile import parse_toml
from boardgen.design.bind import bind
from boardgen.design.load import design_from
from boardgen.electrical.matrix.settling import with_board
from boardgen.electrical.matrix.study import study_matrices
from boardgen.electrical.model import PinRequest
from boardgen.export.firmware_matrix import c_matrix, json_matrix, python_matrix
from boardgen.export.matrix_data import key_map, matrix_row
from boardgen.export.matrix_report import matrix_html
from boardgen.export.matrix_view import matrix_sheet
from boardgen.export.sheet_svg import sheet_svg
from boardgen.palette import INK, MARK

CATALOG = load_catalog()
NAMES = (("A", '<b>"B"</b>', "ENTER KEY"), ("É\\*/", "", "D"))


def study(drive="columns", diodes="none", more=""):
    lines = [("R0", "row"), ("R1", "row"), ("C0", "column"), ("C1", "column"), ("C2", "column")]
    text = 'name = "x"\nconnector = "dsub-9-socket-right-angle"\nmodule = "pico-2"\n'
    for n, (signal, kind) in enumerate(lines, 1):
        text += f'[[contacts]]\nnumber = {n}\nkind = "{kind}"\nsignal = "{signal}"\n'
    keys = json.dumps(NAMES, ensure_ascii=False)
    text += f'[[matrices]]\ndrive = "{drive}"\ndiodes = "{diodes}"\nkeys = {keys}\n{more}'
    bound = bind(design_from(parse_toml(text.encode(), "d.toml"), Path()), CATALOG)
    requests = [PinRequest(s, s, reads=True, drives=True, pull="up") for s, _ in lines]
    (found,) = study_matrices(bound, requests, CATALOG.component)
    return found


@pytest.mark.parametrize("drive", ["rows", "columns"])
def test_the_key_map_counts_rows_and_columns_as_the_design_does(drive):
    expected = {(r, c, name) for r, names in enumerate(NAMES) for c, name in enumerate(names) if name}
    found = key_map(study(drive))
    assert set(found) == expected
    assert list(found) == sorted(found)


@pytest.mark.parametrize(("drive", "order"), [("rows", (0, 1)), ("columns", (0, 1, 2))])
def test_the_python_lines_are_a_module_of_constants(drive, order):
    item = study(drive)
    space: dict[str, object] = {}
    exec("\n".join(python_matrix("KEYS", item)), space)
    assert space["KEYS_SETTLE_US"] == item.timing.wait_us
    assert space["KEYS_SCAN_ORDER"] == order
    assert space["KEYS_KEY_MAP"] == tuple(
        (r, c, re.sub(r"[^ -~]", "_", name)) for r, c, name in key_map(item)
    )


@pytest.mark.skipif(which("cc") is None, reason="no C compiler here")
def test_the_c_lines_compile_and_hold_the_same(tmp_path):
    item = study()
    program = "\n".join(c_matrix("KEYS", item))
    program += (
        "\n#include <stdio.h>\nstruct key { int row, column; const char *name; };\n"
        "int main(void) { const struct key map[KEYS_KEYS] = KEYS_KEY_MAP; int order[] = KEYS_SCAN_ORDER;\n"
        'for (int n = 0; n < KEYS_KEYS; n++) printf("%d %d %s\\n", map[n].row, map[n].column, map[n].name);\n'
        'printf("%d %d\\n", KEYS_SETTLE_US, (int)(sizeof order / sizeof *order)); return 0; }\n'
    )
    (tmp_path / "t.c").write_text(program)
    subprocess.run(["cc", "-Wall", "-Werror", "-o", "t", "t.c"], cwd=tmp_path, check=True)
    said = subprocess.run(["./t"], cwd=tmp_path, check=True, capture_output=True, text=True).stdout
    expected = [f"{r} {c} {re.sub(r'[^ -~]', '_', name)}" for r, c, name in key_map(item)]
    assert said.splitlines() == [*expected, f"{item.timing.wait_us} 3"]


def test_the_firmware_says_what_its_wait_rests_on():
    item = study()
    guessed, measured = (
        json_matrix(item),
        json_matrix(with_board(item, {load.net: 6.0 for load in item.loads})),
    )
    assert any(text.startswith("board: 15 pF") for text in guessed["rests_on"])
    assert not any(text.startswith("board:") for text in measured["rests_on"])
    assert "the board's part is computed from its copper" in measured["rests_on"]
    assert measured["settle_us"] < guessed["settle_us"]
    for text in guessed["rests_on"]:
        assert any(text in line for line in c_matrix("KEYS", item))


def test_a_matrix_without_a_study_adds_nothing():
    assert (c_matrix("KEYS", None), python_matrix("KEYS", None), json_matrix(None)) == ([], [], {})
    assert matrix_html(()) == ""


def test_the_record_is_plain_data_with_exact_counts():
    row = matrix_row(study(more='together = [["A", "D"], ["A", "ENTER KEY", "D"]]\n'))
    assert json.loads(json.dumps(row)) == row
    assert (row["keys"], row["crossings"]) == (5, 6)
    # rows share columns 0 and 2: one rectangle, four triples, each showing the fourth corner
    assert row["unsafe_sets"] == {"3": 4}
    assert row["rollover"] == {
        "guaranteed": 2,
        "combinations": [{"keys": 3, "right": 6, "of": 10}, {"keys": 4, "right": 1, "of": 5}],
    }
    assert [group["right"] for group in row["groups"]] == [True, False]
    assert row["groups"][1]["phantoms"][0]["key"] == "É\\*/"
    assert row["mending"]["diodes_at_least"] == 1


@pytest.mark.parametrize("drive", ["rows", "columns"])
def test_the_picture_shows_every_key_its_number_and_every_line(drive):
    item = study(drive, "cathode-to-row", 'diode_keys = ["A"]\ntogether = [["A", "D"]]\n')
    root = ElementTree.fromstring(sheet_svg(matrix_sheet(item)))
    words = [text.text for text in root.iter("{http://www.w3.org/2000/svg}text")]
    for name in ("A", '<b>"B"</b>', "D", "R0", "R1", "C0", "C1", "C2"):
        assert name in words
    assert {str(n) for n in item.phantoms.parts} <= set(words)
    assert words.count("g1") == 3  # both keys and the line that explains it


def rings(item, colour):
    """Where the picture has the tips of diodes in *colour*, as unit vectors: to the left or up."""
    sheet = matrix_sheet(item)
    found = []
    for mark in sheet.marks:
        for line in getattr(mark, "lines", ()):
            (ax, ay), (bx, by), *more = line
            if mark.closed and len(more) == 1 and mark.fill == colour:
                found.append((round(more[0][0] - (ax + bx) / 2, 2), round(more[0][1] - (ay + by) / 2, 2)))
    return found


LEFT, UP = (-1.5, 0.0), (0.0, -1.5)


@pytest.mark.parametrize(("drive", "seen", "against"), [("columns", UP, LEFT), ("rows", LEFT, UP)])
def test_the_picture_shows_each_diodes_way(drive, seen, against):
    sides = ("cathode_to_row", "cathode_to_column")
    plain = study(drive, "cathode-to-" + drive.removesuffix("s"))
    assert rings(plain, INK) == [seen] * 6  # five keys and the line that explains them
    assert rings(plain, MARK) == []
    mixed = study(drive, plain.diodes, f'{sides[drive == "rows"]} = ["A", "D"]\n')
    assert rings(mixed, INK) == [seen] * 4
    assert rings(mixed, MARK) == [against] * 3
    assert matrix_sheet(mixed).height == matrix_sheet(plain).height + 6


def test_record_and_firmware_tell_both_ways_and_the_report_names_the_unread():
    item = study("columns", "cathode-to-column", 'cathode_to_row = ["A", "D"]\n')
    row, firmware = matrix_row(item), json_matrix(item)
    others = ['<b>"B"</b>', "ENTER KEY", "É\\*/"]
    for data in (row, firmware):
        assert (data["cathode_to_row"], data["cathode_to_column"]) == (["A", "D"], others)
    assert (row["diodes"], row["unread"], row["fitting_drive"]) == ("both-ways", ["A", "D"], None)
    assert row["mending"]["diodes_turned"] == ["A", "D"]
    assert json.loads(json.dumps(row)) == row
    html = matrix_html((item,))
    assert "Not every key can be read: A and D. The diodes point both ways" in html
    assert "Through two diodes or three" in html
    for most, words in ((2, "it may come and go"), (3, "the phantom still reads")):
        assert words in matrix_html((replace(item, level=replace(item.level, series_most=most)),))
    one_way = study("columns", "cathode-to-column")
    assert not {"cathode_to_row", "cathode_to_column"} & {*matrix_row(one_way), *json_matrix(one_way)}
    assert matrix_row(one_way)["fitting_drive"] == "columns"


def test_the_picture_stays_inside_its_sheet():
    both = 'cathode_to_column = ["A"]\ntogether = [["A", "ENTER KEY", "D"]]\n'
    for sheet in (matrix_sheet(study("rows", "cathode-to-row", more)) for more in ("", both)):
        stays_inside(sheet)


def stays_inside(sheet):
    for mark in sheet.marks:
        for line in getattr(mark, "lines", ()):
            assert all(0 <= x <= sheet.width and 0 <= y <= sheet.height for x, y in line)


def test_the_report_escapes_names_and_says_what_was_assumed():
    item = study(more='together = [["A", "ENTER KEY", "D"]]\n')
    html = matrix_html((item,))
    assert '<b>"B"' not in html
    assert "&lt;b&gt;" in html
    assert "1 of 1 groups of keys to be held together do not read right." in html
    for text in item.assumed:
        assert text in html
    assert "The first" not in html  # four sets, all of them listed
    assert matrix_html((replace(item, unread=("A",), fitting_drive="rows"),)).count("drive = rows") == 1


def test_the_same_study_is_the_same_bytes():
    text = "import sys; sys.path.insert(0, 'tests/export'); import test_matrix_files as t; "
    text += "print(t.matrix_html((t.study(),)))"
    root = Path(__file__).parents[2]
    runs = {
        subprocess.run(
            [sys.executable, "-c", text], cwd=root, env={"PYTHONHASHSEED": seed, "PATH": ""},
            capture_output=True, text=True, check=True,
        ).stdout
        for seed in ("1", "2")
    }  # fmt: skip
    assert len(runs) == 1
    assert "Matrix keys" in runs.pop()
