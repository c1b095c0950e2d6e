"""What a matrix says about its keys: diodes, groups held together, and each message whole."""
# ruff: noqa: E501 - messages are held whole

from __future__ import annotations

from pathlib import Path

import pytest

from boardgen.catalog.tomlfile import parse_toml
from boardgen.design.load import design_from
from boardgen.design.model import Design
from boardgen.errors import BoardgenError, InputErrors

CONTACTS = "".join(
    f'[[contacts]]\nnumber = {n}\nkind = "{"row" if s[0] == "R" else "column"}"\nsignal = "{s}"\n'
    for n, s in enumerate(("R0", "R1", "C0", "C1"), 1)
)
BASE = 'name = "x"\nconnector = "c"\n' + CONTACTS  # 18 lines
KEYS = '[[matrices]]\nkeys = [["a", "b"], ["c", ""]]\n'


def read(text: str) -> Design:
    return design_from(parse_toml(text.encode(), "d.toml"), Path())


def test_what_is_said_of_keys_is_kept() -> None:
    text = (
        KEYS + 'diodes = "cathode-to-row"\ndiode_keys = ["c"]\ntogether = [["a", "c"]]\n'
        'key_kind = "worn"\ncontact_ohms = 470\ndiode_vf_v = 0.3\n'
    )
    (matrix,) = read(BASE + text).matrices
    assert matrix.diode_keys == ("c",)
    assert matrix.together == (("a", "c"),)
    assert (matrix.key_kind, matrix.contact_ohms, matrix.diode_vf_v) == ("worn", 470, 0.3)


def test_what_is_not_said_is_left_open() -> None:
    (matrix,) = read(BASE).matrices
    assert matrix.diode_keys is None
    assert (matrix.together, matrix.key_kind) == ((), "metal")
    assert (matrix.contact_ohms, matrix.diode_vf_v) == (None, None)
    assert matrix.key_places() == (
        ("R0", "C0", "R0/C0"), ("R0", "C1", "R0/C1"), ("R1", "C0", "R1/C0"), ("R1", "C1", "R1/C1"),
    )  # fmt: skip


ROW, COLUMN = "cathode-to-row", "cathode-to-column"


@pytest.mark.parametrize(
    ("text", "diodes", "ways"),
    [
        ("", {}, "none"),
        ('diodes = "cathode-to-row"\n', {"a": ROW, "b": ROW, "c": ROW}, ROW),
        ('diodes = "cathode-to-row"\ncathode_to_column = ["b"]\n', {"a": ROW, "b": COLUMN, "c": ROW}, "both-ways"),
        ('cathode_to_column = ["b"]\n', {"b": COLUMN}, COLUMN),
        ('cathode_to_column = ["b", "a"]\ncathode_to_row = ["c"]\ndiode_vf_v = 0.3\n', {"a": COLUMN, "b": COLUMN, "c": ROW}, "both-ways"),
        ('diodes = "cathode-to-row"\ndiode_keys = ["c", "a"]\ncathode_to_column = ["a"]\n', {"a": COLUMN, "c": ROW}, "both-ways"),
        ('diodes = "cathode-to-column"\ncathode_to_row = ["a", "b", "c"]\n', {"a": ROW, "b": ROW, "c": ROW}, ROW),
        ('diodes = "cathode-to-row"\ncathode_to_row = ["a"]\n', {"a": ROW, "b": ROW, "c": ROW}, ROW),
    ],
)  # fmt: skip
def test_a_key_may_have_a_diode_of_its_own_direction(text: str, diodes: dict[str, str], ways: str) -> None:
    (matrix,) = read(BASE + KEYS + text).matrices
    assert matrix.key_diodes() == diodes
    assert matrix.diode_ways() == ways


