"""Reading TOML with lines, and broken files."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from boardgen.catalog.tomlfile import MAX_BYTES, key_lines, parse_toml, read_toml
from boardgen.errors import BoardgenError, InputError

TEXT = """\
# a comment = [
name = "x"  # name = "y"
"quoted key" = 'a'
list = [
  1,
  [2, 3],  # [not]
  { a = 1, b = "}" },
]
text = \"\"\"
[[fake]]
key = 1
\"\"\"

[table]
a.b = 1.5

[[many]]
n = 1
inside = { deep = [
  1,
  2,
] }

[many.sub]
z = 1

[[many]]
n = 2
"""

LINES = {
    ("name",): 2,
    ("quoted key",): 3,
    ("list",): 4,
    ("list", 0): 5,
    ("list", 1): 6,
    ("list", 1, 0): 6,
    ("list", 2): 7,
    ("list", 2, "a"): 7,
    ("list", 2, "b"): 7,
    ("text",): 9,
    ("table",): 14,
    ("table", "a", "b"): 15,
    ("many",): 17,
    ("many", 0): 17,
    ("many", 0, "n"): 18,
    ("many", 0, "inside"): 19,
    ("many", 0, "inside", "deep"): 19,
    ("many", 0, "inside", "deep", 0): 20,
    ("many", 0, "inside", "deep", 1): 21,
    ("many", 0, "sub"): 24,
    ("many", 0, "sub", "z"): 25,
    ("many", 1): 27,
    ("many", 1, "n"): 28,
}


def test_lines_of_every_key() -> None:
    tomllib.loads(TEXT)
    found = key_lines(TEXT)
    assert {path: found.get(path) for path in LINES} == LINES
    assert ("fake", 0) not in found


def test_line_falls_back_to_the_table_round_it() -> None:
    file = parse_toml(TEXT.encode(), "f.toml")
    assert file.line(("many", 1, "missing")) == 27
    assert file.line(("nowhere",)) is None


def _paths(data: object, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    found = [path] if path else []
    if isinstance(data, dict):
        for key, value in data.items():
            found += _paths(value, (*path, key))
    return found


KEY = st.from_regex(r"[a-z]{1,4}", fullmatch=True)
SCALAR = st.one_of(
    st.integers(-5, 5).map(str),
    st.floats(-9, 9).map(lambda value: f"{value:.3f}"),
    st.sampled_from(
        ['"a = 1"', "'[x]'", '"\\"]"', "true", '"""\n[t]\n"""', "'''\nq = 1\n'''", "[1,\n 2]", "{ a = 1 }"]
    ),
)


@given(st.lists(st.tuples(st.booleans(), KEY, SCALAR), min_size=1, max_size=12, unique_by=lambda t: t[1]))
@settings(max_examples=60, deadline=None)
def test_a_generated_file_has_each_key_on_its_line(items: list[tuple[bool, str, str]]) -> None:
    lines: list[str] = []
    expected: dict[tuple[str, ...], int] = {}
    table = ""
    for header, key, value in items:
        if header:
            table = f"t{len(lines)}"
            lines.append(f"[{table}]")
        expected[(table, key) if table else (key,)] = len(lines) + 1
        lines += f"{key} = {value}  # note = 1".split("\n")
    text = "\n".join(lines) + "\n"
    tomllib.loads(text)
    found = key_lines(text)
    assert {path: found.get(path) for path in expected} == expected


@given(st.binary(max_size=300) | st.text(alphabet="[]{}\"'=.,\n\\#ab1 ", max_size=120).map(str.encode))
@settings(max_examples=300, deadline=None)
def test_any_bytes_give_a_file_or_an_input_error(raw: bytes) -> None:
    try:
        file, message = parse_toml(raw, "f.toml"), "f.toml"
    except BoardgenError as error:
        file, message = None, str(error)
    assert message.startswith("f.toml")
    if file is not None:
        assert [path for path in _paths(file.data) if file.line(path) is None] == []


@pytest.mark.parametrize(
    ("raw", "message"),
    [
        (b"a = 1\na = 2\n", r"f\.toml:2: this is not TOML: cannot overwrite a value"),
        (b'x = "abc\n', r"f\.toml:1: this is not TOML: illegal character '\\n'"),
        (b"a = \n", r"f\.toml:1: this is not TOML: invalid value"),
        (b"a = [1,\n2", r"f\.toml:2: this is not TOML: unclosed array"),
        (b"ok = 1\nbad = \xff\n", r"f\.toml:2: the text is not UTF-8; found byte 0xff"),
        (b"a = " + b"[" * 5000 + b"]" * 5000, r"f\.toml: the tables are nested too deep"),
        (
            b"a = " + b"[" * 20 + b"]" * 20,
            r"f\.toml: the tables are nested too deep; allowed: at most 12 levels",
        ),
        (b"a = " + b"9" * 5000, r"f\.toml: the TOML cannot be read: Exceeds the limit \(4300 digits\).*"),
    ],
)
def test_broken_text_is_named_with_its_line(raw: bytes, message: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_toml(raw, "f.toml")
    assert re.fullmatch(message, str(caught.value))


def test_byte_order_mark_and_crlf_are_taken() -> None:
    file = parse_toml(b"\xef\xbb\xbfa = 1\r\nb = 2\r\n", "f.toml")
    assert file.data == {"a": 1, "b": 2}
    assert file.line(("b",)) == 2


def test_missing_folder_and_large_files(tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        read_toml(tmp_path / "no.toml", "no.toml")
    assert str(caught.value) == "no.toml: there is no such file"
    with pytest.raises(InputError) as caught:
        read_toml(tmp_path, "here")
    assert str(caught.value) == "here: a file is wanted, this is a folder"
    big = tmp_path / "big.toml"
    big.write_bytes(b"#" * (10 * MAX_BYTES))
    with pytest.raises(InputError) as caught:
        read_toml(big, "big.toml")
    assert str(caught.value) == "big.toml: the file is too large; allowed: at most 1000000 bytes"
    with pytest.raises(InputError) as caught:
        read_toml(Path("a\0b"), "odd")
    assert re.fullmatch(r"odd: the file cannot be read: embedded null byte", str(caught.value))
