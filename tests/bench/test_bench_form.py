"""Files of readings: what is taken, and the one clear error for each that is not."""
# ruff: noqa: E501 - messages are held whole

from __future__ import annotations

from pathlib import Path

import pytest
from bench_sheets import HEAD
from hypothesis import given
from hypothesis import strategies as st

from boardgen.bench.csvform import MAX_BYTES, parse_sheet, read_sheet
from boardgen.bench.gather import stated_with
from boardgen.bench.model import Kind, Reading, Stated, View
from boardgen.bench.values import parse_reading
from boardgen.errors import BoardgenError, InputError

KEYS = "key, plus, minus, reading\n"


@pytest.mark.parametrize(
    ("text", "reading"),
    [
        ("open", Reading(Kind.OPEN)),
        ("OL", Reading(Kind.OPEN)),
        ("beep", Reading(Kind.CLOSED)),
        ("12.5", Reading(Kind.OHMS, 12.5)),
        (".5 ohm", Reading(Kind.OHMS, 0.5)),
        ("4k7", Reading(Kind.OHMS, 4700.0)),
        ("4.7 kΩ", Reading(Kind.OHMS, 4700.0)),
        ("1R5", Reading(Kind.OHMS, 1.5)),
        ("2.2 Mohm", Reading(Kind.OHMS, 2.2e6)),
        ("-3", Reading(Kind.OHMS, -3.0)),
        ("0.61 V", Reading(Kind.VOLTS, 0.61)),
        ("610mV", Reading(Kind.VOLTS, 0.61)),
    ],
)
def test_readings(text: str, reading: Reading) -> None:
    found = parse_reading(text)
    assert found is not None
    assert found.kind is reading.kind
    assert found.value == pytest.approx(reading.value)


@pytest.mark.parametrize(
    "text", ["nan", "inf", "1e400", "NaN", "12 m", "--3", "1,2,3", "0x10", "shut", "5 A", "∞"]
)
def test_no_readings(text: str) -> None:
    assert parse_reading(text) is None


def test_spreadsheet_dialects_say_the_same() -> None:
    plain = HEAD + KEYS + "A, 1, 2, 12.5\nB, 1, 3, open\n"
    same = [
        plain.replace("\n", "\r\n"),
        "\ufeff" + plain,
        plain.replace(", ", ",").replace("\n", ",,\n"),
        plain.replace(", ", ";").replace("12.5", "12,5"),
        plain.replace("A,", '"A",').replace("12.5", '"12.5"'),
        "# a comment, with commas\n\n" + plain + "   \n# end\n",
    ]
    wanted = [(p.key, p.plus, p.minus, p.reading) for p in parse_sheet(plain.encode(), "n.csv").pairs]
    assert len(wanted) == 2
    for text in same:
        sheet = parse_sheet(text.encode(), "n.csv")
        assert [(p.key, p.plus, p.minus, p.reading) for p in sheet.pairs] == wanted
        assert sheet.stated.view is View.MATING_FACE