def test_keys_without_names_are_told_by_their_lines() -> None:
    text = '[[matrices]]\ndiodes = "cathode-to-row"\ncathode_to_column = ["R1/C0"]\n'
    (matrix,) = read(BASE + text).matrices
    assert matrix.key_diodes() == {"R0/C0": ROW, "R0/C1": ROW, "R1/C0": COLUMN, "R1/C1": ROW}


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (
            KEYS + 'diodes = "cathode-to-row"\ndiode_keys = ["a"]\ncathode_to_column = ["a", "c"]\n',
            ["d.toml:23: matrices[1].cathode_to_column[2]: key 'c' has no diode that could point to anything: diode_keys, line 22, leaves it out"],
        ),
        (
            KEYS + 'cathode_to_row = ["a", "d"]\ncathode_to_column = [\n  "b", "b",\n  "a",\n]\n',
            [
                "d.toml:21: matrices[1].cathode_to_row[2]: there is no key 'd' in the matrix",
                "d.toml:23: matrices[1].cathode_to_column[2]: key 'b' is listed twice",
                "d.toml:24: matrices[1].cathode_to_column[3]: the diode of key 'a' points both ways: it stands in cathode_to_row too, line 21",
            ],
        ),
        (
            KEYS + 'diode_keys = ["a"]\ncathode_to_row = ["b"]\n',
            ['d.toml:21: matrices[1].diode_keys: diode_keys needs diodes, which say which way they point; allowed: diodes = "cathode-to-row" or "cathode-to-column"'],
        ),
        (
            KEYS.replace('["c", ""]', '["c", "a"]'),
            ["d.toml:20: matrices[1].keys[2][2]: key 'a' stands at two crossings, the first in row 1, column 1"],
        ),
        (
            KEYS + 'together = [["a", "SHIFT"]]\n',
            ["d.toml:21: matrices[1].together[1][2]: there is no key 'SHIFT' in the matrix"],
        ),
        (
            KEYS + 'diodes = "cathode-to-row"\ntogether = [["a", "a"]]\ndiode_keys = ["b", "d", "b"]\n',
            [
                "d.toml:22: matrices[1].together[1][2]: key 'a' is listed twice",
                "d.toml:23: matrices[1].diode_keys[2]: there is no key 'd' in the matrix",
                "d.toml:23: matrices[1].diode_keys[3]: key 'b' is listed twice",
            ],
        ),
        (
            KEYS + 'diode_keys = ["a"]\n',
            [
                "d.toml:21: matrices[1].diode_keys: diode_keys needs diodes, which say which way they point; "
                'allowed: diodes = "cathode-to-row" or "cathode-to-column"'
            ],
        ),
        (
            '[[matrices]]\nkeys = [["a", "b"], ["c", "d", "e"]]\n',
            [
                "d.toml:20: matrices[1].keys: there are 5 keys on 4 crossings",
                "d.toml:20: matrices[1].keys[2]: a list of keys needs one name a column; found 3 names; "
                'allowed: 2, "" where no key is',
            ],
        ),
        (
            "[[matrices]]\ntogether = [['R0/C0', 'R0/C3']]\n",
            ["d.toml:20: matrices[1].together[1][2]: there is no key 'R0/C3' in the matrix, did you mean 'R0/C0' or 'R0/C1'?"],
        ),
    ],
)  # fmt: skip
def test_each_fault_is_one_message_with_its_line(text: str, expected: list[str]) -> None:
    with pytest.raises(InputErrors) as caught:
        read(BASE + text)
    assert sorted(map(str, caught.value.errors)) == sorted(expected)


@pytest.mark.parametrize(
    "line",
    [
        "contact_ohms = -1",
        "diode_vf_v = 0",
        'key_kind = "glass"',
        "contact_ohms = nan",
        'cathode_to_row = "a"',
        "cathode_to_column = [1]",
    ],
)
def test_absurd_values_are_refused(line: str) -> None:
    with pytest.raises(BoardgenError, match=line.split(maxsplit=1)[0]):
        read(BASE + KEYS + 'diodes = "cathode-to-row"\n' + line + "\n")