def test_tables_follow_each_other_and_columns_stand_in_any_order() -> None:
    text = (
        HEAD
        + "wire, contact\nred, 1\n\nreading, minus, plus\nopen, 2, 1\n"
        + KEYS
        + '"#", 1, 2, 3\n"a ""b""", 1, 2, 3\n'
    )
    sheet = parse_sheet(text.encode(), "n.csv")
    assert [(w.contact, w.wire, w.place.line) for w in sheet.wires] == [("1", "red", 5)]
    assert [(p.key, p.plus, p.minus, p.place.line) for p in sheet.pairs] == [
        ("", "1", "2", 8),
        ("#", "1", "2", 10),
        ('a "b"', "1", "2", 11),
    ]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "n.csv: there is no line that names the columns; allowed: contact, wire [, signal, note]; plus, minus, reading [, at, note]; key, plus, minus, reading [, note]"),
        (HEAD, "n.csv: there is no line that names the columns; allowed: contact, wire [, signal, note]; plus, minus, reading [, at, note]; key, plus, minus, reading [, note]"),
        ("vew, plug\n", "n.csv:1: neither a statement nor the names of columns, did you mean 'view'?; found 'vew'; allowed: view, half, numbers, connector, meter, device, rail, rows; or the columns contact, wire [, signal, note]; plus, minus, reading [, at, note]; key, plus, minus, reading [, note]"),
        ("view, inside\n", "n.csv:1: the value is not allowed; found 'inside'; allowed: mating-face, solder-side"),
        ("view, mating-face\nview, mating-face\n", "n.csv:2: view is already stated in line 1"),
        ("half\n", "n.csv:1: half takes one value; found 0 values"),
        ("key, plus, reading\n", "n.csv:1: these columns make no table; found key, plus, reading; allowed: contact, wire [, signal, note]; plus, minus, reading [, at, note]; key, plus, minus, reading [, note]"),
        ("key, plus, minus, reading, nte\n", "n.csv:1: there is no column 'nte' in this table, did you mean 'note'?; allowed: key, plus, minus, reading, note"),
        ("key, plus, minus, reading, plus\n", "n.csv:1: the column 'plus' is there twice"),
        (KEYS + "A, 1, 2\n", "n.csv:2: the cell for reading is empty"),
        (KEYS + "A, 1, 2, 3, 4\n", "n.csv:2: more cells than columns; found '4'; allowed: a cell with a comma in it stands in quotes"),
        (KEYS + "A, 1, 2, NaN\n", "n.csv:2: this is no reading; found 'NaN'; allowed: open, closed, OL, beep, ohms (12.5, 4k7, 2.2 Mohm), or the drop of a diode in V (0.61 V, 610 mV)"),
        (KEYS + "A, 1, 2, =1+2\n", "n.csv:2: a cell holds a formula; found '=1+2'; allowed: what the meter showed, or text"),
        (KEYS + "@SUM(A1), 1, 2, 3\n", "n.csv:2: a cell holds a formula; found '@SUM(A1)'; allowed: what the meter showed, or text"),
        (KEYS + '"A, 1, 2, 3\n', "n.csv:2: the quotes in this line do not close; found '\"A, 1, 2, 3'; allowed: a cell in double quotes on one line, \"\" for a quote inside"),
        (KEYS + "#, 1, 2, 3\n", 'n.csv:2: this line looks like a reading of a key called #, and would be a comment; allowed: the key in quotes: "#"'),
        (KEYS + f"{'x' * 41}, 1, 2, 3\n", f"n.csv:2: the cell for key is too long; found '{'x' * 41}'; allowed: at most 40 characters"),
        (KEYS + "x" * 5000 + "\n", "n.csv:2: the line is too long; found 5000 characters; allowed: at most 1000"),
        (KEYS + "A\u202e, 1, 2, 3\n", "n.csv:2: the line holds a character that cannot be printed; found U+202E"),
        (KEYS + "A\0, 1, 2, 3\n", "n.csv:2: the line holds a character that cannot be printed; found U+0000"),
        (KEYS + "\n" * 100_000, "n.csv: the file has too many lines; found 100002; allowed: 100000"),
    ],
)  # fmt: skip
def test_one_clear_error(text: str, message: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_sheet(text.encode(), "n.csv")
    assert str(caught.value) == message


def test_not_utf8() -> None:
    with pytest.raises(InputError) as caught:
        parse_sheet((HEAD + KEYS).encode() + b"A\xff, 1, 2, 3\n", "n.csv")
    assert str(caught.value) == "n.csv:5: the text is not UTF-8; found byte 0xff"


def test_a_huge_file_is_not_read(tmp_path: Path) -> None:
    huge = tmp_path / "huge.csv"
    with huge.open("wb") as stream:
        stream.truncate(100_000_000)
    with pytest.raises(InputError) as caught:
        read_sheet(huge)
    assert (
        str(caught.value) == f"{huge}: the file of readings is too large; allowed: at most {MAX_BYTES} bytes"
    )


@pytest.mark.parametrize("name", ["view", "half", "numbers"])
def test_each_statement_must_be_made(name: str) -> None:
    text = "".join(line + "\n" for line in HEAD.splitlines() if not line.startswith(name)) + KEYS
    sheet = parse_sheet(text.encode(), "n.csv")
    with pytest.raises(BoardgenError) as caught:
        stated_with(sheet, Stated())
    assert f"n.csv: the {name} is not stated" in str(caught.value)
    assert f"--{name}" in str(caught.value)


def test_statements_that_clash() -> None:
    sheet = parse_sheet((HEAD + KEYS).encode(), "n.csv")
    with pytest.raises(BoardgenError) as caught:
        stated_with(sheet, Stated(view=View.SOLDER_SIDE))
    assert str(caught.value) == (
        "n.csv:1: view is stated as mating-face here, and as solder-side for all files"
    )


@given(
    st.one_of(
        st.binary(max_size=400),
        st.text(max_size=400).map(lambda t: (HEAD + KEYS + t).encode("utf-8", "ignore")),
    )
)
def test_whatever_the_bytes_only_our_errors_come(raw: bytes) -> None:
    try:
        lines = [pair.place.line for pair in parse_sheet(raw, "n.csv").pairs]
    except BoardgenError as error:
        said, lines = str(error), []
    else:
        said = "n.csv"
    assert said.startswith("n.csv")
    assert all(0 < line <= raw.count(b"\n") + raw.count(b"\r") + 1 for line in lines)
